"""Tables in which every row has one figure, and a name beside it that says what it is of."""

from __future__ import annotations

import re
from collections.abc import Sequence

from curecal.readings.columns.headings import HUMIDITY, is_other, quantity
from curecal.readings.columns.roles import DEVICE, READ, UNIT
from curecal.readings.table.cell_values import is_figure, temperature_units
from curecal.readings.table.timestamps import is_of_instant

_FIGURE_WORD = re.compile(
    r"value|(?<![a-z])state(?![a-z])|reading|measure|wert|valeur|valor", re.IGNORECASE
)
_QUANTITY_WORD = re.compile(
    r"[\s_.-]*(?:temperature|temp|humidity|hum|relative|rh|[°º˚\ufffd]?(?<![a-z])[CF](?![a-z])"
    r"|celsius|fahrenheit|percent|%)(?![a-z])",
    re.IGNORECASE,
)


def kind_of_name(name: str) -> str:
    """Return what a row of this name is: "temperature", "humidity", or nothing that is read."""
    text = name.replace("_", " ").replace(".", " ")
    return "" if is_other(text) else quantity(text)


def unit_of_name(name: str) -> str:
    """Return the unit that a name itself has: "C", "F", "%", or nothing."""
    text = name.replace("_", " ")
    if kind_of_name(name) == HUMIDITY:
        return "%"
    units = temperature_units(text)
    return next(iter(units)) if len(units) == 1 else ""


def device_of_name(name: str) -> str:
    """Return what a name says beside its quantity and unit: whose reading it is."""
    return _QUANTITY_WORD.sub("", name).strip(" _.-()[]")


def find_long_rows(
    heads: Sequence[str], roles: Sequence[str], cells: Sequence[Sequence[str]]
) -> tuple[int, int] | None:
    """Return the column of figures and the column of their names, None where there are none.

    Args:
        heads: What stands over every column.
        roles: The role of every column.
        cells: What stands in every column of the sample.

    Returns:
        Two indexes. A file whose header names what it measures has no such rows.
    """
    figures = [
        index
        for index, role in enumerate(roles)
        if role and role != UNIT and any(map(is_figure, cells[index]))
    ]
    if any(quantity(heads[index]) for index in figures):
        return None
    values = [index for index in figures if _FIGURE_WORD.search(heads[index])]
    names = [
        index
        for index, role in enumerate(roles)
        if role and role != UNIT and index not in figures and _are_names(cells[index])
    ]
    if len(values) != 1 or len(names) != 1:
        return None
    return values[0], names[0]


def tags_of(
    heads: Sequence[str], roles: Sequence[str], cells: Sequence[Sequence[str]], name_at: int
) -> tuple[int, ...]:
    """Return the columns that say whose figure it is, beside its name.

    Every column of words or whole numbers that come again is one: rooms that were taken for one
    room would be a room that nobody measured.
    """
    return tuple(
        index
        for index, role in enumerate(roles)
        if index != name_at
        and role
        and role != UNIT
        and _are_tags(heads[index], role, cells[index])
    )


def _are_tags(head: str, role: str, cells: Sequence[str]) -> bool:
    filled = [cell for cell in cells if cell]
    if role == DEVICE or not filled or any(map(is_of_instant, filled)):
        return role == DEVICE
    if any(is_figure(cell) and not cell.isdigit() for cell in filled):
        return False
    # A series has a number of its own for each quantity, and other figures are no names.
    counted = any(map(str.isdigit, filled)) and (head.casefold() == "table" or is_other(head))
    return 2 * len(set(filled)) <= len(filled) and not counted


def _are_names(cells: Sequence[str]) -> bool:
    """Return whether few names are in a column, and some of them are of what is read."""
    names = set(cells)
    return 2 * len(names) <= len(cells) and any(kind_of_name(name) in READ for name in names)
