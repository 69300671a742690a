"""A screed heated bare: the crew's numbers in time, and words that fit for everybody else."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from functools import cache
from pathlib import Path
from zoneinfo import ZoneInfo

from reminder_samples import RULES

from curecal.job_files import parse_job, read_job
from curecal.job_files.days_off import day_off_for
from curecal.planning.make_plan import make_plan
from curecal.reminders.builders.build_reminders import build_reminders
from curecal.reminders.messages.texts import Composed, compose, reader_words
from curecal.reminders.reminder_rules import shipped_rules
from curecal.reminders.reminder_types import Heard, Reminder
from curecal.reminders.simulation.simulate import Simulation, heard, simulate
from curecal.trade.job import Job
from curecal.trade.site_log import Entry

JOB = Path(__file__).parents[2] / "examples" / "screed-before-tiling" / "job.toml"
VIENNA = ZoneInfo("Europe/Vienna")


def at(day: int, hour: int, month: int = 11) -> datetime:
    return datetime(2026, month, day, hour, tzinfo=VIENNA)


@cache
def played() -> tuple[Simulation, Job]:
    """The example from a Wednesday on: its heat-up runs over a weekend."""
    read = read_job(JOB)
    assert read.job is not None
    day_off = day_off_for(read.job)
    rules = shipped_rules()
    start = at(25, 11)
    found = simulate(read.job, read.log, start, rules=RULES, reminder_rules=rules, day_off=day_off)
    return found, read.job


def said(each: Reminder, job: Job) -> Composed:
    person_role = next(iter(shipped_rules().kinds[each.kind].to))
    return compose(each, reader_words(job, RULES, None), role=person_role)


def test_the_number_of_a_day_off_is_told_on_the_working_day_before() -> None:
    found, _ = played()
    numbers = [each for each in found.played if each.reminder.kind == "bare-heat-day"]
    assert len(numbers) > 4
    day_off = day_off_for(found.plan.job)
    told_on = {}
    for each in numbers:
        day_on = each.reminder.params["day_on"]
        assert isinstance(day_on, date)
        told_on[day_on] = each.at.astimezone(VIENNA).date()
    assert any(day_off(day_on) for day_on in told_on)
    for day_on, on in told_on.items():
        assert on <= day_on
        assert not day_off(on)
        between = [on + timedelta(days=count) for count in range(1, (day_on - on).days)]
        assert all(day_off(day) for day in between)


def test_it_names_its_day_and_the_last_says_that_it_goes_off() -> None:
    found, job = played()
    numbers = [e.reminder for e in found.played if e.reminder.kind == "bare-heat-day"]
    for each in numbers:
        assert "today" not in said(each, job).subject
    assert ["Measure the floor" in said(each, job).body for each in numbers] == [
        index == 0 for index in range(len(numbers))
    ]
    assert "Switch the heating off" in said(numbers[-1], job).body
    assert "Switch the heating off" not in said(numbers[0], job).body


def test_while_the_crew_heats_nobody_reads_that_it_must_be_off() -> None:
    found, job = played()
    first = next(each.at for each in found.played if each.reminder.kind == "bare-heat-day")
    last = max(each.at for each in found.played if each.reminder.kind == "bare-heat-day")
    during = [each.reminder for each in found.played if first <= each.at <= last]
    rooms = [said(each, job) for each in during if each.kind == "keep-room"]
    assert rooms
    for each in rooms:
        assert "Not with this floor" not in f"{each.body} {each.short}"
        assert "by its steps" in each.body
        assert "by its steps" in each.short
    told = [e.reminder for e in found.played if e.reminder.kind == "still-curing"]
    owners = [said(each, job) for each in told if each.parts[0].startswith("bare")]
    assert owners
    for each in owners:
        assert "not even for a short test" not in each.body.casefold()
        assert "leave the heating to the crew" in each.body
        assert "only when we tell you" in each.body
        assert "leave the heating alone" in each.short


def test_the_owner_hears_before_that_the_crew_heats() -> None:
    found, _ = played()
    first = next(each.at for each in found.played if each.reminder.kind == "bare-heat-day")
    assert first == at(25, 17)
    told = [
        each.at
        for each in found.played
        if each.reminder.kind == "still-curing" and each.reminder.subject == "bare screed"
    ]
    # The play begins after that morning's message: it is said at once, before the crew's number.
    assert told == [at(25, 11)]


def wants_with(
    now: datetime, more: str = "", told: tuple[Heard, ...] = (), *, cold: bool = False
) -> tuple[list[Reminder], tuple[Entry, ...]]:
    text = JOB.read_text(encoding="utf-8") + more
    read = parse_job((text.replace('"17 °C"', '"4 °C"') if cold else text).encode())
    assert read.job is not None, read.findings
    day_off = day_off_for(read.job)
    plan = make_plan(read.job, read.log, now, rules=RULES, day_off=day_off)
    people, rules = read.job.people, shipped_rules()
    found = build_reminders(plan, people, rules, told, log=read.log, day_off=day_off)
    return list(found), read.log


# What must be on record before a screed is heated bare, and that its past was warm enough.
READY = """
[[log]]
at = 2026-11-26T08:00:00+01:00
kind = "kept"
above = "16 °C"
from = 2026-10-07T07:30:00+02:00
to = 2026-11-26T08:00:00+01:00
by = "Vero Haslinger"

