"""Where in a file the readings stand: the first run of rows that parse, whatever is above it."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence

from curecal.readings.table.cell_values import is_figure
from curecal.readings.table.text import split
from curecal.readings.table.timestamps import (
    COUNTED,
    DAY_S,
    LEAST_PARTS,
    PARTS,
    Form,
    Stamp,
    Times,
    form_at,
    form_of,
    forms_of,
    split_stamp,
)
from curecal.records import Record, record

SEPARATORS = (",", ";", "\t")
# How far the first reading is looked for: preambles are a page or two.
HEAD_LINES = 600
# Two lines alike may be a preamble; three are a table.
_SHORTEST_RUN = 3
# Name, unit, channel and place; what stands above is preamble.
_MOST_HEADERS = 4
_PAIR = 2
_MANY = 3
# Zones of the world differ by whole quarters of an hour.
_QUARTER_S = 900
ANNOTATION = re.compile(r"#\s?[A-Za-z]")

CellTexts = tuple[str, ...]


@record
class TableStart(Record):
    """The structure of a file: its separator, its instants, its header, what stands above.

    `first` is the place of the first row in the head, from 0. `width` is how many fields a row
    with readings has. `sample` are rows of the head that have readings. `rivals` are columns with
    other instants than `stamp`, of which nothing shows whether they are those of the readings.
    """

    separator: str
    first: int
    stamp: Stamp
    form: Form
    width: int
    header: tuple[CellTexts, ...]
    preamble: tuple[CellTexts, ...]
    sample: tuple[CellTexts, ...]
    rivals: Stamp = ()


def find_table(lines: Sequence[str], stamp: Stamp = ()) -> TableStart | None:
    """Return the table of readings in the first lines of a text file, None where there is none.

    Under the separator that gives the most rows with readings. `stamp` are the columns of the
    instant, where a person named them.
    """
    found: list[TableStart] = []
    for separator in SEPARATORS:
        # Each separator once per file: a head is a few hundred lines.
        block = table_in_rows([split(line, separator) for line in lines], separator, stamp)
        if block is not None:
            found.append(block)
    return max(found, key=lambda block: len(block.sample), default=None)


def table_in_rows(
    rows: Sequence[Sequence[str]], separator: str, stamp: Stamp = ()
) -> TableStart | None:
    """Return the table of readings in rows already parted, None without instant and reading."""
    known = stamp or _parts_of_instant(rows)
    marks = [_form_in(row, known) for row in rows]
    if not stamp and not any(marks):
        known, marks = (), [form_of(row) for row in rows]
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
        block = _block(rows, (start, end), mark, separator, known=bool(known))
        if block is not None and (end - start >= _SHORTEST_RUN or end == len(rows)):
            return block
        short = short or block
        start = end
    # A file of one or two readings with something under them.
    stamped = sum(mark is not None for mark in marks)
    return short if stamped < _SHORTEST_RUN else None


def _form_in(row: Sequence[str], stamp: Stamp) -> tuple[Stamp, Form] | None:
    """Return where a row's instant stands, and its form, in certain columns if these are known."""
    if not stamp:
        return form_of(row)
    form = form_at(row, stamp)
    return None if form is None else (stamp, form)


def _parts_of_instant(rows: Sequence[Sequence[str]]) -> Stamp:
    """Return the columns of year, month, day, hour and so on, where a header names them."""
    for row in rows:
        heads = [cell.casefold() for cell in row]
        if not all(heads.count(part) == 1 for part in PARTS[:LEAST_PARTS]):
            continue
        stamp = [heads.index(part) for part in PARTS[:LEAST_PARTS]]
        for part in PARTS[LEAST_PARTS:]:
            if heads.count(part) != 1:
                break
            stamp.append(heads.index(part))
        return tuple(stamp)
    return ()


