"""Records: what frozen dataclasses share, so that defining them costs half as much.

A dataclass compiles its comparison, hash and printing anew for every class, and a command pays
for all of them before it says a word. A record is a dataclass with `eq=False, repr=False` that
inherits one of each from here.
"""

from __future__ import annotations

from dataclasses import fields
from typing import Any

_NAMES: dict[type, tuple[str, ...]] = {}


class Record:
    """Base of frozen, slotted dataclasses: alike in every field is equal."""

    __slots__ = ()

    def __eq__(self, other: object) -> bool:
        """Return whether both are of one class and alike in every field."""
        if self is other:
            return True
        if other.__class__ is not self.__class__:
            return NotImplemented
        return all(getattr(self, name) == getattr(other, name) for name in _names(self))

    def __hash__(self) -> int:
        """Return a hash of all fields."""
        return hash(tuple(getattr(self, name) for name in _names(self)))

    def __repr__(self) -> str:
        """Return the class with its fields, as a dataclass prints itself."""
        shown = ", ".join(f"{name}={getattr(self, name)!r}" for name in _names(self))
        return f"{self.__class__.__qualname__}({shown})"


def _names(made: Any) -> tuple[str, ...]:
    kind = made.__class__
    names = _NAMES.get(kind)
    if names is None:
        names = _NAMES[kind] = tuple(each.name for each in fields(kind))
    return names
