"""From when a floor may be used otherwise than by heating it."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest
from honest_jobs import NAMES, seen_at, text_of
from paper_samples import paper_context

from curecal.instants import local_day
from curecal.planning.zone.usable import Use, usable_on, uses_of
from curecal.trade.data_sheets import Milestone
from curecal.trade.job import Room

AS_OF = datetime(2027, 1, 5, 15, tzinfo=UTC)


def test_a_bathroom_is_showered_in_and_a_kitchen_is_not() -> None:
    bath = paper_context(text_of("upstairs-bath-in-service"), AS_OF).plan.zones[0]
    kitchen = paper_context(text_of("slate-kitchen"), AS_OF).plan.zones[0]
    assert uses_of(bath) == (Use.WALK, Use.SHOWER, Use.FURNITURE)
    assert kitchen.zone.room is not Room.BATHROOM
    assert uses_of(kitchen) == (Use.WALK, Use.FURNITURE)


@pytest.mark.parametrize("name", NAMES)
def test_nobody_walks_before_the_last_layer_bears_it(name: str) -> None:
    """The late end of every layer's walking milestone, whatever the zone's own day says."""
    plan = paper_context(text_of(name), seen_at(text_of(name))).plan
    for zone in plan.zones:
        day = usable_on(plan, zone, Use.WALK)
        ends = [
            walk.window.latest
            for item in zone.layers
            if (walk := item.milestones.get(Milestone.WALK)) and walk.window and walk.window.latest
        ]
        if day is not None:
            assert day >= max(local_day(end, plan.job.tz) for end in ends)


def test_the_morning_after_is_the_day_told() -> None:
    plan = paper_context(text_of("upstairs-bath-in-service"), AS_OF).plan
    # Grout of Mon 2 Nov, 15:00, bears walking after three days in that room: Thu, and Fri morning.
    assert usable_on(plan, plan.zones[0], Use.WALK) == date(2026, 11, 6)
