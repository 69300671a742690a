"""The numbers of a heat-up, what follows a release, and what stays due until it is on record."""

from __future__ import annotations

import itertools
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING, Any

import pytest
from reminder_samples import DAY, HOUR, RULES, a_job, a_plan, job_text, of_kind, wants
from test_wanted import CLEAR_AT, LOG, NOW, RELEASED, entries, told_all

from curecal.job_files.days_off import day_off_for
from curecal.reminders.builders.build_reminders import build_reminders
from curecal.reminders.messages.texts import compose, reader_words
from curecal.reminders.reminder_rules import company_rules
from curecal.reminders.reminder_types import Occasion
from curecal.reminders.simulation.simulate import heard
from curecal.reminders.timing.sending_hours import quiet_after
from curecal.trade.job import Role

if TYPE_CHECKING:
    from collections.abc import Iterable

    from curecal.reminders.reminder_types import Heard, Reminder

OWN = job_text(energized_by="owner")


def switched_on(at: datetime) -> list[object]:
    return entries(
        {"id": "on", "at": at, "kind": "energized", "zone": "hall", "by": "Sam Okoro-Lind"}
    )


def by_rules(
    now: datetime, changes: dict[str, Any], log: Iterable[Any], told: Iterable[Heard] = ()
) -> tuple[Reminder, ...]:
    """What is wanted with a company's rules, the owner switching on."""
    plan, known = a_plan(now, OWN, log)
    rules, day_off = company_rules(changes), day_off_for(plan.job)
    return build_reminders(plan, plan.job.people, rules, told, log=known, day_off=day_off)


@pytest.mark.parametrize(
    ("changes", "until_hour"),
    [
        ({}, "2026-12-09 00:00"),
        # No quiet hours: as long as it is worth saying.
        ({"quiet_from": "00:00", "quiet_to": "00:00"}, "2026-12-09 00:00"),
        # They begin after midnight: to the end of its day.
        ({"quiet_from": "00:30", "quiet_to": "06:30"}, "2026-12-09 04:00"),
        ({"quiet_from": "13:00", "quiet_to": "14:00"}, "2026-12-08 17:00"),
    ],
)
def test_a_number_is_told_whenever_the_quiet_hours_begin(
    changes: dict[str, str], until_hour: str
) -> None:
    # 08:00 on site, when it is due.
    morning = datetime(2026, 12, 8, 12, tzinfo=UTC)
    log = [*RELEASED, *switched_on(morning - HOUR / 2)]
    found = of_kind(by_rules(morning, changes, log), "heat-day")[:1]
    assert [f"{each.until_at:%Y-%m-%d %H:%M}" for each in found] == [until_hour]
    assert [each.due_at for each in found] == [morning]


def test_quiet_hours_begin_next_after_an_instant() -> None:
    job, _ = a_job()
    noon = datetime(2026, 12, 8, 16, tzinfo=UTC)
    rules = company_rules({"quiet_from": "20:00"})
    assert quiet_after(noon, rules, job.tz) == datetime(2026, 12, 9, 0, tzinfo=UTC)
    assert quiet_after(datetime(2026, 12, 9, 0, tzinfo=UTC), rules, job.tz) == datetime(
        2026, 12, 10, 0, tzinfo=UTC
    )
    none = company_rules({"quiet_from": "07:00", "quiet_to": "07:00"})
    assert quiet_after(noon, none, job.tz) is None


def test_an_owner_hears_no_number_before_the_electrician_switched_on() -> None:
    for days in range(8):
        assert not of_kind(wants(CLEAR_AT + days * DAY, log=RELEASED), "heat-day")


def test_an_owner_hears_the_first_number_on_the_real_first_day() -> None:
    late = datetime(2026, 12, 15, 13, tzinfo=UTC)
    log = [*RELEASED, *switched_on(late)]
    first = of_kind(wants(late + HOUR / 4, log=log), "heat-day")[0]
    assert first.params["day_on"] == date(2026, 12, 15)
    assert first.due_at <= late
    job, _ = a_job()
    said = compose(first, reader_words(job, RULES, None), role=Role.OWNER)
    assert "The floor has been switched on for the first time." in said.body


def test_an_owner_who_switches_on_hears_a_number_only_once_it_is_on() -> None:
    morning = datetime(2026, 12, 8, 11, 30, tzinfo=UTC)
    for days in range(8):
        assert not of_kind(wants(morning + days * DAY, text=OWN, log=RELEASED), "heat-day")
    [may] = of_kind(wants(morning, text=OWN, log=RELEASED), "released", "ida")
    job, _ = a_job(OWN)
    said = compose(may, reader_words(job, RULES, None, morning), role=Role.OWNER)
    assert "You switch it on yourself, Tue 8 Dec, 08:00 or later." in said.body
    assert "set the thermostat to its lowest number" in said.body
    # No number of ours: nobody knows yet from which temperature the floor starts.
    assert "°C" not in f"{said.subject} {said.body} {said.short}"


def test_the_first_number_is_told_and_another_one_anew() -> None:
    morning = datetime(2026, 12, 8, 12, 30, tzinfo=UTC)
    log = [*RELEASED, *switched_on(morning)]
    first = of_kind(wants(morning, text=OWN, log=log), "heat-day")[0]
    assert first.occasion.on is None
    told = [heard(first, morning)]

    def told_anew(floor: str) -> list[Reminder]:
        # Measured before it was switched on, logged after the number was told.
        table = {"id": "f", "at": morning - HOUR / 4, "kind": "floor", "zone": "hall"}
        read = entries({**table, "by": "Ida Fennell", "floor": floor, "heating": "off"})
        found = of_kind(wants(morning + HOUR, told, text=OWN, log=[*log, *read]), "heat-day")
        return [each for each in found if each.occasion.on is None]

    # As thought, by what a reader sees; then warmer.
    assert not told_anew("17.04 °C")
    [other] = told_anew("20 °C")
    assert other.due_at <= morning + HOUR
    assert other.occasion != first.occasion


