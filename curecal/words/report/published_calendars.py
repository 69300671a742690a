"""What became of each calendar's entries: said after they were written, mailed or published."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from curecal.records import PlainTable, Record, record
from curecal.words.layout import Line, bullet, paragraph
from curecal.words.sentences import Words
from curecal.words.values import clean

SCHEMA = 1
_UNCHANGED, _NEW = "unchanged", "new"
# The order people want to read them in, what may surprise them first.
_ORDER = ("cancelled", "changed", "returned", "new", "done", _UNCHANGED)
# Of one file at most so many entries are named on a terminal; machine output names them all.
_NAMED = 8


@record
class EntryOutcome(Record):
    """One entry of a calendar: its identity, its revision, its title, what became of it."""

    uid: str
    sequence: int
    title: str
    change: str


@record
class CalendarOutcome(Record):
    """One calendar: where it stands, its entries, and the earlier file that was put aside.

    `written` tells whether it had to be written at all.
    """

    place: str
    entries: tuple[EntryOutcome, ...]
    written: bool
    kept: str | None = None


@record
class Issued(Record):
    """All calendars of a job, and what is left in them that no plan speaks of.

    `left_standing` are zones whose entry stands without a zone in the job, `lost_standing` those
    whose entry is lost, `unmarked` titles of entries that nobody can tell what they are about.
    """

    calendars: tuple[CalendarOutcome, ...]
    left_standing: tuple[str, ...] = ()
    lost_standing: tuple[str, ...] = ()
    unmarked: tuple[str, ...] = ()


def issued_lines(issued: Issued, *, words: Words, width: int) -> list[Line]:
    """Return what became of every calendar, a few lines each.

    Args:
        issued: The calendars.
        words: The reader's words.
        width: [columns] of a line.

    Returns:
        Styled lines.
    """
    lines: list[Line] = []
    for calendar in issued.calendars:
        lines += paragraph(_counted(calendar, words), width)
        named = [entry for entry in calendar.entries if entry.change not in {_UNCHANGED, _NEW}]
        if any(entry.change != _NEW for entry in calendar.entries):
            named += [entry for entry in calendar.entries if entry.change == _NEW]
        named.sort(key=lambda entry: _ORDER.index(entry.change))
        for entry in named[:_NAMED]:
            params = {"title": clean(entry.title)}
            lines += bullet(words.text(f"issued.entry.{entry.change}", params), width)
        if len(named) > _NAMED:
            more = {"more_count": len(named) - _NAMED}
            lines += bullet(words.text("issued.more", more), width)
        if calendar.kept:
            params = {"place": calendar.place, "kept": calendar.kept}
            lines += bullet(words.text("issued.kept", params), width, style="warn")
    for text in _warnings(issued, words):
        lines += paragraph(text, width, style="warn")
    return lines


def _warnings(issued: Issued, words: Words) -> Iterator[str]:
    """Give what a person has to look at: entries that no plan speaks of."""
    for zone in issued.left_standing:
        yield words.text("issued.standing", {"id": zone})
    for zone in issued.lost_standing:
        yield words.text("issued.lost-standing", {"id": zone})
    for title in issued.unmarked:
        yield words.text("issued.unmarked", {"title": clean(title)})


def issued_json(issued: Issued) -> PlainTable:
    """Return the same for a program, every change named.

    Args:
        issued: The calendars.

    Returns:
        A document of JSON values.
    """
    return {
        "schema": SCHEMA,
        "calendars": [
            {
                "place": calendar.place,
                "written": calendar.written,
                "kept": calendar.kept,
                "entries": len(calendar.entries),
                "changes": _changes(calendar.entries),
            }
            for calendar in issued.calendars
        ],
        "left_standing": list(issued.left_standing),
        "lost_standing": list(issued.lost_standing),
        "unmarked": list(issued.unmarked),
    }


def _changes(entries: Iterable[EntryOutcome]) -> list[Mapping[str, object]]:
    return [
        {
            "uid": entry.uid,
            "change": entry.change,
            "sequence": entry.sequence,
            "summary": entry.title,
        }
        for entry in entries
        if entry.change != _UNCHANGED
    ]


def _counted(calendar: CalendarOutcome, words: Words) -> str:
    """One line: how many entries, and how many of each kind of change."""
    counts = dict.fromkeys(_ORDER, 0)
    for entry in calendar.entries:
        counts[entry.change] += 1
    parts = [
        words.text(f"issued.count.{change}", {"entry_count": count})
        for change, count in counts.items()
        if count
    ]
    if calendar.written and counts[_UNCHANGED] == len(calendar.entries):
        # Nothing new is said, and yet the file was not there, or not as it was left.
        parts.append(words.text("issued.anew"))
    return words.text("issued.file", {"place": calendar.place, "what": ", ".join(parts)})
