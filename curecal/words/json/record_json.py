"""Records as JSON and back: the one form of all machine output.

A record becomes a table of its fields, an enumeration its value, an instant `…Z` rounded up to
the second, a day `YYYY-MM-DD`. No sentence is written here: what people read is added beside a
record's own keys by whoever knows the language.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import MISSING, fields
from datetime import UTC, date, datetime
from enum import Enum
from types import UnionType
from typing import Any, TypeVar, Union, get_args, get_origin, get_type_hints

from curecal.errors import InstantRefused, SourceError
from curecal.instants import ceil_second, instant
from curecal.planning.comparison.plan_snapshot import Ends
from curecal.records import PlainTable, PlainView, Record, names_of

T = TypeVar("T")
R = TypeVar("R", bound=Record)
Beside = Callable[[Record], PlainView]
"""Gives the keys that stand beside a record's own."""

_HINTS: dict[type[Record], PlainView] = {}
_DIGITS = 12
"""Significant digits of a number: more than any measures, fewer than machines disagree in."""


def encode(value: Any, beside: Beside | None = None) -> Any:
    """Return a value as `json.dumps` takes it.

    Args:
        value: a record, or a mapping, sequence or plain value of such.
        beside: gives further keys of a record, encoded alike.

    Returns:
        Tables, lists, texts, numbers, truth values and None.
    """
    match value:
        case Record():
            table = {name: getattr(value, name) for name in names_of(type(value))}
            more = {} if beside is None else beside(value)
            return {name: encode(item, beside) for name, item in {**table, **more}.items()}
        case Mapping():
            return {str(encode(name)): encode(item, beside) for name, item in value.items()}
        case list() | tuple():
            return [encode(item, beside) for item in value]
        case _:
            return _leaf(value)


def _leaf(value: Any) -> Any:
    match value:
        case Enum():
            return value.value
        case datetime():
            return stamp(value)
        case date():
            return value.isoformat()
        case float() if math.isfinite(value):
            return float(f"{value:.{_DIGITS}g}")
        case _:
            return value


def stamp(at: datetime) -> str:
    """Return an instant as `…Z`, to the second, rounded up."""
    return f"{ceil_second(at).astimezone(UTC).replace(tzinfo=None).isoformat()}Z"


def decode(kind: type[R], table: object, path: str) -> R:
    """Return a record read back from its own JSON; keys it does not know do no harm.

    Args:
        kind: the record's class.
        table: what `json.loads` gave.
        path: the file, for the error.

    Returns:
        The record.

    Raises:
        SourceError: a key is missing, or a value is not as it was written.
    """
    return _Decoder(path).record(kind, table, "")


def _hints(kind: type[Record]) -> PlainView:
    """Return the types of a record's fields, resolved once: a list holds thousands of one kind."""
    hints = _HINTS.get(kind)
    if hints is None:
        hints = _HINTS[kind] = get_type_hints(kind)
    return hints


class _Decoder:
    """Decodes one document: what it lacks or holds wrongly ends in one error with the place."""

    def __init__(self, path: str) -> None:
        self._path = path

    def refused(self, place: str) -> SourceError:
        return SourceError("moved-unreadable", path=self._path, what=place)

    def record(self, kind: type[R], table: object, place: str) -> R:
        if not isinstance(table, dict):
            raise self.refused(place)
        hints = _hints(kind)
        found: PlainTable = {}
        for field in fields(kind):
            at = f"{place}.{field.name}" if place else field.name
            if field.name in table:
                found[field.name] = self.value(hints[field.name], table[field.name], at)
            elif field.default is MISSING and field.default_factory is MISSING:
                raise self.refused(at)
        made = kind(**found)
        if isinstance(made, Ends) and not made.are_in_order:
            at = f"{place}.latest"
            raise self.refused(at)
        return made

    def value(self, hint: Any, value: object, place: str) -> Any:
        """Return a value as its field's type has it."""
        origin, of = get_origin(hint), get_args(hint)
        if origin in {Union, UnionType}:
            (inner,) = (kind for kind in of if kind is not type(None))
            return None if value is None else self.value(inner, value, place)
        if origin is tuple:
            items = self.plain(list, value, place)
            return tuple(
                self.value(of[0], item, f"{place}.{index}") for index, item in enumerate(items)
            )
        if origin is not None:
            table = self.plain(dict, value, place)
            return {key: self.value(of[1], item, f"{place}.{key}") for key, item in table.items()}
        if hint is object:
            return value
        if issubclass(hint, Record):
            return self.record(hint, value, place)
        return self.leaf(hint, value, place)

    def leaf(self, hint: Any, value: object, place: str) -> Any:
        """Return an instant, a day, one of a few words, a number, a text or a truth value."""
        if hint is float:
            number = self.plain(int if isinstance(value, int) else float, value, place)
            try:
                found = float(number)
            except OverflowError:
                found = math.inf
            if not math.isfinite(found):
                raise self.refused(place)
            return found
        if hint in {int, str, bool}:
            return self.plain(hint, value, place)
        text = self.plain(str, value, place)
        try:
            if hint is datetime:
                return instant(datetime.fromisoformat(text))
            return date.fromisoformat(text) if hint is date else hint(text)
        except (ValueError, InstantRefused):
            raise self.refused(place) from None

    def plain(self, kind: type[T], value: object, place: str) -> T:
        # A truth value is a whole number to Python, and not to us.
        if not isinstance(value, kind) or (isinstance(value, bool) and kind is not bool):
            raise self.refused(place)
        return value
