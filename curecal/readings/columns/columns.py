"""What each column is: the instant, a temperature, a humidity, a unit, a device, or no reading."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import NoReturn

from curecal.errors import SourceError
from curecal.readings.columns.by_hand import NOT_USED, heads_named, roles_named, row_shown
from curecal.readings.columns.headings import (
    HUMIDITY,
    TEMPERATURE,
    names_reading,
)
from curecal.readings.columns.long_rows import find_long_rows, kind_of_name, tags_of, unit_of_name
from curecal.readings.columns.roles import (
    DEVICE,
    DEVICE_WORD,
    READ,
    UNIT,
    UNUSED,
    bound_units,
    cells_of,
    refuse_decimal_commas,
    roles_of,
    units_beside,
)
from curecal.readings.table.cell_values import (
    figure,
    is_figure,
    temperature_units,
    unit_in_cell,
)
from curecal.readings.table.export_types import (
    Answers,
    AskedFor,
    QuestionError,
    Understood,
    UnderstoodBy,
)
from curecal.readings.table.table_start import CellTexts, TableStart, texts
from curecal.readings.table.timestamps import COUNTED
from curecal.records import Record, record

INSTANT = re.compile(
    r"(?<![a-z])(?:date|time)|_at\b|last[\s_-]changed|epoch|unix|datum|zeit|heure|fecha|\bhora|\bdata\b|\bora\b|tijd|\btid\b|\bdato\b",
    re.IGNORECASE,
)
_SERIAL = re.compile(
    r"(?:s/n|\bsn|serial(?:\s*(?:number|no\.?))?)\s*[:#=]?\s*(?P<id>[A-Z0-9-]{3,24})", re.IGNORECASE
)
_UNIT_LINE = re.compile(r"unit|scale|^\W*temp[a-zé]*\s*[:=]?\s*[°º˚�]?\s?[CF]\W*$", re.IGNORECASE)
_NOISE = re.compile(
    r"\([^)]*\)|\[[^\]]*\]|[°º˚\ufffd]\s?[CF]\b|%\s?RH|%|\b(?:temperature|temp|humidity|relative|rh|"
    r"hum|temp[eé]rat\w+|humidit\w+|humedad|umidit\w+|feuchte|feuchtigkeit)\b\.?|^\W+|\W+$",
    re.IGNORECASE,
)
_LONGEST_NAME = 60
_FEW = 20


@record
class Column(Record):
    """One column that is used: where, what, in which unit, and which sensor's.

    `unit_at` is the column beside it whose every cell has to say the same unit.
    """

    index: int
    role: str
    unit: str
    name: str
    text: str
    unit_at: int | None = None


@record
class Sensor(Record):
    """One sensor of a device: the places of its columns among those used."""

    name: str
    temperature: int | None
    humidity: int | None


@record
class Layout(Record):
    """All columns of a file, with where the unit of temperature comes from."""

    columns: tuple[Column, ...]
    sensors: tuple[Sensor, ...]
    unit_at: int | None
    device_at: int | None
    unit: Understood
    device: str
    shown: tuple[tuple[str, str], ...]
    name_at: int | None = None
    tags_at: tuple[int, ...] = ()

    @property
    def says_by_row(self) -> bool:
        """Return whether every row has one figure, and says by unit or name what it is."""
        return self.unit_at is not None or self.name_at is not None


def layout_of(block: TableStart, answers: Answers, path: str) -> Layout:
    """Return the columns of a file that are used, and how the file calls them.

    Of the answers only the unit and the columns are used here.

    Raises:
        SourceError: Its rows are no wider than their figures.
        QuestionError: Nothing says which column is the temperature, or in which unit it is.
    """
    heads = texts(block.header, block.width)
    cells = [cells_of(block.sample, index) for index in range(block.width)]
    if answers.columns:
        roles = roles_named(answers.columns, block, path)
        named = [name.strip(NOT_USED) for name in answers.columns]
        refuse_decimal_commas(block, [*named, *[""] * (block.width - len(named))], roles, path)
        heads = heads_named(heads, roles)
    else:
        _check_width(block, path)
        roles = roles_of(block, heads, cells)
        found = find_long_rows(heads, roles, cells)
        if found is not None:
            return _long_layout(block, (heads, roles, cells), found, answers, path)
        if TEMPERATURE not in roles:
            _ask_columns("readings-no-temperature", block, path)
        refuse_decimal_commas(block, heads, roles, path)
    bound = bound_units(roles, cells)
    columns = [
        Column(index, role, _unit(head, cells[index], role), _name(head), head, bound.get(index))
        for index, (role, head) in enumerate(zip(roles, heads, strict=True))
        if role in READ
    ]
    # One column of figures whose rows say what each of them is, if its header does not.
    by_row = len(columns) == 1 and not columns[0].unit
    unit_at = columns[0].unit_at if by_row else None
    if unit_at is None:
        columns = [_with_bound(column, cells, answers, path) for column in columns]
    known, columns = _with_units(columns, block, unit_at, answers, path)
    return Layout(
        columns=tuple(columns),
        sensors=_sensors(columns, path),
        unit_at=unit_at,
        device_at=roles.index(DEVICE) if DEVICE in roles else None,
        unit=known,
        device=device_of(block),
        shown=_shown(block, heads, roles),
    )


def _ask_columns(code: str, block: TableStart, path: str) -> NoReturn:
    """Ask a person to name the columns, and show them a row and what stands over it."""
    heads = texts(block.header, block.width)
    named = ", ".join(head for head in heads if head)[:120]
    raise QuestionError(AskedFor.COLUMNS, code, path=path, columns=named, row=row_shown(block))


def _long_layout(
    block: TableStart,
    table: tuple[Sequence[str], list[str], Sequence[Sequence[str]]],
    found: tuple[int, int],
    answers: Answers,
    path: str,
) -> Layout:
    """Return the columns of a table in which a name beside each figure says what it is."""
    heads, roles, cells = table
    value_at, name_at = found
    tags = tags_of(heads, roles, cells, name_at)
    roles = [role if role in {"", UNIT} else UNUSED for role in roles]
    roles = [DEVICE if index in tags else role for index, role in enumerate(roles)]
    roles[value_at], roles[name_at] = "value", "name"
    units = [index for index, role in enumerate(roles) if role == UNIT]
    warm = [name for name in cells[name_at] if kind_of_name(name) == TEMPERATURE]
    own = {unit_of_name(name) for name in warm}
    stated = own if own and "" not in own else set()
    unit = "".join(sorted(stated))
    column = Column(value_at, TEMPERATURE, unit, "", warm[0] if warm else heads[value_at])
    if len(units) == 1:
        known = Understood(
            answers.unit or "row", UnderstoodBy.OPTION if answers.unit else UnderstoodBy.ROW
        )
    elif answers.unit is not None or not unit:
        known, _ = _with_units([replace(column, unit="")], block, None, answers, path)
        known = replace(known, words=", ".join(f"°{unit}" for unit in own - {"", answers.unit}))
    else:
        known = Understood(unit, UnderstoodBy.HEADER, column.text)
    return Layout(
        columns=(column,),
        sensors=(),
        unit_at=units[0] if len(units) == 1 else None,
        device_at=None,
        unit=known,
        device=device_of(block),
        shown=_shown(block, heads, roles),
        name_at=name_at,
        tags_at=tags,
    )


def _check_width(block: TableStart, path: str) -> None:
    """Refuse a header that does not stand over its columns, since it would name others.

    Rows may be one field wider, where that field is empty or no comma parts them: a comma could
    be a decimal comma.
    """
    if not block.header:
        return
    named = max((i + 1 for row in block.header for i, cell in enumerate(row) if cell), default=0)
    ends = sorted(
        max((i + 1 for i, cell in enumerate(row) if cell), default=0) for row in block.sample
    )
    # A few rows with a field too many are bad lines; decimal commas are in many.
    filled = ends[-1 - len(ends) // _FEW]
    more = 0 if block.separator == "," else 1
    if named > block.width or filled > named + more:
        raise SourceError("readings-columns-differ", path=path, header=named, row=filled)
    heads = texts(block.header, block.width)
    if any(names_reading(heads[index]) for index in block.stamp) or _is_shifted(block, heads):
        _ask_columns("readings-header-shifted", block, path)
    if block.rivals:
        _ask_columns("readings-several-instants", block, path)
    if block.form.style in COUNTED and not any(INSTANT.search(heads[i]) for i in block.stamp):
        _ask_columns("readings-no-time-column", block, path)


def _is_shifted(block: TableStart, heads: Sequence[str]) -> bool:
    """Return whether what a header calls a date or a time is something else below it."""
    dated = [index for index, head in enumerate(heads) if INSTANT.search(head)]
    others = [index for index in dated if index not in block.stamp]
    again = {heads[index] for index in others}
    foreign = [i for i in block.stamp if heads[i] and (i not in dated or heads[i] in again)]
    if len(others) == len(dated):
        # Another instant beside the one that counts has its own header.
        return any(not _are_instants(cells_of(block.sample, index)) for index in others)
    figures = (cell for index in others for cell in cells_of(block.sample, index))
    return bool(foreign) and any(map(is_figure, figures))


def _are_instants(cells: Sequence[str]) -> bool:
    return all(any(map(str.isdigit, cell)) and not is_figure(cell) for cell in cells if cell)


def _with_bound(
    column: Column, cells: Sequence[Sequence[str]], answers: Answers, path: str
) -> Column:
    """Return a column with the unit that the column beside it says; refuse one that differs."""
    if column.unit_at is None:
        return column
    said = {unit_in_cell(cell) for cell in cells[column.unit_at] if cell}
    degrees = said <= {"C", "F"}
    if column.role == TEMPERATURE and degrees and answers.unit is not None:
        return replace(column, unit_at=None)
    if len(said) == 1 and said <= ({column.unit} if column.unit else {"C", "F"}):
        return replace(column, unit=said.pop())
    words = " / ".join(sorted(unit if unit == "%" else f"°{unit}" for unit in said))
    params = {"path": path, "column": column.text or "?", "words": words}
    if column.role == TEMPERATURE and degrees:
        raise QuestionError(AskedFor.UNIT, "readings-units-differ", **params)
    raise SourceError("readings-quantities-differ", **params)


def _unit(head: str, cells: Sequence[str], role: str) -> str:
    """Return the unit that a column itself says; two say none."""
    if role == HUMIDITY:
        return "%"
    found = temperature_units(head)
    beside = units_beside(cells)
    both = set(found) | (beside - {"%"})
    return both.pop() if len(both) == 1 else ""


def _name(head: str) -> str:
    """Return what a column's header says beside quantity and unit."""
    name = head
    for _ in range(3):
        name = _NOISE.sub("", name).strip()
    return name[:_LONGEST_NAME]


