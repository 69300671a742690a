"""Columns named by a person, from left to right: for a file without a header, or with a wrong one.

A header counts beside such names only for the unit of a column that it calls the same.
"""

from __future__ import annotations

from collections.abc import Sequence

from curecal.errors import ValueRefused
from curecal.readings.columns.headings import HUMIDITY, TEMPERATURE, is_no_reading, quantity
from curecal.readings.columns.roles import DEVICE, UNUSED
from curecal.readings.table.export_types import AskedFor, QuestionError
from curecal.readings.table.table_start import TableStart, texts
from curecal.readings.table.timestamps import LEAST_PARTS, PARTS, Stamp
from curecal.trade.findings import Finding, Severity

NOT_USED = "-"
_INSTANTS = (
    ("time",),
    ("date", "time"),
    *(PARTS[:count] for count in range(LEAST_PARTS, len(PARTS) + 1)),
)
_ROLES = {TEMPERATURE: TEMPERATURE, HUMIDITY: HUMIDITY, DEVICE: DEVICE, NOT_USED: UNUSED}
_REPEATED = frozenset({TEMPERATURE, HUMIDITY, NOT_USED})


def columns_named(text: str) -> tuple[str, ...]:
    """Return the names of a text such as "time,temperature,humidity".

    Raises:
        ValueRefused: A name is none, an instant or a temperature is missing, or a column that
            there can be but one of is named twice.
    """
    names = tuple(name.strip().casefold() for name in text.split(","))
    once = [name for name in names if name not in _REPEATED]
    instant = {name for name in once if name not in _ROLES}
    good = instant in [set(wanted) for wanted in _INSTANTS] and len(once) == len(set(once))
    if not good or TEMPERATURE not in names:
        known = ", ".join(dict.fromkeys(("time", "date", *PARTS, *_ROLES)))
        raise ValueRefused("readings-columns-unreadable", text=text[:60], known=known)
    return names


def stamp_named(names: Sequence[str]) -> Stamp:
    """Return the columns that are named as the instant; none without names."""
    wanted = next((wanted for wanted in reversed(_INSTANTS) if set(wanted) <= set(names)), ())
    return tuple(names.index(name) for name in wanted)


def roles_named(names: Sequence[str], block: TableStart, path: str) -> list[str]:
    """Return the roles of columns named by hand; nothing for those of the instant.

    Raises:
        QuestionError: There are more columns than names, or fewer.
    """
    filled = max(index + 1 for row in block.sample for index, cell in enumerate(row) if cell)
    if not filled <= len(names) <= block.width:
        raise QuestionError(
            AskedFor.COLUMNS,
            "readings-columns-count",
            path=path,
            name_count=len(names),
            field_count=block.width,
            row=row_shown(block),
        )
    missing = [UNUSED] * (block.width - len(names))
    return [*(_ROLES.get(name, "") for name in names), *missing]


def heads_named(heads: Sequence[str], roles: Sequence[str]) -> list[str]:
    """Return what stands over every column, nothing where it is called something else by hand."""
    return [head if quantity(head) == role else "" for head, role in zip(heads, roles, strict=True)]


def find_overruled_columns(block: TableStart, names: Sequence[str], path: str) -> list[Finding]:
    """Return a finding where a header calls a column another reading than a person does."""
    heads = texts(block.header, block.width)
    other = [
        f'"{head}"'
        for head, name in zip(heads, names, strict=False)
        if not is_no_reading(head) and quantity(head) not in {"", name}
    ]
    if not other:
        return []
    params: dict[str, object] = {"words": ", ".join(other)[:120], "columns": ",".join(names)}
    return [Finding(Severity.WARNING, "readings-columns-overruled", path, params)]


def row_shown(block: TableStart) -> str:
    """Return the first row with readings, short enough for a sentence."""
    return (block.separator or " | ").join(block.sample[0])[:100]
