"""A spreadsheet's workbook as rows of text, read only, and not larger than it says."""

from __future__ import annotations

import importlib
import zipfile
from collections.abc import Iterator, Sequence
from contextlib import closing
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any

from curecal.errors import SourceError

LARGEST_UNPACKED = 512 << 20
_LARGEST_SHOWN = "512 MiB unpacked"
_MOST_COLUMNS = 256
_HALF_SECOND = timedelta(milliseconds=500)


def workbook_rows(path: Path) -> Iterator[list[str]]:
    """Return the rows of a workbook's first sheet with anything in it, cells as texts.

    Args:
        path: The workbook.

    Yields:
        One list for each row; instants in ISO form, so that their order is certain.

    Raises:
        SourceError: It is no workbook, too large unpacked, or what reads it is not installed.
    """
    name = str(path)
    _check_size(path)
    try:
        openpyxl = importlib.import_module("openpyxl")
    except ImportError:
        raise SourceError("readings-workbook-extra", path=name) from None
    try:
        book = openpyxl.load_workbook(path, read_only=True, data_only=True)
    except Exception:  # noqa: BLE001 - a broken archive fails in as many ways as it has parts
        raise SourceError("readings-workbook-broken", path=name) from None
    with closing(book):
        yield from _rows(book, name)


def _rows(book: Any, name: str) -> Iterator[list[str]]:
    found = False
    try:
        for sheet in book.worksheets:
            for row in sheet.iter_rows(values_only=True, max_col=_MOST_COLUMNS):
                cells = _trimmed([_text(cell) for cell in row])
                found = found or bool(cells)
                yield cells
            if found:
                return
    except SourceError:
        raise
    except Exception:  # noqa: BLE001 - rows are read as they are asked for, and break as well
        raise SourceError("readings-workbook-broken", path=name) from None


def _check_size(path: Path) -> None:
    name = str(path)
    try:
        with zipfile.ZipFile(path) as archive:
            unpacked = sum(entry.file_size for entry in archive.infolist())
            names = set(archive.namelist())
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError):
        raise SourceError("readings-workbook-broken", path=name) from None
    if unpacked > LARGEST_UNPACKED:
        raise SourceError("file-too-large", path=name, limit=_LARGEST_SHOWN)
    if "[Content_Types].xml" not in names:
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
            return cell.isoformat("seconds")
        case float():
            return f"{cell:.9g}"
        case _:
            return str(cell).strip()
