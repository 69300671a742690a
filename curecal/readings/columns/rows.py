"""The rows of a logger's file into arrays: whole chunks at once, odd ones row by row.

A chunk in which every row is plain goes through look-ups and conversions of whole columns. A
chunk with anything else in it (an event, a missing reading, a quote, a broken line) is read row by
row, by rules that say the same of a plain row.
"""

from __future__ import annotations

import csv
from array import array
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import islice
from math import isnan

from curecal.errors import SourceError
from curecal.readings.columns.columns import (
    INSTANT,
    Layout,
    value_of,
)
from curecal.readings.columns.headings import HUMIDITY, TEMPERATURE, names_reading
from curecal.readings.columns.long_rows import device_of_name, kind_of_name, unit_of_name
from curecal.readings.columns.roles import READ
from curecal.readings.table.cell_values import figure, is_figure, unit_in_cell
from curecal.readings.table.export_types import (
    COLDEST_C,
    HOTTEST_C,
    NO_READING,
    AskedFor,
    QuestionError,
    RowFault,
    UnderstoodBy,
    UnparsedCount,
)
from curecal.readings.table.table_start import ANNOTATION, TableStart
from curecal.readings.table.text import split
from curecal.readings.table.timestamps import Dates, Style, Times, split_stamp, with_zone_name
from curecal.readings.table.unparsed_lines import UnparsedLines, is_too_many

CHUNK = 1024
_PLAIN = "0123456789.-+ \r\n"
_LIMITS = {
    "C": (COLDEST_C, HOTTEST_C),
    "F": (COLDEST_C * 9 / 5 + 32, HOTTEST_C * 9 / 5 + 32),
    # Under 2 % not even a desert is; such figures are fractions, or a sensor that failed.
    "%": (2.0, 100.0),
}
# Rows whose fields are where they should be.
_OWN_FAULTS = frozenset({RowFault.FIGURE, RowFault.RANGE})
# Above full saturation a sensor shows a little more than there is.
_WETTEST = 105.0


class RowRefusedError(ValueError):
    """A row cannot be read; `fault` says why."""

    def __init__(self, fault: RowFault) -> None:
        super().__init__(fault)
        self.fault = fault


@dataclass
class DeviceTable:
    """One device's rows in the order of the file: wall times, a column each, line numbers.

    `hidden` are the wall times of rows that could not be read and may hide frost.
    """

    walls: array[int] = field(default_factory=lambda: array("q"))
    lines: array[int] = field(default_factory=lambda: array("I"))
    columns: list[array[float]] = field(default_factory=list)
    hidden: array[int] = field(default_factory=lambda: array("q"))