[[log]]
at = 2026-10-06T11:00:00+02:00
kind = "resistance"
stage = "embedded"
conductor = "17.7 Ω"
to_earth = "open"
insulation = ">500 MΩ"
insulation_at = "500 V"
by = "Pim Adler"

[[log]]
at = 2026-11-26T09:00:00+01:00
kind = "resistance"
stage = "connection"
conductor = "17.7 Ω"
to_earth = "open"
insulation = ">500 MΩ"
insulation_at = "500 V"
by = "Pim Adler"

[[log]]
at = 2026-11-26T09:10:00+01:00
kind = "protection"
device = "RCD"
trips_at = "30 mA"
trip_test = "tripped"
by = "Pim Adler"

[[log]]
at = 2026-11-26T09:20:00+01:00
kind = "thermostat"
mode = "floor"
limit = "29 °C"
by = "Pim Adler"

[[log]]
at = 2026-11-26T09:30:00+01:00
kind = "connected"
locked = true
tagged = true
leads = "off the thermostat"
by = "Pim Adler"
"""
ON = (
    READY
    + """
[[log]]
at = 2026-11-27T08:00:00+01:00
kind = "energized"
by = "Vero Haslinger"
"""
)
MEASURED = """
[[log]]
at = 2026-11-27T07:50:00+01:00
kind = "floor"
floor = "20 °C"
heating = "off"
by = "Vero Haslinger"
"""


def test_the_numbers_of_the_weekend_follow_once_it_is_on() -> None:
    # Before its tests, protection, thermostat and connection are logged nobody hears a number.
    before, _ = wants_with(at(27, 7))
    assert not [each for each in before if each.kind == "bare-heat-day"]
    before, _ = wants_with(at(27, 7), READY)
    numbers = [each for each in before if each.kind == "bare-heat-day"]
    assert len(numbers) == 1
    after, _ = wants_with(at(27, 9), ON)
    numbers = [each for each in after if each.kind == "bare-heat-day"]
    weekend = [each for each in numbers if each.params["day_on"] == date(2026, 11, 28)]
    assert weekend
    assert weekend[0].due_at == at(27, 17)


def test_a_number_that_another_start_changes_is_told_anew() -> None:
    after, _ = wants_with(at(27, 9), ON)
    told = tuple(
        heard(each, at(27, 9), number=number)
        for number, each in enumerate(after)
        if each.kind == "bare-heat-day" and each.due_at <= at(27, 9)
    )
    assert told
    same, _ = wants_with(at(27, 10), ON, told)
    due = [each for each in same if each.kind == "bare-heat-day" and each.due_at <= at(27, 10)]
    assert due == []
    other, _ = wants_with(at(27, 10), MEASURED + ON, told)
    due = [each for each in other if each.kind == "bare-heat-day" and each.due_at <= at(27, 10)]
    assert due


def test_without_a_day_the_owner_is_told_none() -> None:
    found, _ = wants_with(at(27, 9), ON, cold=True)
    parts = {each.parts[0] for each in found if each.kind == "still-curing"}
    assert "bare-undated" in parts
    job = read_job(JOB).job
    assert job is not None
    for each in found:
        if each.parts[0] == "bare-undated":
            words = said(each, job)
            assert "We cannot promise a day yet" in words.body


def test_a_stopped_floor_has_no_numbers() -> None:
    stop = (
        '[[log]]\nat = 2026-11-27T08:30:00+01:00\nkind = "stopped"\ncause = "other"\n'
        'reason = "smell"\nby = "V"\n'
    )
    found, _ = wants_with(at(27, 9), f"{ON}\n{stop}")
    assert not [each for each in found if each.kind == "bare-heat-day"]


def test_it_is_connected_before_the_morning_it_is_heated() -> None:
    found, _ = wants_with(at(25, 9))
    booked = [
        each for each in found if each.kind == "visit-booked" and each.subject == "test-and-connect"
    ]
    assert [each.day_on for each in booked] == [date(2026, 11, 25)]


def test_the_day_before_it_is_heated_bare_has_one_message() -> None:
    # The screed was laid on a Monday, and is first heated on a Tuesday.
    found, _ = wants_with(at(30, 9))
    evening = [each for each in found if each.kind == "still-curing" and each.due_at == at(30, 8)]
    assert [each.subject for each in evening] == ["bare screed"]
