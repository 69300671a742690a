"""A day that moved: once a person and day, all zones in one message, never a past day as new."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime

from reminder_samples import DAY, HOUR, RULES, a_job, job_text, of_kind, wants
from test_wanted import CLEAR_AT, LOG, MOVED, NOW, RELEASED, told_all

from curecal.reminders.messages.texts import compose, reader_words
from curecal.reminders.simulation.simulate import heard
from curecal.trade.job import Role

EVENING = datetime(2026, 11, 9, 22, 30, tzinfo=UTC)
SECOND = """
[[zone]]
id = "bath"
name = "bath"
energized_by = "electrician"

[zone.heating]
voltage = "240 V"
power = "640 W"
resistance = "90 Ω"

[[zone.layer]]
id = "mortar"
name = "tile mortar"
material = "thinset"
done = 2026-10-30T16:00:00
"""


def two(coldest: str) -> str:
    """The sample floor with a second zone."""
    return job_text(coldest=coldest) + SECOND


def test_two_zones_that_moved_are_one_message() -> None:
    text = two("18 °C")
    told = told_all(wants(EVENING, text=text), EVENING)
    before = {each.zone_id: each.day_on for each in told if each.topic == "owner"}
    assert set(before) == {"hall", "bath"}
    colder = two("12 °C")
    found = of_kind(wants(EVENING, told, text=colder), "moved", "ida")
    [first] = found
    job, _ = a_job(colder)
    said = compose(first, reader_words(job, RULES, None), role=Role.OWNER)
    assert "Moved as well: " in said.body
    assert "Also " in said.short
    assert said.body.count(" Dec 2026") >= 2
    # Both days count as told.
    told += [heard(first, EVENING, number=99)]
    assert not of_kind(wants(EVENING + DAY, told, text=colder), "moved", "ida")
    coldest = wants(EVENING + DAY, told, text=two("11 °C"))
    assert len(of_kind(coldest, "moved", "ida")) == 1


def test_a_zone_without_a_day_is_named_with_the_others() -> None:
    text = two("18 °C")
    told = told_all(wants(EVENING, text=text), EVENING)
    # Below the minimum of what is laid there is no day for either.
    none = two("2 °C")
    [found] = of_kind(wants(EVENING, told, text=none), "moved", "ida")
    job, _ = a_job(none)
    said = compose(found, reader_words(job, RULES, None), role=Role.OWNER)
    assert "no day for now" in said.body
    assert found.due_at <= EVENING
    told += [heard(found, EVENING, number=99)]
    assert not of_kind(wants(EVENING + HOUR, told, text=none), "moved", "ida")


def test_a_lead_who_released_is_not_told_that_the_day_moved() -> None:
    told = told_all(wants(NOW), NOW)
    assert any(each.topic == "crew" for each in told)
    late = CLEAR_AT + 2 * DAY
    assert not of_kind(wants(late, told, log=RELEASED), "moved", "robin")


def test_a_day_that_passed_is_not_told_as_new() -> None:
    told = [
        replace(each, day_on=date(2026, 12, 20)) if each.topic in {"owner", "crew"} else each
        for each in told_all(wants(NOW), NOW)
    ]
    # The crew's 7 and the owner's 8 December have both come and were not kept.
    found = wants(datetime(2026, 12, 10, 16, tzinfo=UTC), told)
    assert not of_kind(found, "moved")


def test_a_release_withdrawn_after_its_day_tells_no_day() -> None:
    at = datetime(2026, 12, 10, 16, tzinfo=UTC)
    told = told_all(wants(at, log=RELEASED), at)
    found = of_kind(wants(at + HOUR, told, log=LOG), "no-longer")
    assert {each.parts for each in found} == {("text", "undated"), ("text", "apart")}


def test_the_worst_day_stands_where_it_is_later_and_as_a_day() -> None:
    told = [
        replace(each, day_on=date(2026, 11, 30)) if each.topic == "crew" else each
        for each in told_all(wants(NOW), NOW)
    ]
    [moved] = of_kind(wants(NOW + HOUR, told, text=MOVED), "moved", "robin")
    assert moved.params["worst_on"] is not None
    assert moved.params["worst_on"] > moved.day_on  # type: ignore[operator]


def test_no_worst_day_stands_where_it_is_the_same() -> None:
    at = CLEAR_AT
    told = [
        replace(each, day_on=date(2026, 11, 30)) if each.topic == "crew" else each
        for each in told_all(wants(NOW), NOW)
    ]
    [moved] = of_kind(wants(at, told, log=LOG), "moved", "robin")
    assert moved.params["worst_on"] is None
