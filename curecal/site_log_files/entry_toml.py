"""One log entry as the text of a TOML table: the few types an entry holds, and no more."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from datetime import date, datetime, time, timezone
from typing import Any

from curecal.errors import ValueRefused
from curecal.toml_files.shown import shorten

_BARE = re.compile(r"[A-Za-z0-9_-]+", re.ASCII)
_ESCAPED = {'"': '\\"', "\\": "\\\\", "\n": "\\n", "\r": "\\r", "\t": "\\t"}
_LAST_CONTROL, _DELETE = 0x1F, 0x7F
_SURROGATES = range(0xD800, 0xE000)
# TOML promises whole numbers of 64 bits; readers need not hold larger ones.
_LARGEST = 2**63
_MINUTE_S = 60


def block(entry: Mapping[str, object], newline: str) -> str:
    """Return an entry as a `[[log]]` table, each of its lines ended.

    Args:
        entry: Its keys and values; values are text, true or false, numbers, instants, days,
            or lists of these.
        newline: What ends a line.

    Returns:
        The lines of the table.

    Raises:
        ValueRefused: A value that TOML cannot hold, or a character that nobody sees.
    """
    lines = [
        "[[log]]",
        *(f"{toml_key(name)} = {toml_value(value)}" for name, value in entry.items()),
    ]
    return "".join(line + newline for line in lines)


def settled(value: object) -> Any:
    """Return a value as a TOML reader gives it back: an instant keeps its offset, not its zone."""
    if isinstance(value, datetime):
        offset = value.utcoffset()
        # Which of two like hours is meant, the offset says; without one, nothing can.
        return value.replace(tzinfo=None if offset is None else timezone(offset), fold=0)
    if isinstance(value, str) and type(value) is not str:
        # A member of one of our own enumerations is written as its word.
        return str.__str__(value)
    if isinstance(value, list | tuple):
        return [settled(item) for item in value]
    return value


def toml_key(name: str) -> str:
    """Return a key as TOML has it: bare where it can be, else quoted."""
    return name if _BARE.fullmatch(name) else _text(name)


def toml_value(value: object) -> str:
    """Return a value as TOML has it.

    Raises:
        ValueRefused: TOML cannot hold it, or it has a character that nobody sees.
    """
    match value:
        case bool():
            return "true" if value else "false"
        case str():
            return _text(value)
        case int():
            return _whole(value)
        case float():
            return _number(value)
        case datetime() | date() | time():
            return _when(value)
        case list() | tuple():
            return f"[{', '.join(toml_value(item) for item in value)}]"
        case _:
            raise ValueRefused("entry-value-type", text=shorten(value))


def _text(text: str) -> str:
    return '"' + "".join(_ESCAPED.get(sign) or _sign(sign) for sign in text) + '"'


def _sign(sign: str) -> str:
    number = ord(sign)
    if number <= _LAST_CONTROL or number == _DELETE or number in _SURROGATES:
        raise ValueRefused("entry-sign-unseen", sign=f"U+{number:04X}")
    return sign


def _whole(value: int) -> str:
    if not -_LARGEST <= value < _LARGEST:
        raise ValueRefused("number-too-large")
    return str(value)


def _number(value: float) -> str:
    if not math.isfinite(value):
        raise ValueRefused("number-not-finite", text=shorten(value))
    return repr(value)


def _when(value: datetime | date | time) -> str:
    offset = value.utcoffset() if isinstance(value, datetime) else None
    if offset is not None and offset.total_seconds() % _MINUTE_S:
        # Offsets of the years before time zones hold seconds; TOML has none.
        raise ValueRefused("instant-unreadable", text=shorten(value), example="2026-12-02 20:00")
    text = value.isoformat()
    whole, point, rest = text.partition(".")
    if not point:
        return text
    figures = re.match(r"\d+", rest)
    end = figures.end() if figures else 0
    fraction = rest[:end].rstrip("0")
    return f"{whole}.{fraction}{rest[end:]}"