def _block(
    rows: Sequence[Sequence[str]],
    span: tuple[int, int],
    mark: tuple[Stamp, Form],
    separator: str,
    *,
    known: bool,
) -> TableStart | None:
    start, end = span
    stamp, form = mark
    run = [tuple(row) for row in rows[start:end]]
    sample = [row for row in run if any(map(is_figure, row[max(stamp) + 1 :]))]
    if not sample:
        # In a table of a database the instant is often the last column.
        sample = [row for row in run if any(map(is_figure, row[: min(stamp)]))]
    # One row with a figure among many with none is a line that looks like one.
    if not sample or (end - start >= _SHORTEST_RUN and len(sample) == 1):
        return None
    width = Counter(len(row) for row in sample).most_common(1)[0][0]
    end = _end_of_header(rows, start)
    top = _top_of_header(rows, end, stamp, width)
    if top == end:
        top = end = start
    above = [tuple(row) for row in (*rows[:top], *rows[end:start]) if any(row)]
    header = [tuple(row) for row in rows[top:end] if any(row)]
    rivals: Stamp = ()
    if not known:
        stamp, form, rivals = _surest(sample, stamp, form)
    return TableStart(
        separator, start, stamp, form, width, tuple(header), tuple(above), tuple(sample), rivals
    )


def _surest(sample: Sequence[CellTexts], stamp: Stamp, form: Form) -> tuple[Stamp, Form, Stamp]:
    """Return the instants of a table among columns of several, with those that rival them.

    Instants that are the same in every row are those of a query or an export. Of others the one
    with an offset counts, then the first, if all of them go together.
    """
    options = [
        (place, own)
        for place, own in forms_of(sample[0])
        if all(form_at(row, place) == own for row in sample)
    ]
    if len(sample) >= _MANY:
        options = [
            (place, own)
            for place, own in options
            if len({tuple(row[index] for index in place) for row in sample}) > 1
        ]
    # A figure of ten digits beside an instant is hardly one as well.
    options = [pair for pair in options if pair[1].style not in COUNTED] or options
    options.sort(key=lambda pair: not pair[1].offset)
    if not options:
        return stamp, form, ()
    (best, own), *others = options
    rivals = [
        place for place, other in others if not _go_together(sample, (best, own), (place, other))
    ]
    return best, own, tuple(index for place in rivals for index in place)


def _go_together(
    sample: Sequence[CellTexts], one: tuple[Stamp, Form], other: tuple[Stamp, Form]
) -> bool:
    """Return whether two instants of every row are the same, or one of them in another zone."""
    steps = set()
    times = [(Times(form), form, stamp) for stamp, form in (one, other)]
    for row in sample:
        try:
            first_s, second_s = (
                seconds[split_stamp(row, stamp, form.style, form.joiner)[1]]
                for seconds, form, stamp in times
            )
        except ValueError:
            continue
        steps.add((first_s - second_s) % DAY_S)
    whole_s = DAY_S if one[1].offset is other[1].offset else _QUARTER_S
    return len(steps) == 1 and not steps.pop() % whole_s


def _end_of_header(rows: Sequence[Sequence[str]], start: int) -> int:
    """Return where the header ends: a line between blank ones, or a word in brackets, parts it."""
    end = start
    while end > 0 and not any(rows[end - 1]):
        end -= 1
    marked = end > 0 and rows[end - 1][0] and not any(rows[end - 1][1:])
    return end - 1 if marked else start


def _top_of_header(rows: Sequence[Sequence[str]], start: int, stamp: Stamp, width: int) -> int:
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
        if top < start and ANNOTATION.match(row[0]):
            break
        top -= 1
    return top


def _is_pair(row: Sequence[str]) -> bool:
    """Return whether a row is a line of a preamble: a name, a colon, what it is."""
    return bool(row) and row[0].endswith((":", "]"))


def column_text(header: Iterable[CellTexts], index: int) -> str:
    """Return what stands over a column, its rows joined."""
    return " ".join(row[index] for row in header if index < len(row) and row[index]).strip()


def texts(header: Sequence[CellTexts], width: int) -> list[str]:
    """Return what stands over every column."""
    return [column_text(header, index) for index in range(width)]
