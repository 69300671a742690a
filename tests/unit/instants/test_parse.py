"""Dates and times in a file mean one instant, or are refused."""

from __future__ import annotations

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from curecal.errors import InstantRefused
from curecal.instants import instant_of, parse_instant

HALIFAX = ZoneInfo("America/Halifax")
APIA = ZoneInfo("Pacific/Apia")


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("2026-12-02T20:00:00Z", datetime(2026, 12, 2, 20, tzinfo=UTC)),
        ("2026-12-02t20:00z", datetime(2026, 12, 2, 20, tzinfo=UTC)),
        ("2026-12-02T16:00:00-04:00", datetime(2026, 12, 2, 20, tzinfo=UTC)),
        ("2026-12-02 16:00 -0400", datetime(2026, 12, 2, 20, tzinfo=UTC)),
        ("2026-12-02 20:00", datetime(2026, 12, 3, 0, tzinfo=UTC)),
        (" 2026-07-02T20:00:30.5 ", datetime(2026, 7, 2, 23, 0, 30, 500_000, tzinfo=UTC)),
        # A date alone counts from the end of that local day.
        ("2026-12-02", datetime(2026, 12, 3, 4, tzinfo=UTC)),
    ],
)
def test_a_text_means_one_instant(text, expected):
    found = parse_instant(text, HALIFAX)
    assert found == expected
    assert found.tzinfo is UTC


@pytest.mark.parametrize(
    "text",
    [
        *("", "tomorrow", "2 Dec 2026", "02/12/2026", "2026-13-01", "2026-02-30", "20261202"),
        *("2026-12-02 24:00", "2026-12-02 25:00", "2026-12-02 20", "2026-12-02 20:00 EST"),
        *("2026-12-02T20:00+25:00", "2026-12-0\u0662", "2026-12-02T20:00:00.1234567Z"),
        *(20261202, None, True),
    ],
)
def test_what_has_no_known_form_is_refused(text):
    with pytest.raises(InstantRefused) as refusal:
        parse_instant(text, HALIFAX)
    assert refusal.value.code == "instant-unreadable"
    assert parse_instant(refusal.value.params["example"], HALIFAX)


def test_a_time_the_clock_skips_is_refused_with_the_first_after_it():
    with pytest.raises(InstantRefused) as refusal:
        parse_instant("2026-03-08 02:30", HALIFAX)
    assert refusal.value.code == "instant-gap"
    assert refusal.value.params["first"] == datetime(2026, 3, 8, 6, tzinfo=UTC)


def test_a_time_the_clock_shows_twice_is_refused_with_both_readings():
    with pytest.raises(InstantRefused) as refusal:
        parse_instant("2026-11-01 01:30", HALIFAX)
    assert refusal.value.code == "instant-fold"
    assert refusal.value.params["first"] == datetime(2026, 11, 1, 4, 30, tzinfo=UTC)
    assert refusal.value.params["second"] == datetime(2026, 11, 1, 5, 30, tzinfo=UTC)


def test_an_offset_settles_a_time_shown_twice():
    found = parse_instant("2026-11-01 01:30-04:00", HALIFAX)
    assert found == datetime(2026, 11, 1, 5, 30, tzinfo=UTC)


def test_a_day_the_zone_skipped_is_refused():
    with pytest.raises(InstantRefused) as refusal:
        parse_instant("2011-12-30", APIA)
    assert refusal.value.code == "instant-gap"
    assert parse_instant("2011-12-29", APIA) == datetime(2011, 12, 30, 10, tzinfo=UTC)


def test_values_from_toml_mean_the_same():
    local = datetime(2026, 12, 2, 20)  # noqa: DTZ001  TOML's local time has no zone
    assert instant_of(local, HALIFAX) == parse_instant("2026-12-02 20:00", HALIFAX)
    assert instant_of(date(2026, 12, 2), HALIFAX) == parse_instant("2026-12-02", HALIFAX)
    aware = datetime(2026, 12, 2, 20, tzinfo=UTC)
    assert instant_of(aware, HALIFAX) == aware


def test_a_long_text_is_cut_in_the_refusal():
    with pytest.raises(InstantRefused) as refusal:
        parse_instant("x" * 100, HALIFAX)
    assert refusal.value.params["text"] == "x" * 60 + "…"


@given(
    text=st.text(max_size=30)
    | st.from_regex(r"[0-9]{4}-[0-3][0-9]-[0-3][0-9]([T ][0-2][0-9]:[0-6][0-9]Z?)?", fullmatch=True)
)
@example(text="0000-01-01")
@example(text="0001-01-01")
@example(text="9999-12-31")
@example(text="9999-12-31 23:59-12:00")
def test_any_text_is_an_instant_or_refused(text):
    try:
        found = parse_instant(text, HALIFAX)
    except InstantRefused as refused:
        assert refused.code.startswith("instant-")  # noqa: PT017
    else:
        assert found.tzinfo is UTC
