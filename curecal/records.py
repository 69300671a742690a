"""Records: frozen dataclasses that share one comparison, hash and printing.

A dataclass compiles its comparison, hash and printing anew for every class, and a command pays
for all of them before it says a word. A record inherits one of each from here instead.

    @record
    class Tile(Record):
        kind: str
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import Field, dataclass, field, fields
from operator import attrgetter
from typing import Any, ClassVar, TypeVar, dataclass_transform, overload

T = TypeVar("T", bound=type)

PlainTable = dict[str, Any]
"""A table as TOML, JSON or a database row holds it, before a schema or a decoder reads it."""
PlainView = Mapping[str, Any]
"""The same, only looked at."""

# Each comparison and hash asks: `fields` would make the tuple anew every time.
_NAMES: dict[type, tuple[str, ...]] = {}
_VALUES: dict[type, Callable[[Record], object]] = {}


class Record:
    """Base of frozen, slotted dataclasses: alike in every field is equal."""

    __slots__ = ()
    # The decorator fills it in; declared, so that `dataclasses.replace` takes a record.
    __dataclass_fields__: ClassVar[dict[str, Field[Any]]]

    def __eq__(self, other: object) -> bool:
        """Return whether both are of one class and alike in every field."""
        if self is other:
            return True
        if other.__class__ is not self.__class__:
            return NotImplemented
        values = _VALUES.get(self.__class__) or _values_of(self.__class__)
        return bool(values(self) == values(other))

    def __hash__(self) -> int:
        """Return a hash of all fields."""
        values = _VALUES.get(self.__class__) or _values_of(self.__class__)
        return hash(values(self))

    def __repr__(self) -> str:
        """Return the class with its fields, as a dataclass prints itself."""
        shown = ", ".join(f"{name}={getattr(self, name)!r}" for name in names_of(self.__class__))
        return f"{self.__class__.__qualname__}({shown})"


def _values_of(kind: type[Record]) -> Callable[[Record], object]:
    """Return what gives the values of a record's fields, in order, as one that can be compared."""
    if kind not in _VALUES:
        names = names_of(kind)
        _VALUES[kind] = attrgetter(*names) if names else lambda _record: ()
    return _VALUES[kind]


def names_of(kind: type[Record]) -> tuple[str, ...]:
    """Return the names of a record's fields, in order."""
    names = _NAMES.get(kind)
    if names is None:
        names = _NAMES[kind] = tuple(field.name for field in fields(kind))
    return names


@overload
def record(cls: T, /) -> T: ...
@overload
def record(*, kw_only: bool = ...) -> Callable[[T], T]: ...
@dataclass_transform(frozen_default=True, field_specifiers=(field,))
def record(cls: Any = None, /, *, kw_only: bool = False) -> Any:
    """Make a class that inherits from `Record` a frozen, slotted dataclass."""

    def made(plain: Any) -> Any:
        return dataclass(frozen=True, slots=True, eq=False, repr=False, kw_only=kw_only)(plain)

    return made if cls is None else made(cls)
