"""An event to a resource and back, and what is made of one that somebody else has written."""

from __future__ import annotations

from datetime import timedelta

import pytest
from calendar_samples import AS_OF, EVENT, FEED, KEY, at
from hypothesis import given
from hypothesis import strategies as st

from curecal.calendars import (
    Audience,
    Event,
    Feed,
    Revision,
    Stamp,
    Timed,
    drafts,
    faults,
    stamped,
)
from curecal.calendars.ical.loose_reader import loose_lines
from curecal.calendars.revisions.outputs import OutputMark
from curecal.delivery.caldav.caldav_resource import (
    CalendarObject,
    octets_of,
    read_object,
    title_of,
)

OWNER = Audience.OWNER
MARK = OutputMark("f00d", 7)
ALARM = "BEGIN:VALARM\r\nUID:theirs\r\nACTION:DISPLAY\r\nTRIGGER:-PT15M\r\nX-A:b\r\nEND:VALARM\r\n"


def revision(feed: Feed = FEED, sequence: int = 3) -> Revision:
    return stamped(drafts(feed)[0], Stamp(sequence, AS_OF))


def sent(entry: CalendarObject | None = None) -> str:
    return octets_of("alder;7", revision(), MARK, entry).decode()


def read(text: str) -> CalendarObject:
    found = read_object(text, OWNER, None)
    assert found is not None
    return found


def not_ours(octets: bytes) -> list[str]:
    """What the validator finds in a resource: it knows no mark that stands on a server alone."""
    return [fault.detail or fault.code for fault in faults(octets)]


def test_what_is_sent_keeps_our_form_and_reads_back_alike() -> None:
    octets = octets_of("alder;7", revision(), MARK, None)
    assert not_ours(octets) == []
    assert "X-CURECAL-SENT:" in octets.decode()
    assert b"METHOD" not in octets
    entry = read(octets.decode())
    assert entry.event.content == revision().content
    assert entry.mark == MARK
    assert entry.key == EVENT.key
    assert entry.says(revision())
    assert entry.is_as_sent
    assert entry.alarms == ()


def test_line_ends_folds_and_order_of_another_writer_change_nothing() -> None:
    lines = loose_lines(sent())
    start, end = lines.index("BEGIN:VEVENT") + 1, lines.index("BEGIN:VALARM")
    turned = [*lines[:start], *reversed(lines[start:end]), *lines[end:]]
    entry = read("\n".join(turned))
    assert entry.says(revision())
    assert entry.is_as_sent


def test_their_alarms_and_order_are_carried_over() -> None:
    text = sent().replace("END:VEVENT", f"{ALARM}CATEGORIES:A\\,b\r\nX-THEIRS:1\r\nEND:VEVENT")
    entry = read(text)
    assert entry.says(revision())
    assert entry.is_as_sent
    again = sent(entry)
    assert ALARM in again
    assert "CATEGORIES:A\\,b\r\n" in again
    assert "X-THEIRS" not in again
    assert again.count("BEGIN:VALARM") == 2
    assert read(again).alarms == entry.alarms


def test_a_cancelled_event_carries_no_alarm() -> None:
    entry = read(sent().replace("END:VEVENT", f"{ALARM}END:VEVENT"))
    off = revision(Feed(OWNER, "alder;7", "A", (EVENT,)))
    at = off.lines.index("BEGIN:VALARM") if "BEGIN:VALARM" in off.lines else -1
    bare = (*off.lines[:at], off.lines[-1])
    lines = tuple(line.replace("STATUS:CONFIRMED", "STATUS:CANCELLED") for line in bare)
    cancelled = Revision(off.uid, OWNER, 4, AS_OF, lines)
    assert ALARM not in octets_of("alder;7", cancelled, MARK, entry).decode()


def test_an_alarm_of_ours_is_known_without_its_uid() -> None:
    uid = next(line for line in revision().lines[6:] if line.startswith("UID:"))
    entry = read(sent().replace(f"{uid}\r\n", ""))
    assert entry.alarms == ()
    assert not entry.is_as_sent
    assert sent(entry).count("BEGIN:VALARM") == 1


def test_an_alarm_that_is_none_is_not_carried() -> None:
    bare = "BEGIN:VALARM\r\nUID:x\r\nACTION:DISPLAY\r\nEND:VALARM\r\n"
    assert read(sent().replace("END:VEVENT", f"{bare}END:VEVENT")).alarms == ()


def test_control_characters_of_theirs_become_spaces() -> None:
    alarm = ALARM.replace("X-A:b", "X-A:b\x9bc\x00d\u2028e")
    again = sent(read(sent().replace("END:VEVENT", f"{alarm}END:VEVENT")))
    assert "X-A:b c d e\r\n" in again


