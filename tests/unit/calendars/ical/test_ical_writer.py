"""Events to bytes: the form, the values behind it, the validator, and the reading back."""

from __future__ import annotations

import subprocess
import sys
import uuid
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from calendar_samples import (
    AS_OF,
    EVENT,
    FEED,
    HALL,
    HALL_PLAN,
    JOB,
    KEY,
    LEVELER,
    LEVELER_DONE,
    RULES,
    TZ,
    at,
    lines,
    plan,
    released,
    stamped,
)

from curecal.calendars import (
    Alarm,
    Audience,
    Days,
    EventKey,
    Follows,
    Stamp,
    Status,
    Timed,
    build,
    faults,
    feeds,
)
from curecal.calendars.events.owner import off_until
from curecal.calendars.stable_dates.event_hours import evening_before, whole_hour, working_hour
from curecal.errors import CurecalError, ValueRefused
from curecal.planning.working_time.working_calendar import Calendar
from curecal.trade.job import Cable, Heating, Person, Role, Work, Zone

# The form


def test_a_calendar_byte_for_byte() -> None:
    uid, alarm_uid = FEED.uid(KEY), FEED.alarm_uid(EVENT, EVENT.alarms[0])
    assert stamped(FEED, Stamp(2, AS_OF + timedelta(microseconds=1500))).decode().split("\r\n") == [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        "PRODID:-//curecal//calendars 1//EN",
        "X-CURECAL-JOB:alder\\;7",
        "NAME:Alder\\, 7",
        "X-WR-CALNAME:Alder\\, 7",
        "COLOR:seagreen",
        "REFRESH-INTERVAL;VALUE=DURATION:PT6H",
        "X-PUBLISHED-TTL:PT6H",
        "BEGIN:VEVENT",
        f"UID:{uid}",
        "DTSTAMP:20261202T200001Z",
        "LAST-MODIFIED:20261202T200001Z",
        "SEQUENCE:2",
        "DTSTART;VALUE=DATE:20261204",
        "DTEND;VALUE=DATE:20261205",
        "SUMMARY:Walk\\; now\\, please",
        "DESCRIPTION:Line one\\nback\\\\slash",
        "STATUS:CONFIRMED",
        "TRANSP:TRANSPARENT",
        "X-CURECAL-EVENT:" + KEY.text.replace("\n", "\\n"),
        "BEGIN:VALARM",
        f"UID:{alarm_uid}",
        "ACTION:DISPLAY",
        "TRIGGER;VALUE=DATE-TIME:20261203T120000Z",
        "DESCRIPTION:Walk\\; now\\, please",
        "END:VALARM",
        "END:VEVENT",
        "END:VCALENDAR",
        "",
    ]


def test_a_timed_event_with_its_place_and_what_it_follows() -> None:
    other = EventKey(Audience.CREW, "hall", "grout", "gate")
    event = replace(
        EVENT,
        when=Timed(at(4), at(4, 14)),
        busy=True,
        location="7 Alder Lane",
        follows=(Follows(other, 48), Follows(other)),
    )
    found = lines(stamped(replace(FEED, events=(event,))))
    assert {"DTSTART:20261204T120000Z", "DTEND:20261204T140000Z", "TRANSP:OPAQUE"} <= set(found)
    assert "LOCATION:7 Alder Lane" in found
    related = [line for line in found if line.startswith("RELATED-TO")]
    assert related == [
        f"RELATED-TO;RELTYPE=FINISHTOSTART;GAP=PT48H:{FEED.uid(other)}",
        f"RELATED-TO;RELTYPE=FINISHTOSTART:{FEED.uid(other)}",
    ]


def test_a_cancelled_event_takes_no_time() -> None:
    gone = replace(EVENT, when=Timed(at(4), at(4, 14)), busy=True, status=Status.CANCELLED)
    found = lines(stamped(replace(FEED, events=(gone,))))
    assert "STATUS:CANCELLED" in found
    assert "TRANSP:TRANSPARENT" in found


def test_three_files_and_what_none_of_them_holds() -> None:
    for made in (plan(), plan(released())):
        files = build(made, rules=RULES)
        assert list(files) == ["crew.ics", "electrician.ics", "owner.ics"]
        for data in files.values():
            assert faults(data) == ()
            for word in (b"TZID", b"VTIMEZONE", b"METHOD", b"ORGANIZER", b"\nDURATION"):
                assert word not in data


