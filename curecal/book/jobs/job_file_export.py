"""A job file that stands for itself: the log of the book at its end, its company beside it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from curecal.errors import SourceError
from curecal.records import PlainTable, PlainView
from curecal.site_log_files.entry_toml import block, settled
from curecal.site_log_files.log_reader import identity_of
from curecal.toml_files.toml_source import LARGEST_BYTES, loads

_HEADER = re.compile(r"[ \t]*\[[ \t]*job[ \t]*\][ \t]*(?:#[^\r\n]*)?")
_TABLE = re.compile(r"[ \t]*\[")
_COMPANY = re.compile(r"([ \t]*company[ \t]*=[ \t]*)(?:\"[^\"\r\n]*\"|'[^'\r\n]*')(.*)", re.DOTALL)
_NAME = "job.toml"
_TITLE = "# From here on: what the job book holds of the log."


def whole_job(
    data: bytes, tables: Iterable[PlainView], *, company: str | None = None
) -> bytes | None:
    """Return a job file with the log that the book holds, so that it cannot be read without it.

    Args:
        data: The job file.
        tables: The log that the book holds, each entry with its identity.
        company: Where its company's file lies, seen from it; None for a job without one.

    Returns:
        The file, otherwise as it was; None where its form has no room for a table of its own, or
        where it would be too large to be read.
    """
    old = loads(data, _NAME)
    there = {identity_of(table) for table in old.get("log", ())}
    fresh = [dict(table) for table in tables if identity_of(dict(table)) not in there]
    lines = data.decode("utf-8-sig").splitlines(keepends=True)
    newline = "\r\n" if lines[0].endswith("\r\n") else "\n"
    wanted = old
    if company is not None:
        wanted = {**old, "job": {**old["job"], "company": company}}
        _name_company(lines, company, newline)
    text = "".join(lines)
    if fresh:
        wanted = {**wanted, "log": [*old.get("log", ()), *({**_settled(entry)} for entry in fresh)]}
        text += newline if text.endswith("\n") else newline * 2
        text += newline.join((_TITLE, *(block(entry, newline) for entry in fresh)))
    made = text.encode()
    try:
        found = loads(made, _NAME) if len(made) <= LARGEST_BYTES else None
    except SourceError:
        return None
    return made if _same(found, wanted) else None


def _name_company(lines: list[str], company: str, newline: str) -> None:
    """Say where the company's file lies, in the place where the job file says it."""
    heads = [at for at, line in enumerate(lines) if _HEADER.fullmatch(line.rstrip("\r\n"))]
    if not heads:
        return
    for at in range(heads[0] + 1, len(lines)):
        if _TABLE.match(lines[at]):
            break
        if found := _COMPANY.fullmatch(lines[at]):
            lines[at] = f'{found[1]}"{company}"{found[2]}'
            return
    head = lines[heads[0]].rstrip("\r\n")
    lines[heads[0]] = f'{head}{newline}company = "{company}"{newline}'


def _settled(table: PlainView) -> PlainTable:
    return {name: settled(value) for name, value in table.items()}


def _same(found: PlainView | None, wanted: PlainView) -> bool:
    """Return whether two files say the same, whatever the order of their tables and keys."""
    return found is not None and _spelled(found) == _spelled(wanted)


def _spelled(value: object) -> str:
    """A value in one spelling; `repr` tells true from 1, and is fair to NaN."""
    if isinstance(value, Mapping):
        return repr(sorted((key, _spelled(part)) for key, part in value.items()))
    if isinstance(value, list):
        return repr([_spelled(part) for part in value])
    return repr(value)
