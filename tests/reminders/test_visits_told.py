"""An electrician's visits: on working days, by when, called off where they vanish."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from reminder_samples import DAY, HOUR, PEOPLE, RULES, a_job, job_text, of_kind, released, wants
from test_days_moved import SECOND
from test_wanted import CLEAR_AT, LOG, NOW, entries, told_all

from curecal.job_files import read_job
from curecal.job_files.days_off import day_off_for
from curecal.reminders.messages.texts import compose, reader_words
from curecal.reminders.reminder_rules import shipped_rules
from curecal.reminders.reminder_types import Reminder
from curecal.reminders.simulation.simulate import heard, simulate
from curecal.trade.job import Role

EXAMPLES = Path(__file__).parents[2] / "examples"
VISITS = {"visit-booked", "visit-moved", "visit-tomorrow"}


def words_of(reminder: Reminder) -> tuple[str, str]:
    """The body and the short form of a reminder of the sample job."""
    job, _ = a_job()
    said = compose(reminder, reader_words(job, RULES, None), role=Role.ELECTRICIAN)
    return said.body, said.short


@pytest.mark.slow
@pytest.mark.parametrize("name", ["cold-basement", "porcelain-on-sheet"])
def test_no_visit_is_told_for_a_day_off(name: str) -> None:
    read = read_job(EXAMPLES / name / "job.toml")
    assert read.job is not None
    day_off = day_off_for(read.job)
    start = datetime(2026, 10, 17, 14, tzinfo=UTC)
    found = simulate(
        read.job, read.log, start, rules=RULES, reminder_rules=shipped_rules(), day_off=day_off
    )
    told = [each.reminder for each in found.played if each.reminder.kind in VISITS]
    assert told
    assert [each.day_on for each in told if each.day_on and day_off(each.day_on)] == []


def test_a_day_by_which_it_is_to_be_done_is_told_as_the_last_one() -> None:
    found = of_kind(wants(NOW), "visit-booked")
    body, short = words_of(next(each for each in found if each.subject == "test-and-connect"))
    assert "by Fri 4 Dec 2026 at the latest. Please tell the crew lead which day you come." in body
    assert "by Fri 4 Dec 2026 at the latest" in short
    body, short = words_of(next(each for each in found if each.subject == "energize"))
    assert "Day: Mon 7 Dec 2026." in body
    assert "by" not in short


def test_the_day_before_names_the_first_and_the_last() -> None:
    text = job_text().replace("done = 2026-11-06T12:00:00", 'duration = "30 h"')
    at = datetime(2026, 11, 9, 16, tzinfo=UTC)
    told = told_all(wants(at, text=text), at)
    found = of_kind(wants(at, told, text=text), "visit-tomorrow")
    [second] = [each for each in found if each.subject == "test-and-connect"]
    assert second.day_on is None
    body, _ = words_of(second)
    assert "From Mon 16 Nov 2026 the floor is ready for it; the last day is " in body
    [booked] = [
        each
        for each in of_kind(wants(at, text=text), "visit-booked")
        if each.subject == "test-and-connect"
    ]
    body, short = words_of(booked)
    # The grout is done on Friday the 13th if it starts now: as in the calendar, the next morning.
    assert "Possible from Mon 16 Nov 2026, by " in body
    assert ", from Mon 16 Nov 2026, by " in short


def test_a_visit_that_vanishes_is_called_off() -> None:
    told = told_all(wants(NOW), NOW)
    own = job_text(energized_by="owner")
    found = of_kind(wants(NOW + HOUR, told, text=own), "visit-off")
    assert [(each.subject, each.parts) for each in found] == [("energize", ("gone",))]
    body, _ = words_of(found[0])
    assert "This visit is off; it was to be on Mon 7 Dec 2026: you need not come." in body
    told += [heard(found[0], NOW + HOUR, number=50)]
    assert not of_kind(wants(NOW + 2 * HOUR, told, text=own), "visit-off")
    # It is back: booked anew.
    again = of_kind(wants(NOW + 3 * HOUR, told), "visit-booked")
    assert [each.subject for each in again] == ["energize"]


def test_a_visit_that_was_made_is_not_called_off() -> None:
    told = told_all(wants(NOW), NOW)
    # Tested and connected is on record.
    found = wants(CLEAR_AT, told, log=LOG)
    assert not of_kind(found, "visit-off")
    on = entries(
        released(CLEAR_AT),
        {
            "id": "on",
            "at": CLEAR_AT + HOUR,
            "kind": "energized",
            "zone": "hall",
            "by": "Sam Okoro-Lind",
        },
    )
    late = [replace(each, day_on=date(2026, 12, 9)) for each in told]
    assert not of_kind(wants(CLEAR_AT + 2 * HOUR, late, log=[*LOG, *on]), "visit-off")


def test_a_zone_taken_out_of_the_job_takes_its_visits_with_it() -> None:
    both = job_text() + SECOND
    told = told_all(wants(NOW, text=both), NOW)
    told = [replace(each, zone_id="gone") if each.zone_id == "hall" else each for each in told]
    found = of_kind(wants(NOW + HOUR, told), "visit-off")
    assert "gone" in {each.zone_id for each in found}


def test_a_visit_joined_to_another_is_no_visit_less() -> None:
    # Told apart, then joined under the name of the first zone.
    both = job_text() + SECOND.replace("2026-10-30T16:00:00", "2026-11-06T12:00:00")
    told = told_all(wants(NOW), NOW)
    found = wants(NOW + HOUR, told, text=both)
    assert not of_kind(found, "visit-off")
    earlier = [
        replace(each, day_on=date(2026, 11, 30)) if each.topic == "visit energize" else each
        for each in told
    ]
    # The day told is weeks off: nobody sets out for it yet. On the Saturday before it is told.
    assert not of_kind(wants(NOW + HOUR, earlier, text=both), "visit-moved")
    found = of_kind(wants(NOW + 22 * DAY, earlier, text=both), "visit-moved")
    assert [each.zone_id for each in found if each.subject == "energize"] == ["bath"]


def test_each_electrician_is_told_what_they_have_not_heard() -> None:
    told = told_all(wants(NOW), NOW)
    ola = '[[people.electrician]]\nname = "Ola"\nemail = "ola@sparks.example"\n\n[people.owner]'
    more = PEOPLE.replace("[people.electrician]", "[[people.electrician]]")
    more = more.replace("[people.owner]", ola)
    found = of_kind(wants(NOW + DAY, told, text=job_text(people=more)), "visit-booked")
    assert {each.recipient for each in found} == {"ola@sparks.example"}
