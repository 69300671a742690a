"""A logger's file as lines of text: its encoding found, its size judged, nothing kept in memory."""

from __future__ import annotations

import codecs
import csv
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TextIO

from curecal.errors import SourceError
from curecal.records import Record, record

# Decades of a reading a minute: what is larger is not a logger's export.
LARGEST_BYTES = 256 << 20
_LARGEST_SHOWN = "256 MiB"
_CHUNK = 1 << 20
_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig", "UTF-8"),
    (codecs.BOM_UTF16_LE, "utf-16", "UTF-16"),
    (codecs.BOM_UTF16_BE, "utf-16", "UTF-16"),
)
_ZIP = b"PK\x03\x04"
_OLD_WORKBOOK = b"\xd0\xcf\x11\xe0"


@record
class TextFile(Record):
    """A file of text with its encoding: the codec's name, and what people call it."""

    path: Path
    codec: str
    encoding: str

    @contextmanager
    def lines(self) -> Iterator[TextIO]:
        """Open the file; any of the three line ends ends a line."""
        # What the encoding cannot hold becomes a replacement sign, and its line a bad one.
        with self.path.open(encoding=self.codec, errors="replace", newline=None) as file:
            yield file


def is_workbook(path: Path) -> bool:
    """Return whether a file is a spreadsheet's workbook, after judging that it can be read.

    Raises:
        SourceError: It is missing, no file, too large, empty, or a workbook of the old kind.
    """
    head = _head(path)
    if head.startswith(_OLD_WORKBOOK):
        raise SourceError("readings-old-workbook", path=str(path))
    return head.startswith(_ZIP)


def text_file(path: Path) -> TextFile:
    """Return a file with its encoding: by its mark, else UTF-8, else Latin-1.

    Raises:
        SourceError: It cannot be read, or is no text.
    """
    head = _head(path)
    for mark, codec, encoding in _MARKS:
        if head.startswith(mark):
            return TextFile(path, codec, encoding)
    if b"\0" in head:
        raise SourceError("readings-not-text", path=str(path))
    decoder = codecs.getincrementaldecoder("utf-8")()
    try:
        with path.open("rb") as file:
            while data := file.read(_CHUNK):
                decoder.decode(data)
            decoder.decode(b"", final=True)
    except UnicodeDecodeError:
        return TextFile(path, "latin-1", "Latin-1")
    return TextFile(path, "utf-8", "UTF-8")


def _head(path: Path) -> bytes:
    name = str(path)
    try:
        found = path.stat()
        if stat.S_ISDIR(found.st_mode):
            raise SourceError("file-is-folder", path=name)
        if not stat.S_ISREG(found.st_mode):
            raise SourceError("file-not-regular", path=name)
        if found.st_size > LARGEST_BYTES:
            raise SourceError("file-too-large", path=name, limit=_LARGEST_SHOWN)
        with path.open("rb") as file:
            head = file.read(_CHUNK)
    except FileNotFoundError:
        raise SourceError("file-missing", path=name) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or type(error).__name__
        raise SourceError("file-unreadable", path=name, reason=reason) from None
    if not head.strip():
        raise SourceError("file-empty", path=name)
    return head


def split(line: str, separator: str) -> list[str]:
    """Return a line's fields without white space around them.

    Where its quotes do not close, they are signs like any other: a reading in front of a note
    such as a door of 3" counts, and one field too many is found by its row.
    """
    if '"' in line:
        try:
            rows = list(csv.reader([line], delimiter=separator, skipinitialspace=True, strict=True))
        except csv.Error:
            rows = []
        if len(rows) == 1:
            return [field.strip() for field in rows[0]]
    return [field.strip() for field in line.split(separator)]
