"""Messages: one event each, in the form that mail programs take for an invitation.

Checked against RFC 5546, 3.2 and RFC 6047, 2.4 (from memory), with Python's own mail parser.
"""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, datetime
from email import message_from_bytes
from email.message import EmailMessage
from email.policy import default

import pytest
from calendar_samples import JOB, RULES, plan

from curecal.calendars import CalendarMethod, History, Party, Revision, Sending, faults, feeds
from curecal.calendars import drafts as drafts_of
from curecal.calendars.build_calendars import goes
from curecal.calendars.content_lines import unfold
from curecal.calendars.ical.mail_message import file_name, file_stem, message, party
from curecal.calendars.revisions.revise import revise
from curecal.errors import CurecalError, SourceError, ValueRefused
from curecal.words.sentences import words_for

ROBIN = Party("robin@tilecrew.example", "Robin Mistral")
IDA = Party("ida@home.example", 'Ida "Fen" Fennell, Søn')
NOW = datetime(2026, 12, 2, 20, tzinfo=UTC)
WORDS = words_for(JOB, RULES)


def revisions(*, gone: bool = False) -> tuple[Revision, ...]:
    """The owner's revisions; with `gone`, those of a job that lost its owner's other entries."""
    made = plan()
    owner = feeds(made, rules=RULES)[2]
    how = goes(made, rules=RULES, withdrawn=("hall",))
    first = revise(drafts_of(owner), History("a"), NOW, goes=how)
    if not gone:
        return first.revisions
    history = History("b", {each.uid: each for each in first.revisions})
    return revise((), history, NOW, goes=how).revisions


def sent(revision: Revision, *, reader: Party = IDA) -> EmailMessage:
    made = message(revision, job_id=JOB.id, organizer=ROBIN, reader=reader, words=WORDS)
    back = message_from_bytes(made.as_bytes(), policy=default)
    assert isinstance(back, EmailMessage)
    return back


def calendar(back: EmailMessage) -> tuple[bytes, EmailMessage]:
    (part,) = [each for each in back.walk() if each.get_content_type() == "text/calendar"]
    data = part.get_payload(decode=True)
    assert isinstance(data, bytes)
    return data, part  # type: ignore[return-value]


def test_a_request_is_one_event_from_the_sender_to_one_reader() -> None:
    first = revisions()[0]
    back = sent(first)
    data, part = calendar(back)
    assert faults(data) == ()
    lines = unfold(data)
    assert lines.count("BEGIN:VEVENT") == 1
    assert "METHOD:REQUEST" in lines
    assert 'ORGANIZER;CN="Robin Mistral":mailto:robin@tilecrew.example' in lines
    (attendee,) = [line for line in lines if line.startswith("ATTENDEE")]
    assert attendee.endswith("CN=\"Ida 'Fen' Fennell, Søn\":mailto:ida@home.example")
    assert "RSVP=FALSE" in attendee
    assert f"UID:{first.uid}" in lines
    assert f"SEQUENCE:{first.sequence}" in lines
    assert part.get_param("method") == "REQUEST"
    assert part.get_param("charset") == "UTF-8"
    assert part["Content-Transfer-Encoding"] == "base64"
    assert part.get_content_disposition() == "inline"
    assert back.get_content_type() == "multipart/alternative"
    assert [each.get_content_type() for each in back.iter_parts()] == [
        "text/plain",
        "text/calendar",
    ]


def test_the_text_says_what_the_entry_says_and_where_to_answer() -> None:
    first = revisions()[0]
    back = sent(first)
    body = back.get_body(("plain",))
    assert body is not None
    text = body.get_content()
    assert text.startswith(first.summary)
    assert "Questions go to: Robin Mistral." in text
    assert back["Subject"] == first.summary
    assert back["To"].addresses[0].display_name == IDA.name
    assert back["Auto-Submitted"] == "auto-generated"