@pytest.mark.parametrize(
    "change",
    [
        ("DTEND;VALUE=DATE:20261205", "DTEND;VALUE=DATE:20261206"),
        ("SUMMARY:Walk", "SUMMARY:Run"),
        ("STATUS:CONFIRMED", "STATUS:NONSENSE"),
        ("STATUS:CONFIRMED", "RRULE:FREQ=DAILY\r\nSTATUS:CONFIRMED"),
        ("TRIGGER;VALUE=DATE-TIME:2026", "TRIGGER;VALUE=DATE-TIME:2025"),
        ("DTSTART;VALUE=DATE:20261204\r\n", ""),
        ("SUMMARY:Walk\\; now\\, please\r\n", ""),
        ("DTSTART;VALUE=DATE:20261204", "DTSTART:99999999T999999Z"),
        ("DTSTART;VALUE=DATE:20261204", "DTSTART;VALUE=DATE:99991231"),
        ("DTEND;VALUE=DATE:20261205", "DTEND;VALUE=DATE:99991231"),
        ("DTEND;VALUE=DATE:20261205\r\n", ""),
        ("DTSTART;VALUE=DATE:20261204\r\n", "DTSTART:20261204T010000Z\r\n"),
        ("SUMMARY:", "DTSTART;VALUE=DATE:20261203\r\nSUMMARY:"),
        ("STATUS:CONFIRMED", "STATUS:CANCELLED"),
        ("ACTION:DISPLAY\r\n", ""),
        ("TRANSP:TRANSPARENT", "TRANSP:OPAQUE"),
        ("X-CURECAL-EVENT", "X-ANY"),
    ],
)
def test_a_change_of_what_is_ours_is_seen(
    change: tuple[str, str],
) -> None:
    text = sent()
    assert change[0] in text
    entry = read(text.replace(*change))
    assert not entry.is_as_sent
    assert not entry.says(revision())


def test_a_lowered_sequence_is_sent_again_and_a_raised_one_left() -> None:
    lowered = read(sent().replace("SEQUENCE:3", "SEQUENCE:1"))
    assert lowered.sequence == 1
    assert not lowered.says(revision())
    raised = read(sent().replace("SEQUENCE:3", "SEQUENCE:9"))
    assert raised.sequence == 9
    assert raised.says(revision())


def test_alarms_that_the_ledger_knows_are_ours_without_our_mark() -> None:
    text = sent().replace("X-CURECAL-SENT", "X-OTHER")
    assert read(text).alarms
    found = read_object(text, OWNER, revision())
    assert found is not None
    assert (found.alarms, found.says(revision())) == ((), True)


def test_the_default_type_may_be_spelled_out() -> None:
    start = at(9)
    timed = Event(KEY, "Walk", "Now.", Timed(start, start + timedelta(hours=1)))
    made = revision(Feed(OWNER, "alder;7", "Alder, 7", (timed,)))
    text = octets_of("alder;7", made, MARK, None).decode()
    entry = read(text.replace("DTSTART:", "DTSTART;VALUE=DATE-TIME:"))
    assert entry.says(made)
    assert not read(text.replace("DTSTART:", "DTSTART;VALUE=PERIOD:")).says(made)


def test_hours_on_the_same_day_are_not_the_day() -> None:
    text = sent().replace(
        "DTSTART;VALUE=DATE:20261204", "DTSTART;TZID=America/Halifax:20261204T090000"
    )
    hours = text.replace("DTEND;VALUE=DATE:20261205", "DTEND;TZID=America/Halifax:20261204T100000")
    entry = read(hours)
    assert not entry.is_as_sent
    assert not entry.says(revision())


@pytest.mark.parametrize("text", ["2147483647", "99999999999", "x", "-4", "1.5"])
def test_a_sequence_that_no_counting_comes_to_is_written_over(text: str) -> None:
    absurd = read(sent().replace("SEQUENCE:3", f"SEQUENCE:{text}"))
    assert absurd.sequence == -1
    assert not absurd.says(revision())


def test_without_a_sequence_it_is_the_first() -> None:
    # RFC 5545, 3.8.7.4: the default is 0.
    assert read(sent().replace("SEQUENCE:3\r\n", "")).sequence == 0


def test_what_is_no_event_of_anybody_is_none() -> None:
    for text in (
        "BEGIN:VCALENDAR\nBEGIN:VTODO\nUID:a\nEND:VTODO\nEND:VCALENDAR",
        "BEGIN:VCALENDAR\nBEGIN:VEVENT\nEND:VEVENT\nEND:VCALENDAR",
        "",
    ):
        assert read_object(text, OWNER, None) is None


def test_a_bare_event_is_nobodys_copy() -> None:
    entry = read("BEGIN:VEVENT\nUID:a\nEND:VEVENT")
    assert not entry.is_as_sent
    assert (entry.mark, entry.key) == (None, None)


def test_exceptions_to_a_repetition_are_not_the_event() -> None:
    body = sent()
    event = body[body.index("BEGIN:VEVENT") : body.index("END:VCALENDAR")]
    other = event.replace("SUMMARY:Walk", "RECURRENCE-ID;VALUE=DATE:20261204\r\nSUMMARY:Run")
    entry = read(body.replace(event, other + event))
    assert title_of(entry.event) == "Walk; now, please"
    assert entry.is_twisted


def test_the_digest_rests_on_what_is_said_alone() -> None:
    assert revision().digest == stamped(drafts(FEED)[0], Stamp(9, at(9))).digest


@given(st.data())
def test_no_damage_breaks_the_reader(data: st.DataObject) -> None:
    text = sent()
    start = data.draw(st.integers(0, len(text)))
    put = data.draw(st.text(max_size=8))
    cut = data.draw(st.integers(0, 60))
    entry = read_object(text[:start] + put + text[start + cut :], OWNER, None)
    if entry is None:
        return
    # Whatever stands there, ours can be sent in its place.
    assert faults(octets_of("alder;7", revision(), MARK, None)) == ()
    assert octets_of("alder;7", revision(), MARK, entry)
