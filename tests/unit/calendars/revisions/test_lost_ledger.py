"""Going on after a loss: what outputs still tell, saved anew by other programs, cut or damaged.

Source: RFC 5546, 2.1.4: receivers go by SEQUENCE. The hundred and the thousand are ours.
"""

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
    Feed,
    History,
    Revision,
    RevisionChange,
    Stamp,
    document,
    drafts,
    faults,
    feeds,
    goes,
    head,
    revise,
    stamped,
)
from curecal.calendars.ical.loose_reader import blocks, loose_lines
from curecal.calendars.revision import GREATEST_SEQUENCE
from curecal.calendars.revisions.lost_ledger import Salvaged, after_loss, first_after, salvage
from curecal.calendars.revisions.outputs import digest_of

Save = Callable[[bytes], bytes]
MADE = plan()
FEEDS = feeds(MADE, rules=RULES)
CREW = FEEDS[0]
GOES = goes(MADE, rules=RULES)
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


def lines_of(data: bytes) -> list[str]:
    return loose_lines(data.decode(errors="replace"))


def saved(data: bytes, feed: Feed = CREW) -> Salvaged:
    return salvage(lines_of(data), feed.audience)


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
def test_a_file_saved_anew_by_another_program_says_the_same(name: str, feed: Feed) -> None:
    data = SAVED[name](file_of(feed))
    wanted = {one.uid: one for one in numbered(feed)}
    events = blocks(lines_of(data), "VEVENT")
    assert digest_of(events) == digest_of(one.lines for one in wanted.values())
    found = saved(data, feed)
    assert {one.uid: (one.sequence, one.changed_at) for one in found.revisions} == {
        uid: (one.sequence, one.changed_at) for uid, one in wanted.items()
    }
    assert {one.uid: one.content for one in found.revisions} == {
        uid: one.content for uid, one in wanted.items()
    }
    # It can be gone on from, and what goes out is in our form.
    history = after_loss(History(""), [found])
    again = revise(drafts(feed), history, AS_OF + timedelta(days=1), goes=GOES)
    assert {one.sequence for one in again.revisions} == {max(found.sequences) + 100}
    assert faults(document(head(feed), again.revisions)) == ()


@pytest.mark.parametrize(
    ("known", "first"),
    [([], 1000), ([0], 100), ([3, 250, 9], 350), ([GREATEST_SEQUENCE], 1000)],
)
def test_counting_goes_on_past_a_loss(known: list[int], first: int) -> None:
    assert first_after(known) == first


def test_of_ledger_and_outputs_the_later_revision_counts() -> None:
    low, high = numbered(CREW, 3), numbered(CREW, 40)
    history = History("7", {one.uid: one for one in (low[0], high[1])}, 7, ledger_id="f00d")
    left = Salvaged((high[0], low[1]), (40, 4), AS_OF + timedelta(days=9))
    found = after_loss(history, [left])
    assert dict(found.revisions) == {high[0].uid: high[0], high[1].uid: high[1]}
    assert found.first == 141
    assert found.suspect == set(found.revisions)
    assert found.newest_at == AS_OF + timedelta(days=9)
    assert (found.generation, found.ledger_id) == ("7", "f00d")
    made = revise(drafts(CREW), found, AS_OF, goes=GOES)
    assert {one.sequence for one in made.revisions} == {141}
    assert min(one.changed_at for one in made.revisions) > AS_OF + timedelta(days=9)
    assert RevisionChange.UNCHANGED not in made.changes.values()


def test_after_two_losses_it_never_starts_below_the_first() -> None:
    assert after_loss(History("", first=1200), [Salvaged((), (5,))]).first == 1200


