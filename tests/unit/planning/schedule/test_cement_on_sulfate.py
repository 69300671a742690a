"""Cement mortar on calcium sulfate or gypsum: a primer or a barrier between, or a person decides.

Sulfate and cement react at the bond, and the mortar comes off: common practice, from memory.
"""

from __future__ import annotations

import pytest
from planning_log import a_job, codes, fact
from planning_samples import DAY, START, layer, plan, zone

from curecal.planning.plan import Hold, HoldState, Plan
from curecal.trade.job import Zone
from curecal.trade.site_log import Inspection, Result

LAID = START + DAY * 90


def floor_of(*courses: str, laid: bool = False, existing: bool = False) -> Zone:
    base, *upper = courses
    return zone(
        layer(base, None if existing else START, "base", thickness_m=0.03, existing=existing),
        *[layer(name, LAID if laid else None, name, thickness_m=0.005) for name in upper],
    )


def held(made: Plan) -> list[Hold]:
    return [point for point in made.zones[0].holds if point.code == "cement-on-sulfate"]


@pytest.mark.parametrize("existing", [False, True])
@pytest.mark.parametrize(
    ("courses", "asked"),
    [
        (("calcium-sulfate screed", "thinset"), True),
        (("calcium-sulfate screed", "leveler", "thinset"), True),
        (("gypsum leveler", "mortar bed"), True),
        (("calcium-sulfate screed", "primer", "thinset"), False),
        (("gypsum leveler", "epoxy barrier", "thinset"), False),
        (("calcium-sulfate screed", "adhesive"), False),
        (("calcium-sulfate screed", "gypsum leveler"), False),
        (("sand-cement screed", "thinset"), False),
    ],
)
def test_cement_straight_on_sulfate_is_held_for_a_person(
    courses: tuple[str, ...], *, asked: bool, existing: bool
) -> None:
    made = plan(a_job(floor_of(*courses, existing=existing)), [], START + DAY)
    assert [point.state for point in held(made)] == ([HoldState.UNMET] if asked else [])
    assert ("cement-on-sulfate" in codes(made)) is asked


@pytest.mark.parametrize(
    ("laid", "day", "result", "state"),
    [
        (False, 1, Result.SOUND, HoldState.MET),
        (False, 1, Result.FAILED, HoldState.FAILED),
        (True, 91, Result.SOUND, HoldState.MET),
        # Who looked before it was laid did not know.
        (True, 89, Result.SOUND, HoldState.UNMET),
    ],
)
def test_a_person_decides_about_the_base(
    laid: bool,  # noqa: FBT001
    day: int,
    result: Result,
    state: HoldState,
) -> None:
    look = fact(Inspection, START + DAY * day, layer="base", result=result)
    job = a_job(floor_of("calcium-sulfate screed", "thinset", laid=laid))
    assert held(plan(job, [look], START + DAY * 95))[0].state is state


def test_old_mortar_on_an_old_base_is_not_asked_about() -> None:
    old = zone(
        layer("calcium-sulfate screed", None, "base", existing=True),
        layer("thinset", None, "mortar", existing=True),
    )
    assert not held(plan(a_job(old), [], START + DAY))
