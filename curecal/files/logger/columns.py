"""What each column is: the instant, a temperature, a humidity, a unit, a device, or no reading."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from curecal.errors import SourceError
from curecal.files.logger.block import Block, Row, texts
from curecal.files.logger.figures import (
    figure,
    is_figure,
    temperature_units,
    unit_beside,
    unit_in_cell,
)
from curecal.files.logger.shape import Answers, Known, QuestionError
from curecal.records import Record

TEMPERATURE, HUMIDITY, UNIT, DEVICE, UNUSED = "temperature", "humidity", "unit", "device", "unused"

_TEMPERATURE = re.compile(r"temp|thermo|(?<![a-z])t\s?\d*(?:$|\s?[(\[,])", re.IGNORECASE)
_HUMIDITY = re.compile(r"humid|(?<![a-z])r\.?h\.?(?![a-z])|feucht|hygro", re.IGNORECASE)
_NO_READING = re.compile(
    r"alarm|set[\s_-]?point|setting|limit|thresh|dew|wet[\s_-]?bulb|batt|volt|\bmin\b|\bmax\b|"
    r"minimum|maximum|\bhigh\b|\blow\b|offset|deviation|absolute|serial day|heat index|signal|"
    r"\bboard\b",
    re.IGNORECASE,
)
_INSTANT = re.compile(r"\bdate|\btime|datum|zeit", re.IGNORECASE)
_VALUE = re.compile(r"value|reading|measure", re.IGNORECASE)
_DEVICE = re.compile(
    r"device|logger|serial|s/n|sensor|location|station|probe|name|\bid\b", re.IGNORECASE
)
_SERIAL = re.compile(
    r"(?:s/n|\bsn|serial(?:\s*(?:number|no\.?))?)\s*[:#=]?\s*(?P<id>[A-Z0-9-]{3,24})", re.IGNORECASE
)
_UNIT_LINE = re.compile(r"unit|scale", re.IGNORECASE)
_NOISE = re.compile(
    r"\([^)]*\)|\[[^\]]*\]|[°º˚\ufffd]\s?[CF]\b|%\s?RH|%|\b(?:temperature|temp|humidity|relative|rh)\b"
    r"\.?|^\W+|\W+$",
    re.IGNORECASE,
)
_LONGEST_NAME = 60


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Column(Record):
    """One column that is used: where, what, in which unit, and which sensor's."""

    index: int
    role: str
    unit: str
    name: str
    text: str


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Sensor(Record):
    """One sensor of a device: the places of its columns among those used."""

    name: str
    temperature: int | None
    humidity: int | None


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Layout(Record):
    """All columns of a file, with where the unit of temperature comes from."""

    columns: tuple[Column, ...]
    sensors: tuple[Sensor, ...]
    unit_at: int | None
    device_at: int | None
    unit: Known
    device: str
    shown: tuple[tuple[str, str], ...]


def layout_of(block: Block, answers: Answers, path: str) -> Layout:
    """Return what the columns of a file are.

    Args:
        block: The structure of the file.
        answers: What the person says; only the unit is used here.
        path: What to call the file in a refusal.

    Returns:
        The columns used, and how the file calls them.

    Raises:
        SourceError: There is no temperature in it, or its rows are no wider than their figures.
        QuestionError: Nothing says in which unit the temperature is.
    """
    heads = texts(block.header, block.width)
    _check_width(block, path)
    cells = [_cells(block.sample, index) for index in range(block.width)]
    roles = [
        "" if index in block.stamp else _role(head, cells[index])
        for index, head in enumerate(heads)
    ]
    unit_at = roles.index(UNIT) if UNIT in roles else None
    roles = _settled(roles, heads, unit_at)
    device_at = next(
        (
            i
            for i, role in enumerate(roles)
            if role == DEVICE and len({cell for cell in cells[i] if cell}) >= 1
        ),
        None,
    )
    columns = [
        Column(index, role, _unit(head, cells[index], role), _name(head), head)
        for index, (role, head) in enumerate(zip(roles, heads, strict=True))
        if role in {TEMPERATURE, HUMIDITY}
    ]
    if not any(column.role == TEMPERATURE for column in columns):
        named = ", ".join(head for head in heads if head)[:120]
        raise SourceError("readings-no-temperature", path=path, columns=named)
    known, columns = _with_units(columns, block, unit_at, answers, path)
    return Layout(
        columns=tuple(columns),
        sensors=_sensors(columns),
        unit_at=unit_at,
        device_at=device_at,
        unit=known,
        device=device_of(block),
        shown=_shown(block, heads, roles),
    )


