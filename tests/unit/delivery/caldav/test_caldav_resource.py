"""An event to a resource and back, and what is made of one that somebody else has written."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

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
    document,
    drafts,
    faults,
    head,
    least_head,
    stamped,
)
from curecal.calendars.revisions.read_history import loose_lines
from curecal.delivery.caldav.caldav_resource import (
    Entry,
    digest_of,
    octets_of,
    read_entry,
    title_of,
)

OWNER = Audience.OWNER
ALARM = "BEGIN:VALARM\r\nUID:theirs\r\nACTION:DISPLAY\r\nTRIGGER:-PT15M\r\nX-A:b\r\nEND:VALARM\r\n"


def revision(feed: Feed = FEED, sequence: int = 3) -> Revision:
    return stamped(drafts(feed)[0], Stamp(sequence, AS_OF))


def sent(entry: Entry | None = None) -> str:
    return octets_of("alder;7", revision(), entry).decode()


def read(text: str) -> Entry:
    found = read_entry(text, OWNER)
    assert found is not None
    return found


def not_ours(octets: bytes) -> list[str]:
    """What the validator finds in a resource: it knows no mark that stands on a server alone."""
    return [fault.detail or fault.code for fault in faults(octets)]


def test_what_is_sent_keeps_our_form_and_reads_back_alike() -> None:
    octets = octets_of("alder;7", revision(), None)
    assert not_ours(octets) == []
    assert "X-CURECAL-SENT:" in octets.decode()
    assert b"METHOD" not in octets
    entry = read(octets.decode())
    assert entry.revision == revision()
    assert entry.jobs == {"alder;7"}
    assert entry.revision.key == EVENT.key
    assert entry.says(revision())
    assert not entry.edited
    assert entry.alarms == ()


def test_line_ends_folds_and_order_of_another_writer_change_nothing() -> None:
    lines = loose_lines(sent())
    start, end = lines.index("BEGIN:VEVENT") + 1, lines.index("BEGIN:VALARM")
    turned = [*lines[:start], *reversed(lines[start:end]), *lines[end:]]
    entry = read("\n".join(turned))
    assert entry.says(revision())
    assert not entry.edited


def test_their_alarms_and_order_are_carried_over() -> None:
    text = sent().replace("END:VEVENT", f"{ALARM}CATEGORIES:A\\,b\r\nX-THEIRS:1\r\nEND:VEVENT")
    entry = read(text)
    assert entry.says(revision())
    assert not entry.edited
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
    assert ALARM not in octets_of("alder;7", cancelled, entry).decode()


def test_an_alarm_of_ours_is_known_without_its_uid() -> None:
    uid = next(line for line in revision().lines[6:] if line.startswith("UID:"))
    entry = read(sent().replace(f"{uid}\r\n", ""))
    assert entry.alarms == ()
    assert entry.edited
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
def test_a_change_of_what_is_ours_is_seen_and_the_rest_still_ours_to_send(
    change: tuple[str, str],
) -> None:
    text = sent()
    assert change[0] in text
    entry = read(text.replace(*change))
    assert entry.edited
    assert not entry.says(revision())
    # What is made of it could be cancelled or left standing: it keeps our form.
    assert faults(document(head(FEED), [entry.revision])) == ()


def test_the_higher_sequence_counts() -> None:
    lowered = read(sent().replace("SEQUENCE:3", "SEQUENCE:1"))
    assert (lowered.stored, lowered.revision.sequence) == (1, 3)
    assert not lowered.says(revision())
    raised = read(sent().replace("SEQUENCE:3", "SEQUENCE:9"))
    assert (raised.stored, raised.revision.sequence) == (9, 9)


def test_the_default_type_may_be_spelled_out() -> None:
    start = at(9)
    timed = Event(KEY, "Walk", "Now.", Timed(start, start + timedelta(hours=1)))
    made = revision(Feed(OWNER, "alder;7", "Alder, 7", (timed,)))
    text = octets_of("alder;7", made, None).decode()
    entry = read(text.replace("DTSTART:", "DTSTART;VALUE=DATE-TIME:"))
    assert entry.says(made)
    assert not read(text.replace("DTSTART:", "DTSTART;VALUE=PERIOD:")).says(made)


def test_hours_on_the_same_day_are_not_the_day() -> None:
    text = sent().replace(
        "DTSTART;VALUE=DATE:20261204", "DTSTART;TZID=America/Halifax:20261204T090000"
    )
    hours = text.replace("DTEND;VALUE=DATE:20261205", "DTEND;TZID=America/Halifax:20261204T100000")
    entry = read(hours)
    assert entry.revision.content == revision().content
    assert entry.edited
    assert not entry.says(revision())


@pytest.mark.parametrize("text", ["2147483647", "99999999999", "x", "-4", "1.5"])
def test_a_sequence_that_no_counting_comes_to_is_written_over(text: str) -> None:
    absurd = read(sent().replace("SEQUENCE:3", f"SEQUENCE:{text}"))
    assert (absurd.stored, absurd.revision.sequence) == (-1, 3)
    assert not absurd.says(revision())


def test_without_a_sequence_it_is_the_first() -> None:
    # RFC 5545, 3.8.7.4: the default is 0.
    assert read(sent().replace("SEQUENCE:3\r\n", "")).stored == 0


def test_what_is_no_event_of_anybody_is_none() -> None:
    assert (
        read_entry("BEGIN:VCALENDAR\nBEGIN:VTODO\nUID:a\nEND:VTODO\nEND:VCALENDAR", OWNER) is None
    )
    assert read_entry("BEGIN:VCALENDAR\nBEGIN:VEVENT\nEND:VEVENT\nEND:VCALENDAR", OWNER) is None
    assert read_entry("", OWNER) is None


def test_a_bare_event_is_read_with_what_it_lacks() -> None:
    entry = read("BEGIN:VEVENT\nUID:a\nEND:VEVENT")
    assert entry.revision.changed_at == datetime(1970, 1, 1, tzinfo=UTC)
    assert entry.edited
    assert entry.jobs == frozenset()
    assert [fault.code for fault in faults(document(least_head("j"), [entry.revision]))] == [
        "calendar-uid-form"
    ]


def test_exceptions_to_a_repetition_are_not_the_event() -> None:
    body = sent()
    event = body[body.index("BEGIN:VEVENT") : body.index("END:VCALENDAR")]
    other = event.replace("SUMMARY:Walk", "RECURRENCE-ID;VALUE=DATE:20261204\r\nSUMMARY:Run")
    entry = read(body.replace(event, other + event))
    assert title_of(entry.revision) == "Walk; now, please"
    assert entry.twisted


def test_the_digest_rests_on_what_is_said_alone() -> None:
    one, later = revision(), stamped(drafts(FEED)[0], Stamp(9, at(9)))
    assert digest_of(one) == digest_of(later)


@given(st.data())
def test_no_damage_breaks_the_reader(data: st.DataObject) -> None:
    text = sent()
    start = data.draw(st.integers(0, len(text)))
    put = data.draw(st.text(max_size=8))
    cut = data.draw(st.integers(0, 60))
    entry = read_entry(text[:start] + put + text[start + cut :], OWNER)
    if entry is None:
        return
    octets_of("alder;7", revision(), entry)
    found = {fault.code for fault in faults(document(head(FEED), [entry.revision]))}
    # The UID alone stays as it was read; an event with another than we gave it is not ours.
    assert found <= {"calendar-uid-form"}
