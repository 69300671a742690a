"""What people do in their calendar program between two publishings, against a real server."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime

import httpx
import pytest
from dav_samples import GROUT, LATER, NOW, changes, crew, grout, published, uid, walk
from dav_server import PASSWORD, USER, Server

from curecal.calendars import Audience, Days, Event, EventKey, RevisionChange
from curecal.calendars.ical.loose_reader import loose_lines
from curecal.delivery.caldav.collections_store import Reached
from curecal.delivery.caldav.credentials import Credentials

KNOWN = Credentials(USER, PASSWORD)
THEIR_ALARM = [
    "BEGIN:VALARM",
    "UID:0B4C1A2E-THEIRS",
    "ACTION:DISPLAY",
    "DESCRIPTION:Take the kneepads",
    "TRIGGER:-PT45M",
    "END:VALARM",
]


@pytest.fixture
def place(radicale: Server) -> str:
    """A calendar of the user's own, empty."""
    url = f"{radicale.home}own/"
    made = httpx.request("MKCALENDAR", url, auth=(USER, PASSWORD), trust_env=False)
    assert made.status_code == 201
    return url


def put(place: str, *events: object, now: datetime = NOW) -> Reached:
    return published(place, crew(*events), now=now, known=KNOWN)  # type: ignore[arg-type]


def stored(radicale: Server, key: str) -> list[str]:
    """The lines of one stored event."""
    return loose_lines(radicale.resources("own")[f"{key}.ics"])


def sequence(radicale: Server, key: str) -> int:
    found = [line for line in stored(radicale, key) if line.startswith("SEQUENCE:")]
    assert len(found) == 1
    return int(found[0].partition(":")[2])


def edit(place: str, key: str, change: Callable[[str], str]) -> None:
    """Save an event anew, as the user's calendar program would."""
    url = f"{place}{key}.ics"
    with httpx.Client(auth=(USER, PASSWORD), trust_env=False) as client:
        before = client.get(url)
        after = change("\n".join(loose_lines(before.text)))
        assert after != before.text
        sent = client.put(
            url,
            content=after.replace("\n", "\r\n"),
            headers={"Content-Type": "text/calendar", "If-Match": before.headers["etag"]},
        )
        assert sent.status_code in {201, 204}, sent.text


def with_alarm(text: str) -> str:
    return text.replace("END:VEVENT", "\n".join([*THEIR_ALARM, "END:VEVENT"]))


def test_the_life_of_an_event_is_one_resource(radicale: Server, place: str) -> None:
    key, other = uid(), uid(GROUT)
    assert changes(put(place, walk(), grout())) == {
        key: RevisionChange.NEW,
        other: RevisionChange.NEW,
    }
    moved = put(place, walk(8), grout(), now=LATER)
    assert changes(moved) == {key: RevisionChange.CHANGED, other: RevisionChange.UNCHANGED}
    assert sequence(radicale, key) == moved.events[key].sequence == 1
    gone = put(place, grout(), now=LATER)
    assert changes(gone)[key] is RevisionChange.CANCELLED
    assert "STATUS:CANCELLED" in stored(radicale, key)
    assert "SUMMARY:Canceled: Walk\\; now\\, please" in stored(radicale, key)
    assert "BEGIN:VALARM" not in stored(radicale, key)
    assert changes(put(place, grout(), now=LATER))[key] is RevisionChange.UNCHANGED
    back = put(place, walk(8), grout(), now=LATER)
    assert changes(back)[key] is RevisionChange.RETURNED
    assert sequence(radicale, key) == back.events[key].sequence == 3
    assert "STATUS:CONFIRMED" in stored(radicale, key)
    assert set(radicale.resources("own")) == {f"{key}.ics", f"{other}.ics"}


def test_an_event_edited_with_a_client_library(radicale: Server, place: str) -> None:
    put(place, walk(), grout())
    key = uid(GROUT)
    import caldav  # noqa: PLC0415 - a peer, which a plain set-up lacks

    with caldav.DAVClient(url=place, username=USER, password=PASSWORD) as client:
        event = client.calendar(url=place).get_event_by_uid(key)
        with event.edit_icalendar_instance() as calendar:
            calendar.walk("VEVENT")[0]["SUMMARY"] = "Grout, Sunday"
        event.save()
    assert "SUMMARY:Grout\\, Sunday" in stored(radicale, key)
    theirs = sequence(radicale, key)
    again = put(place, walk(), grout(), now=LATER)
    assert changes(again)[key] is RevisionChange.CHANGED
    assert again.put_back == ["Grout: hall"]
    assert sequence(radicale, key) == again.events[key].sequence > theirs
    assert "SUMMARY:Grout: hall" in stored(radicale, key)
    assert len(radicale.resources("own")) == 2