def _check_width(block: Block, path: str) -> None:
    """Refuse a header that does not stand over its columns, since it would name others.

    Rows may be one field wider, where that field is empty or no comma parts them: a comma could
    be a decimal comma.
    """
    if not block.header:
        return
    named = max((i + 1 for row in block.header for i, cell in enumerate(row) if cell), default=0)
    filled = max(i + 1 for row in block.sample for i, cell in enumerate(row) if cell)
    more = 0 if block.separator == "," else 1
    if named > block.width or filled > named + more:
        raise SourceError("readings-columns-differ", path=path, header=named, row=filled)
    heads = texts(block.header, block.width)
    dated = [index for index, head in enumerate(heads) if _INSTANT.search(head)]
    if any(names_reading(heads[index]) for index in block.stamp) or (
        dated and not set(dated) & set(block.stamp)
    ):
        raise SourceError("readings-header-shifted", path=path)


def _cells(rows: Sequence[Row], index: int) -> list[str]:
    return [row[index] for row in rows if index < len(row)]


def _role(head: str, cells: Sequence[str]) -> str:
    filled = [cell for cell in cells if cell]
    if filled and all(unit_in_cell(cell) for cell in filled):
        return UNIT
    if not any(is_figure(cell) for cell in filled):
        return DEVICE if _is_device(head, filled) else UNUSED
    return _role_of_figures(head, filled)


def _is_device(head: str, cells: Sequence[str]) -> bool:
    """Return whether a column names devices: a name in every row of its own counts the rows."""
    return bool(_DEVICE.search(head)) and 2 * len(set(cells)) <= len(cells)


def _role_of_figures(head: str, cells: Sequence[str]) -> str:
    """Return the role of a column of figures by what stands over it, else by units beside them."""
    if _NO_READING.search(head):
        return UNUSED
    beside = {unit_beside(cell) for cell in cells if is_figure(cell)} - {""}
    # A serial number under "Sensor" is a name; the letters over a temperature come first.
    if _HUMIDITY.search(head) and not _TEMPERATURE.search(head):
        # A humidity in degrees is neither.
        return UNUSED if temperature_units(head) else HUMIDITY
    if _TEMPERATURE.search(head) or temperature_units(head):
        return TEMPERATURE
    if len(beside) == 1 or head.endswith("%"):
        return HUMIDITY if beside <= {"%"} else TEMPERATURE
    whole = all(re.fullmatch(r"\d+", cell) for cell in cells)
    if whole and _is_device(head, cells):
        return DEVICE
    return "value" if _VALUE.search(head) else UNUSED


def _settled(roles: list[str], heads: Sequence[str], unit_at: int | None) -> list[str]:
    """Return the roles with a column of mere values settled: a temperature, if its unit is said."""
    values = [index for index, role in enumerate(roles) if role == "value"]
    named = TEMPERATURE in roles or HUMIDITY in roles
    settled = [UNUSED if role == "value" else role for role in roles]
    if len(values) == 1 and not named and (unit_at is not None or heads[values[0]]):
        settled[values[0]] = TEMPERATURE
    return settled


def _unit(head: str, cells: Sequence[str], role: str) -> str:
    """Return the unit that a column itself says; two say none."""
    if role == HUMIDITY:
        return "%"
    found = temperature_units(head)
    beside = {unit_beside(cell) for cell in cells if is_figure(cell)} - {""}
    both = set(found) | (beside - {"%"})
    return both.pop() if len(both) == 1 else ""


def _name(head: str) -> str:
    """Return what a column's header says beside quantity and unit."""
    name = head
    for _ in range(3):
        name = _NOISE.sub("", name).strip()
    return name[:_LONGEST_NAME]