def _with_units(
    columns: list[Column], block: TableStart, unit_at: int | None, answers: Answers, path: str
) -> tuple[Understood, list[Column]]:
    """Return the columns with their units, and where these come from."""
    warm = [column for column in columns if column.role == TEMPERATURE]
    if unit_at is not None:
        return Understood(
            answers.unit or "row", UnderstoodBy.OPTION if answers.unit else UnderstoodBy.ROW
        ), columns
    if answers.unit is not None:
        own = {column.unit for column in warm} - {""}
        words = ", ".join(sorted(f"°{unit}" for unit in own - {answers.unit}))
        told = [
            replace(column, unit=answers.unit) if column.role == TEMPERATURE else column
            for column in columns
        ]
        return Understood(answers.unit, UnderstoodBy.OPTION, words), told
    if all(column.unit for column in warm):
        units = "".join(sorted({column.unit for column in warm}))
        beside = not any(temperature_units(column.text) for column in warm)
        return Understood(
            units, UnderstoodBy.ROW if beside else UnderstoodBy.HEADER, warm[0].text
        ), columns
    found = {
        unit: " ".join(row)
        for row in block.preamble
        if _UNIT_LINE.search(" ".join(row).strip())
        for unit in temperature_units(" ".join(row)) or _last_unit(row)
    }
    if len(found) == 1 and not any(column.unit for column in warm):
        unit, words = next(iter(found.items()))
        told = [
            replace(column, unit=unit) if column.role == TEMPERATURE else column
            for column in columns
        ]
        return Understood(unit, UnderstoodBy.PREAMBLE, words), told
    raise QuestionError(
        AskedFor.UNIT, "readings-unit-unknown", path=path, column=warm[0].text or "?"
    )


