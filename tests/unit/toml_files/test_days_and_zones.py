"""Weekdays and time zones are read right or refused, never read as something else."""

from __future__ import annotations

import pytest

from curecal.errors import ValueRefused
from curecal.toml_files.schema import JOB, WORK
from curecal.toml_files.time_zones import time_zone
from curecal.toml_files.values import READERS

_DAYS = next(key for key in WORK if key.name == "days")
_ZONE = next(key for key in JOB if key.name == "timezone")
_WEEK = frozenset(range(5))


@pytest.mark.parametrize(
    ("written", "days"),
    [
        ("Monday to Friday", _WEEK),
        ("Mon to Fri", _WEEK),
        ("Mo-Fr", _WEEK),
        ("Mon\u2013Fri", _WEEK),
        ("mon - fri", _WEEK),
        ("Mon. through Fri.", _WEEK),
        ("Mon-Sat", frozenset(range(6))),
        ("Mon-Thu, Sat", frozenset({0, 1, 2, 3, 5})),
        ("Mon and Fri", frozenset({0, 4})),
        ("Tues & Thurs", frozenset({1, 3})),
        (["Mon", "Wednesday", "Fr"], frozenset({0, 2, 4})),
        ("Sat-Mon", frozenset({5, 6, 0})),
    ],
)
def test_weekdays_are_read_as_people_mean_them(written: object, days: frozenset[int]) -> None:
    assert READERS["weekdays"](written, _DAYS) == days


@pytest.mark.parametrize(
    "written",
    [
        "Mon Fri",
        "Monday-ish",
        "Mon/Fri",
        "Mon - Wed - Fri",
        "Mon-Mon",
        "Montag-Freitag",
        "weekdays",
        "1-5",
        "Mon to",
        "Mon,,Fri",
        [],
    ],
)
def test_what_is_no_weekday_is_refused_with_the_form(written: object) -> None:
    with pytest.raises(ValueRefused) as refused:
        READERS["weekdays"](written, _DAYS)
    assert refused.value.code in {"weekdays-unreadable", "text-empty"}
    assert refused.value.params["example"] == '"Mon-Fri"'


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("EST", "America/New_York"),
        ("EST5EDT", "America/New_York"),
        ("US/Eastern", "America/New_York"),
        ("Eastern", "America/New_York"),
        ("Eastern Standard Time", "America/New_York"),
        ("CET", "Europe/Berlin"),
        ("GMT", "Europe/London"),
        ("Etc/GMT+5", "America/New_York"),
        ("Etc/UTC", "Europe/London"),
        ("Canada/Atlantic", "America/Halifax"),
        ("PST", "America/Los_Angeles"),
    ],
)
def test_a_clock_without_a_place_is_refused_with_the_place(written: str, meant: str) -> None:
    with pytest.raises(ValueRefused) as refused:
        time_zone(written, _ZONE)
    assert refused.value.code == "timezone-no-place"
    assert refused.value.params["nearest"] == meant


@pytest.mark.parametrize("written", ["America/Halifax", "Europe/Vienna", "UTC"])
def test_a_place_and_utc_are_zones(written: str) -> None:
    assert time_zone(written, _ZONE).key == written


def test_an_offset_no_city_has_is_refused_without_a_guess() -> None:
    with pytest.raises(ValueRefused) as refused:
        time_zone("Etc/GMT+12", _ZONE)
    assert (refused.value.code, refused.value.params["nearest"]) == ("timezone-no-place", "")
