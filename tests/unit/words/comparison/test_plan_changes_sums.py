"""What moved: minutes that add up, and what a comparison by the log alone cannot see."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from planning_samples import RULES

from curecal.planning.comparison.attribution import ShiftCause
from curecal.planning.comparison.date_shifts import Shift
from curecal.planning.comparison.plan_comparison import PlanComparison, ZoneComparison
from curecal.planning.comparison.plan_snapshot import Ends, EnergizeSnapshot, ZoneSnapshot
from curecal.trade.findings import Message
from curecal.words.catalogue import catalogue
from curecal.words.comparison.plan_changes import moved_lines
from curecal.words.layout import plain
from curecal.words.sentences import Words
from curecal.words.values import Reader

WORDS = Words(catalogue("en"), Reader(), {rule.id: rule.title for rule in RULES.by_id.values()})
AT = datetime(2027, 3, 1, 12, tzinfo=UTC)
HALL = ZoneSnapshot("hall", "hall", "curing", may_energize=False)
_PART = {"d": 24 * 60, "h": 60, "min": 1}


def at_ends(ends: Ends) -> ZoneSnapshot:
    return replace(HALL, energize=EnergizeSnapshot(ends.earliest, ends.latest))


def chain(seconds: list[int], late_s: list[int] | None = None) -> ZoneComparison:
    """Return a zone that moved by several causes, one behind the other."""
    late = seconds if late_s is None else late_s
    early_at, late_at = [AT], [AT]
    for early_step_s, late_step_s in zip(seconds, late, strict=True):
        early_at.append(early_at[-1] + timedelta(seconds=early_step_s))
        late_at.append(late_at[-1] + timedelta(seconds=late_step_s))
    ends = [Ends(first, last) for first, last in zip(early_at, late_at, strict=True)]
    causes = tuple(
        ShiftCause(Message("moved-by-time"), Shift("energize", before, after))
        for before, after in pairwise(ends)
    )
    before, after = at_ends(ends[0]), at_ends(ends[-1])
    return ZoneComparison(before, after, Shift("energize", ends[0], ends[-1]), causes=causes)


def text(zone: ZoneComparison) -> str:
    lines = plain(moved_lines(PlanComparison(AT, AT, (zone,)), WORDS, 80))
    return " ".join(line.strip() for line in lines)


def minutes(said: str) -> int:
    """Return "2 d 5 h 3 min later" in minutes; earlier is negative."""
    amount = sum(int(count) * _PART[unit] for count, unit in re.findall(r"(\d+) (d|h|min)", said))
    return -amount if said.endswith("earlier") else amount


def test_causes_add_up_to_the_whole_move() -> None:
    # 73 min 30 s twice: 2 h 27 min, of which each alone is 74 min.
    shown = text(chain([4410, 4410]))
    assert "hall: 2 h 27 min later, Mon 1 Mar 2027, 14:27 instead of" in shown
    assert "nothing logged: 1 h 14 min later." in shown
    assert "nothing logged: 1 h 13 min later." in shown


@given(st.lists(st.integers(-4 * 86400, 9 * 86400), min_size=1, max_size=5))
def test_however_many_they_are_they_add_up(seconds: list[int]) -> None:
    if abs(sum(seconds)) < 60:
        return
    shown = text(chain(seconds))
    span = r"((?:\d+ (?:days|h|min) )+(?:later|earlier))"
    (whole,) = re.findall(rf"hall: {span},", shown)
    parts = re.findall(rf"nothing logged: {span}", shown)
    if "smaller cause" not in shown:
        assert sum(map(minutes, parts)) == minutes(whole)


def test_days_lose_no_minutes() -> None:
    shown = text(chain([187200, 60 * 1075]))
    assert "hall: 2 days 21 h 55 min later" in shown
    assert "nothing logged: 2 days 4 h later." in shown
    assert "nothing logged: 17 h 55 min later." in shown
    assert "hall: 3 days later" in text(chain([259200]))


def test_what_is_too_small_to_be_told_goes_to_the_last_cause() -> None:
    zone = chain([3600, 3600])
    assert zone.energize is not None
    until = Ends(zone.after.energize.earliest, zone.after.energize.latest)
    assert until.earliest is not None
    later = until.earliest + timedelta(seconds=50)
    whole = Shift("energize", zone.energize.before, Ends(later, later))
    shown = text(replace(zone, energize=whole, after=at_ends(whole.after)))
    assert "hall: 2 h 1 min later" in shown
    assert "nothing logged: 1 h later." in shown
    assert "nothing logged: 1 h 1 min later." in shown


def test_a_cause_nobody_found_is_not_given_to_another() -> None:
    zone = chain([3600])
    assert zone.energize is not None
    later = AT + timedelta(hours=5)
    whole = Shift("energize", zone.energize.before, Ends(later, later))
    shown = text(replace(zone, energize=whole, after=at_ends(whole.after)))
    assert "hall: 5 h later" in shown
    assert "nothing logged: 1 h later." in shown


def test_a_date_lost_and_found_in_between_is_told_as_it_was() -> None:
    day = timedelta(days=1)
    ends = [Ends(AT, AT), Ends(), Ends(AT + day, AT + day), Ends(AT + 2 * day, AT + 2 * day)]
    causes = tuple(
        ShiftCause(Message("moved-by-time"), Shift("energize", before, after))
        for before, after in pairwise(ends)
    )
    whole = Shift("energize", ends[0], ends[-1])
    shown = text(ZoneComparison(at_ends(ends[0]), at_ends(ends[-1]), whole, causes=causes))
    assert "hall: 2 days later" in shown
    for share in ("no date any more.", "a date.", "24 h later."):
        assert f"nothing logged: {share}" in shown


@pytest.mark.parametrize("zones", [(), (chain([3600]),)])
def test_by_the_log_alone_the_job_file_is_not_seen(zones: tuple[ZoneComparison, ...]) -> None:
    for by_log in (True, False):
        moved = PlanComparison(AT, AT, zones, by_log=by_log)
        shown = " ".join(plain(moved_lines(moved, WORDS, 80)))
        assert ("Changes to the job file are not seen" in shown) is by_log
        assert ("--against" in shown) is by_log
