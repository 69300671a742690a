"""What a reader is excused for: it misreads just that, and nothing beside it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from calendar_samples import EVENT, FEED, stamped
from known import differences
from reading import Reader, Reading, meant

from curecal.calendars import Feed

EXCUSED = (
    ("libical", "spaces before the text", " Walk  "),
    ("ics", "a backslash before an n", "see C:\\new"),
    ("ics", "a backslash before an R", "see C:\\Rooms"),
    ("ics", "a fold of nothing but spaces", "Walk" + " " * 200 + "here"),
)


def one(text: str) -> Feed:
    return replace(FEED, events=(replace(EVENT, summary=text),))


def seen(reader: Reader, text: str) -> Reading:
    return reader.read(stamped(one(text)))


@pytest.mark.parametrize(("name", "text"), [(name, text) for name, _, text in EXCUSED])
def test_only_the_reader_that_is_excused_may_misread(reader: Reader, name: str, text: str) -> None:
    found = seen(reader, text)
    assert differences(reader.name, meant(one(text)), found) == []
    assert found.events[0].summary == text or reader.name == name


@pytest.mark.parametrize(("name", "text"), [(name, text) for name, _, text in EXCUSED])
def test_an_excuse_is_no_pass_for_other_fields(name: str, text: str) -> None:
    wanted = meant(one(text))
    moved = Reading((replace(wanted[0], start=date(2026, 12, 3), summary="?"),))
    assert any(" start: " in line for line in differences(name, wanted, moved))
    assert any(" summary: " in line for line in differences("icaljs", wanted, moved))


@pytest.mark.parametrize("text", ["Walk here", "C:\\grout", "C:\\\\", "\\", "\\;", "\\,", "n\\ n"])
def test_nobody_is_excused_for_more(reader: Reader, text: str) -> None:
    assert seen(reader, text).events[0].summary == text


def test_a_property_without_a_value_is_lost_on_nobody_but_libical(reader: Reader) -> None:
    """It counts one as an error, which is why no calendar drawn here holds one."""
    data = stamped(one("Walk")).replace(b"SUMMARY:Walk", b"SUMMARY:")
    found = reader.read(data)
    assert reader.name == "libical" or found.events[0].summary == ""
