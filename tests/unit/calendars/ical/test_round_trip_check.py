"""The validator, and the reading back: bytes out of form or of another meaning are refused."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import icalendar
import pytest
from calendar_samples import (
    EVENT,
    FEED,
    KEY,
    RULES,
    at,
    plan,
    released,
    stamped,
)

from curecal.calendars import Alarm, Days, Event, Status, Timed, build, faults, feeds
from curecal.calendars.content_lines import escape, unescape, unfold
from curecal.calendars.ical.round_trip_check import refuse_unfaithful
from curecal.errors import CurecalError

# The validator

GOOD = stamped(FEED)


def swapped(old: str, new: str) -> bytes:
    assert old.encode() in GOOD
    return GOOD.replace(old.encode(), new.encode())


def test_a_good_calendar_has_no_fault() -> None:
    assert faults(GOOD) == ()


@pytest.mark.parametrize(
    ("data", "code"),
    [
        (b"", "calendar-none"),
        (b"\xef\xbb\xbf" + GOOD, "calendar-bom"),
        (GOOD[:-2], "calendar-no-end-of-line"),
        (GOOD.replace(b"\r\n", b"\n"), "calendar-bare-line-end"),
        (GOOD.replace(b"now", b"n\row"), "calendar-bare-line-end"),
        (GOOD.replace(b"now", b"n" * 80), "calendar-long-line"),
        (GOOD.replace(b"now", "é".encode()[:1]), "calendar-not-utf8"),
        (GOOD.replace(b"now", b"n\xc3\r\n \xa9"), "calendar-cut-character"),
        (swapped("now", "n\x07w"), "calendar-control-character"),
        (swapped("SEQUENCE:0", "SEQUENCE"), "calendar-not-a-property"),
        (swapped("END:VALARM", "END:VTODO"), "calendar-nesting"),
        (GOOD + b"END:VCALENDAR\r\n", "calendar-nesting"),
        (swapped("END:VCALENDAR\r\n", ""), "calendar-nesting"),
        (GOOD + GOOD, "calendar-not-one-calendar"),
        (b"X-A:b\r\n" + GOOD, "calendar-not-one-calendar"),
        (swapped("VERSION:2.0", "VERSION:1.0"), "calendar-version"),
        (swapped("VERSION:2.0\r\n", ""), "calendar-property-count"),
        (swapped("COLOR:seagreen", "METHOD:PUBLISH"), "calendar-parties"),
        (swapped("COLOR:seagreen", "METHOD:REPLY"), "calendar-method"),
        (swapped("COLOR:seagreen", "COLOR:#2E8B57"), "calendar-color"),
        (swapped("REFRESH-INTERVAL;VALUE=DURATION:", "REFRESH-INTERVAL:"), "calendar-duration"),
        (swapped("X-PUBLISHED-TTL:PT6H", "X-PUBLISHED-TTL:P"), "calendar-duration"),
        (swapped("X-PUBLISHED-TTL:PT6H", "X-WR-TIMEZONE:UTC"), "calendar-not-our-form"),
        (swapped("STATUS:CONFIRMED", "STATUS:CANCELLED"), "calendar-cancelled-alarm"),
        (
            swapped("STATUS:CONFIRMED\r\nTRANSP:TRANSPARENT", "STATUS:CANCELLED\r\nTRANSP:OPAQUE"),
            "calendar-cancelled-busy",
        ),
        (swapped("TRANSP:TRANSPARENT", "TRANSP:FREE"), "calendar-transp"),
        (swapped("ACTION:DISPLAY", "ACTION:AUDIO"), "calendar-action"),
        (swapped("LAST-MODIFIED:20261202", "LAST-MODIFIED:20261203"), "calendar-stamps-differ"),
        (swapped("UID:" + FEED.uid(KEY), "UID:a@b"), "calendar-uid-form"),
        (swapped("SUMMARY:", "SUMMARY:a;b"), "calendar-text"),
        (swapped("SUMMARY:", "SUMMARY:a\\x"), "calendar-text"),
        (swapped("SEQUENCE:0", "SEQUENCE:2147483648"), "calendar-sequence"),
        (swapped("SEQUENCE:0", "SEQUENCE:٣"), "calendar-sequence"),
        (swapped("DTSTAMP:20261202", "DTSTAMP:20261232"), "calendar-not-utc"),
        (
            swapped(
                "SEQUENCE:0", f"SEQUENCE:0\r\nRELATED-TO;RELTYPE=FINISHTOSTART:{FEED.uid(KEY)}"
            ),
            "calendar-related-to-itself",
        ),
        (swapped("SEQUENCE:0", "SEQUENCE:0\r\nRELATED-TO;GAP=1H:x"), "calendar-related"),
        (swapped("STATUS:CONFIRMED", "DURATION:PT1H"), "calendar-not-our-form"),
        (swapped("DTSTART;", "DTSTART;TZID=Europe/Berlin;"), "calendar-not-our-form"),
        (GOOD.replace(b"VEVENT", b"VTODO"), "calendar-not-our-form"),
        (GOOD.replace(b"VALARM", b"VTODO"), "calendar-not-our-form"),
        (
            swapped("UID:" + FEED.uid(KEY), "UID:" + FEED.alarm_uid(EVENT, EVENT.alarms[0])),
            "calendar-uid-twice",
        ),
        (swapped("DTEND;VALUE=DATE:20261205", "DTEND:20261205T000000Z"), "calendar-mixed-times"),
        (swapped("DTEND;VALUE=DATE:20261205", "DTEND;VALUE=DATE:20261204"), "calendar-no-length"),
        (swapped("DTSTART;VALUE=DATE:20261204", "DTSTART;VALUE=DATE:x"), "calendar-not-utc"),
        (swapped("DTSTAMP:20261202T200000Z", "DTSTAMP:20261202T200000"), "calendar-not-utc"),
        (swapped("SEQUENCE:0", "SEQUENCE:-1"), "calendar-sequence"),
        (swapped("STATUS:CONFIRMED", "STATUS:MAYBE"), "calendar-status"),
        (swapped("TRIGGER;VALUE=DATE-TIME:", "TRIGGER:"), "calendar-alarm-relative"),
        (
            swapped("TRIGGER;VALUE=DATE-TIME:20261203T120000Z", "TRIGGER:-PT1H"),
            "calendar-alarm-relative",
        ),
    ],
)
def test_the_validator_sees(data: bytes, code: str) -> None:
    assert code in {fault.code for fault in faults(data)}


def test_the_validator_sees_alarms_twice_and_late() -> None:
    event = replace(EVENT, when=Timed(at(4), at(5)), alarms=(Alarm(at(3), "a"), Alarm(at(2), "b")))
    data = stamped(replace(FEED, events=(event,)))
    assert faults(data) == ()
    twice = data.replace(b"20261202T120000Z", b"20261203T120000Z")
    late = data.replace(b"20261203T120000Z", b"20261204T120000Z")
    assert [(fault.code, fault.detail) for fault in faults(twice)] == [("calendar-alarm", "twice")]
    assert [(fault.code, fault.detail) for fault in faults(late)] == [("calendar-alarm", "late")]


def test_an_empty_calendar_is_a_fault() -> None:
    head, _, _ = GOOD.partition(b"BEGIN:VEVENT")
    assert [fault.code for fault in faults(head + b"END:VCALENDAR\r\n")] == ["calendar-empty"]


# Read back


def test_a_reader_sees_what_was_meant() -> None:
    for made in (plan(), plan(released())):
        for feed, data in zip(
            feeds(made, rules=RULES), build(made, rules=RULES).values(), strict=True
        ):
            read = icalendar.Calendar.from_ical(data)
            assert len(read.walk("VEVENT")) == len(feed.events)
            alarms = sum(len(event.alarms) for event in feed.events)
            assert len(read.walk("VALARM")) == alarms


@pytest.mark.parametrize(
    ("event", "what"),
    [
        (replace(EVENT, when=Days(date(2026, 12, 4), date(2026, 12, 6))), "times"),
        (replace(EVENT, when=Timed(at(4), at(5))), "times"),
        (replace(EVENT, alarms=()), "alarms"),
        (replace(EVENT, status=Status.TENTATIVE), "status"),
        (replace(EVENT, summary="Walk"), "texts"),
        (replace(EVENT, description="Walk"), "texts"),
        (replace(EVENT, key=replace(KEY, purpose="run")), "count"),
    ],
)
def test_bytes_that_say_something_else_are_refused(event: Event, what: str) -> None:
    with pytest.raises(CurecalError) as caught:
        refuse_unfaithful(replace(FEED, events=(event,)), GOOD)
    assert (caught.value.code, caught.value.params["what"]) == ("calendar-unfaithful", what)


def test_a_midnight_is_not_a_day() -> None:
    midnight = Timed(at(4, 0), at(5, 0))
    with pytest.raises(CurecalError, match="times"):
        refuse_unfaithful(replace(FEED, events=(replace(EVENT, when=midnight),)), GOOD)


def test_another_job_s_bytes_are_refused() -> None:
    data = GOOD.replace(b"JOB:alder", b"JOB:elder")
    with pytest.raises(CurecalError, match="X-CURECAL-JOB"):
        refuse_unfaithful(FEED, data)


def test_bytes_out_of_form_are_refused() -> None:
    with pytest.raises(CurecalError, match="calendar-form"):
        refuse_unfaithful(FEED, GOOD.replace(b"SEQUENCE:0", b"SEQUENCE:x"))


def test_a_library_that_misreads_a_summary_is_noticed(monkeypatch: pytest.MonkeyPatch) -> None:
    plain = replace(FEED, events=(replace(EVENT, summary="Walk"),))
    data = stamped(plain)
    read = icalendar.Calendar.from_ical(data)
    read.walk("VEVENT")[0]["SUMMARY"] = "Run"
    monkeypatch.setattr(
        "curecal.calendars.ical.round_trip_check.Calendar",
        type("Reader", (), {"from_ical": lambda _: read}),
    )
    with pytest.raises(CurecalError, match="summary"):
        refuse_unfaithful(plain, data)


@pytest.mark.parametrize("text", ["a\\Nb", "a\\nb", "\\", "\\;", ",;\\\n", "\\\\n"])
def test_escaping_comes_back(text: str) -> None:
    assert "\n" not in escape(text)
    assert unescape(escape(text)) == text


def test_a_capital_n_on_the_wire_is_a_line_break() -> None:
    assert unescape("a\\Nb\\nc") == "a\nb\nc"


def test_no_bytes_no_lines() -> None:
    assert unfold(b"") == []


def test_a_file_that_is_no_calendar_says_so_once() -> None:
    found = faults(b'[job]\nname = "Alder Lane"\n' * 90)
    assert [fault.code for fault in found] == ["calendar-none"]
