"""A day without an hour counts from its end; typed on that very day it is no slip."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from curecal.job_files.job_reader import ReadJob, parse_job
from curecal.trade.findings import Severity

JOB = """
[job]
id = "j"
name = "Alder Lane"
timezone = "America/Halifax"
[expected]
air = "20 °C"
[[zone]]
name = "hall"
[[zone.layer]]
material = "thinset"
done = {done}
"""
# 12:00 on Alder Lane: Halifax is three hours behind UTC in October.
NOON = datetime(2026, 10, 5, 15, tzinfo=UTC)


def read(done: str) -> ReadJob:
    return parse_job(JOB.format(done=done).encode(), clock=NOON)


def codes(found: ReadJob) -> list[str]:
    return [told.code for told in found.findings if told.path == "zone.0.layer.0.done"]


@pytest.mark.parametrize("done", ["2026-10-05", '"2026-10-05"'])
def test_the_day_itself_is_not_in_the_future(done: str) -> None:
    found = read(done)
    assert codes(found) == ["done-today"]
    assert found.job is not None
    assert all(told.severity is not Severity.ERROR for told in found.findings)


@pytest.mark.parametrize(
    "done", ["2026-10-06", "2027-10-05", "2026-10-05T13:00:00", "2026-10-06T00:00:00"]
)
def test_a_later_day_or_hour_is(done: str) -> None:
    assert codes(read(done)) == ["done-in-future"]


def test_a_day_gone_by_says_nothing() -> None:
    assert codes(read("2026-10-04")) == []


def test_an_entry_of_today_is_not_in_the_future() -> None:
    entry = '[[log]]\nat = 2026-10-05\nkind = "note"\ntext = "seen"\n'
    found = parse_job((JOB.format(done="2026-10-04") + entry).encode(), clock=NOON)
    assert "entry-in-future" not in [told.code for told in found.findings]