class Rows:
    """What reads the rows of one file, and what they have given so far."""

    def __init__(self, block: TableStart, layout: Layout, unit: str | None, path: str) -> None:
        self.block, self.layout, self.unit, self.path = block, layout, unit, path
        self.dates, self.times = Dates(block.form), Times(block.form)
        self.tables: dict[str, DeviceTable] = {}
        self.events = 0
        self.unread = UnparsedLines()
        self.impossible = 0
        self.hot: list[float] = []
        self.units: set[str] = set()
        self._columns = layout.columns
        self._by_row = (
            layout.says_by_row
            or layout.device_at is not None
            or any(column.unit_at is not None for column in layout.columns)
        )
        self._warm = [
            (column.index, column.unit) for column in layout.columns if column.role == TEMPERATURE
        ]
        # A joiner that stands in the date as well is found only with care.
        self._joiner = block.form.joiner
        form = block.form
        self._careful = (
            self._joiner == form.separator
            or form.kind > 0
            or form.named
            or form.style is not Style.PLAIN
        )
        used = [column.index for column in layout.columns]
        cells = (row[index] for row in block.sample for index in used if index < len(row))
        self._comma = block.separator != "," and any("," in cell for cell in cells)
        self._headers = {tuple(row) for row in block.header}
        self._has_devices = layout.device_at is not None or layout.name_at is not None

    def bad(self) -> UnparsedCount:
        """Return the lines that could not be read."""
        return self.unread.bad()

    def take_lines(self, lines: Iterable[str], first: int) -> None:
        """Read lines of text; `first` is the number of the first."""
        source = iter(lines)
        while chunk := list(islice(source, CHUNK)):
            if self._by_row or self._careful or not self._take_chunk(chunk, first):
                for number, line in enumerate(chunk, start=first):
                    self.take(split(line, self.block.separator), number)
            first += len(chunk)

    def take_rows(self, rows: Iterator[tuple[int, Sequence[str]]]) -> None:
        """Read rows already parted, each with its number."""
        for number, row in rows:
            self.take(row, number)

    def _take_chunk(self, lines: Sequence[str], first: int) -> bool:
        """Read a chunk in which every row is plain; False, and nothing kept, where one is not."""
        separator, width = self.block.separator, self.block.width
        if '"' in "".join(lines):
            try:
                rows = list(csv.reader(lines, delimiter=separator, strict=True))
            except csv.Error:
                return False
            # A quote that closes on a later line is a broken line, not a long field.
            if len(rows) != len(lines):
                return False
        else:
            rows = [line.split(separator) for line in lines]
        if set(map(len, rows)) != {width}:
            return False
        try:
            walls = self._walls(rows)
            columns = [self._column(rows, place) for place in range(len(self._columns))]
        except ValueError:
            return False
        table = self._table("")
        table.walls.extend(walls)
        table.lines.extend(range(first, first + len(rows)))
        for kept, values in zip(table.columns, columns, strict=True):
            kept.extend(values)
        return True

    def _walls(self, rows: Sequence[Sequence[str]]) -> array[int]:
        dates, times, joiner = self.dates, self.times, self._joiner
        if not joiner:
            day, hour = self.block.stamp
            return array("q", [dates[row[day]] + times[row[hour]] for row in rows])
        (index,) = self.block.stamp
        parts = [row[index].partition(joiner) for row in rows]
        return array("q", [dates[day] + times[hour] for day, _, hour in parts])

    def _column(self, rows: Sequence[Sequence[str]], place: int) -> array[float]:
        column = self._columns[place]
        index = column.index
        cells = [row[index] for row in rows]
        if self._comma:
            cells = [cell.replace(",", ".", 1) for cell in cells]
        # What `float` reads and a logger does not write: names, underscores, exponents.
        if "".join(cells).strip(_PLAIN):
            raise ValueError
        values = array("d", map(float, cells))
        low, high = _LIMITS[column.unit]
        if not (low <= min(values) and max(values) <= high):
            raise ValueError
        return values

    def _is_header(self, cells: Sequence[str]) -> bool:
        """Return whether a row names columns anew: an instant and something measured."""
        at = self.block.stamp[0]
        if tuple(cells) in self._headers:
            return True
        if at >= len(cells) or not INSTANT.search(cells[at]):
            return False
        return any(names_reading(cell) for cell in cells if cell != cells[at])

    def take(self, cells: Sequence[str], number: int) -> None:
        """Read one row, whatever is in it."""
        if not any(cells):
            return
        if self._is_header(cells):
            # Two exports in one file are one if nothing but the same header parts them.
            same = tuple(cells) in self._headers and number - 1 != self.unread.last
            if not same:
                raise SourceError("readings-several-blocks", path=self.path, line=number)
            return
        try:
            self._take(cells, number)
        except RowRefusedError as error:
            self._look(cells, number, error.fault)

    def _look(self, cells: Sequence[str], number: int, fault: RowFault) -> None:
        """Keep a row that cannot be read, with what it may hide."""
        self.unread.note(number, fault)
        width = self.block.width
        whole = fault in _OWN_FAULTS and len(cells) >= width and not any(cells[width:])
        warm = self._warm
        if self.layout.says_by_row:
            unit = self._unit_of(cells)
            warm = [(index, unit) for index, _ in warm if unit != "%"]
        cold = self.unread.look(number, cells, self.block.stamp, warm, whole=whole)
        if cold and fault is not RowFault.INSTANT:
            device = self._device(cells)
            if not self._has_devices or device in self.tables:
                tables = [self._table(device)]
            else:
                # Nobody knows whose row it is, and every device may have been that cold.
                tables = list(self.tables.values())
            for table in tables:
                table.hidden.append(self._wall(cells))

    def _take(self, cells: Sequence[str], number: int) -> None:
        try:
            wall = self._wall(cells)
        except (ValueError, IndexError):
            if ANNOTATION.match(cells[0]):
                return
            raise RowRefusedError(RowFault.INSTANT) from None
        width = self.block.width
        try:
            values = self._values([*cells, *[""] * (width - len(cells))])
        except RowRefusedError:
            raise
        except ValueError:
            raise RowRefusedError(RowFault.FIGURE) from None
        if all(isnan(value) for value in values):
            if len(cells) < width and any(map(is_figure, cells[max(self.block.stamp) + 1 :])):
                raise RowRefusedError(RowFault.FIELDS)
            self.events += 1
            return
        if len(cells) < width or any(cells[width:]):
            # A separator lost or won moves figures into columns that are not theirs.
            raise RowRefusedError(RowFault.FIELDS)
        table = self._table(self._device(cells))
        table.walls.append(wall)
        table.lines.append(number)
        for kept, value in zip(table.columns, values, strict=True):
            kept.append(value)

    def _wall(self, cells: Sequence[str]) -> int:
        form = self.block.form
        day, hour = split_stamp(cells, self.block.stamp, form.style, self._joiner)
        if form.named:
            day = with_zone_name(day, hour)
        return self.dates[day] + self.times[hour]

    def _values(self, cells: Sequence[str]) -> list[float]:
        if self.layout.says_by_row:
            return self._value_by_row(cells)
        return [self._inside(value_of(cells, column), column.unit) for column in self._columns]

    def _device(self, cells: Sequence[str]) -> str:
        """Return whose row it is, empty where there is but one device."""
        at, name_at = self.layout.device_at, self.layout.name_at
        if name_at is not None:
            if name_at >= len(cells):
                return ""
            tags = [cells[index] for index in self.layout.tags_at if index < len(cells)]
            return " ".join(part for part in (*tags, device_of_name(cells[name_at])) if part)
        return cells[at] if at is not None and at < len(cells) else ""

    def _unit_of(self, cells: Sequence[str]) -> str:
        """Return the unit of a row that says what it is; nothing where nobody can say it."""
        unit_at, name_at = self.layout.unit_at, self.layout.name_at
        beside = "" if unit_at is None or unit_at >= len(cells) else unit_in_cell(cells[unit_at])
        if name_at is None:
            return self.unit if self.unit is not None and beside in {"C", "F"} else beside
        name = cells[name_at] if name_at < len(cells) else ""
        units = {beside, unit_of_name(name)} - {""}
        if kind_of_name(name) == HUMIDITY:
            return "%" if units <= {"%"} else ""
        if "%" in units:
            return ""
        if self.unit is not None:
            return self.unit
        if not units and self.layout.unit.by is UnderstoodBy.PREAMBLE:
            return self.layout.unit.value
        return units.pop() if len(units) == 1 else ""

    def _value_by_row(self, cells: Sequence[str]) -> list[float]:
        """Return temperature [°C] and humidity of a row that says itself what it is."""
        (column,) = self._columns
        index, name_at = column.index, self.layout.name_at
        other = name_at is not None and kind_of_name(cells[name_at]) not in READ
        if not cells[index] or other:
            return [NO_READING, NO_READING]
        unit = self._unit_of(cells)
        if not unit:
            raise ValueError(cells)
        value = self._inside(figure(cells[index], unit), unit)
        if unit == "%":
            return [NO_READING, value]
        self.units.add(unit)
        return [(value - 32.0) * 5.0 / 9.0 if unit == "F" else value, NO_READING]

    def _inside(self, value: float, unit: str) -> float:
        """Return a value that a logger in a room can show, or none; refuse any other.

        A humidity that cannot be is none, and takes no temperature with it.
        """
        low, high = _LIMITS[unit]
        if isnan(value) or low <= value <= high:
            return value
        if unit != "%":
            if value > high and unit == "C":
                self.hot.append(value)
            raise RowRefusedError(RowFault.RANGE)
        if high < value <= _WETTEST:
            return high
        self.impossible += 1
        return NO_READING

    def _table(self, device: str) -> DeviceTable:
        table = self.tables.get(device)
        if table is None:
            count = 2 if self.layout.says_by_row else len(self._columns)
            table = self.tables[device] = DeviceTable(columns=[array("d") for _ in range(count)])
        return table


def refuse_hot_celsius(rows: Rows, good: int, path: str) -> None:
    """Ask for the unit of a file in which more than slips are hotter in °C than any room.

    Raises:
        QuestionError: That is so, whoever said that they are °C.
    """
    hot = sorted(rows.hot)
    if is_too_many(len(hot), good):
        raise QuestionError(
            AskedFor.UNIT,
            "readings-too-hot",
            path=path,
            row_count=len(hot),
            figure=f"{hot[len(hot) // 2]:.1f}",
            most_c=HOTTEST_C,
        )


def refuse_mostly_bad(rows: Rows, good: int, path: str) -> None:
    """Refuse a file of which too much is not understood.

    Raises:
        SourceError: That is so.
    """
    rows.unread.refuse_many(good, path)
