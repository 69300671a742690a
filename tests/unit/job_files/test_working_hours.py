"""Working hours as a job file writes them, a night shift among them."""

from __future__ import annotations

from datetime import time

import pytest

from curecal.job_files import parse_job
from curecal.trade.job import Work

JOB = """
[job]
id = "a"
name = "a"
timezone = "Europe/Berlin"
[expected]
air = "20 °C"
[work]
hours = "HOURS"
[[zone]]
name = "hall"
[[zone.layer]]
material = "thinset"
duration = "2 d"
"""


@pytest.mark.parametrize(
    ("hours", "start", "end", "shift_h"),
    [
        ("08:00-17:00", time(8), time(17), 9.0),
        ("22:00-06:00", time(22), time(6), 8.0),
        ("18:00-06:00", time(18), time(6), 12.0),
        ("16:30-00:00", time(16, 30), time(0), 7.5),
        ("00:00-08:00", time(0), time(8), 8.0),
    ],
)
def test_hours_of_day_and_night(hours: str, start: time, end: time, shift_h: float) -> None:
    read = parse_job(JOB.replace("HOURS", hours).encode())
    assert read.job is not None
    work = read.job.work
    assert (work.start, work.end) == (start, end)
    assert work.shift_s == shift_h * 3600
    # A day of work is a shift, also one that passes midnight.
    assert read.job.zones[0].layers[0].duration_s == 2 * shift_h * 3600


@pytest.mark.parametrize(
    ("wall", "is_within"),
    [(time(21, 59), False), (time(22), True), (time(0), True), (time(6), True), (time(7), False)],
)
def test_a_time_of_day_lies_in_a_night_shift(wall: time, *, is_within: bool) -> None:
    assert Work(start=time(22), end=time(6)).is_within(wall) is is_within
