"""A screed heated bare: from its date up, held, down, cooled and tested before covering."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from planning_log import fact, wired
from planning_samples import (
    DAY,
    START,
    expected,
    item,
    job,
    layer,
    plan,
    reading,
    zone,
)

from curecal.instants import Window
from curecal.planning.plan import Plan, State
from curecal.trade.data_sheets import Milestone
from curecal.trade.job import Heating, HeatingKind, HeatUpWish
from curecal.trade.site_log import Energized, Kept, Method, MoistureTest, Place

HOUR = timedelta(hours=1)


BARE_DONE = START


def warm(days: float) -> list[Kept]:
    """Return a signed word that the room was kept warm enough for as long."""
    until = START + DAY * days
    return [fact(Kept, until, above_c=21.0, from_at=START, to_at=until)]


def bare(
    *log: object, as_of: datetime = START + DAY, kind: str = "sand-cement screed", **more: object
) -> Plan:
    made = job(
        zone(
            layer(kind, BARE_DONE, "screed", thickness_m=0.050, heat_before_covering=True),
            layer("thinset", None, "mortar"),
            layer("cement grout", None, "grout"),
            **more,
        ),
        climate=expected(21.0, humidity=0.6, dampest=0.6),
    )
    return plan(made, log, as_of)  # type: ignore[arg-type]


def test_a_bare_screed_is_heated_from_day_21_and_covered_once_cold() -> None:
    made = bare()
    screed = item(made, "screed")
    assert screed.milestones[Milestone.BARE_HEAT].window == Window(
        START + DAY * 21, START + DAY * 21
    )
    # Noon of day 21 passes the morning: first day 23 March; expected air 21 less 3 is 18 °C.
    heat_up = made.zones[0].heat_ups[0]
    assert [(step.to_c, step.hold_days) for step in heat_up.steps] == [
        (18.0, 1), (23.0, 1), (25.0, 3), (29.0, 4), (24.0, 1), (19.0, 1),
    ]  # fmt: skip
    assert heat_up.ends_on == heat_up.steps[0].on + DAY * 11
    cover = screed.milestones[Milestone.COVER]
    assert cover.estimate
    assert cover.window is not None
    assert cover.window.earliest == datetime(2027, 4, 3, tzinfo=UTC)
    assert "drying-rule-information" in [step.code for step in cover.steps]
    assert [found.purpose for found in made.zones[0].heat_ups] == ["bare screed", "first heat"]


def test_calcium_sulfate_is_heated_bare_from_day_7() -> None:
    made = bare(kind="calcium-sulfate screed")
    window = item(made, "screed").milestones[Milestone.BARE_HEAT].window
    assert window == Window(START + DAY * 7, START + DAY * 7)


def test_a_bare_heat_up_that_began_keeps_its_days() -> None:
    on = START + DAY * 24
    began = Energized(id="on", at=on, recorded=on)
    floor = reading(on - HOUR, 20.0, Place.FLOOR)
    made = bare(began, floor, *warm(24), *wired(DAY * 23), as_of=START + DAY * 26)
    heat_up = made.zones[0].heat_ups[0]
    assert heat_up.steps[0].on == on.date()
    assert heat_up.steps[0].to_c == 20.0
    assert heat_up.start_measured
    assert made.zones[0].state is not State.STOPPED


def test_a_passed_test_does_not_open_a_screed_that_is_still_hot() -> None:
    tested = MoistureTest(
        id="m", at=START + DAY * 10, recorded=START + DAY * 10, layer="screed",
        method=Method.CARBIDE, value_fraction=0.01, points=3,
        depth_m=0.03, air_c=20.0, humidity=0.55,
    )  # fmt: skip
    made = bare(tested, as_of=START + DAY * 12)
    cover = item(made, "screed").milestones[Milestone.COVER]
    assert cover.window is not None
    assert cover.window.earliest == datetime(2027, 4, 3, tzinfo=UTC)
    assert cover.estimate
    assert "moisture-still-warm" in [found.code for found in made.findings]


def test_a_bare_water_floor_needs_its_flow_temperatures() -> None:
    water = Heating(HeatingKind.WATER)
    made = bare(heating=water)
    cover = item(made, "screed").milestones[Milestone.COVER]
    assert cover.window is None
    assert cover.blocked is not None
    assert cover.blocked.code == "water-profile-wanted"
    flow = HeatUpWish(flow=((25.0, 3), (40.0, 4)))
    made = bare(heating=water, heat_up=flow)
    assert [(step.to_c, step.hold_days) for step in made.zones[0].heat_ups[0].steps] == [
        (25.0, 3),
        (40.0, 4),
    ]
    # Seven days, the difference of the published starts: day 21 and day 28 (EN 1264-4).
    assert made.zones[0].heat_ups[0].ends_on - made.zones[0].heat_ups[0].steps[0].on == DAY * 7


def test_a_bare_screed_too_cold_to_harden_has_no_date() -> None:
    made = plan(
        job(
            zone(
                layer(
                    "sand-cement screed",
                    START,
                    "screed",
                    thickness_m=0.05,
                    heat_before_covering=True,
                ),
                layer("thinset", None, "mortar"),
            ),
            climate=expected(5.0),
        )
    )
    assert item(made, "screed").milestones[Milestone.COVER].window is None


def test_a_bare_screed_without_a_promise_has_none_for_its_cover() -> None:
    made = plan(
        job(
            zone(
                layer(
                    "sand-cement screed",
                    START,
                    "screed",
                    thickness_m=0.05,
                    heat_before_covering=True,
                ),
                layer("thinset", None, "mortar"),
            ),
            climate=expected(20.0, coldest_c=5.0),
        )
    )
    window = item(made, "screed").milestones[Milestone.COVER].window
    assert window is not None
    assert window.latest is None