def _last_unit(row: CellTexts) -> set[str]:
    """Return the unit that the last filled cell of a preamble's line consists of."""
    filled = [cell for cell in row if cell]
    unit = unit_in_cell(filled[-1].rpartition(":")[2].strip()) if filled else ""
    return {unit} if unit in {"C", "F"} else set()


def _sensors(columns: Sequence[Column], path: str) -> tuple[Sensor, ...]:
    """Return the sensors: each temperature with the humidity of the same name, else in turn."""
    warm = [place for place, column in enumerate(columns) if column.role == TEMPERATURE]
    damp = [place for place, column in enumerate(columns) if column.role == HUMIDITY]
    pairs = {
        place: [index for index in damp if columns[index].name == columns[place].name]
        for place in warm
    }
    if len(damp) <= 1 and len(warm) == 1:
        pairs = dict.fromkeys(warm, damp)
    elif len(damp) == len(warm) and not any(len(same) == 1 for same in pairs.values()):
        pairs = {place: [index] for place, index in zip(warm, damp, strict=True)}
    unclear = len(damp) > len(warm) or len(warm) == 1
    if unclear and any(len(same) != 1 for same in pairs.values()) and len(damp) > 1:
        named = ", ".join(f'"{columns[index].text}"' for index in damp)[:120]
        raise SourceError("readings-several-humidities", path=path, columns=named)
    found = []
    for place, same in pairs.items():
        name = columns[place].name
        shown = (name or f"column {columns[place].index + 1}") if len(warm) > 1 else ""
        # Another sensor's humidity would be wrong; none at all is only unknown.
        found.append(Sensor(shown, place, same[0] if len(same) == 1 else None))
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


