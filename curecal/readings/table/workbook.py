"""A spreadsheet's workbook as rows of text, read only, and not larger than it says."""

from __future__ import annotations

import importlib
import re
import zipfile
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import closing
from datetime import date, datetime, time, timedelta
from itertools import islice
from pathlib import Path
from typing import Any

from curecal.errors import SourceError
from curecal.readings.table.cell_values import is_figure
from curecal.readings.table.table_start import HEAD_LINES, table_in_rows
from curecal.readings.table.timestamps import is_time
from curecal.toml_files.shown import shorten

# A year of readings, one a minute, is some 80 MB of sheet.
LARGEST_UNPACKED = 128 << 20
_LARGEST_SHOWN = "128 MiB unpacked"
# Sheets are read row by row; the texts and styles beside them are held whole, at about six times
# their size.
LARGEST_BESIDE_SHEETS = 16 << 20
_LARGEST_BESIDE_SHOWN = "16 MiB of texts and styles unpacked"
_SHEETS = "xl/worksheets/"
_MOST_COLUMNS = 256
_HALF_SECOND = timedelta(milliseconds=500)
_MIDNIGHT = time()
_ANY_DAY = date(2000, 1, 1)
_DATE_TEXT = re.compile(r"\s*\d{1,4}[-/.]\d{1,2}[-/.]\d{2,4}(?!\d)")
# One is a slip of the pen.
_MIXED = 2


def workbook_rows(path: Path) -> Iterator[list[str]]:
    """Return the rows of the one sheet of a workbook that has readings, cells as texts.

    Args:
        path: The workbook.

    Yields:
        One list for each row; instants in ISO form, so that their order is certain. Without
        readings in any sheet, the rows of the first that has anything in it.

    Raises:
        SourceError: It is no workbook, too large unpacked, what reads it is not installed,
            several of its sheets have readings, or its dates are partly text.
    """
    name = str(path)
    _check_size(path)
    try:
        openpyxl = importlib.import_module("openpyxl")
    except ImportError:
        raise SourceError("readings-workbook-extra", path=name) from None
    try:
        # Opened here: the library leaves a file open that it cannot read.
        with path.open("rb") as file:
            book = openpyxl.load_workbook(file, read_only=True, data_only=True)
            with closing(book):
                yield from _rows(book, name)
    except SourceError:
        raise
    except Exception:  # noqa: BLE001 - a broken archive fails in as many ways as it has parts
        raise SourceError("readings-workbook-broken", path=name) from None


def _rows(book: Any, name: str) -> Iterator[list[str]]:
    """Return the rows of the sheet that has readings; what another has must not go unread."""
    filled: list[Any] = []
    with_readings: list[Any] = []
    for sheet in book.worksheets:
        head = list(islice(_cells(sheet), HEAD_LINES))
        filled += [sheet] if any(head) else []
        with_readings += [sheet] if table_in_rows(head, "") is not None else []
    if len(with_readings) > 1:
        titles = ", ".join(f'"{shorten(sheet.title)}"' for sheet in with_readings)
        raise SourceError("readings-several-sheets", path=name, sheets=titles)
    for sheet in (with_readings or filled)[:1]:
        seen = _Seen()
        for raw in _raw(sheet):
            if seen.is_mixed(raw):
                raise SourceError("readings-dates-mixed", path=name, sheet=shorten(sheet.title))
            yield _trimmed(_texts(raw))


class _Seen:
    """Dates met in each column: those that the spreadsheet knows as dates, and those it left text.

    It takes the dates that can be read in its own order, with day and month swapped, and leaves
    the others as they were written: both in one column are not the logger's dates.
    """

    def __init__(self) -> None:
        self._known: Counter[int] = Counter()
        self._text: Counter[int] = Counter()

    def is_mixed(self, row: Sequence[object]) -> bool:
        """Return whether a column has dates of both kinds, this row counted."""
        # A line above the readings, with a day in it, has no figure.
        if not any(isinstance(cell, int | float) or is_figure(str(cell)) for cell in row):
            return False
        for index, cell in enumerate(row):
            if isinstance(cell, date):
                self._known[index] += 1
            elif isinstance(cell, str) and _DATE_TEXT.match(cell):
                self._text[index] += 1
            else:
                continue
            if min(self._known[index], self._text[index]) >= _MIXED:
                return True
        return False


def _raw(sheet: Any) -> Iterator[Sequence[object]]:
    rows: Iterator[Sequence[object]] = sheet.iter_rows(values_only=True, max_col=_MOST_COLUMNS)
    return rows


def _cells(sheet: Any) -> Iterator[list[str]]:
    return (_trimmed(_texts(raw)) for raw in _raw(sheet))


def _texts(row: Sequence[object]) -> list[str]:
    """Return a row's cells as texts; a day with its time in the next cell is the day alone."""
    cells = [_text(cell) for cell in row]
    for index, cell in enumerate(row):
        if isinstance(cell, datetime) and cell.time() == _MIDNIGHT:
            beside = [*row[max(index - 1, 0) : index], *row[index + 1 : index + 2]]
            if any(_is_time(other) for other in beside):
                cells[index] = cell.date().isoformat()
    return cells


def _is_time(cell: object) -> bool:
    if isinstance(cell, time | timedelta):
        return True
    return isinstance(cell, str) and is_time(cell)


def _check_size(path: Path) -> None:
    name = str(path)
    try:
        with zipfile.ZipFile(path) as archive:
            sizes = {entry.filename: entry.file_size for entry in archive.infolist()}
            listed = len(archive.infolist())
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError):
        raise SourceError("readings-workbook-broken", path=name) from None
    if sum(sizes.values()) > LARGEST_UNPACKED:
        raise SourceError("file-too-large", path=name, limit=_LARGEST_SHOWN)
    beside = sum(size for part, size in sizes.items() if not part.startswith(_SHEETS))
    if beside > LARGEST_BESIDE_SHEETS:
        raise SourceError("file-too-large", path=name, limit=_LARGEST_BESIDE_SHOWN)
    # A name listed twice would be counted once and read as either.
    if "[Content_Types].xml" not in sizes or len(sizes) != listed:
        raise SourceError("readings-workbook-broken", path=name)


def _trimmed(cells: Sequence[str]) -> list[str]:
    """Return a row without the empty cells behind it: sheets remember deleted columns."""
    last = max((index for index, cell in enumerate(cells) if cell), default=-1)
    return list(cells[: last + 1])


def _text(cell: object) -> str:
    match cell:
        case None:
            return ""
        case datetime():
            # A spreadsheet's day is a fraction: the second meant is the nearest.
            whole = (cell + _HALF_SECOND).replace(microsecond=0)
            return whole.isoformat(" ")
        case date():
            return cell.isoformat()
        case time():
            near = datetime.combine(_ANY_DAY, cell) + _HALF_SECOND
            # The last half second of a day stays in it.
            whole = near if near.date() == _ANY_DAY else datetime.combine(_ANY_DAY, cell)
            return whole.time().isoformat("seconds")
        case float():
            return f"{cell:.9g}"
        case _:
            return str(cell).strip()
