"""Which role every column of a file has, by what stands over it and what stands in it."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from curecal.errors import SourceError
from curecal.readings.columns.headings import (
    HUMIDITY,
    TEMPERATURE,
    is_mean,
    is_no_reading,
    is_other,
    quantity,
)
from curecal.readings.table.cell_values import is_figure, unit_beside, unit_in_cell
from curecal.readings.table.table_start import CellTexts, TableStart

UNIT, DEVICE, UNUSED = "unit", "device", "unused"
READ = frozenset({TEMPERATURE, HUMIDITY})
_UNDECIDED = "value"

_VALUE = re.compile(r"value|reading|measure|wert|valeur|valor", re.IGNORECASE)
DEVICE_WORD = re.compile(
    r"device|logger|serial|s/n|sensor|location|station|probe|name|\bid\b", re.IGNORECASE
)
# In a preamble a room or a zone is no device's name.
_DEVICE_COLUMN = re.compile(
    rf"{DEVICE_WORD.pattern}|room|(?<!time)(?<!time[\s_-])zone|area|place|channel|node"
    r"|\bmac\b|address|raum|zimmer",
    re.IGNORECASE,
)
_UNIT_WORD = re.compile(
    r"(?<![a-z])(?:units?|uom|scale|einheit|unité|unidad|unità|eenheid|enhet|enhed|"
    r"°?\s?[cf]\s?/\s?°?\s?[cf])(?![a-z])",
    re.IGNORECASE,
)
_LETTER = re.compile(r"[CF]", re.IGNORECASE)
# One row in twenty.
_FEW = 20
_WHOLE = re.compile(r"[+-]?\d+")


def roles_of(block: TableStart, heads: Sequence[str], cells: Sequence[Sequence[str]]) -> list[str]:
    """Return the role of every column; nothing for those of the instant."""
    roles = [
        "" if index in block.stamp else _role(head, cells[index])
        for index, head in enumerate(heads)
    ]
    for role in READ:
        same = [index for index, given in enumerate(roles) if given == role]
        means = [index for index in same if is_mean(heads[index])]
        if len(means) < len(same):
            # A mean beside the reading it was made of is no other sensor.
            roles = [UNUSED if index in means else given for index, given in enumerate(roles)]
    return _settled(roles, heads)


def cells_of(rows: Sequence[CellTexts], index: int) -> list[str]:
    """Return what stands in a column."""
    return [row[index] for row in rows if index < len(row)]


def _role(head: str, cells: Sequence[str]) -> str:
    filled = [cell for cell in cells if cell]
    if filled and all(unit_in_cell(cell) for cell in filled) and _may_be_units(head, filled):
        return UNIT
    # A row or two with a field lost do not make figures of names.
    if sum(is_figure(cell) for cell in filled) * _FEW <= len(filled):
        return DEVICE if _is_device(head, filled) else UNUSED
    return _role_of_figures(head, filled)


def _may_be_units(head: str, cells: Sequence[str]) -> bool:
    """Return whether a column of units is one: a letter alone may be a door's or a channel's."""
    bare = all(_LETTER.fullmatch(cell) for cell in cells)
    return not bare or not head or bool(_UNIT_WORD.search(head))


def _is_device(head: str, cells: Sequence[str]) -> bool:
    """Return whether a column names devices: a name in every row of its own counts the rows."""
    return bool(_DEVICE_COLUMN.search(head)) and 2 * len(set(cells)) <= len(cells)


def _role_of_figures(head: str, cells: Sequence[str]) -> str:
    """Return the role of a column of figures by what stands over it, else by units beside them."""
    if is_no_reading(head):
        return UNUSED
    named = quantity(head)
    if named:
        return named
    beside = units_beside(cells)
    # Percents alone may be a battery's; degrees are a temperature's.
    if len(beside) == 1 and beside != {"%"}:
        return TEMPERATURE
    if beside == {"%"} and all("rh" in cell.lower() for cell in cells if is_figure(cell)):
        return HUMIDITY
    whole = all(re.fullmatch(r"\d+", cell) for cell in cells)
    if whole and _is_device(head, cells):
        return DEVICE
    return _UNDECIDED if _VALUE.search(head) and "%" not in head else UNUSED


def units_beside(cells: Sequence[str]) -> frozenset[str]:
    """Return the units that stand beside most figures of a column; beside a few is a slip."""
    units = [unit_beside(cell) for cell in cells if is_figure(cell)]
    named = [unit for unit in units if unit]
    return frozenset(named) if 2 * len(named) > len(units) else frozenset()


def _settled(roles: list[str], heads: Sequence[str]) -> list[str]:
    """Return the roles with a column of mere values settled: a temperature, if its unit is said."""
    values = [index for index, role in enumerate(roles) if role == _UNDECIDED]
    named = not READ.isdisjoint(roles)
    settled = [UNUSED if role == _UNDECIDED else role for role in roles]
    if len(values) == 1 and not named and (UNIT in roles or heads[values[0]]):
        settled[values[0]] = TEMPERATURE
    return settled


def bound_units(roles: Sequence[str], cells: Sequence[Sequence[str]]) -> Mapping[int, int]:
    """Return the column of units by the column of figures it belongs to, for those that are read.

    It belongs to the figure on its left; where the first one has none there, every one belongs
    to the figure on its right.
    """
    units = [index for index, role in enumerate(roles) if role == UNIT]
    if not units:
        return {}
    figures = {
        index
        for index, column in enumerate(cells)
        if roles[index] and any(is_figure(cell) for cell in column)
    }
    step = -1 if units[0] - 1 in figures else 1
    return {
        index + step: index
        for index in units
        if index + step in figures and roles[index + step] in READ
    }


def refuse_decimal_commas(
    block: TableStart, heads: Sequence[str], roles: Sequence[str], path: str
) -> None:
    """Refuse rows in which commas both part the fields and begin decimals.

    Every figure is two fields then: the readings are whole numbers, and as many stand to the
    right of them, under names that are none of a figure.

    Raises:
        SourceError: That is so.
    """
    read = [index for index, role in enumerate(roles) if role in READ]
    if block.separator != "," or not read or not any(heads):
        return
    cells = [[cell for cell in cells_of(block.sample, i) if cell] for i in range(block.width)]
    if not all(_WHOLE.fullmatch(cell) for index in read for cell in cells[index]):
        return
    more = [
        index
        for index in range(min(read), block.width)
        if roles[index] in {UNUSED, DEVICE}
        and any(cell.isdigit() for cell in cells[index])
        and not is_other(heads[index])
    ]
    if len(more) >= len(read):
        filled = max(i + 1 for row in block.sample for i, cell in enumerate(row) if cell)
        raise SourceError(
            "readings-columns-differ", path=path, header=filled - len(more), row=filled
        )
