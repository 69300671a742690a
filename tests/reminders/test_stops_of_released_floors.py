"""A floor that was released, or is on, is stopped and goes on: its end, and the next day."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

import pytest
from reminder_samples import DAY, HOUR, a_plan, of_kind, wants
from test_appointments_told import visit
from test_must_be_said import ON, ON_AT, fact
from test_wanted import CLEAR_AT, RELEASED, told_all

from curecal.reminders.messages.texts import compose
from curecal.trade.job import Role
from curecal.words.sentences import plain_words

if TYPE_CHECKING:
    from curecal.reminders.reminder_types import Heard

EVERYBODY = {"robin@crew.example", "sam@sparks.example", "ida@home.example"}
STOPPED_AT = ON_AT + 21 * DAY
AGAIN_ON = date(2026, 12, 30)
STOP = fact("stopped", STOPPED_AT, cause="crack or loose tile", reason="a crack at the door")
OVER = fact("resumed", STOPPED_AT + 3 * HOUR, found="the joint had shrunk")
ON_AGAIN = fact("energized", STOPPED_AT + 4 * HOUR, "Sam Okoro-Lind")
STEP = fact("heat_step", ON_AT + DAY, to="22 °C")
LAST_STEP = fact("heat_step", ON_AT + 2 * DAY, to="26 °C")
LIVED = [*RELEASED, ON, STEP, LAST_STEP]


def told_until_the_stop(log: list[object]) -> list[Heard]:
    told: list[Heard] = []
    at = CLEAR_AT
    while at < STOPPED_AT:
        told += told_all(wants(at, told, log=[one for one in log if one.at <= at]), at)
        at += DAY
    return told + told_all(wants(STOPPED_AT, told, log=[*log, STOP]), STOPPED_AT)


@pytest.mark.parametrize("log", [RELEASED, LIVED], ids=["released", "in service"])
def test_a_stop_of_a_released_floor_ends_for_everybody_and_its_day_is_ahead(log: list) -> None:
    told = told_until_the_stop(log)
    assert {heard.recipient for heard in told if heard.kind == "stopped"} == EVERYBODY
    now = STOPPED_AT + 3 * HOUR
    found = wants(now, told, log=[*log, STOP, OVER])
    over = of_kind(found, "stop-over")
    assert {each.recipient for each in over} == EVERYBODY
    assert {each.parts for each in over} == {("released",)}
    shorts = {compose(each, plain_words(), role=Role.OWNER).short for each in over}
    # It is released: no short message says that it waits for that.
    assert not [short for short in shorts if "until it is released" in short]
    ready = of_kind(found, "released")
    assert {each.recipient for each in ready} == EVERYBODY - {"robin@crew.example"}
    assert {each.day_on for each in ready} == {AGAIN_ON}
    assert all(each.params["on_at"] > now for each in ready)
    # The plan, its calendars and its first heat tell the same day.
    (zone,) = a_plan(now, log=[*log, STOP, OVER])[0].zones
    assert zone.energize.start_on == AGAIN_ON
    assert zone.heat_ups[-1].steps[0].on == AGAIN_ON
    told += told_all(found, now)
    # The crew lead is asked whether it is on when it could be, not on the evening of the stop.
    asked = of_kind(wants(now + HOUR, told, log=[*log, STOP, OVER]), "is-it-done", "robin")
    assert all(each.due_at > now + DAY for each in asked)
    assert not of_kind(wants(now + HOUR, told, log=[*log, STOP, OVER]), "stop-over")


def test_who_is_told_of_a_release_days_later_hears_a_day_to_come() -> None:
    # A Saturday: the electrician comes on Monday.
    found = of_kind(wants(CLEAR_AT + 12 * DAY, log=RELEASED), "released")
    assert len(found) == 2
    assert {each.day_on for each in found} == {date(2026, 12, 21)}
    assert {each.params["on_at"].date() for each in found} == {date(2026, 12, 21)}


def test_nobody_is_asked_to_switch_on_what_is_on_again() -> None:
    told = told_until_the_stop(LIVED)
    found = wants(STOPPED_AT + 5 * HOUR, told, log=[*LIVED, STOP, OVER, ON_AGAIN])
    assert not of_kind(found, "released")
    over = of_kind(found, "stop-over")
    assert {each.recipient for each in over} == EVERYBODY
    assert {each.parts for each in over} == {("on",)}


def test_an_hour_that_a_stop_took_is_not_told_when_the_stop_is_over() -> None:
    """Both sides heard that it must move: half through its hours nobody is on the way."""
    start = STOPPED_AT + 2 * HOUR
    hours = {"start": start, "end": start + 3 * HOUR, "for": "switch on"}
    log = [*RELEASED, visit("confirmed", at=STOPPED_AT - DAY, **hours)]
    told = told_until_the_stop(log)
    found = wants(STOPPED_AT + 3 * HOUR, told, log=[*log, STOP, OVER])
    ready = of_kind(found, "released")
    assert ready
    assert {each.params["on_at"].date() for each in ready} == {AGAIN_ON}
