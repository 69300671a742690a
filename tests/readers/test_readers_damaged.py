"""What each reader notices of a damaged file: a check that cannot fail would prove nothing."""

from __future__ import annotations

from dataclasses import replace

import pytest
from calendar_samples import EVENT, FEED, KEY, at, stamped
from known import NAMES, differences
from reading import Reader, meant

from curecal.calendars import Alarm, Timed, faults

TIMED = replace(
    EVENT,
    key=replace(KEY, purpose="seal"),
    when=Timed(at(4), at(5)),
    alarms=(Alarm(at(3), "eve"), Alarm(at(2), "two days before")),
    description="Grout the hall bath, and seal it. " * 6 + "Done.",
)
TWO = replace(FEED, events=(EVENT, TIMED))
GOOD = stamped(TWO)
UID = f"UID:{TWO.uid(TIMED.key)}\r\n"
START = "DTSTART:20261204T120000Z\r\n"

ALL = " ".join(NAMES)
# Name, what is taken out, what is put in, and who notices: seen with ical.js 2.2.1, libical 3.0.16,
# ics 0.7.3 and vobject 0.9.9. A newer version may notice more.
DAMAGES = (
    ("relative trigger", "TRIGGER;VALUE=DATE-TIME:20261203T120000Z", "TRIGGER:-PT24H", ALL),
    ("duration called an instant", "DATE-TIME:20261203T120000Z", "DATE-TIME:-PT24H", ALL),
    ("instant called nothing", "TRIGGER;VALUE=DATE-TIME:", "TRIGGER:", "icaljs libical ics"),
    ("no trigger", "TRIGGER;VALUE=DATE-TIME:20261203T120000Z\r\n", "", ALL),
    ("another trigger", "DATE-TIME:20261203T12", "DATE-TIME:20261203T11", ALL),
    ("no action", "ACTION:DISPLAY\r\n", "", "ics"),
    ("no UID", UID, "", ALL),
    ("two UIDs", UID, UID + UID, "libical ics vobject"),
    ("no start", START, "", ALL),
    ("two starts", START, START + START, "libical ics vobject"),
    ("no zone", START, "DTSTART:20261204T120000\r\n", "icaljs libical vobject"),
    ("an offset", START, "DTSTART:20261204T120000+0200\r\n", ALL),
    ("month 13", "DTEND:20261205", "DTEND:20261305", ALL),
    ("a day called nothing", "DTSTART;VALUE=DATE:", "DTSTART:", "icaljs"),
    ("an instant to a day", "DTEND:20261205T120000Z", "DTEND;VALUE=DATE:20261205", ALL),
    ("an hour later", "DTEND:20261205T12", "DTEND:20261205T13", ALL),
    ("end and duration", START, START + "DURATION:PT24H\r\n", "libical ics vobject"),
    ("two summaries", "SUMMARY:Walk", "SUMMARY:Run\r\nSUMMARY:Walk", ALL),
    ("unknown status", "STATUS:CONFIRMED", "STATUS:PERHAPS", ALL),
    ("a word for SEQUENCE", "SEQUENCE:0", "SEQUENCE:two", "ics vobject"),
    ("another SEQUENCE", "SEQUENCE:0", "SEQUENCE:1", ALL),
    ("no stamp", "DTSTAMP:20261202T200000Z\r\n", "", "vobject"),
    ("no version", "VERSION:2.0\r\n", "", "libical ics"),
    ("no program", "PRODID:-//curecal//calendars 1//EN\r\n", "", "libical ics vobject"),
    ("a cut line", "Grout the hall", "Grout\r\nthe hall", ALL),
    ("a lost fold", "\r\n ", "\r\n", ALL),
    ("an event without end", "END:VEVENT\r\n", "", ALL),
    ("a calendar without end", "END:VCALENDAR\r\n", "", "icaljs libical vobject"),
)


def damaged(old: str, new: str) -> bytes:
    assert old.encode() in GOOD
    return GOOD.replace(old.encode(), new.encode(), 1)


def notices(reader: Reader, data: bytes) -> bool:
    return differences(reader.name, meant(TWO), reader.read(data)) != []


def test_the_file_itself_is_good(reader: Reader) -> None:
    assert not notices(reader, GOOD)


@pytest.mark.parametrize(
    ("old", "new", "who"), [damage[1:] for damage in DAMAGES], ids=[each[0] for each in DAMAGES]
)
def test_a_reader_notices_a_damage(reader: Reader, old: str, new: str, who: str) -> None:
    assert notices(reader, damaged(old, new)) or reader.name not in who.split()


@pytest.mark.parametrize("name", NAMES)
def test_a_reader_notices_most_damages(name: str) -> None:
    assert sum(name in damage[3].split() for damage in DAMAGES) >= len(DAMAGES) * 2 // 3


def test_a_file_cut_anywhere_is_noticed(reader: Reader) -> None:
    """Down to the words of the last alarm: ics asks for no END, and they are not compared."""
    last = GOOD.rindex(b"DESCRIPTION:")
    for length in range(0, last, 7):
        assert notices(reader, GOOD[:length]), GOOD[:length][-40:]


def test_octets_that_are_no_text_are_noticed(reader: Reader) -> None:
    assert notices(reader, GOOD.replace(b"Grout", b"Gr\xc3ut", 1))


@pytest.mark.parametrize("damage", DAMAGES, ids=lambda damage: damage[0])
def test_our_own_check_notices_what_a_reader_complains_of(damage: tuple[str, ...]) -> None:
    """But for values that are well formed and only say something else."""
    _, old, new, _ = damage
    otherwise = ("another trigger", "another SEQUENCE", "an hour later")
    assert (faults(damaged(old, new)) != ()) is (damage[0] not in otherwise)
