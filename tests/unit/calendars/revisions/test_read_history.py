"""A calendar file as a history: saved anew by other programs, cut, damaged, made up."""

from __future__ import annotations

import random
import warnings
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import cache

import icalendar
import pytest
from calendar_samples import AS_OF, RULES, plan

from curecal.calendars import (
    Audience,
    Change,
    Feed,
    History,
    Revision,
    Stamp,
    document,
    drafts,
    faults,
    feeds,
    first_of,
    goes,
    head,
    job_of,
    read_history,
    revise,
    salvage,
    stamped,
)
from curecal.calendars.ical.ical_writer import own
from curecal.calendars.revision import GREATEST_SEQUENCE
from curecal.calendars.revisions.read_history import loose_lines

Save = Callable[[bytes], bytes]
MADE = plan()
FEEDS = feeds(MADE, rules=RULES)
CREW = FEEDS[0]
GOES = goes(MADE, rules=RULES)
JOB_ID = CREW.job_id
SECOND = timedelta(seconds=1)


@cache
def numbered(feed: Feed, first: int = 3) -> tuple[Revision, ...]:
    """A feed's events, each at a revision of its own."""
    return tuple(
        stamped(draft, Stamp(first + count, AS_OF + count * SECOND))
        for count, draft in enumerate(drafts(feed))
    )


def file_of(feed: Feed, first: int = 3) -> bytes:
    return document(head(feed), numbered(feed, first))


def read(data: bytes, feed: Feed = CREW) -> tuple[Revision, ...]:
    found = read_history(data, feed.audience)
    assert found is not None
    return found


def saved_by_vobject(data: bytes) -> bytes:
    vobject = pytest.importorskip("vobject")
    return vobject.readOne(data.decode()).serialize().encode()  # type: ignore[no-any-return]


def saved_by_ics(data: bytes) -> bytes:
    ics = pytest.importorskip("ics")
    with warnings.catch_warnings():
        # It announces a change of its own that does not touch us.
        warnings.simplefilter("ignore")
        return ics.Calendar(data.decode()).serialize().encode()  # type: ignore[no-any-return]


def unfolded(data: bytes) -> bytes:
    return "\n".join(loose_lines(data.decode())).encode()


def respelled(data: bytes) -> bytes:
    text = unfolded(data).decode().replace("\\n", "\\N")
    return (
        text.replace(";VALUE=DATE:", ';value="DATE":').replace("\nSUMMARY:", "\nsummary:").encode()
    )


def with_its_own(data: bytes) -> bytes:
    mine = b"X-OTHER-PROGRAM:seen\r\nCREATED:20200101T000000Z\r\n"
    return data.replace(b"\r\nDTSTAMP", b"\r\n" + mine + b"DTSTAMP").replace(
        b"BEGIN:VEVENT", b"X-WR-OTHER:1\r\nBEGIN:VEVENT", 1
    )


SAVED: dict[str, Save] = {
    "as it was": lambda data: data,
    "icalendar": lambda data: icalendar.Calendar.from_ical(data).to_ical(),
    "icalendar, unsorted": lambda data: icalendar.Calendar.from_ical(data).to_ical(sorted=False),
    "vobject": saved_by_vobject,
    "ics": saved_by_ics,
    "LF": lambda data: data.replace(b"\r\n", b"\n"),
    "CR": lambda data: data.replace(b"\r\n", b"\r"),
    "tabs": lambda data: data.replace(b"\r\n ", b"\r\n\t"),
    "unfolded": unfolded,
    "byte-order mark": lambda data: b"\xef\xbb\xbf" + data,
    "empty lines": lambda data: (
        data.replace(b"END:VEVENT\r\n", b"END:VEVENT\r\n\r\n") + b"\r\n\r\n"
    ),
    "its own properties": with_its_own,
    "its own spelling": respelled,
}


@pytest.mark.parametrize("name", SAVED)
@pytest.mark.parametrize("feed", FEEDS, ids=lambda feed: feed.audience.value)
def test_a_file_saved_anew_by_another_program_is_the_same_history(name: str, feed: Feed) -> None:
    data = SAVED[name](file_of(feed))
    assert job_of(data) == JOB_ID
    found = read(data, feed)
    wanted = {each.uid: each for each in numbered(feed)}
    assert {each.uid: (each.sequence, each.changed_at) for each in found} == {
        uid: (each.sequence, each.changed_at) for uid, each in wanted.items()
    }
    history = History("1", {each.uid: each for each in found})
    again = revise(drafts(feed), history, AS_OF + timedelta(days=1), goes=GOES)
    assert set(again.changes.values()) == {Change.UNCHANGED}
    # What goes out is in our form again, at the revision that it had.
    written = document(head(feed), again.revisions)
    assert faults(written) == ()
    assert {each.uid: each.content for each in read(written, feed)} == {
        uid: each.content for uid, each in wanted.items()
    }