BROKEN: dict[str, tuple[bytes, bytes]] = {
    "no identity": (b"\r\nUID:", b"\r\nX-UID:"),
    "a negative number": (b"SEQUENCE:3\r", b"SEQUENCE:-3\r"),
    "a number past 32 bits": (b"SEQUENCE:3\r", b"SEQUENCE:2147483648\r"),
    "an endless number": (b"SEQUENCE:3\r", b"SEQUENCE:" + b"9" * 5000 + b"\r"),
    "other digits": (b"SEQUENCE:3\r", "SEQUENCE:٣\r".encode()),
    "no stamp": (b"DTSTAMP:20261202T200000Z\r\n", b""),
    "a stamp of year 9999": (b"DTSTAMP:20261202T200000Z", b"DTSTAMP:99991231T235959Z"),
    "a stamp of no day": (b"DTSTAMP:20261202T200000Z", b"DTSTAMP:20261302T200000Z"),
    "no beginning": (b"END:VEVENT\r\nBEGIN:VEVENT", b"END:VEVENT"),
    "no end": (b"END:VEVENT\r\nBEGIN:VEVENT", b"BEGIN:VEVENT"),
    "a control character": (b"SUMMARY:", b"SUMMARY:\x00"),
    "no octets of ours": (b"SUMMARY:", b"SUMMARY:\xff\xfe"),
    "an open alarm": (b"END:VALARM\r\n", b""),
    "no last line": (b"END:VCALENDAR\r\n", b""),
}


@pytest.mark.parametrize("name", BROKEN)
def test_what_is_whole_in_a_damaged_file_is_saved(name: str) -> None:
    old, new = BROKEN[name]
    data = file_of(CREW)
    assert old in data
    found = saved(data.replace(old, new, 1))
    count = len(numbered(CREW))
    assert len(found.revisions) >= count - 2
    first = after_loss(History(""), [found]).first
    assert count + 2 + 100 <= first <= count + 2 + 200
    wanted = {one.uid: one for one in numbered(CREW)}
    for one in found.revisions:
        # A title that cannot be read any more is shown as such; all else is as it was.
        if "\ufffd" not in one.summary:
            assert one.draft == wanted[one.uid].draft


def test_the_same_event_twice_is_saved_once() -> None:
    twice = document(head(CREW), (*numbered(CREW), numbered(CREW, 7)[0]))
    assert len(saved(twice).revisions) == len(numbered(CREW))


def test_cut_at_any_octet_it_goes_on_above_all_that_is_left() -> None:
    small = replace(CREW, events=tuple(replace(one, description="") for one in CREW.events[:3]))
    data = file_of(small, 40)
    numbers = [one.sequence for one in numbered(small, 40)]
    seen = set()
    for end in range(0, len(data) - 2, 3):
        found = saved(data[:end])
        whole = [number for number in numbers if f"SEQUENCE:{number}\r".encode() in data[:end]]
        first = after_loss(History(""), [found]).first
        assert first >= (140 if whole else 100), end
        if b"SEQUENCE:" not in data[:end]:
            assert first == 1000
        assert all(one.sequence in whole for one in found.revisions)
        seen.add(len(found.revisions))
    assert seen == set(range(len(numbers) + 1))


def test_any_bit_that_flips_leaves_something_that_can_be_published() -> None:
    data = file_of(FEEDS[2], 40)
    chosen = random.Random(7)  # noqa: S311 - which octets are broken is no secret
    for place in chosen.sample(range(len(data)), 150):
        broken = bytearray(data)
        broken[place] ^= 1 << chosen.randrange(8)
        found = saved(bytes(broken), FEEDS[2])
        assert faults(document(head(FEEDS[2]), found.revisions)) == () or not found.revisions


def test_the_latest_stamp_that_can_be_true_is_kept() -> None:
    data = file_of(CREW)[:-20]
    newest = AS_OF + (len(numbered(CREW)) - 1) * SECOND
    assert saved(data).newest_at == newest
    far = data.replace(b"DTSTAMP:20261202T200000Z", b"DTSTAMP:99991231T235959Z")
    assert saved(far).newest_at == newest
    near = data.replace(b"DTSTAMP:20261202T200000Z", b"DTSTAMP:20991231T235959Z")
    assert saved(near).newest_at == datetime(2099, 12, 31, 23, 59, 59, tzinfo=UTC)
    assert saved(b"").newest_at is None
