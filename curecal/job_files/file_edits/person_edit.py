"""A person's phone, mail, language or name changed in the text of a file, and nothing else in it.

Comments and order stay. What was made is read again: where it says anything but the wanted change,
nothing is given back, and a person changes the line.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from copy import deepcopy

from curecal.errors import SourceError
from curecal.records import PlainTable, Record, record
from curecal.site_log_files.entry_toml import toml_value
from curecal.toml_files.toml_source import loads
from curecal.trade.names import comparable_name

KEYS = ("name", "phone", "email", "language")
"""What of a person can be changed."""
_HEADER = re.compile(r"\s*\[\[?\s*people\b[^\]]*\]\]?\s*(?:#.*)?")
_ANY_HEADER = re.compile(r"\s*\[")
_LINE = re.compile(
    r"""(?P<head>\s*(?P<key>name|phone|email|language)\s*=\s*)"""
    r"""(?P<value>"(?:[^"\\]|\\.)*"|'[^']*')(?P<rest>\s*(?:\#.*)?)"""
)


@record
class EditedFile(Record):
    """What became of a file: its new octets, None where a person has to change `line` (from 1)."""

    data: bytes | None
    line: int


def names_person(data: bytes, name: str) -> bool:
    """Return whether a file lists a person.

    Args:
        data: The file.
        name: The person's name.

    Raises:
        SourceError: it is no TOML.
    """
    return any(True for _ in _persons(loads(data, "job"), name))


def edit_person(data: bytes, name: str, changes: Mapping[str, str]) -> EditedFile:
    """Return a file with a person changed wherever it lists them.

    Args:
        data: The file.
        name: The person's name as it is.
        changes: New values by key, of `KEYS`.

    Raises:
        SourceError: it is no TOML.
    """
    wanted = deepcopy(loads(data, "job"))
    for person in _persons(wanted, name):
        person.update(changes)
    text = data.decode("utf-8")
    lines = text.splitlines(keepends=True)
    first = 1
    made: list[str] = []
    for begin, end in _sections(lines):
        own = lines[begin:end]
        if own and _HEADER.match(own[0]) and _is_of(own, name):
            first = begin + 1 if first == 1 else first
            own = _changed(own, changes)
        made += own
    found = "".join(made).encode("utf-8")
    try:
        is_right = loads(found, "job") == wanted
    except SourceError:
        is_right = False
    return EditedFile(found if is_right else None, first if first > 1 else _line_of(lines, name))


def _persons(raw: PlainTable, name: str) -> Iterator[PlainTable]:
    people = raw.get("people")
    for listed in people.values() if isinstance(people, dict) else ():
        for person in listed if isinstance(listed, list) else [listed]:
            if isinstance(person, dict) and _is_name(person.get("name"), name):
                yield person


def _is_name(value: object, name: str) -> bool:
    return isinstance(value, str) and comparable_name(value) == comparable_name(name)


def _sections(lines: list[str]) -> Iterator[tuple[int, int]]:
    """Yield where each table of a file begins and ends; what stands before the first is one too."""
    begins = [0, *(number for number, line in enumerate(lines) if _ANY_HEADER.match(line))]
    begins = list(dict.fromkeys(begins))
    yield from zip(begins, [*begins[1:], len(lines)], strict=True)


def _is_of(section: list[str], name: str) -> bool:
    found = (_LINE.fullmatch(line.rstrip("\r\n")) for line in section)
    return any(
        match["key"] == "name" and _is_name(_text_of(match["value"]), name)
        for match in found
        if match is not None
    )


def _text_of(value: str) -> object:
    return loads(f"it = {value}".encode(), "job").get("it")


def _changed(section: list[str], changes: Mapping[str, str]) -> list[str]:
    made: list[str] = []
    left = dict(changes)
    name_at = 0
    for line in section:
        bare = line.rstrip("\r\n")
        match = _LINE.fullmatch(bare)
        if match is not None and match["key"] in left:
            value = toml_value(left.pop(match["key"]))
            made.append(f"{match['head']}{value}{match['rest']}{line[len(bare) :]}")
        else:
            made.append(line)
        if match is not None and match["key"] == "name":
            name_at = len(made)
    ending = "\r\n" if section[0].endswith("\r\n") else "\n"
    made[name_at:name_at] = [f"{key} = {toml_value(value)}{ending}" for key, value in left.items()]
    return made


def _line_of(lines: list[str], name: str) -> int:
    """Return the line, from 1, that a person has to look at."""
    return next((number for number, line in enumerate(lines, start=1) if name in line), 1)
