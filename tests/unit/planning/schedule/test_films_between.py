"""Films between two layers: they bear nothing, and part nothing."""

from __future__ import annotations

import pytest
from planning_samples import START, expected, item, job, layer, plan, zone

from curecal.trade.data_sheets import Milestone


@pytest.mark.parametrize("films", [(), ("primer",), ("primer", "sealer")])
def test_what_comes_over_a_film_waits_for_the_base_under_it(films: tuple[str, ...]) -> None:
    """A coat put on the same hour bears nothing: the leveler's two days stand."""
    coats = [layer(name, START, f"film {index}") for index, name in enumerate(films)]
    sheeting = layer("uncoupling sheet", None, "sheet")
    base_of_all = layer("leveler", START, "base", thickness_m=0.005)
    made = plan(job(zone(base_of_all, *coats, sheeting), climate=expected(20.0)), as_of=START)
    base = item(made, "base").milestones[Milestone.COVER].window
    start = item(made, "sheet").start
    assert base is not None
    assert start is not None
    assert base.earliest > START
    assert start.earliest >= base.earliest
