"""Days and working hours are the site's own, wherever on earth it lies and whatever its clocks do.

What a calendar says is compared with the wall clock of the site, reckoned here from the zone data.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo, available_timezones

import icalendar
import pytest
from planning_samples import DAY, RULES, job, layer, plan, sheet, weekdays, zone
from planning_site import CLIMATE

from curecal.calendars import Audience, Days, Timed, build, feeds
from curecal.trade.site_log import Done

# From 12 hours behind to 14 ahead; offsets of 30 and 45 minutes; a clock change of half an hour.
PLACES = (
    "Etc/GMT+12",
    "Pacific/Pago_Pago",
    "America/St_Johns",
    "America/Halifax",
    "Atlantic/Azores",
    "Europe/Berlin",
    "Africa/Casablanca",
    "Asia/Tehran",
    "Asia/Kolkata",
    "Asia/Kathmandu",
    "Australia/Eucla",
    "Australia/Lord_Howe",
    "Pacific/Chatham",
    "Pacific/Apia",
    "Pacific/Kiritimati",
    "Etc/GMT-14",
)
YEAR = 2026


def changes(tz: ZoneInfo) -> Iterator[date]:
    """The days of a year on which the clocks of a zone change."""
    for count in range(366):
        day = date(YEAR, 1, 1) + count * DAY
        noon, next_noon = (datetime.combine(each, time(12), tz) for each in (day - DAY, day))
        if noon.utcoffset() != next_noon.utcoffset():
            yield day


def check(name: str, around: date) -> int:
    """Plan a small job from the days before a change of clocks; return how many hours it told."""
    tz = ZoneInfo(name)
    bed = layer(sheet("thinset", heat_d=2.0), duration_s=7200.0)
    joints = layer(sheet("cement grout", heat_d=1.0), duration_s=7200.0)
    made_job = job(zone(bed, joints), climate=CLIMATE, tz=tz, timezone=name)
    first_on = around - 3 * DAY
    done_at = datetime.combine(first_on, time(15), tz).astimezone(UTC)
    log = [Done(id="d", at=done_at, recorded=done_at, layer=bed.id)]
    made = plan(made_job, log, done_at + timedelta(hours=2), weekdays)
    work = made_job.work
    count = 0
    for feed in feeds(made, rules=RULES, day_off=weekdays, log=log):
        for event in feed.events:
            for alarm in event.alarms:
                local = alarm.at.astimezone(tz)
                # What may happen at eight is said a quarter of an hour before.
                assert (local.minute, local.second) in {(0, 0), (45, 0)}, event.summary
            if isinstance(event.when, Days):
                assert event.when.start_on >= first_on - 7 * DAY
                continue
            assert isinstance(event.when, Timed)
            count += 1
            start, end = (at.astimezone(tz) for at in (event.when.start_at, event.when.end_at))
            # A whole hour of the wall clock within the working day, and no hour that is skipped.
            assert (start.minute, start.second) == (0, 0), event.summary
            assert work.start <= start.time() <= work.end, event.summary
            assert start.astimezone(UTC).astimezone(tz) == start
            assert weekdays(start.date()) is None, event.summary
            assert end.date() >= start.date()
            # An owner is told a day, and asks before the hour comes.
            if event.key.audience is not Audience.OWNER:
                assert f"{start:%H:%M}" in event.description, event.summary
    for data in build(made, rules=RULES, day_off=weekdays, log=log).values():
        for part in icalendar.Calendar.from_ical(data).walk("VEVENT"):
            for at in (part.decoded("DTSTART"), part.decoded("DTEND")):
                assert not isinstance(at, datetime) or at.utcoffset() == timedelta(0)
    return count


@pytest.mark.parametrize("name", PLACES)
def test_days_and_hours_are_those_of_the_site(name: str) -> None:
    tz = ZoneInfo(name)
    days = [*changes(tz), date(YEAR, 3, 2), date(YEAR, 12, 31)]
    assert all(check(name, day) for day in days)
    if name in {"Europe/Berlin", "America/Halifax", "Australia/Lord_Howe", "Pacific/Chatham"}:
        assert len(days) == 4


def test_the_days_told_are_the_days_of_the_site_and_not_of_the_machine() -> None:
    """One instant, two days: each site is told its own."""
    found = {}
    at = datetime(2026, 12, 2, 11, tzinfo=UTC)
    for name in ("Etc/GMT+12", "UTC", "Etc/GMT-14"):
        tz = ZoneInfo(name)
        bed = layer(sheet("thinset", heat_d=2.0))
        made_job = job(zone(bed), climate=CLIMATE, tz=tz, timezone=name)
        log = [Done(id="d", at=at, recorded=at, layer=bed.id, sure=True)]
        made = plan(made_job, log, at, weekdays)
        (off,) = [
            event
            for event in feeds(made, rules=RULES, day_off=weekdays, log=log)[2].events
            if event.keeps_off
        ]
        assert isinstance(off.when, Days)
        found[name] = off.when.start_on
    assert found == {
        "Etc/GMT+12": date(2026, 12, 1),
        "UTC": date(2026, 12, 2),
        "Etc/GMT-14": date(2026, 12, 3),
    }


@pytest.mark.slow
def test_every_zone_there_is() -> None:
    names = sorted(available_timezones() - {"localtime", "Factory"})
    assert len(names) > 400
    for name in names:
        days = list(changes(ZoneInfo(name))) or [date(YEAR, 3, 2)]
        assert all(check(name, day) for day in days), name