def test_the_stamp_is_the_plan_s_instant_or_the_one_asked_for() -> None:
    stamps = {line for line in lines(build(plan(), rules=RULES)["owner.ics"]) if "STAMP" in line}
    assert stamps == {"DTSTAMP:20261202T200000Z"}
    files = build(plan(), rules=RULES, stamped_at=at(1, 5))
    assert "LAST-MODIFIED:20261201T050000Z" in lines(files["crew.ics"])


def test_no_text_and_no_uid_changes_with_the_instant_looked_from() -> None:
    early, late = (
        feeds(plan(as_of=moment), rules=RULES) for moment in (AS_OF, AS_OF + timedelta(hours=50))
    )
    assert early == late


def test_ids_alone_make_a_uid() -> None:
    feed = feeds(plan(), rules=RULES)[0]
    renamed = replace(HALL_PLAN, zone=replace(HALL, name="other name"))
    again = feeds(plan(renamed, job=replace(JOB, name="Other")), rules=RULES)[0]
    moved = feeds(plan(job=replace(JOB, id="other")), rules=RULES)[0]
    uids = [[each.uid(event.key) for event in each.events] for each in (feed, again, moved)]
    assert uids[0] == uids[1]
    assert not set(uids[0]) & set(uids[2])
    assert all(uuid.UUID(uid).version == 5 for uid in uids[0])
    assert all(len(uid) == 36 for uid in uids[0])


# Values


def test_a_key_cannot_run_into_another() -> None:
    with pytest.raises(ValueRefused):
        EventKey(Audience.CREW, "hall\nwalk", "", "step")
    assert EventKey(Audience.CREW, "a", "b", "").text != EventKey(Audience.CREW, "a", "", "b").text


@pytest.mark.parametrize(
    ("make", "code"),
    [
        (lambda: Timed(at(4), at(4)), "calendar-no-length"),
        (lambda: Timed(at(4), at(5).replace(microsecond=1)), "calendar-fraction"),
        (lambda: Days(date(2026, 1, 2), date(2026, 1, 2)), "calendar-no-length"),
        (lambda: Timed(datetime(2026, 1, 1), at(4)), "instant-naive"),  # noqa: DTZ001 - refused
        (
            lambda: replace(EVENT, when=Timed(at(4), at(5)), alarms=(Alarm(at(4), "x"),)),
            "calendar-alarm",
        ),
        (lambda: replace(EVENT, alarms=(Alarm(at(4, 13), "x"),)), "calendar-alarm"),
        (lambda: replace(EVENT, alarms=(Alarm(at(1), "x"), Alarm(at(1), "y"))), "calendar-alarm"),
        (lambda: replace(FEED, events=()), "calendar-keys"),
        (lambda: replace(FEED, events=(EVENT, EVENT)), "calendar-keys"),
        (lambda: replace(FEED, job_id="a\rb"), "control-character"),
        (lambda: replace(FEED, name="a\nb"), "control-character"),
        (lambda: replace(EVENT, summary="a\nb"), "control-character"),
        (lambda: replace(EVENT, description="a\n\x07b"), "control-character"),
        (lambda: replace(EVENT, location="a\u2028b"), "control-character"),
    ],
)
def test_what_no_calendar_can_say_is_refused(make: object, code: str) -> None:
    with pytest.raises(CurecalError) as caught:
        make()  # type: ignore[operator]
    assert caught.value.code == code


def test_events_stand_in_order_of_their_days() -> None:
    for feed in feeds(plan(), rules=RULES):
        starts = [
            event.when.start_at.date() if isinstance(event.when, Timed) else event.when.start_on
            for event in feed.events
        ]
        assert all(first <= then for first, then in pairwise(starts))


# Control characters in what people typed

_CABLE = Heating(cables=(Cable("mat\x00"),))