def device_of(block: TableStart) -> str:
    """Return the device's own number or name, from the header or the preamble."""
    for row in (*block.header, *block.preamble):
        match = _SERIAL.search(" ".join(row))
        if match is not None and any(sign.isdigit() for sign in match["id"]):
            return match["id"]
    for row in block.preamble:
        text = " ".join(cell for cell in row if cell)
        name, colon, value = text.partition(":")
        if colon and DEVICE_WORD.search(name) and value.strip():
            return value.strip()[:_LONGEST_NAME]
    return ""


def _shown(
    block: TableStart, heads: Sequence[str], roles: Sequence[str]
) -> tuple[tuple[str, str], ...]:
    """Return every column with a name, and what it is taken to be."""
    names: Mapping[int, str] = dict.fromkeys(block.stamp, "instant")
    return tuple(
        (head or f"column {index + 1}", names.get(index, role))
        for index, (head, role) in enumerate(zip(heads, roles, strict=True))
        if head or role not in {UNUSED, ""} or index in names
    )


def value_of(cells: Sequence[str], column: Column) -> float:
    """Return the figure of a column in a row, NaN without one; `ValueError` in another unit."""
    at = column.unit_at
    if at is not None and cells[at] and unit_in_cell(cells[at]) != column.unit:
        raise ValueError(cells[at])
    return figure(cells[column.index], column.unit)