def test_a_cancellation_has_no_alarm_and_the_next_sequence() -> None:
    for revision in revisions(gone=True):
        data, part = calendar(sent(revision))
        lines = unfold(data)
        assert faults(data) == ()
        assert part.get_param("method") == "CANCEL"
        assert "STATUS:CANCELLED" in lines
        assert "SEQUENCE:1" in lines
        assert "BEGIN:VALARM" not in lines
        assert sum(line.startswith("ATTENDEE") for line in lines) == 1


def test_nobody_invites_themselves() -> None:
    shouting = Party("ROBIN@tilecrew.example", "Robin")
    data, part = calendar(sent(revisions()[0], reader=shouting))
    lines = unfold(data)
    assert faults(data) == ()
    assert part.get_param("method") == "PUBLISH"
    assert not [line for line in lines if line.startswith("ATTENDEE")]


def test_a_message_is_the_same_octets_each_time_and_another_for_each_revision() -> None:
    first = revisions()[0]
    once = message(first, job_id=JOB.id, organizer=ROBIN, reader=IDA, words=WORDS)
    again = message(first, job_id=JOB.id, organizer=ROBIN, reader=IDA, words=WORDS)
    assert once.as_bytes() == again.as_bytes()
    others = {
        message(each, job_id=JOB.id, organizer=ROBIN, reader=who, words=WORDS)["Message-ID"]
        for each in (first, replace(first, sequence=1))
        for who in (IDA, Party("bo@home.example"))
    }
    assert len(others | {once["Message-ID"]}) == 4
    names = {
        file_name(each, who)
        for each in (first, replace(first, sequence=1))
        for who in (IDA, Party("bo@home.example"))
    }
    assert len(names) == 4
    assert all(re.fullmatch(r"[a-z]+-[a-z0-9-]+-[0-9a-f]{8}-[01]\.eml", name) for name in names)
    assert "ida" not in file_name(first, IDA).lower()


@pytest.mark.parametrize(
    ("text", "stem"),
    [
        ("Alder Lane, hall bath: do not switch on", "alder-lane-hall-bath-do-not-switch-on"),
        ("../../etc/passwd", "etc-passwd"),
        ("Zoë Spark", "zoe-spark"),
        ("浴室", ""),
        ("x" * 60, "x" * 48),
    ],
)
def test_a_file_name_is_made_of_plain_letters(text: str, stem: str) -> None:
    assert file_stem(text) == stem


@pytest.mark.parametrize(
    "address",
    [
        "",
        "ida",
        "@home.example",
        "ida@",
        "ida@home.example\nBcc: all@x.example",
        "ída@home.example",
        "a b@x.example",
        "ida@home.example, bo@home.example",
        "<ida@home.example>",
        "x" * 260 + "@a.b",
    ],
)
def test_what_is_no_address_is_refused(address: str) -> None:
    with pytest.raises((SourceError, ValueRefused)) as caught:
        party(address)
    assert caught.value.code in {"mail-address", "control-character"}


def test_a_name_cannot_make_a_header_of_its_own() -> None:
    made = party("ida@home.example", "Ida\nBcc: all@x.example")
    assert made.name == "Ida Bcc: all@x.example"
    back = sent(revisions()[0], reader=made)
    assert back["Bcc"] is None
    with pytest.raises(ValueRefused):
        Party("ida@home.example", "Ida\nBcc: all@x.example")


@pytest.mark.parametrize(
    ("method", "attendee"),
    [
        (CalendarMethod.PUBLISH, IDA),
        (CalendarMethod.REQUEST, None),
        (CalendarMethod.CANCEL, None),
        (CalendarMethod.REQUEST, ROBIN),
    ],
)
def test_parties_fit_the_method(method: CalendarMethod, attendee: Party | None) -> None:
    with pytest.raises(CurecalError, match="calendar-parties"):
        Sending(method, ROBIN, attendee)
