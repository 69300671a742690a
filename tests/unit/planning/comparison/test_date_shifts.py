"""By how much a date moved: end by end, and summed over what moved it."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from planning_log import fact
from planning_samples import DAY, RULES, START, every_day, job, layer, plan, sheet, zone

from curecal.planning.comparison.attribution import ShiftCause, join_causes
from curecal.planning.comparison.date_shifts import Shift, shift
from curecal.planning.comparison.plan_comparison import compare_since
from curecal.planning.comparison.plan_snapshot import Ends
from curecal.trade.findings import Message
from curecal.trade.site_log import Done

HOUR = timedelta(hours=1)
NOON = START + DAY


@pytest.mark.parametrize(
    ("before", "after", "nearer"),
    [
        (Ends(NOON, NOON), Ends(NOON + DAY, NOON + DAY), False),
        (Ends(NOON, NOON + DAY), Ends(NOON + HOUR, NOON + HOUR), True),
        (Ends(NOON, None), Ends(NOON, NOON + DAY), True),
        (Ends(), Ends(NOON, None), True),
        (Ends(NOON, NOON), Ends(), False),
    ],
)
def test_either_end_that_comes_nearer_makes_a_date_nearer(
    before: Ends, after: Ends, *, nearer: bool
) -> None:
    moved = shift("energize", before, after)
    assert moved is not None
    assert moved.is_nearer is nearer


def test_less_than_a_minute_is_no_move() -> None:
    hair = timedelta(seconds=59)
    assert shift("x", Ends(NOON, NOON), Ends(NOON + hair, NOON + hair)) is None
    assert shift("x", Ends(NOON, None), Ends(NOON + hair * 2, None)) == Shift(
        "x", Ends(NOON, None), Ends(NOON + hair * 2, None)
    )
    assert shift("x", Ends(), Ends()) is None


@pytest.mark.parametrize("by_log", [True, False])
def test_work_done_before_it_was_allowed_says_so_where_the_date_comes_nearer(
    *, by_log: bool
) -> None:
    bed = layer(sheet("leveler", 3.0), START, "bed", thickness_m=0.005)
    tiles = layer(sheet("thinset", 28.0), None, "tiles", planned_finish_at=START + DAY * 5)
    at = START + HOUR * 10
    told = fact(Done, at, layer="tiles")
    if not by_log:
        tiles = replace(tiles, done_at=at)
    log = (told,) if by_log else ()
    made = job(zone(bed, tiles))
    now = plan(made, log, NOON)
    moved = compare_since(START + HOUR, now, made, log, rules=RULES, day_off=every_day)
    (cause,) = moved.zones[0].causes
    assert cause.may is not None
    assert cause.may.code == "moved-may-too-early"


def test_a_date_that_was_lost_on_the_way_is_joined_by_its_ends() -> None:
    lost = Shift("energize", Ends(NOON, NOON), Ends())
    back = Shift("energize", Ends(), Ends(NOON + DAY, NOON + DAY))
    finish = Message("moved-by-entry", {"entry": "done"})
    (cause,) = join_causes([ShiftCause(Message("moved-by-time"), lost), ShiftCause(finish, back)])
    assert cause.energize == Shift("energize", Ends(NOON, NOON), Ends(NOON + DAY, NOON + DAY))
    gone = join_causes([ShiftCause(Message("moved-by-time"), back), ShiftCause(finish, lost)])
    assert gone == ()
