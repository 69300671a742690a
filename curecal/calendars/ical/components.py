"""A calendar file as components: what the validator looks at, and what it finds."""

from __future__ import annotations

from dataclasses import dataclass, field

Property = tuple[str, str, int]
"""Parameters in capitals with their leading semicolon, value, number of the content line."""


@dataclass(frozen=True, slots=True)
class Fault:
    """Something a calendar file must not be; `line_count` is the content line it stands at."""

    code: str
    line_count: int
    detail: str = ""


@dataclass(slots=True)
class Part:
    """A component: its name, the content line it begins at, its properties and its parts."""

    name: str
    line: int
    properties: dict[str, list[Property]] = field(default_factory=dict)
    children: list[Part] = field(default_factory=list)

    def first(self, name: str) -> Property:
        """The first property of a name.

        Args:
            name: The name, in capitals.

        Returns:
            The property; one without a value where there is none.
        """
        return self.properties.get(name, [("", "", self.line)])[0]

    def has(self, name: str) -> bool:
        """Return whether there is a property of a name.

        Args:
            name: The name, in capitals.

        Returns:
            True where there is at least one.
        """
        return name in self.properties
