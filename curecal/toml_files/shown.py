"""How what stands in a file is shown in a sentence: cut short, with the name it may mean."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime, time

_SHOWN = 60


def shorten(value: object) -> str:
    """Return a value as it can stand in a sentence, cut to 60 characters."""
    text = value if isinstance(value, str) else _plain(value)
    return text if len(text) <= _SHOWN else text[:_SHOWN] + "…"


def _plain(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, datetime | date | time):
        return value.isoformat()
    if isinstance(value, Mapping | list):
        return "{…}" if isinstance(value, Mapping) else "[…]"
    return str(value)


def nearest(text: str, known: tuple[str, ...] | list[str], *, least: float = 0.55) -> str:
    """Return the name most like a text, empty where none is; `least` of 1 is the same text."""
    from difflib import get_close_matches  # noqa: PLC0415 - paid for only by a wrong name

    by_fold = {name.casefold(): name for name in known}
    found = get_close_matches(text.casefold(), by_fold, n=1, cutoff=least)
    return by_fold[found[0]] if found else ""


def digest(text: str, length: int) -> str:
    """Return the first hexadecimal digits of a text's SHA-256: an id that stays the same."""
    import hashlib  # noqa: PLC0415 - paid for only where an id is missing

    return hashlib.sha256(text.encode()).hexdigest()[:length]
