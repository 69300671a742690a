"""Laws of the calendars: hostile text comes back, the form holds, and "off" stays until release."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from calendar_samples import HALL, HALL_PLAN, JOB, RULES, THINSET_PLANNED, plan, window
from hypothesis import example, given
from hypothesis import strategies as st
from planning_samples import RULES as SHIPPED
from planning_samples import job, layer, sheet, weekdays
from planning_samples import zone as floor
from planning_site import CLIMATE, Site

from curecal.calendars import (
    Alarm,
    Audience,
    Days,
    Event,
    EventKey,
    Feed,
    Stamp,
    Timed,
    build,
    faults,
    feeds,
    render,
)
from curecal.calendars.content_lines import LONGEST, escape, fold, unescape, unfold
from curecal.calendars.ical.round_trip_check import refuse_unfaithful
from curecal.calendars.stable_dates.event_hours import whole_hour, working_hour, working_window
from curecal.errors import ValueRefused
from curecal.planning.plan import State
from curecal.planning.working_time.working_calendar import Calendar
from curecal.trade.job import Work
from curecal.trade.site_log import Release

ROOT = Path(__file__).parents[2]
REFUSED = ("Cc", "Cs", "Zl", "Zp")
ZONES = ("America/Halifax", "Europe/Berlin", "Asia/Kolkata", "Australia/Lord_Howe", "Pacific/Apia")

# Emoji with joiners, letters with marks put on them, right-to-left, and what escapes eat.
PIECES = (
    "👩‍👩‍👧‍👦",
    "🏳️‍🌈",
    "e\u0301\u0323",
    "שלום",
    "مرحبا",
    "\\",
    "\\N",
    "\\n",
    ";",
    ",",
    ":",
    '"',
    "é",
    "％",
)
SIGNS = st.characters(exclude_categories=REFUSED)
TEXTS = st.lists(st.one_of(st.sampled_from(PIECES), st.text(SIGNS)), max_size=40).map("".join)
TITLES = TEXTS.filter(str.strip)
BROKEN = st.lists(TEXTS, max_size=4).map("\n".join)
INSTANTS = st.datetimes(datetime(2000, 1, 1), datetime(2100, 1, 1), timezones=st.just(UTC))  # noqa: DTZ001 - bounds are naive by contract
SECONDS = INSTANTS.map(lambda moment: moment.replace(microsecond=0))
DATES = st.dates(date(2000, 1, 1), date(2100, 1, 1))


@given(TEXTS)
@example("x" * 74 + "\\")
@example("x" * 75 + "\\\\;")
@example("x" * 73 + "👩‍👩‍👧‍👦")
def test_folding_comes_back(text: str) -> None:
    folded = fold(text)
    assert unfold(folded) == [text]
    for line in folded.split(b"\r\n"):
        assert len(line) <= LONGEST
        line.decode()


@given(BROKEN)
def test_escaping_comes_back(text: str) -> None:
    assert unescape(escape(text)) == text
    assert unfold(fold(escape(text))) == [escape(text)]


@given(st.text(min_size=1), st.characters(categories=REFUSED), st.text())
def test_a_control_character_is_refused_wherever_it_stands(
    before: str, sign: str, behind: str
) -> None:
    with pytest.raises(ValueRefused, match="control-character"):
        fold(before + sign + behind)


@st.composite
def events(draw: st.DrawFn, number: int) -> Event:
    if draw(st.booleans()):
        first = draw(DATES)
        when: Timed | Days = Days(first, first + timedelta(days=draw(st.integers(1, 400))))
        before = datetime(first.year, first.month, first.day, tzinfo=UTC)
    else:
        before = draw(SECONDS)
        when = Timed(before, before + timedelta(seconds=draw(st.integers(1, 10**7))))
    gaps = draw(st.sets(st.integers(1, 10**6), max_size=3))
    alarms = tuple(
        Alarm(before - timedelta(seconds=gap), f"alarm {count}")
        for count, gap in enumerate(sorted(gaps))
    )
    key = EventKey(Audience.CREW, "zone", "", f"event {number}")
    return Event(key, draw(TITLES), draw(BROKEN), when, location=draw(TEXTS) or None, alarms=alarms)


@given(st.data(), st.integers(1, 3), TEXTS, TEXTS, SECONDS)
def test_any_calendar_keeps_the_form_and_reads_as_meant(
    data: st.DataObject, count: int, job_id: str, name: str, stamp: datetime
) -> None:
    made = tuple(data.draw(events(number)) for number in range(count))
    feed = Feed(Audience.CREW, job_id, name, made)
    written = render(feed, {feed.uid(event.key): Stamp(0, stamp) for event in feed.events})
    refuse_unfaithful(feed, written)
    assert faults(written) == ()
    assert written.replace(b"\r\n", b"").count(b"\n") == 0
    assert written.replace(b"\r\n", b"").count(b"\r") == 0
    assert max(len(line) for line in written.split(b"\r\n")) <= LONGEST
    for line in unfold(written):
        name_and_parameters = line.partition(":")[0]
        assert "TZID" not in name_and_parameters
        assert line != "BEGIN:VTIMEZONE"


@given(st.binary(max_size=400))
def test_the_validator_never_breaks_down(data: bytes) -> None:
    assert faults(data)


@given(TEXTS, TEXTS)
def test_any_name_comes_through_a_whole_plan(job_name: str, zone_name: str) -> None:
    zone = replace(HALL_PLAN, zone=replace(HALL, name=zone_name))
    for data in build(plan(zone, job=replace(JOB, name=job_name)), rules=RULES).values():
        assert faults(data) == ()


@given(
    st.sampled_from(
        [state for state in State if state.value not in {"released", "heating up", "in service"}]
    ),
    st.none() | DATES,
    INSTANTS,
    st.sampled_from(ZONES),
)
def test_do_not_switch_on_never_goes_before_release(
    state: State, owner_date: date | None, as_of: datetime, zone: str
) -> None:
    energize = replace(HALL_PLAN.energize, owner_date=owner_date)
    made = plan(
        replace(HALL_PLAN, state=state, energize=energize),
        job=replace(JOB, tz=ZoneInfo(zone), timezone=zone),
        as_of=as_of,
    )
    owner = feeds(made, rules=RULES)[2]
    off = [event for event in owner.events if event.key.purpose == "do not switch on"]
    assert len(off) == 1
    assert isinstance(off[0].when, Days)
    today = as_of.astimezone(ZoneInfo(zone)).date()
    assert off[0].when.end_on > today
    assert off[0].when.end_on >= (owner_date or today)
    if "before" not in off[0].description.partition("\n")[0]:
        assert off[0].when.end_on >= today + timedelta(days=14)
    told = [event.key.purpose for event in owner.events]
    assert "may switch on" not in told
    assert not any(purpose.startswith("heat-up") for purpose in told)
    # The key, and with it the UID, is the same whatever the plan says.
    assert off[0].key == EventKey(Audience.OWNER, "hall", "", "do not switch on")


@given(INSTANTS, st.sampled_from(ZONES), st.integers(0, 4))
def test_rounding_never_makes_anything_earlier(moment: datetime, zone: str, days: int) -> None:
    tz = ZoneInfo(zone)
    work = Work(days=frozenset(range(days + 1)))
    calendar = Calendar(work, tz, lambda day: None if day.weekday() <= days else "off")
    up = whole_hour(moment, tz)
    assert moment - timedelta(milliseconds=1) <= up <= moment + timedelta(hours=2)
    assert whole_hour(up, tz) == up
    rounded = working_hour(moment, calendar)
    assert rounded >= moment - timedelta(milliseconds=1)
    assert working_hour(rounded, calendar) == rounded
    wide = working_window(window(moment, 30), calendar)
    assert wide.latest is not None
    assert wide.latest >= wide.earliest


@given(st.datetimes(datetime(2027, 1, 1), datetime(2100, 1, 1)), st.integers(0, 200))  # noqa: DTZ001 - bounds are naive by contract
def test_a_new_reading_within_the_hour_is_no_new_event(naive: datetime, minutes: int) -> None:
    """Two plans whose starts round to one hour say one and the same."""
    calendar = Calendar(JOB.work, JOB.tz, lambda day: "off" if day.weekday() > 4 else None)
    starts = [naive.replace(tzinfo=UTC), naive.replace(tzinfo=UTC) + timedelta(minutes=minutes)]
    found = []
    for start in starts:
        moved = replace(THINSET_PLANNED, start=window(start), finish=None, latest_start_at=None)
        zone = replace(HALL_PLAN, layers=(HALL_PLAN.layers[0], moved), holds=())
        found.append(feeds(plan(zone), rules=RULES)[0])
    first, second = (working_hour(start, calendar) for start in starts)
    assert (found[0] == found[1]) is (first == second)


def bare_and_finished() -> Site:
    """A screed heated bare before its tile, so that there are heat-ups on both sides of release."""
    layers = [
        layer("sand-cement screed", thickness_m=0.05, heat_before_covering=True),
        layer(sheet("thinset", heat_d=14.0), name="tile bed"),
        layer(sheet("cement grout", heat_d=10.0)),
    ]
    made = job(floor(*layers), climate=CLIMATE)
    return Site(made, weather=lambda _: CLIMATE.air_c, works=lambda _: True)


def test_no_entry_of_a_whole_life_lets_the_owner_heat_before_release() -> None:
    released_on: date | None = None
    for morning in bare_and_finished().mornings():
        for release in (entry for entry in morning.log if isinstance(entry, Release)):
            released_on = release.at.date()
        told = feeds(morning.told, rules=SHIPPED, day_off=weekdays, log=morning.log)
        mine = {event.key.purpose: event for event in told[2].events}
        heating = [
            event.when
            for purpose, event in mine.items()
            if purpose == "may switch on" or purpose.startswith("heat-up")
        ]
        off = mine["do not switch on"]
        assert isinstance(off.when, Days)
        # After the release the span stands as it was, ended, and keeps nobody off.
        assert (off.keeps_off is not None) is (released_on is None), morning.day
        assert bool(heating) is (released_on is not None), morning.day
        for when in heating:
            assert isinstance(when, Days)
            assert released_on is not None
            assert when.start_on >= released_on
        if released_on is None:
            assert off.when.start_on <= morning.day < off.when.end_on
        else:
            assert off.when.end_on <= released_on
        for event in (*told[0].events, *told[1].events):
            if isinstance(event.when, Timed):
                start = event.when.start_at.astimezone(morning.told.job.tz)
                assert weekdays(start.date()) is None, event.summary
                assert start.minute == 0, event.summary
    assert released_on is not None


HOSTILE = """
import sys
sys.path[:0] = sys.argv[1:]
from dataclasses import replace
from calendar_samples import HALL, HALL_PLAN, JOB, RULES, plan
from curecal.calendars import faults
from curecal.calendars import build
from curecal.errors import ValueRefused
assert False, "assertions are on: this proves nothing"
bad = "hall\\r\\nATTENDEE:mailto:someone"
for made in (
    plan(job=replace(JOB, name=bad)),
    plan(job=replace(JOB, address=bad)),
    plan(replace(HALL_PLAN, zone=replace(HALL, name=bad))),
):
    try:
        build(made, rules=RULES)
    except ValueRefused as error:
        print(error.code, error.params["field"])