def test_an_added_alarm_is_left_alone_and_carried_over(radicale: Server, place: str) -> None:
    put(place, walk())
    key = uid()
    edit(
        place,
        key,
        lambda text: with_alarm(text).replace("SEQUENCE:0", "SEQUENCE:4\nCATEGORIES:Floor\nX-A:b"),
    )
    kept = radicale.resources("own")
    same = put(place, walk(), now=LATER)
    assert radicale.resources("own") == kept
    assert changes(same) == {key: RevisionChange.UNCHANGED}
    assert not same.put_back
    assert not same.alarms_kept
    assert same.events[key].sequence == 0
    moved = put(place, walk(9), now=LATER)
    assert sequence(radicale, key) == moved.events[key].sequence == 5
    assert moved.put_back == []
    assert [(each.title, each.alarm_count) for each in moved.alarms_kept] == [
        ("Walk; now, please", 1)
    ]
    lines = stored(radicale, key)
    assert set(THEIR_ALARM) <= set(lines)
    assert "CATEGORIES:Floor" in lines
    assert lines.count("BEGIN:VALARM") == 2
    assert "TRIGGER;VALUE=DATE-TIME:20261208T200000Z" in lines
    assert changes(put(place, walk(9), now=LATER)) == {key: RevisionChange.UNCHANGED}


def test_a_cancelled_event_takes_their_alarm_along_and_says_so(
    radicale: Server, place: str
) -> None:
    put(place, walk(), grout())
    edit(place, uid(), with_alarm)
    gone = put(place, grout(), now=LATER)
    assert [each.alarm_count for each in gone.alarms_gone] == [1]
    assert "BEGIN:VALARM" not in stored(radicale, uid())


@pytest.mark.parametrize(
    "change",
    [
        lambda text: text.replace("DTSTART;VALUE=DATE:20261207", "DTSTART;VALUE=DATE:20261206"),
        lambda text: text.replace("STATUS:CONFIRMED", "STATUS:CANCELLED"),
        lambda text: text.replace("SEQUENCE:0", "SEQUENCE:7").replace("Walk", "Run"),
        lambda text: text.replace("STATUS:", "RRULE:FREQ=DAILY;COUNT=9\nSTATUS:"),
        lambda text: text.replace(
            "DTSTART;VALUE=DATE:20261207", "DTSTART:20261207T080000Z"
        ).replace("DTEND;VALUE=DATE:20261208", "DURATION:PT1H"),
        lambda text: text.replace("SEQUENCE:0\n", ""),
        lambda text: "\n".join(
            line for line in text.split("\n") if not line.startswith("X-CURECAL")
        ).replace("Walk", "Run"),
    ],
    ids=["day", "status", "title", "repeated", "duration", "no-sequence", "no-marks"],
)
def test_an_edit_of_what_is_ours_is_put_back(
    radicale: Server, place: str, change: Callable[[str], str]
) -> None:
    put(place, walk(), grout())
    key = uid()
    ours = stored(radicale, key)
    edit(place, key, change)
    theirs = [line for line in stored(radicale, key) if line.startswith("SEQUENCE:")]
    without = not theirs
    back = put(place, walk(), grout(), now=LATER)
    stamps = ("DTSTAMP", "LAST-MODIFIED", "SEQUENCE", "X-CURECAL-SENT", "X-CURECAL-LEDGER")

    def plain(lines: list[str]) -> list[str]:
        return sorted(line for line in lines if not line.startswith(stamps))

    if without:
        # An event without the property has revision 0 (RFC 5545, 3.8.7.4): ours, and nothing else
        # was changed.
        assert changes(back)[key] is RevisionChange.UNCHANGED
        return
    assert plain(stored(radicale, key)) == plain(ours)
    assert back.put_back == ["Walk; now, please"]
    assert sequence(radicale, key) == back.events[key].sequence
    assert sequence(radicale, key) > int(theirs[0].partition(":")[2])
    assert changes(put(place, walk(), grout(), now=LATER))[key] is RevisionChange.UNCHANGED
    assert len(radicale.resources("own")) == 2


def test_a_lowered_sequence_is_raised_again(radicale: Server, place: str) -> None:
    put(place, walk())
    put(place, walk(8), now=LATER)
    put(place, walk(9), now=LATER)
    assert sequence(radicale, uid()) == 2
    edit(place, uid(), lambda text: text.replace("SEQUENCE:2", "SEQUENCE:0"))
    put(place, walk(10), now=LATER)
    assert sequence(radicale, uid()) == 3


