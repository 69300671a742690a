"""Calendars as other programs write them: lines, components and properties, whatever their form."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable

from curecal.calendars.revision import name_of, value_of

_ENDS = re.compile(r"\r\n|\n|\r")
# Control characters, halves of a pair, and signs that some readers take for the end of a line.
_ENDING = frozenset({"Cc", "Cs", "Zl", "Zp"})


def loose_lines(text: str) -> list[str]:
    """The content lines of a file, whatever its lines end in.

    Args:
        text: The file, decoded.

    Returns:
        The lines without their folds; no empty ones.
    """
    found: list[str] = []
    for line in _ENDS.split(text.removeprefix("\ufeff")):
        if line[:1] in {" ", "\t"} and found:
            found[-1] += line[1:]
        elif line:
            found.append(line)
    return found


def blocks(lines: Iterable[str], name: str) -> list[list[str]]:
    """The components of a name among content lines, each with its begin and end.

    Args:
        lines: Content lines.
        name: The component's name, in capitals.

    Returns:
        The lines of each; one that is cut off is left out.
    """
    found: list[list[str]] = []
    block: list[str] | None = None
    for line in lines:
        tag = line.upper()
        if tag == f"BEGIN:{name}":
            block = []
        if block is not None:
            block.append(line)
            if tag == f"END:{name}":
                found.append(block)
                block = None
    return found


def own_lines(lines: Iterable[str], *, depth: int) -> list[str]:
    """The properties at a depth: 1 are those of the component that the lines begin with.

    Args:
        lines: Content lines.
        depth: How many components they stand in.

    Returns:
        The lines of the properties.
    """
    found, at = [], 0
    for line in lines:
        name = name_of(line)
        if name in {"BEGIN", "END"}:
            at += 1 if name == "BEGIN" else -1
        elif at == depth:
            found.append(line)
    return found


def values(block: Iterable[str], name: str) -> list[str]:
    """The values of a property of a component.

    Args:
        block: The component's content lines.
        name: The property's name, in capitals.

    Returns:
        The values as they are written.
    """
    return [value_of(line) for line in own_lines(block, depth=1) if name_of(line) == name]


def first_value(block: Iterable[str], name: str) -> str:
    """The first value of a property of a component; empty where it has none.

    Args:
        block: The component's content lines.
        name: The property's name, in capitals.
    """
    return "".join(values(block, name)[:1])


def printable(line: str) -> str:
    """A line that may be written: signs that could end it become spaces.

    Args:
        line: The line.
    """
    return "".join(" " if unicodedata.category(sign) in _ENDING else sign for sign in line)
