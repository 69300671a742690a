"""Published figures that stand in the shipped data rather than in an equation."""

from __future__ import annotations

from datetime import timedelta

import pytest
from planning_samples import DAY, RULES, START, expected, item, job, layer, plan, zone

from curecal.planning.first_heat.set_points import first_heat_profile
from curecal.trade.data_sheets import Milestone
from curecal.trade.hold_codes import HoldCode
from curecal.trade.job import Code, Heating, HeatingKind, HeatUpWish


@pytest.mark.parametrize(
    ("name", "method", "limit_fraction"),
    [
        # German concrete-industry data pages: heated cement screed 1.8 CM-%, heated
        # calcium sulfate 0.3 until DIN 18560-1:2015-11, since then 0.5: the stricter counts.
        ("sand-cement screed", "carbide", 0.018),
        ("calcium-sulfate screed", "carbide", 0.003),
        # British acceptance limit for a base under resilient flooring: 75 % relative humidity.
        ("sand-cement screed", "humidity", 0.75),
        ("calcium-sulfate screed", "humidity", 0.75),
        ("sand-cement screed", "probe", 0.75),
        ("calcium-sulfate screed", "hood", 0.75),
    ],
)
def test_what_a_moisture_test_may_find(name: str, method: str, limit_fraction: float) -> None:
    limits = {limit.method: limit.limit_fraction for limit in RULES.classes[name].moisture_limits}
    # Exact: the figure is carried over, not computed.
    assert limits[method] == pytest.approx(limit_fraction, abs=1e-12)


@pytest.mark.parametrize(
    ("number", "limit_c"),
    # EN 1264-2 (29 occupied, 33 bathroom, 35 edge), as reprinted; 27 wood and resilient is common
    # practice.
    [("living_space_c", 29), ("bathroom_c", 33), ("perimeter_c", 35), ("wood_resilient_c", 27)],
)
def test_how_warm_a_floor_may_be(number: str, limit_c: float) -> None:
    assert getattr(RULES.first_heat, number) == limit_c


def test_after_tiling_28_days_and_then_five_kelvin_a_day() -> None:
    # UK tile contractors' technical note on heated floors, in its words beside BS 5385-4.
    assert RULES.heat_wait.fallback_s == timedelta(days=28).total_seconds()
    assert RULES.first_heat.step_k == 5.0
    profile = first_heat_profile(start_c=20.0, target_c=29.0, step_k=5.0, hold_days=3)
    # 20 to 29 °C in steps of 5 K is 20, 25, 29: three steps.
    assert profile == [(20.0, 1), (25.0, 1), (29.0, 3)]


@pytest.mark.parametrize(
    ("material", "starts_d", "ends_d"),
    [("sand-cement screed", 21, 28), ("calcium-sulfate screed", 7, 14)],
)
def test_functional_heating_starts_and_ends_on_the_published_days(
    material: str, starts_d: int, ends_d: int
) -> None:
    # DIN EN 1264-4, as quoted in a heating-trade reference: from day 21 and 7; 3 days at 25 °C
    # flow and 4 at the maximum end on days 28 and 14, where heating to readiness for covering
    # is separately published to start.
    made = plan(
        job(
            zone(
                layer(material, START.replace(hour=8), thickness_m=0.05, heat_before_covering=True),
                layer("thinset", None),
                heating=Heating(HeatingKind.WATER),
                heat_up=HeatUpWish(flow=((25.0, 3), (45.0, 4))),
            ),
            climate=expected(20.0),
        ),
        as_of=START,
    )
    screed = made.zones[0].layers[0].layer
    bare = item(made, screed.name).milestones[Milestone.BARE_HEAT].window
    assert bare is not None
    assert bare.earliest == START.replace(hour=8) + DAY * starts_d
    heat_up = made.zones[0].heat_ups[0]
    assert [(step.to_c, step.hold_days) for step in heat_up.steps] == [(25.0, 3), (45.0, 4)]
    assert heat_up.ends_on == (START + DAY * ends_d).date()


def test_a_mortars_sheet_without_conditions_holds_at_those_of_its_standard() -> None:
    # ISO 13007-2, standard conditions of test for mortars: 23 °C, 50 %.
    assert (RULES.rating.rated_c, RULES.rating.rated_rh) == (23.0, 0.5)


def test_how_deep_a_probe_is_taken() -> None:
    # ASTM F2170, as quoted (from memory): 40 % of the thickness where it dries from one side.
    assert RULES.moisture.depth_fraction == 0.4


def test_which_codes_want_an_inspection_before_the_cable_is_covered() -> None:
    # NEC 424.46 (from memory); under CEC by the inspecting authority, common practice.
    point = next(
        point for point in RULES.holds if point.code == HoldCode.INSPECTION_BEFORE_CONCEALMENT
    )
    assert set(point.codes) == {Code.NEC, Code.CEC}
