"""A logger's file, read: structure, columns, unit, order of its dates, clock, readings."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from itertools import chain, islice
from pathlib import Path

from curecal.errors import SourceError
from curecal.readings.clock import date_order as order
from curecal.readings.clock.clock import find_overruled_zone, logger_zone
from curecal.readings.columns.by_hand import find_overruled_columns, stamp_named
from curecal.readings.columns.columns import Layout, layout_of
from curecal.readings.columns.rows import Rows, refuse_hot_celsius, refuse_mostly_bad
from curecal.readings.export.edge_outliers import find_edge_outliers
from curecal.readings.export.logger_channels import judge_channels, make_channels
from curecal.readings.table.cell_values import unit_in_cell
from curecal.readings.table.export_types import (
    Answers,
    AskedFor,
    LoggerExport,
    QuestionError,
    Understood,
    UnderstoodBy,
)
from curecal.readings.table.table_start import HEAD_LINES, TableStart, find_table, table_in_rows
from curecal.readings.table.text import is_workbook, text_file
from curecal.readings.table.workbook import workbook_rows
from curecal.records import Record, record
from curecal.trade.findings import Finding, Severity

# How many lines are read between two looks at how far it is: a look costs more than a line.
_LINES_A_LOOK = 5000
_NO_ANSWERS = Answers()


@record
class ExportSource(Record):
    """Where a file's rows come from: its encoding, its structure, its rows."""

    encoding: str
    block: TableStart
    layout: Layout
    rows: Rows


def read_export(
    path: Path,
    answers: Answers = _NO_ANSWERS,
    progress: Callable[[int, int], None] | None = None,
) -> LoggerExport:
    """Return the readings in a logger's file, and how each part of it was understood.

    Args:
        path: The file.
        answers: What a person said of what it leaves open.
        progress: Told how many bytes of how many of a text file have been read, about.

    Raises:
        QuestionError: Only a person can say what the file leaves open.
        SourceError: It cannot be read, or has no readings.
    """
    name = str(path)
    source = _from_book(path, answers) if is_workbook(path) else _from_text(path, answers, progress)
    rows, layout, block = source.rows, source.layout, source.block
    runs = [table.walls for table in rows.tables.values() if table.walls]
    good = sum(map(len, runs))
    refuse_hot_celsius(rows, good, name)
    if not runs:
        raise SourceError("readings-none", path=name)
    seen = order.try_order(runs)
    known_order, days = order.decide_order(rows.dates, seen, block.preamble, answers, name)
    known_zone, zone = logger_zone(block, rows.dates.names, answers, name)
    made = make_channels(rows, layout, days, zone, name, seen.nominal_s)
    unit = _unit(layout, rows, block)
    judge_channels(made, rows, answers, unit.value, name)
    refuse_mostly_bad(rows, good, name)
    findings = [
        *_unit_overruled(unit, name),
        *find_overruled_columns(block, answers.columns, name),
        *find_overruled_zone(block, answers, made.channels, name),
        *made.findings,
    ]
    for channel in made.channels:
        findings += find_edge_outliers(channel, name)
    return LoggerExport(
        name=name,
        encoding=source.encoding,
        separator=block.separator,
        data_line=block.first + 1,
        channels=tuple(made.channels),
        columns=layout.shown,
        unit=unit,
        order=known_order,
        zone=known_zone,
        tz=zone,
        events=rows.events,
        bad=rows.bad(),
        findings=tuple(findings),
    )


def _from_text(
    path: Path, answers: Answers, progress: Callable[[int, int], None] | None
) -> ExportSource:
    text = text_file(path)
    name = str(path)
    with text.lines() as file:
        head = list(islice(file, HEAD_LINES))
        block = find_table(head, stamp_named(answers.columns))
        if block is None:
            raise _no_rows(answers, name)
        layout = layout_of(block, answers, name)
        rows = Rows(block, layout, answers.unit, name)
        left = file if progress is None else _watched(file, path.stat().st_size, progress)
        rows.take_lines(chain(head[block.first :], left), block.first + 1)
    return ExportSource(text.encoding, block, layout, rows)


def _watched(
    lines: Iterable[str], size: int, progress: Callable[[int, int], None]
) -> Iterator[str]:
    """Give lines on, and tell from time to time how much of the file they were."""
    read = 0
    for number, line in enumerate(lines):
        read += len(line)
        if number % _LINES_A_LOOK == 0:
            progress(min(read, size), size)
        yield line


def _from_book(path: Path, answers: Answers) -> ExportSource:
    name = str(path)
    source = workbook_rows(path)
    head = list(islice(source, HEAD_LINES))
    block = table_in_rows(head, "", stamp_named(answers.columns))
    if block is None:
        raise _no_rows(answers, name)
    layout = layout_of(block, answers, name)
    rows = Rows(block, layout, answers.unit, name)
    rows.take_rows(enumerate(chain(head[block.first :], source), start=block.first + 1))
    return ExportSource("workbook", block, layout, rows)


def _no_rows(answers: Answers, path: str) -> SourceError:
    """Return the refusal of a file without readings, or of columns that have no instant."""
    if not answers.columns:
        return SourceError("readings-no-rows", path=path)
    named = ",".join(answers.columns)
    return QuestionError(AskedFor.COLUMNS, "readings-columns-no-instant", path=path, columns=named)


def _unit_overruled(unit: Understood, path: str) -> list[Finding]:
    """Return a finding where the person's unit goes against the file's own."""
    if unit.by is not UnderstoodBy.OPTION or not unit.words:
        return []
    said = {"unit": f"°{unit.value}", "words": unit.words}
    return [Finding(Severity.WARNING, "readings-unit-overruled", path, said)]


def _unit(layout: Layout, rows: Rows, block: TableStart) -> Understood:
    """Return the unit with where it comes from; of rows that say it themselves, those seen."""
    at, known = layout.unit_at, layout.unit
    if layout.name_at is not None and known.by is UnderstoodBy.ROW:
        return Understood("".join(sorted(rows.units)), UnderstoodBy.ROW)
    if at is None or known.by not in {UnderstoodBy.ROW, UnderstoodBy.OPTION}:
        return known
    if known.by is UnderstoodBy.ROW:
        return Understood("".join(sorted(rows.units)), UnderstoodBy.ROW)
    seen = {unit_in_cell(row[at]) for row in block.sample if at < len(row)}
    other = sorted((seen & {"C", "F"}) - {known.value})
    return Understood(known.value, UnderstoodBy.OPTION, ", ".join(f"°{unit}" for unit in other))
