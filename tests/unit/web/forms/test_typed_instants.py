"""Times of the site as a page has them, where the clock skips an hour and where it runs twice."""

from __future__ import annotations

import zoneinfo
from datetime import UTC, datetime

import pytest

from curecal.web.forms.reading.typed_instants import (
    InstantGap,
    as_typed_instant,
    telephone_instant,
    typed_instant,
)

HALIFAX = zoneinfo.ZoneInfo("America/Halifax")


def test_a_time_is_one_of_the_site() -> None:
    found = typed_instant("2026-10-07T12:00", HALIFAX)
    assert found.at == datetime(2026, 10, 7, 15, tzinfo=UTC)
    assert as_typed_instant(datetime(2026, 10, 7, 15, tzinfo=UTC), HALIFAX) == "2026-10-07T12:00"


def test_an_hour_that_is_skipped_is_refused() -> None:
    # tz database: on 8 March 2026 clocks in Halifax go from 02:00 to 03:00.
    found = typed_instant("2026-03-08T02:30", HALIFAX)
    assert (found.at, found.gap) == (None, InstantGap.SKIPPED)


def test_an_hour_that_comes_twice_is_asked_about() -> None:
    # tz database: on 1 November 2026 clocks in Halifax go from 02:00 back to 01:00.
    asked = typed_instant("2026-11-01T01:30", HALIFAX)
    assert (asked.at, asked.gap) == (None, InstantGap.TWICE)
    assert asked.both == (
        datetime(2026, 11, 1, 4, 30, tzinfo=UTC),
        datetime(2026, 11, 1, 5, 30, tzinfo=UTC),
    )
    assert typed_instant("2026-11-01T01:30", HALIFAX, which="first").at == asked.both[0]
    assert typed_instant("2026-11-01T01:30", HALIFAX, which="second").at == asked.both[1]
    assert typed_instant("2026-11-01T01:30", HALIFAX, which="third").at is None


@pytest.mark.parametrize(
    "text",
    [
        *("", "today", "2026-02-30T12:00", "2026-10-07", "2026-10-07T12:00Z", "0000-01-01T00:00"),
        # Before 1902 Halifax was 4 h 14 min 24 s behind (tz database): no file can hold that.
        *("0026-10-07T12:00", "1899-10-07T12:00", "9999-12-31T23:59", "2026-10-07T24:00"),
    ],
)
def test_what_is_no_time_is_refused(text: str) -> None:
    assert typed_instant(text, HALIFAX).gap is InstantGap.UNREADABLE


def test_a_telephones_instant_needs_its_zone() -> None:
    at = datetime(2026, 10, 7, 15, tzinfo=UTC)
    assert telephone_instant("2026-10-07T15:00:00.000Z") == at
    assert telephone_instant("2026-10-07T15:00:00") is None
    assert telephone_instant("") is None
    # UTC would carry them out of the calendar.
    assert telephone_instant("0001-01-01T00:00:00+14:00") is None
    assert telephone_instant("9999-12-31T23:59:00-12:00") is None
    assert telephone_instant("x" * 5000) is None