odd = "ha;ll, \\"bath\\" \\\\n BEGIN:VEVENT \U0001f469\u200d\U0001f467 \u05e9\u05dc"
odd_plan = plan(replace(HALL_PLAN, zone=replace(HALL, name=odd * 20)))
for data in build(odd_plan, rules=RULES).values():
    print(len(faults(data)))
"""


def test_nothing_is_let_in_where_assertions_are_off() -> None:
    ended = subprocess.run(
        [sys.executable, "-O", "-c", HOSTILE, str(ROOT), str(ROOT / "tests" / "samples")],
        capture_output=True,
        text=True,
        check=True,
    )
    assert ended.stdout.splitlines() == [
        "control-character job.name",
        "control-character job.address",
        "control-character zone.0.name",
        "0",
        "0",
        "0",
    ]


WRITES = """
import hashlib, os, sys, time
sys.path[:0] = sys.argv[1:]
time.tzset()
from calendar_samples import RULES, plan, released
from curecal.calendars import build
for made in (plan(), plan(released())):
    for name, data in build(made, rules=RULES).items():
        print(name, hashlib.sha256(data).hexdigest())
"""


def test_neither_the_machine_s_zone_nor_the_hash_seed_has_an_effect() -> None:
    outputs = set()
    for zone, seed in (("UTC", "0"), ("Pacific/Apia", "1"), ("America/St_Johns", "4242")):
        ended = subprocess.run(
            [sys.executable, "-c", WRITES, str(ROOT), str(ROOT / "tests" / "samples")],
            env={**os.environ, "TZ": zone, "PYTHONHASHSEED": seed, "LC_ALL": "C"},
            capture_output=True,
            text=True,
            check=True,
        )
        outputs.add(ended.stdout)
    assert len(outputs) == 1
    assert outputs.pop().count("\n") == 6