def test_the_lead_is_asked_each_evening_of_a_step_that_nobody_logged() -> None:
    on_at = datetime(2026, 12, 8, 13, tzinfo=UTC)
    log = [*RELEASED, *switched_on(on_at)]
    told: list[Heard] = []
    asked: list[tuple[date, object]] = []
    for hours in range(0, 24 * 21, 3):
        now = on_at + hours * HOUR
        found = [each for each in of_kind(wants(now, told, log=log), "is-it-done", "robin")
                 if each.due_at <= now]  # fmt: skip
        told += [heard(each, now, number=len(told)) for each in found]
        asked += [(now.astimezone(UTC).date(), each.params["index"]) for each in found]
    # Switched on on Tuesday; Wednesday's step is logged by nobody, so no number followed it. On
    # the weekend nobody of the crew is asked; after a week once a week.
    assert asked[:2] == [(date(2026, 12, 9), 1), (date(2026, 12, 10), 1)]
    assert {index for _, index in asked} == {1}
    days = [day for day, _ in asked]
    assert len(set(days)) == len(days)
    assert all(day.weekday() < 5 for day in days)
    assert len([day for day in days if day > date(2026, 12, 18)]) <= 2
    first = of_kind(wants(on_at + DAY, log=log), "is-it-done", "robin")[0]
    job, _ = a_job()
    said = compose(first, reader_words(job, RULES, None, on_at), role=Role.CREW_LEAD)
    assert "was the floor set to 22 °C" in said.subject
    assert "Was it, or was it off?" in said.body
    table = {"id": "s", "at": on_at + DAY, "kind": "heat_step", "zone": "hall"}
    step = entries({**table, "to": "22 °C", "by": "Robin Mistral"})
    after = wants(on_at + DAY + HOUR, log=[*log, *step])
    assert not of_kind(after, "is-it-done", "robin")


def test_the_lead_is_asked_whether_a_released_floor_is_on() -> None:
    at = CLEAR_AT + 2 * DAY
    asked = of_kind(wants(at, log=RELEASED), "is-it-done", "robin")
    assert [each.parts for each in asked] == [("switched-on",)] * 2
    assert asked[0].due_at == datetime(2026, 12, 9, 21, tzinfo=UTC)
    job, _ = a_job()
    said = compose(asked[0], reader_words(job, RULES, None), role=Role.CREW_LEAD)
    assert said.subject == "Elm Road, hall: is the floor on?"
    assert "by the electrician" in said.body
    on = switched_on(CLEAR_AT + DAY)
    # It is on: what is asked then is whether its step was set.
    after = of_kind(wants(at, log=[*RELEASED, *on]), "is-it-done")
    assert {each.parts for each in after} == {("step",)}
    assert not of_kind(wants(at, log=LOG), "is-it-done")


def test_a_due_test_is_said_each_week_until_it_is_on_record() -> None:
    told: list[Heard] = []
    days = []
    at = datetime(2026, 12, 1, 15, tzinfo=UTC)
    for _ in range(50):
        found = of_kind(wants(at, told), "reading-due", "robin")
        due = [each for each in found if each.due_at <= at]
        # What was said is not wanted anew, only to be found too late.
        assert not [each for each in due if each.due_at < at - DAY and told]
        told += [heard(each, at, number=len(told) + n) for n, each in enumerate(due)]
        days += [at.date() for each in due if "before-connection" in each.subject]
        at += DAY
    gaps = [later - first for first, later in itertools.pairwise(days)]
    assert len(days) > 4
    assert set(gaps) <= {timedelta(days=count) for count in range(6, 11)}


def test_is_it_done_is_asked_from_the_hour_that_was_told() -> None:
    text = job_text().replace("done = 2026-11-06T12:00:00\n", "")
    text = text.replace("2026-10-30T16:00:00", "2026-11-03T13:00:00")
    at = datetime(2026, 11, 5, 20, tzinfo=UTC)
    [step] = of_kind(wants(at, text=text), "next-step")
    starts = step.params["start_at"]
    assert isinstance(starts, datetime)
    assert starts == datetime(2026, 11, 5, 20, tzinfo=UTC) or starts > at
    noon = Occasion(on=date(2026, 11, 5), at=datetime(2026, 11, 5, 17, tzinfo=UTC))
    told = [heard(replace(step, occasion=noon), datetime(2026, 11, 5, 11, tzinfo=UTC))]
    asked = of_kind(wants(at + DAY / 2, told, text=text), "is-it-done")
    # A working day from 13:00 ends at 13:00 the next day, not the evening before.
    assert asked == []
    asked = of_kind(wants(at + DAY, told, text=text), "is-it-done")
    assert asked[0].params["planned_at"] == datetime(2026, 11, 6, 17, tzinfo=UTC)


def test_the_evening_before_names_its_day() -> None:
    job, _ = a_job()
    at = datetime(2026, 12, 6, 16, tzinfo=UTC)
    [each] = of_kind(wants(at, told_all(wants(NOW), NOW)), "evening-before")
    said = compose(each, reader_words(job, RULES, None), role=Role.OWNER)
    for text in (said.subject, said.body, said.short):
        assert "omorrow" in text
    assert "Tue 8 Dec 2026" in said.body