def _with_units(
    columns: list[Column], block: Block, unit_at: int | None, answers: Answers, path: str
) -> tuple[Known, list[Column]]:
    """Return the columns with their units, and where these come from."""
    warm = [column for column in columns if column.role == TEMPERATURE]
    if unit_at is not None:
        return Known(answers.unit or "row", "option" if answers.unit else "row"), columns
    if answers.unit is not None:
        own = {column.unit for column in warm} - {""}
        words = ", ".join(sorted(f"°{unit}" for unit in own - {answers.unit}))
        told = [
            replace(each, unit=answers.unit) if each.role == TEMPERATURE else each
            for each in columns
        ]
        return Known(answers.unit, "option", words), told
    if all(column.unit for column in warm):
        units = "".join(sorted({column.unit for column in warm}))
        beside = not any(temperature_units(column.text) for column in warm)
        return Known(units, "row" if beside else "header", warm[0].text), columns
    found = {
        unit: " ".join(row)
        for row in block.preamble
        if _UNIT_LINE.search(" ".join(row))
        for unit in temperature_units(" ".join(row)) or _last_unit(row)
    }
    if len(found) == 1 and not any(column.unit for column in warm):
        unit, words = next(iter(found.items()))
        told = [replace(each, unit=unit) if each.role == TEMPERATURE else each for each in columns]
        return Known(unit, "preamble", words), told
    raise QuestionError("unit", "readings-unit-unknown", path=path, column=warm[0].text or "?")


def _last_unit(row: Row) -> set[str]:
    """Return the unit that the last filled cell of a preamble's line consists of."""
    filled = [cell for cell in row if cell]
    unit = unit_in_cell(filled[-1].rpartition(":")[2].strip()) if filled else ""
    return {unit} if unit in {"C", "F"} else set()


def _sensors(columns: Sequence[Column]) -> tuple[Sensor, ...]:
    """Return the sensors: each temperature with the humidity of the same name, else in turn."""
    warm = [place for place, column in enumerate(columns) if column.role == TEMPERATURE]
    damp = [place for place, column in enumerate(columns) if column.role == HUMIDITY]
    several = len(warm) > 1
    found = []
    for turn, place in enumerate(warm):
        name = columns[place].name
        same = [each for each in damp if name and columns[each].name == name]
        # Another sensor's humidity would be wrong; none at all is only unknown.
        paired = len(damp) == len(warm) or not several
        humid = same[0] if same else (damp[turn] if paired and turn < len(damp) else None)
        shown = (name or f"column {columns[place].index + 1}") if several else ""
        found.append(Sensor(shown, place, humid))
    return _told_apart(found)


def _told_apart(sensors: list[Sensor]) -> tuple[Sensor, ...]:
    """Return the sensors, those of the same name numbered."""
    seen: dict[str, int] = {}
    named = []
    for sensor in sensors:
        seen[sensor.name] = seen.get(sensor.name, 0) + 1
        again = f" {seen[sensor.name]}" if seen[sensor.name] > 1 else ""
        named.append(replace(sensor, name=f"{sensor.name}{again}"))
    return tuple(named)


def device_of(block: Block) -> str:
    """Return the device's own number or name, from the header or the preamble."""
    for row in (*block.header, *block.preamble):
        match = _SERIAL.search(" ".join(row))
        if match is not None and any(sign.isdigit() for sign in match["id"]):
            return match["id"]
    for row in block.preamble:
        text = " ".join(cell for cell in row if cell)
        name, colon, value = text.partition(":")
        if colon and _DEVICE.search(name) and value.strip():
            return value.strip()[:_LONGEST_NAME]
    return ""


def _shown(block: Block, heads: Sequence[str], roles: Sequence[str]) -> tuple[tuple[str, str], ...]:
    """Return every column with a name, and what it is taken to be."""
    names: Mapping[int, str] = dict.fromkeys(block.stamp, "instant")
    return tuple(
        (head or f"column {index + 1}", names.get(index, role))
        for index, (head, role) in enumerate(zip(heads, roles, strict=True))
        if head or role not in {UNUSED, ""} or index in names
    )


def row_unit(cell: str) -> str:
    """Return the unit of a row; raises `ValueError` where it is none."""
    unit = unit_in_cell(cell)
    if not unit:
        raise ValueError(cell)
    return unit


def value_of(cells: Sequence[str], column: Column) -> float:
    """Return the figure of a column in a row, NaN without a reading."""
    return figure(cells[column.index], column.unit)


def names_reading(text: str) -> bool:
    """Return whether a text over a column names a temperature or a humidity."""
    return bool(_TEMPERATURE.search(text) or _HUMIDITY.search(text) or temperature_units(text))
