"""Days and wall times of a site, also where its clock skips or runs twice."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta, timezone
from zoneinfo import ZoneInfo, available_timezones

import pytest

from curecal.errors import InstantRefused
from curecal.instants import (
    end_of_day,
    local_at,
    local_day,
    morning_at_or_after,
    resolve,
    start_of_day,
)

NEW_YORK = ZoneInfo("America/New_York")
HAVANA = ZoneInfo("America/Havana")
BEIRUT = ZoneInfo("Asia/Beirut")
LORD_HOWE = ZoneInfo("Australia/Lord_Howe")
APIA = ZoneInfo("Pacific/Apia")
ST_JOHNS = ZoneInfo("America/St_Johns")
TICK = timedelta(microseconds=1)
EIGHT = time(8)


def utc(*parts: int):
    return datetime(*parts, tzinfo=UTC)


def wall(*parts: int):
    return datetime(*parts)  # noqa: DTZ001  a wall time has no zone of its own


@pytest.mark.parametrize(
    ("zone", "local", "kind", "first", "second"),
    [
        (NEW_YORK, (2026, 7, 1, 12), "plain", (2026, 7, 1, 16), (2026, 7, 1, 16)),
        (NEW_YORK, (2026, 3, 8, 2, 30), "gap", (2026, 3, 8, 7), (2026, 3, 8, 7)),
        (NEW_YORK, (2026, 3, 8, 2), "gap", (2026, 3, 8, 7), (2026, 3, 8, 7)),
        (NEW_YORK, (2026, 3, 8, 3), "plain", (2026, 3, 8, 7), (2026, 3, 8, 7)),
        (NEW_YORK, (2026, 11, 1, 1, 30), "fold", (2026, 11, 1, 5, 30), (2026, 11, 1, 6, 30)),
        # Half an hour forward at 02:00 (UTC+10:30 to +11) and back at 02:00.
        (LORD_HOWE, (2026, 10, 4, 2, 15), "gap", (2026, 10, 3, 15, 30), (2026, 10, 3, 15, 30)),
        (LORD_HOWE, (2026, 4, 5, 1, 45), "fold", (2026, 4, 4, 14, 45), (2026, 4, 4, 15, 15)),
        # The whole of 30 December 2011 was skipped.
        (APIA, (2011, 12, 30, 12), "gap", (2011, 12, 30, 10), (2011, 12, 30, 10)),
        (UTC, (2026, 7, 1, 12), "plain", (2026, 7, 1, 12), (2026, 7, 1, 12)),
    ],
)
def test_a_wall_time_is_resolved(zone, local, kind, first, second):
    found = resolve(wall(*local), zone)
    assert (found.kind, found.first, found.second) == (kind, utc(*first), utc(*second))
    # The fold attribute of the question is of no account.
    assert resolve(wall(*local).replace(fold=1), zone) == found


def test_a_wall_time_has_no_zone_of_its_own():
    with pytest.raises(InstantRefused) as refusal:
        resolve(utc(2026, 7, 1), NEW_YORK)
    assert refusal.value.code == "instant-not-local"


def test_the_local_day_is_the_sites():
    assert local_day(utc(2026, 7, 2, 3, 59), NEW_YORK) == date(2026, 7, 1)
    assert local_day(utc(2026, 7, 2, 4), NEW_YORK) == date(2026, 7, 2)


@pytest.mark.parametrize(
    ("zone", "day", "start"),
    [
        (NEW_YORK, (2026, 7, 1), (2026, 7, 1, 4)),
        # Midnight is skipped: the day starts at 01:00 on the wall.
        (HAVANA, (2026, 3, 8), (2026, 3, 8, 5)),
        (BEIRUT, (2026, 3, 29), (2026, 3, 28, 22)),
        # 00:00 to 00:59 comes twice, both on the same day.
        (HAVANA, (2026, 11, 1), (2026, 11, 1, 4)),
        # At 00:01 the clock went back to 23:01 of the day before: that day was not over yet.
        (ST_JOHNS, (2010, 11, 7), (2010, 11, 7, 3, 30)),
        (APIA, (2011, 12, 30), (2011, 12, 30, 10)),
        (APIA, (2011, 12, 31), (2011, 12, 30, 10)),
    ],
)
def test_a_day_starts_where_the_day_before_never_returns(zone, day, start):
    assert start_of_day(date(*day), zone) == utc(*start)
    assert end_of_day(date(*day) - timedelta(days=1), zone) == utc(*start)


def test_a_day_is_as_long_as_its_clock_makes_it():
    lengths = [
        end_of_day(day, NEW_YORK) - start_of_day(day, NEW_YORK)
        for day in (date(2026, 3, 8), date(2026, 7, 1), date(2026, 11, 1))
    ]
    assert lengths == [timedelta(hours=23), timedelta(hours=24), timedelta(hours=25)]


def test_a_wall_time_of_a_day_takes_the_reading_asked_for():
    day, half_past_one = date(2026, 11, 1), time(1, 30)
    assert local_at(day, half_past_one, NEW_YORK) == utc(2026, 11, 1, 6, 30)
    assert local_at(day, half_past_one, NEW_YORK, fold="earlier") == utc(2026, 11, 1, 5, 30)
    assert local_at(date(2026, 3, 8), time(2, 30), NEW_YORK) == utc(2026, 3, 8, 7)


@pytest.mark.parametrize(
    ("at", "zone", "morning", "day"),
    [
        (utc(2026, 7, 1, 12), NEW_YORK, EIGHT, date(2026, 7, 1)),
        (utc(2026, 7, 1, 12, 0, 1), NEW_YORK, EIGHT, date(2026, 7, 2)),
        (utc(2026, 7, 2, 3), NEW_YORK, EIGHT, date(2026, 7, 2)),
        # 02:30 is skipped on 8 March and means 03:00.
        (utc(2026, 3, 8, 7), NEW_YORK, time(2, 30), date(2026, 3, 8)),
        (utc(2026, 3, 8, 7, 0, 1), NEW_YORK, time(2, 30), date(2026, 3, 9)),
        # The evening before the skipped day: the next morning is two days on.
        (utc(2011, 12, 30, 6), APIA, EIGHT, date(2011, 12, 31)),
        # Between both readings of 01:30, the later one is still ahead.
        (utc(2026, 11, 1, 6), NEW_YORK, time(1, 30), date(2026, 11, 1)),
    ],
)
def test_the_morning_at_or_after_an_instant(at, zone, morning, day):
    assert morning_at_or_after(at, zone, morning) == day


@pytest.mark.parametrize(
    "call",
    [
        lambda: end_of_day(date.max, UTC),
        lambda: start_of_day(date.min, timezone(timedelta(hours=5))),
        lambda: local_day(datetime.max.replace(tzinfo=UTC), timezone(timedelta(hours=5))),
        lambda: morning_at_or_after(utc(9999, 12, 31, 9), UTC, EIGHT),
    ],
)
def test_what_leaves_the_calendar_is_refused(call):
    with pytest.raises(InstantRefused) as refusal:
        call()
    assert refusal.value.code == "instant-out-of-range"


def changes(zone, start, end):
    """The first instants of new offsets, looked for in steps of six hours."""
    step, at = timedelta(hours=6), start
    while at < end:
        offset = at.astimezone(zone).utcoffset()
        if (at + step).astimezone(zone).utcoffset() != offset:
            low, high = at, at + step
            while high - low > timedelta(seconds=1):
                middle = low + (high - low) / 2
                middle = middle.replace(microsecond=0)
                if middle.astimezone(zone).utcoffset() == offset:
                    low = middle
                else:
                    high = middle
            yield high
        at += step


def check_change(zone, change):
    """Resolve the wall times around a change of the clock; return "gap" or "fold"."""
    before, behind = (change - TICK).astimezone(zone), change.astimezone(zone)
    skipped = behind.utcoffset() - before.utcoffset()
    edge = (before + TICK).replace(tzinfo=None, fold=0)
    if skipped > timedelta(0):
        for inside in (edge, edge + skipped / 2, edge + skipped - TICK):
            found = resolve(inside, zone)
            assert (found.kind, found.first, found.second) == ("gap", change, change)
        assert resolve(edge + skipped, zone).kind == "plain"
        return "gap"
    for inside in (edge + skipped, edge + skipped / 2, edge - TICK):
        found = resolve(inside, zone)
        assert found.kind == "fold"
        assert found.second - found.first == -skipped
        assert found.first < change <= found.second
    assert resolve(edge, zone).kind == "plain"
    return "fold"


def check_days(zone, middle):
    """Days around a change follow each other, and none has a morning that is not its own."""
    for days in range(-2, 3):
        day = middle + timedelta(days=days)
        start, end = start_of_day(day, zone), end_of_day(day, zone)
        assert start <= end
        assert local_day(start - TICK, zone) < day <= local_day(start, zone)
        assert start == end or local_day(end - TICK, zone) == day
        morning = morning_at_or_after(start, zone, EIGHT)
        assert local_at(morning, EIGHT, zone) >= start
        assert local_day(local_at(morning, EIGHT, zone), zone) == morning


@pytest.mark.slow
def test_every_zone_keeps_its_days_in_order():
    kinds = []
    for name in sorted(available_timezones()):
        zone = ZoneInfo(name)
        for change in changes(zone, utc(2007, 1, 1), utc(2030, 1, 1)):
            kinds.append(check_change(zone, change))
            check_days(zone, change.astimezone(zone).date())
    # The data holds thousands of changes in these years: the loop has seen them.
    assert kinds.count("gap") > 1000
    assert kinds.count("fold") > 1000
