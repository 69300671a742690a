"""What became of calendars, in words and for machines."""

from __future__ import annotations

import pytest
from calendar_samples import JOB, RULES

from curecal.calendars import RevisionChange
from curecal.words.report.published_calendars import (
    CalendarOutcome,
    EntryOutcome,
    Issued,
    issued_json,
    issued_lines,
)
from curecal.words.sentences import words_for

WORDS = words_for(JOB, RULES)


def entries(**counts: int) -> tuple[EntryOutcome, ...]:
    return tuple(
        EntryOutcome(f"{change}-{number}", number, f"{change} {number}", change)
        for change, count in counts.items()
        for number in range(count)
    )


def said(issued: Issued, width: int = 80) -> list[str]:
    lines = issued_lines(issued, words=WORDS, width=width)
    return ["".join(segment.text for segment in line).rstrip() for line in lines]


def one(*made: EntryOutcome, kept: str | None = None) -> Issued:
    return Issued((CalendarOutcome("out/crew.ics", made, written=True, kept=kept),))


def test_a_first_calendar_is_one_line() -> None:
    assert said(one(*entries(new=12))) == ["out/crew.ics: 12 new"]
    as_it_was = CalendarOutcome("out/crew.ics", entries(unchanged=3), written=False)
    assert said(Issued((as_it_was,))) == ["out/crew.ics: 3 as before"]


def test_a_file_that_says_nothing_new_and_was_written_says_so() -> None:
    told = said(one(*entries(unchanged=3)))
    assert told == ["out/crew.ics: 3 as before, written again"]


def test_what_may_surprise_comes_first() -> None:
    made = entries(unchanged=2, new=1, returned=1, changed=1, cancelled=1, done=1)
    assert said(one(*made)) == [
        "out/crew.ics: 1 canceled, 1 changed, 1 back again, 1 new, 1 done, 2 as before",
        "  - cancelled 0",
        "  - changed: changed 0",
        "  - back again: returned 0",
        "  - new: new 0",
        "  - done 0",
    ]


@pytest.mark.parametrize("change", RevisionChange)
def test_every_change_has_its_words(change: RevisionChange) -> None:
    found = said(one(*entries(**{change.value: 1, "unchanged": 1})))
    assert found[0].startswith("out/crew.ics: ")
    assert len(found) == (1 if change is RevisionChange.UNCHANGED else 2)


def test_many_are_counted_and_machines_get_all() -> None:
    issued = one(*entries(changed=11, unchanged=1))
    found = said(issued)
    assert len(found) == 10
    assert found[-1] == "  - and 3 more"
    (calendar,) = issued_json(issued)["calendars"]
    assert len(calendar["changes"]) == 11
    assert calendar["entries"] == 12
    assert calendar["changes"][0] == {
        "uid": "changed-0",
        "change": "changed",
        "sequence": 0,
        "summary": "changed 0",
    }


def test_a_kept_file_and_a_zone_left_standing_are_said() -> None:
    made = Issued(
        (
            CalendarOutcome(
                "out/owner.ics", entries(new=1), written=True, kept="out/owner.ics.kept"
            ),
        ),
        ("bay",),
    )
    text = " ".join(" ".join(said(made)).split())
    assert "The file that was there is kept as out/owner.ics.kept." in text
    assert 'The zone "bay" is no longer in the job and was never released.' in text
    assert "--withdraw bay." in text
    styles = {
        segment.style for line in issued_lines(made, words=WORDS, width=80) for segment in line
    }
    assert "warn" in styles
    assert max(map(len, said(made, 60))) <= 60
    assert issued_json(made)["left_standing"] == ["bay"]
    assert issued_json(made)["calendars"][0]["kept"] == "out/owner.ics.kept"


def test_signs_that_move_a_terminal_are_left_out_of_titles() -> None:
    hostile = EntryOutcome("u", 1, "hall\x1b[2J\u202ebath", "changed")
    found = "\n".join(said(one(hostile)))
    assert "\x1b" not in found
    assert "\u202e" not in found
    assert "hall" in found
