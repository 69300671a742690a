"""Four readers see what travels by mail, or is published with its sender, as it was meant."""

from __future__ import annotations

from dataclasses import replace
from email.message import EmailMessage

import pytest
from calendar_samples import RULES
from drawn import TEXTS
from hypothesis import given
from known import differences
from reading import Reader, Reading, Seen, meant
from revised import CREW, PLAN, off, published

from curecal.calendars import CalendarMethod, Party, Revision, Sending, document, head, least_head
from curecal.calendars.ical.mail_message import message
from curecal.words.sentences import words_for

ORGANIZER = Party("office@example.org", "Sample & Sons; floors, tiles: 100 %")
READERS = (
    Party("robin@example.org"),
    Party("robin@example.org", "Robin Sample"),
    Party("r.s+site@example.org", 'Robin "Rob" Sample, the elder; floor: 2'),
    Party("robin@example.org", "Зоя e\u0301\u0323 👩‍👩‍👧‍👦 " + "long " * 20),
)


def sent(seen: Seen) -> Seen:
    return replace(seen, organizer=f"mailto:{ORGANIZER.address}")


def mailed(reader: Reader, revision: Revision, who: Party) -> Reading:
    """What a reader sees of the calendar in a message, after it has been octets."""
    words = words_for(PLAN.job, RULES)
    made = message(revision, job_id=CREW.job_id, organizer=ORGANIZER, reader=who, words=words)
    assert isinstance(made, EmailMessage)
    (part,) = [each for each in made.walk() if each.get_content_type() == "text/calendar"]
    data = part.get_payload(decode=True)
    assert isinstance(data, bytes)
    found = reader.read(data)
    assert part.get_param("method") == found.method or found.errors
    return found


@pytest.mark.parametrize("name", ["", "Sample", ORGANIZER.name])
def test_a_published_file_is_seen_as_meant(reader: Reader, name: str) -> None:
    sending = Sending(CalendarMethod.PUBLISH, replace(ORGANIZER, name=name))
    data = document(head(CREW), published(CREW, None, 0).revisions, sending=sending)
    found = reader.read(data)
    assert differences(reader.name, tuple(map(sent, meant(CREW))), found) == []
    assert found.method == "PUBLISH"


@pytest.mark.parametrize("who", READERS, ids=["address", "name", "quotes", "signs"])
def test_an_invitation_to_each_event_is_seen_as_meant(reader: Reader, who: Party) -> None:
    wanted = {seen.uid: sent(seen) for seen in meant(CREW)}
    for revision in published(CREW, None, 0).revisions:
        found = mailed(reader, revision, who)
        assert differences(reader.name, (wanted[revision.uid],), found) == []
        assert found.method == "REQUEST"


@pytest.mark.parametrize("who", READERS, ids=["address", "name", "quotes", "signs"])
def test_a_cancellation_of_each_event_is_seen_as_meant(reader: Reader, who: Party) -> None:
    wanted = {seen.uid: sent(off(seen, CREW)) for seen in meant(CREW)}
    kept = replace(CREW, events=CREW.events[:1])
    told = published(kept, published(CREW, None, 0), 1).told
    assert len(told) == len(CREW.events) - 1
    for revision in told:
        found = mailed(reader, revision, who)
        assert differences(reader.name, (wanted[revision.uid],), found) == []
        assert found.method == "CANCEL"


# libical 3.0.16 takes the quote behind a backslash for a part of the name, and the address with it.
NAMES = TEXTS.filter(lambda name: not name.endswith("\\"))


@given(NAMES, NAMES)
def test_a_name_stays_a_name_whatever_stands_in_it(reader: Reader, sends: str, gets: str) -> None:
    sending = Sending(
        CalendarMethod.REQUEST, replace(ORGANIZER, name=sends), Party("robin@example.org", gets)
    )
    revision = published(CREW, None, 0).revisions[0]
    found = reader.read(document(least_head(CREW.job_id), [revision], sending=sending))
    wanted = next(sent(seen) for seen in meant(CREW) if seen.uid == revision.uid)
    assert differences(reader.name, (wanted,), found) == []
