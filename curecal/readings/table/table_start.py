"""Where in a file the readings stand: the first run of rows that parse, whatever is above it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from curecal.readings.table.cell_values import is_figure
from curecal.readings.table.text import split
from curecal.readings.table.timestamps import Form, form_of
from curecal.records import Record, record

SEPARATORS = (",", ";", "\t")
HEAD_LINES = 600
_SHORTEST_RUN = 3
_MOST_HEADERS = 4
_PAIR = 2

Row = tuple[str, ...]


@record
class TableStart(Record):
    """The structure of a file: its separator, its instants, its header, what stands above.

    `first` is the place of the first row in the head, from 0. `width` is how many fields a row
    with readings has. `sample` are rows of the head that have readings.
    """

    separator: str
    first: int
    stamp: tuple[int, ...]
    form: Form
    width: int
    header: tuple[Row, ...]
    preamble: tuple[Row, ...]
    sample: tuple[Row, ...]


def find_table(lines: Sequence[str]) -> TableStart | None:
    """Return the block of readings in the head of a text file, None where there is none.

    Args:
        lines: The first lines.

    Returns:
        The block under the separator that gives the most rows with readings.
    """
    found: list[TableStart] = []
    for separator in SEPARATORS:
        # Each separator once per file: a head is a few hundred lines.
        block = table_in_rows([split(line, separator) for line in lines], separator)
        if block is not None:
            found.append(block)
    return max(found, key=lambda block: len(block.sample), default=None)


def table_in_rows(rows: Sequence[Sequence[str]], separator: str) -> TableStart | None:
    """Return the block of readings in rows already parted.

    Args:
        rows: The first rows.
        separator: What parts them.

    Returns:
        The block, None where no run of rows has an instant and a reading.
    """
    marks = [form_of(row) for row in rows]
    start = 0
    short: TableStart | None = None
    while start < len(rows):
        mark = marks[start]
        if mark is None:
            start += 1
            continue
        end = start
        while end < len(rows) and marks[end] == mark:
            end += 1
        block = _block(rows, (start, end), mark, separator)
        if block is not None and (end - start >= _SHORTEST_RUN or end == len(rows)):
            return block
        short = short or block
        start = end
    # A file of one or two readings with something under them.
    stamped = sum(mark is not None for mark in marks)
    return short if stamped < _SHORTEST_RUN else None


def _block(
    rows: Sequence[Sequence[str]],
    span: tuple[int, int],
    mark: tuple[tuple[int, ...], Form],
    separator: str,
) -> TableStart | None:
    start, end = span
    stamp, form = mark
    sample = [tuple(row) for row in rows[start:end] if _has_figure(row, stamp)]
    # One row with a figure among many with none is a line that looks like one.
    if not sample or (end - start >= _SHORTEST_RUN and len(sample) == 1):
        return None
    width = Counter(len(row) for row in sample).most_common(1)[0][0]
    top = _top_of_header(rows, start, stamp, width)
    above = [tuple(row) for row in rows[:top] if any(row)]
    header = [tuple(row) for row in rows[top:start] if any(row)]
    return TableStart(
        separator, start, stamp, form, width, tuple(header), tuple(above), tuple(sample)
    )


def _has_figure(row: Sequence[str], stamp: tuple[int, ...]) -> bool:
    """Return whether a row has a figure behind its instant."""
    return any(is_figure(field) for field in row[max(stamp) + 1 :])


def _top_of_header(
    rows: Sequence[Sequence[str]], start: int, stamp: tuple[int, ...], width: int
) -> int:
    """Return where the header begins: rows right above the block, most of their fields filled."""
    top = start
    wanted = width - len(stamp)
    while top > 0 and start - top < _MOST_HEADERS:
        row = rows[top - 1]
        if not any(row):
            if top < start:
                break
            top -= 1
            continue
        filled = sum(bool(field) for index, field in enumerate(row) if index not in stamp)
        padded = width > _PAIR and row[0] and not any(row[_PAIR:])
        if not (2 * filled >= wanted and len(row) > 1) or padded or _is_pair(row):
            break
        top -= 1
    return top


def _is_pair(row: Sequence[str]) -> bool:
    """Return whether a row is a line of a preamble: a name, a colon, what it is."""
    return bool(row) and row[0].endswith((":", "]"))


def column_text(header: Iterable[Row], index: int) -> str:
    """Return what stands over a column, its rows joined."""
    return " ".join(row[index] for row in header if index < len(row) and row[index]).strip()


def texts(header: Sequence[Row], width: int) -> list[str]:
    """Return what stands over every column."""
    return [column_text(header, index) for index in range(width)]