def test_a_deleted_event_comes_back(radicale: Server, place: str) -> None:
    put(place, walk(), grout())
    httpx.delete(f"{place}{uid()}.ics", auth=(USER, PASSWORD), trust_env=False)
    assert changes(put(place, walk(), grout(), now=LATER))[uid()] is RevisionChange.NEW
    assert len(radicale.resources("own")) == 2


def test_an_event_moved_to_another_name_is_updated_there(radicale: Server, place: str) -> None:
    put(place, walk())
    text = radicale.resources("own")[f"{uid()}.ics"]
    with httpx.Client(auth=(USER, PASSWORD), trust_env=False) as client:
        client.delete(f"{place}{uid()}.ics")
        client.put(
            f"{place}renamed.ics", content=text, headers={"Content-Type": "text/calendar"}
        ).raise_for_status()
    moved = put(place, walk(8), now=LATER)
    assert changes(moved) == {uid(): RevisionChange.CHANGED}
    assert set(radicale.resources("own")) == {"renamed.ics"}
    assert "SEQUENCE:1" in radicale.resources("own")["renamed.ics"]


def test_an_event_without_our_marks_is_known_by_the_ledger(radicale: Server, place: str) -> None:
    put(place, walk(), grout())
    edit(
        place,
        uid(),
        lambda text: text.replace("X-CURECAL-EVENT", "X-ANY").replace("X-CURECAL-SENT", "X-OLD"),
    )
    after = put(place, grout(), now=LATER)
    assert changes(after)[uid()] is RevisionChange.CANCELLED
    assert "STATUS:CANCELLED" in stored(radicale, uid())


def test_a_copy_that_somebody_made_is_theirs(radicale: Server, place: str) -> None:
    put(place, walk(), grout())
    text = radicale.resources("own")[f"{uid()}.ics"].replace(uid(), "My-Own-Copy")
    httpx.put(
        f"{place}copy.ics",
        content=text.encode(),
        headers={"Content-Type": "text/calendar"},
        auth=(USER, PASSWORD),
        trust_env=False,
    ).raise_for_status()
    kept = radicale.resources("own")["copy.ics"]
    after = put(place, grout(), now=LATER)
    assert changes(after) == {uid(): RevisionChange.CANCELLED, uid(GROUT): RevisionChange.UNCHANGED}
    assert radicale.resources("own")["copy.ics"] == kept


def test_what_keeps_a_zone_off_stands_whatever_somebody_does_to_it(
    radicale: Server, place: str
) -> None:
    key = EventKey(Audience.CREW, "hall", "", "off")
    days = Days(date(2026, 12, 1), date(2026, 12, 15))
    off = Event(key, "Do not switch on", "Off.", days, keeps_off="hall")
    put(place, off, grout())
    edit(
        place,
        uid(key),
        lambda text: (
            text.replace("STATUS:CONFIRMED", "STATUS:CANCELLED")
            .replace("DTSTART;VALUE=DATE:20261201", "DTSTART:20261201T080000Z")
            .replace("DTEND;VALUE=DATE:20261215", "DTEND:20261201T090000Z")
        ),
    )
    after = put(place, grout(), now=LATER)
    assert after.put_back == ["Do not switch on"]
    lines = stored(radicale, uid(key))
    assert "STATUS:CONFIRMED" in lines
    assert "X-CURECAL-KEEPS-OFF:hall" in lines
    ends = [line for line in lines if line.startswith("DTEND;VALUE=DATE:")]
    # Two weeks ahead of the day of publishing, 3 December.
    assert ends >= ["DTEND;VALUE=DATE:20261217"]


def test_what_was_edited_and_then_dropped_is_cancelled_as_it_was(
    radicale: Server, place: str
) -> None:
    put(place, walk(), grout())
    edit(
        place,
        uid(GROUT),
        lambda text: text.replace(
            "DTSTART:20261209T130000Z", "DTSTART;TZID=America/Halifax:20261210T090000"
        ).replace("DTEND:20261209T150000Z", "DTEND;TZID=America/Halifax:20261210T110000"),
    )
    gone = put(place, walk(), now=datetime(2026, 12, 4, tzinfo=UTC))
    assert changes(gone)[uid(GROUT)] is RevisionChange.CANCELLED
    lines = stored(radicale, uid(GROUT))
    assert "DTSTART:20261209T130000Z" in lines
    assert "STATUS:CANCELLED" in lines
