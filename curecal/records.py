"""Records: frozen dataclasses that share one comparison, hash and printing.

A dataclass compiles its initializer, guards, comparison, hash and printing anew for every class,
and a command pays for all of them before it says a word. A record inherits one of each from here
instead, and its initializer is compiled when the first instance is made.

    @record
    class Tile(Record):
        kind: str
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import MISSING, Field, FrozenInstanceError, dataclass, field, fields
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

    def __setattr__(self, name: str, value: object) -> None:
        """Refuse to change a record."""
        message = f"cannot assign to field {name!r}"
        raise FrozenInstanceError(message)

    def __delattr__(self, name: str) -> None:
        """Refuse to change a record."""
        message = f"cannot delete field {name!r}"
        raise FrozenInstanceError(message)

    def __getstate__(self) -> list[object]:
        """Return what a copy is made of."""
        return [getattr(self, name) for name in names_of(self.__class__)]

    def __setstate__(self, state: list[object]) -> None:
        """Take the values of what is copied."""
        for name, value in zip(names_of(self.__class__), state, strict=True):
            object.__setattr__(self, name, value)

    def __repr__(self) -> str:
        """Return the class with its fields, as a dataclass prints itself."""
        shown = ", ".join(f"{name}={getattr(self, name)!r}" for name in names_of(self.__class__))
        return f"{self.__class__.__qualname__}({shown})"


def _values_of(kind: type[Record]) -> Callable[[Record], object]:
    """Return what gives the values of a record's fields, in order, as one that can be compared."""
    names = names_of(kind)
    values = _VALUES[kind] = attrgetter(*names) if names else lambda _record: ()
    return values


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
        kind = dataclass(init=False, slots=True, eq=False, repr=False, kw_only=kw_only)(plain)
        kind.__init__ = _first_init
        return kind

    return made if cls is None else made(cls)


def _first_init(self: Any, *values: object, **named: object) -> None:
    """Make the initializer of a record's class, and initialize its first instance."""
    kind = self.__class__
    kind.__init__ = _init_of(kind)
    kind.__init__(self, *values, **named)


def _init_of(kind: type[Record]) -> Callable[..., None]:
    """Return the initializer that a frozen dataclass with the same fields has."""
    known: PlainTable = {"MISSING": MISSING}
    plain: list[str] = ["self"]
    named: list[str] = []
    body: list[str] = []
    for own in fields(kind):
        if not own.init:
            continue  # its own `__post_init__` gives it
        name, value = own.name, own.name
        known[f"__set_{name}"] = getattr(kind, name).__set__
        default = ""
        if own.default is not MISSING:
            known[f"__default_{name}"] = own.default
            default = f"=__default_{name}"
        elif own.default_factory is not MISSING:
            known[f"__make_{name}"] = own.default_factory
            default = "=MISSING"
            value = f"__make_{name}() if {name} is MISSING else {name}"
        (named if own.kw_only else plain).append(f"{name}{default}")
        body.append(f"__set_{name}(self, {value})")
    if hasattr(kind, "__post_init__"):
        body.append("self.__post_init__()")
    taken = ", ".join([*plain, *(["*", *named] if named else [])])
    lines = "\n    ".join(body or ["pass"])
    # As the standard library does it; every name in it is that of a field.
    exec(f"def __init__({taken}):\n    {lines}", known)  # noqa: S102 - our own text
    made: Callable[..., None] = known["__init__"]
    made.__qualname__ = f"{kind.__qualname__}.__init__"
    return made
