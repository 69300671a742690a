"""Instants are aware and in UTC, waits are elapsed time, and windows have an order."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curecal.errors import InstantRefused
from curecal.instants import Window, add, after, ceil_second, instant

NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)
NAIVE = datetime(2026, 3, 1, 12)  # noqa: DTZ001  a naive value is what the test is about
LAST = datetime.max.replace(tzinfo=UTC)
DAY_S = 86_400.0


def test_an_instant_is_brought_to_utc():
    found = instant(datetime(2026, 7, 1, 12, tzinfo=ZoneInfo("America/Halifax")))
    assert found == datetime(2026, 7, 1, 15, tzinfo=UTC)
    assert found.tzinfo is UTC


@pytest.mark.parametrize(
    "call",
    [
        lambda: instant(NAIVE),
        lambda: add(NAIVE, 1.0),
        lambda: ceil_second(NAIVE),
        lambda: after(NAIVE, 1.0),
        lambda: Window(NAIVE, None),
        lambda: Window(NOON, NAIVE),
    ],
)
def test_a_naive_value_is_refused(call):
    with pytest.raises(InstantRefused) as refusal:
        call()
    assert refusal.value.code == "instant-naive"
    assert refusal.value.params["text"] == "2026-03-01 12:00:00"


@pytest.mark.parametrize(
    "call",
    [
        lambda: instant(datetime.max.replace(tzinfo=timezone(timedelta(hours=-5)))),
        lambda: add(NOON, math.nan),
        lambda: add(NOON, math.inf),
        lambda: add(NOON, -math.inf),
        lambda: add(NOON, 3e11),
        lambda: add(NOON, -3e11),
        lambda: ceil_second(NOON, slack_s=1.0),
        lambda: ceil_second(NOON, slack_s=-0.1),
        lambda: ceil_second(NOON, slack_s=math.nan),
        lambda: ceil_second(LAST),
    ],
)
def test_what_leaves_the_calendar_is_refused(call):
    with pytest.raises(InstantRefused) as refusal:
        call()
    assert refusal.value.code == "instant-out-of-range"


def test_elapsed_time_ignores_the_clock_on_the_wall():
    # Clocks go forward on 8 March 2026: a wait of 24 h ends an hour later on the wall.
    zone = ZoneInfo("America/New_York")
    start = datetime(2026, 3, 7, 16, tzinfo=zone)
    assert add(start, DAY_S).astimezone(zone).hour == 17
    assert add(start, DAY_S) - instant(start) == timedelta(hours=24)


@pytest.mark.parametrize(
    ("microsecond", "expected_s"),
    [(0, 0), (300, 0), (1000, 0), (1001, 1), (500_000, 1), (999_999, 1)],
)
def test_an_instant_rounds_up_but_for_a_millisecond(microsecond, expected_s):
    at = NOON.replace(microsecond=microsecond)
    assert ceil_second(at) == NOON + timedelta(seconds=expected_s)


def test_the_slack_can_be_none():
    assert ceil_second(NOON.replace(microsecond=1), slack_s=0.0) == NOON + timedelta(seconds=1)
    assert ceil_second(NOON, slack_s=0.0) == NOON


def test_an_exact_wait_stays_exact():
    assert after(NOON, 28 * DAY_S) == NOON + timedelta(days=28)
    assert after(NOON, 28 * DAY_S + 0.0003) == NOON + timedelta(days=28)
    assert after(NOON, 28 * DAY_S + 0.002) == NOON + timedelta(days=28, seconds=1)


@given(elapsed_s=st.floats(0, 1e9))
def test_a_wait_never_ends_early(elapsed_s):
    end = after(NOON, elapsed_s)
    assert end.microsecond == 0
    assert -0.001001 <= (end - NOON).total_seconds() - elapsed_s <= 1.0


def test_a_window_is_kept_in_utc():
    zone = ZoneInfo("Europe/Berlin")
    window = Window(NOON.astimezone(zone), NOON.astimezone(zone))
    assert window.earliest.tzinfo is UTC
    assert window.latest is not None
    assert window.latest.tzinfo is UTC


def test_a_window_ends_after_it_begins():
    with pytest.raises(InstantRefused) as refusal:
        Window(NOON, NOON - timedelta(seconds=1))
    assert refusal.value.code == "window-reversed"


def test_the_later_of_two_windows_takes_both_later_ends():
    early = Window(NOON, NOON + timedelta(days=9))
    late = Window(NOON + timedelta(days=1), NOON + timedelta(days=3))
    both = Window(NOON + timedelta(days=1), NOON + timedelta(days=9))
    assert early.later(late) == both
    assert late.later(early) == both


def test_no_latest_date_stays_none():
    known, unknown = Window(NOON, NOON), Window(NOON + timedelta(days=1), None)
    expected = Window(NOON + timedelta(days=1), None)
    assert known.later(unknown) == expected
    assert unknown.later(known) == expected
