"""How a cable lies: common practice of the trade, from memory; no published source is known."""

from __future__ import annotations

from dataclasses import replace

import pytest
from planning_log import a_job, floor
from planning_samples import plan

from curecal.planning.plan import Plan
from curecal.trade.findings import Finding, Severity
from curecal.trade.job import Cable, Heating, HeatingKind, Laying, SensorPlace, Zone

CODES = {
    "cable-runs-too-close",
    "cable-spacing-unusual",
    "cable-near-drain",
    "cable-straps-far-apart",
    "sensor-close-to-run",
    "sensor-outside-heated-area",
    "heated-area-over-floor",
    "power-not-of-area",
}


def laid(*, floor_m2: float | None = None, heated_m2: float | None = None, **how: object) -> Zone:
    """Return a floor with one cable of 640 W that lies so."""
    laying = Laying(heated_area_m2=heated_m2, **how)  # type: ignore[arg-type]
    cable = Cable("", 240.0, 640.0, 90.0, laying=laying)
    return floor(heating=Heating(cables=(cable,)), floor_area_m2=floor_m2)


def told(made: Plan) -> list[Finding]:
    return [finding for finding in made.findings if finding.code in CODES]


@pytest.mark.parametrize(
    ("how", "code"),
    [
        ({"spacing_m": 0.075}, None),
        ({"spacing_m": 0.0249}, "cable-runs-too-close"),
        # 1 in is 25.4 mm: not too close, and closer than usual.
        ({"spacing_m": 0.0254}, "cable-spacing-unusual"),
        ({"spacing_m": 0.05}, None),
        # 4 in is 101.6 mm: who works in inches means the same.
        ({"spacing_m": 0.1016}, None),
        ({"spacing_m": 0.11}, "cable-spacing-unusual"),
        ({"clearance_drains_m": 0.149}, "cable-near-drain"),
        ({"clearance_drains_m": 0.15}, None),
        ({"clearance_walls_m": 0.05}, None),
        ({"strapping_m": 0.9}, None),
        ({"strapping_m": 0.9144}, None),
        ({"strapping_m": 1.0}, "cable-straps-far-apart"),
        ({"sensor_place": SensorPlace.MIDWAY}, None),
        ({"sensor_place": SensorPlace.CLOSE}, "sensor-close-to-run"),
        ({"sensor_place": SensorPlace.OUTSIDE}, "sensor-outside-heated-area"),
        ({"heated_m2": 5.0, "floor_m2": 5.0}, None),
        ({"heated_m2": 5.1, "floor_m2": 5.0}, "heated-area-over-floor"),
        # 640 W on 2.5 m² of a floor of 5 m² are 256 W/m², not 128.
        ({"heated_m2": 2.5, "floor_m2": 5.0}, "power-not-of-area"),
        # On a floor of 20 m² that is heated on 5 m² they are 128 W/m², not 32.
        ({"heated_m2": 5.0, "floor_m2": 20.0}, None),
        ({}, None),
    ],
)
def test_a_cable_that_lies_otherwise_than_usual_is_told(
    how: dict[str, object], code: str | None
) -> None:
    made = plan(a_job(laid(**how)))  # type: ignore[arg-type]
    assert [finding.code for finding in told(made)] == ([code] if code else [])


def test_how_a_cable_lies_holds_no_date_and_stops_nothing() -> None:
    plain = plan(a_job(laid()))
    worst = plan(
        a_job(
            laid(
                spacing_m=0.01,
                clearance_drains_m=0.01,
                strapping_m=2.0,
                sensor_place=SensorPlace.OUTSIDE,
                heated_m2=9.0,
                floor_m2=5.0,
            )
        )
    )
    assert len(told(worst)) == 5
    assert {finding.severity for finding in told(worst)} == {Severity.WARNING, Severity.CAUTION}
    assert worst.zones[0].energize == plain.zones[0].energize
    assert worst.zones[0].state is plain.zones[0].state
    assert worst.zones[0].holds == plain.zones[0].holds


def test_of_several_cables_each_is_named() -> None:
    near, far = Laying(clearance_drains_m=0.1), Laying(clearance_drains_m=0.2)
    cables = (
        Cable("cable A", 240.0, 300.0, laying=near),
        Cable("cable B", 240.0, 300.0, laying=far),
    )
    made = plan(a_job(floor(heating=Heating(cables=cables))))
    (finding,) = told(made)
    assert finding.params["cable"] == "A"


def test_each_cables_power_is_of_its_own_area() -> None:
    """Together 600 W on 6 m² are 100 W/m²; alone one has 30 and the other 300."""
    cables = (
        Cable("A", 240.0, 150.0, laying=Laying(heated_area_m2=5.0)),
        Cable("B", 240.0, 450.0, laying=Laying(heated_area_m2=1.5)),
    )
    made = plan(a_job(floor(heating=Heating(cables=cables), floor_area_m2=10.0)))
    assert [finding.params["cable"] for finding in told(made)] == ["A", "B"]
    together = Heating(cables=tuple(replace(cable, laying=Laying()) for cable in cables))
    whole = plan(a_job(floor(heating=replace(together, heated_area_m2=6.0))))
    assert told(whole) == []


def test_areas_of_several_cables_are_summed_where_each_has_one() -> None:
    each = Cable("A", laying=Laying(heated_area_m2=3.0))
    both = Heating(cables=(each, replace(each, name="B")))
    (finding,) = told(plan(a_job(floor(heating=both, floor_area_m2=5.0))))
    assert (finding.code, finding.params["heated_m2"]) == ("heated-area-over-floor", 6.0)
    one = Heating(cables=(replace(each, laying=Laying(heated_area_m2=6.0)), Cable("B")))
    assert told(plan(a_job(floor(heating=one, floor_area_m2=5.0)))) == []


def test_pipes_of_a_floor_heated_by_water_are_not_judged_as_a_cable() -> None:
    cable = Cable("", laying=Laying(spacing_m=0.2))
    heating = Heating(kind=HeatingKind.WATER, cables=(cable,))
    assert told(plan(a_job(floor(heating=heating)))) == []