def test_our_own_lines_are_kept_as_they_are() -> None:
    found = read(file_of(CREW))
    assert found == numbered(CREW)
    assert [own(each) for each in found] == list(found)


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"mine",
        b"\xff\xfe",
        b"BEGIN:VCALENDAR\r\nEND:VCALENDAR\r\n",
        file_of(CREW).replace(b"X-CURECAL-JOB", b"X-OTHER-JOB"),
        file_of(CREW)[file_of(CREW).index(b"BEGIN:VEVENT") :],
        # An event copied into somebody's own calendar does not make that ours.
        b"BEGIN:VCALENDAR\r\nBEGIN:VEVENT\r\nX-CURECAL-JOB:alder\r\nEND:VEVENT\r\n",
    ],
)
def test_what_names_no_job_is_not_ours(data: bytes) -> None:
    assert job_of(data) is None


def test_the_first_number_after_a_loss_is_read_back() -> None:
    lines = (*head(CREW), "X-CURECAL-FIRST:1000")
    assert first_of(document(lines, numbered(CREW))) == 1000
    assert first_of(file_of(CREW)) == 0
    for broken in ("-1", "x", "", "9" * 9, "9" * 40):
        assert first_of(document((*head(CREW), f"X-CURECAL-FIRST:{broken}"), ())) in {
            0,
            GREATEST_SEQUENCE // 2,
            999_999_999,
        }


BROKEN: dict[str, tuple[bytes, bytes]] = {
    "no identity": (b"\r\nUID:", b"\r\nX-UID:"),
    "a negative number": (b"SEQUENCE:3\r", b"SEQUENCE:-3\r"),
    "a number with a sign": (b"SEQUENCE:3\r", b"SEQUENCE:+3\r"),
    "a broken number": (b"SEQUENCE:3\r", b"SEQUENCE:3.0\r"),
    "a number past 32 bits": (b"SEQUENCE:3\r", b"SEQUENCE:2147483648\r"),
    "an endless number": (b"SEQUENCE:3\r", b"SEQUENCE:" + b"9" * 5000 + b"\r"),
    "other digits": (b"SEQUENCE:3\r", "SEQUENCE:٣\r".encode()),
    "no number": (b"SEQUENCE:3\r\n", b""),
    "no stamp": (b"DTSTAMP:20261202T200000Z\r\n", b""),
    "a stamp of year 9999": (b"DTSTAMP:20261202T200000Z", b"DTSTAMP:99991231T235959Z"),
    "a stamp of no day": (b"DTSTAMP:20261202T200000Z", b"DTSTAMP:20261302T200000Z"),
    "a local stamp": (b"DTSTAMP:20261202T200000Z", b"DTSTAMP:20261202T200000"),
    "a day that is none": (b"DTSTART;VALUE=DATE:2026", b"DTSTART;VALUE=DATE:2099"),
    "no beginning": (b"END:VEVENT\r\nBEGIN:VEVENT", b"END:VEVENT"),
    "no end": (b"END:VEVENT\r\nBEGIN:VEVENT", b"BEGIN:VEVENT"),
    "a control character": (b"SUMMARY:", b"SUMMARY:\x00"),
    "no octets of ours": (b"SUMMARY:", b"SUMMARY:\xff\xfe"),
    "an open alarm": (b"END:VALARM\r\n", b""),
    "no last line": (b"END:VCALENDAR\r\n", b""),
    "two calendars": (b"BEGIN:VCALENDAR", b"BEGIN:VCALENDAR\r\nEND:VCALENDAR\r\nBEGIN:VCALENDAR"),
}


@pytest.mark.parametrize("name", BROKEN)
def test_a_damaged_file_is_no_history_and_what_is_whole_is_saved(name: str) -> None:
    old, new = BROKEN[name]
    feed = FEEDS[2] if name == "a day that is none" else CREW
    data = file_of(feed)
    assert old in data
    broken = data.replace(old, new, 1)
    if name != "two calendars":
        assert read_history(broken, feed.audience) is None
    saved = salvage(broken, feed.audience)
    count = len(numbered(feed))
    assert len(saved.revisions) >= count - 2
    assert count + 2 + 100 <= saved.first <= count + 2 + 200
    wanted = {each.uid: each for each in numbered(feed)}
    for each in saved.revisions:
        # A title that cannot be read any more is shown as such; all else is as it was.
        if "\ufffd" not in each.summary:
            assert each.draft == wanted[each.uid].draft