@pytest.mark.parametrize(
    ("zone", "changes", "field"),
    [
        (HALL, {"id": "a\r\nATTENDEE:x"}, "job.id"),
        (HALL, {"name": "a\r\nBEGIN:VEVENT"}, "job.name"),
        (HALL, {"address": "a\x0bb"}, "job.address"),
        (HALL, {"people": (Person(Role.OWNER, "a\x7f"),)}, "people.owner.name"),
        (HALL, {"people": (Person(Role.OWNER, "a", phone="\t1"),)}, "people.owner.phone"),
        (replace(HALL, name="hall\x85"), {}, "zone.0.name"),
        (replace(HALL, id="hall\n"), {}, "zone.0.id"),
        (replace(HALL, heating=_CABLE), {}, "zone.0.heating.cable.name"),
        (replace(HALL, heating=Heating(protection="x\ud800")), {}, "zone.0.heating.protection"),
        (replace(HALL, layers=(replace(LEVELER, name="x\n"),)), {}, "zone.0.layer.0.name"),
        (replace(HALL, layers=(replace(LEVELER, part="x\n"),)), {}, "zone.0.layer.0.part"),
    ],
)
def test_a_control_character_is_refused_by_the_name_of_its_field(
    zone: Zone, changes: dict[str, object], field: str
) -> None:
    made = plan(replace(HALL_PLAN, zone=zone), job=replace(JOB, **changes))  # type: ignore[arg-type]
    with pytest.raises(ValueRefused) as caught:
        build(made, rules=RULES)
    assert (caught.value.code, caught.value.params["field"]) == ("control-character", field)


def test_optimized_python_refuses_as_well() -> None:
    code = (
        "from curecal.calendars.content_lines import fold\n"
        "from curecal.errors import ValueRefused\n"
        "try:\n    fold('SUMMARY:a\\r\\nATTENDEE:b')\n"
        "except ValueRefused as error:\n    print(error.params['sign'])\n"
    )
    root = Path(__file__).parents[4]
    ended = subprocess.run(
        [sys.executable, "-O", "-c", code], cwd=root, capture_output=True, text=True, check=True
    )
    assert ended.stdout == "U+000D\n"


# Hours


def calendar(zone: str = "America/Halifax", **work: object) -> Calendar:
    held = Work(**work)  # type: ignore[arg-type]
    return Calendar(held, ZoneInfo(zone), lambda day: "off" if day.weekday() > 4 else None)


@pytest.mark.parametrize(
    ("given", "rounded"),
    [
        (at(4, 12), at(4, 12)),  # 08:00 on site, the start of work
        (at(4, 11, 1), at(4, 12)),
        (at(4, 19, 0), at(4, 19)),
        (at(4, 19, 1), at(4, 20)),
        (at(4, 20, 1), at(7, 12)),  # Fri 16:01: 17:00 is the end of work, so Monday
        (at(5, 15), at(7, 12)),
    ],
)
def test_crew_hours(given: datetime, rounded: datetime) -> None:
    assert working_hour(given, calendar()) == rounded
    assert working_hour(rounded, calendar()) == rounded


def test_a_half_hour_offset_has_its_own_full_hours() -> None:
    kolkata = ZoneInfo("Asia/Kolkata")
    assert whole_hour(at(4, 12, 10), kolkata) == at(4, 12, 30)


def test_a_change_by_half_an_hour_on_the_way_is_rounded_again() -> None:
    # Lord Howe, 4 Oct 2026: 02:00 becomes 02:30.
    island = ZoneInfo("Australia/Lord_Howe")
    given = datetime(2026, 10, 3, 15, 20, tzinfo=UTC)
    found = whole_hour(given, island)
    assert found.astimezone(island).minute == 0
    assert given <= found < given + timedelta(hours=2)


def test_without_a_working_day_the_hour_still_rounds() -> None:
    never = Calendar(Work(), TZ, lambda _: "off")
    assert working_hour(at(4, 12, 10), never) == at(4, 13)


def test_the_evening_before() -> None:
    assert evening_before(at(4, 2), TZ).at == at(2, 22)  # 2 Dec 22:00Z is 18:00; starts 3 Dec
    assert evening_before(date(2026, 12, 4), TZ).at == at(3, 22)


def test_an_owner_s_span_never_reaches_less_than_two_weeks_ahead_without_a_date() -> None:
    start = date(2026, 12, 1)
    for days in range(100):
        today = start + timedelta(days=days)
        end, told = off_until(start_on=start, told_on=None, planned_on=None, today=today)
        assert not told
        assert 14 <= (end - today).days <= 20
        assert (end - start).days % 7 == 0


def test_layers_of_a_part_are_named_so() -> None:
    part = replace(LEVELER, part="shower side")
    made = plan(
        replace(HALL_PLAN, layers=(replace(LEVELER_DONE, layer=part), *HALL_PLAN.layers[1:]))
    )
    summaries = {event.summary for event in feeds(made, rules=RULES)[0].events}
    assert (
        "Alder Lane 7, hall bath: leveler over cable (shower side) is ready for thinset"
        in summaries
    )