def test_the_same_event_twice_is_damage() -> None:
    twice = document(head(CREW), (*numbered(CREW), numbered(CREW, 7)[0]))
    assert read_history(twice, Audience.CREW) is None
    assert len(salvage(twice, Audience.CREW).revisions) == len(numbered(CREW))


def test_cut_at_any_octet_it_goes_on_above_all_that_is_left() -> None:
    small = replace(CREW, events=tuple(replace(each, description="") for each in CREW.events[:3]))
    data = file_of(small, 40)
    numbers = [each.sequence for each in numbered(small, 40)]
    seen = set()
    for end in range(len(data) - 2):
        cut = data[:end]
        # The line end after the last line is all that may be missing.
        assert (read_history(cut, Audience.CREW) is None) is (end < len(data) - 2), end
        saved = salvage(cut, Audience.CREW)
        whole = [number for number in numbers if f"SEQUENCE:{number}\r".encode() in cut]
        assert saved.first > max((*whole, 0)), end
        assert saved.first >= (140 if whole else 100)
        if b"SEQUENCE:" not in cut:
            assert saved.first == 1000
        assert all(each.sequence in whole for each in saved.revisions)
        assert len(saved.revisions) <= cut.count(b"END:VEVENT")
        seen.add(len(saved.revisions))
    assert seen == set(range(len(numbers) + 1))


def test_any_bit_that_flips_is_damage_or_no_matter() -> None:
    """Never an exception; and what is read as whole can be published again."""
    data = file_of(FEEDS[2], 40)
    chosen = random.Random(7)  # noqa: S311 - which octets are broken is no secret
    for place in chosen.sample(range(len(data)), 150):
        broken = bytearray(data)
        broken[place] ^= 1 << chosen.randrange(8)
        found = read_history(bytes(broken), Audience.OWNER)
        if found is None:
            saved = salvage(bytes(broken), Audience.OWNER)
            assert saved.first >= 140 - 10
            found = saved.revisions
        assert faults(document(head(FEEDS[2]), map(own, found))) == () or not found


@pytest.mark.parametrize("encoding", ["utf-16", "utf-32", "latin-1", "cp037", "utf-7"])
def test_a_wrong_encoding_is_never_taken_for_a_history(encoding: str) -> None:
    text = file_of(CREW).decode().replace("−", "-").replace("Ω", "Ohm")
    text = text.encode("latin-1", "replace").decode("latin-1").replace("?", "é")
    data = text.encode(encoding)
    if encoding in {"latin-1", "utf-7"} and read_history(data, Audience.CREW) is not None:
        assert data.isascii()
    saved = salvage(data, Audience.CREW)
    assert saved.first > max(each.sequence for each in (*saved.revisions, numbered(CREW)[0]))


def test_numbers_that_nothing_counts_up_to_are_part_of_the_damage() -> None:
    data = file_of(CREW)[:-20].replace(b"SEQUENCE:4\r", b"SEQUENCE:2147483647\r")
    saved = salvage(data, Audience.CREW)
    assert saved.first == len(numbered(CREW)) + 2 + 100
    only = b"BEGIN:VCALENDAR\r\nSEQUENCE:2000000000\r\nSEQUENCE:99999999999999\r\n"
    assert salvage(only, Audience.CREW).first == 1000


def test_the_latest_stamp_that_can_be_true_is_kept() -> None:
    data = file_of(CREW)[:-20]
    newest = AS_OF + (len(numbered(CREW)) - 1) * SECOND
    assert salvage(data, Audience.CREW).newest_at == newest
    far = data.replace(b"DTSTAMP:20261202T200000Z", b"DTSTAMP:99991231T235959Z")
    assert salvage(far, Audience.CREW).newest_at == newest
    near = data.replace(b"DTSTAMP:20261202T200000Z", b"DTSTAMP:20991231T235959Z")
    assert salvage(near, Audience.CREW).newest_at == datetime(2099, 12, 31, 23, 59, 59, tzinfo=UTC)
    assert salvage(b"", Audience.CREW).newest_at is None


def test_an_alarm_that_another_program_puts_first_hides_nothing() -> None:
    last = next(each for each in numbered(CREW) if "BEGIN:VALARM" in each.lines)
    begin = last.lines.index("BEGIN:VALARM")
    lines = (last.lines[0], *last.lines[begin:-1], *last.lines[1:begin], last.lines[-1])
    moved = replace(last, lines=lines)
    assert moved.value("UID") == last.uid
    assert moved.summary == last.summary
    assert moved.draft == last.draft
    assert own(moved) == last
