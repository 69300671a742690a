"""What else people are told: label, supply, breaker, the room, how a wait is known."""

from __future__ import annotations

from dataclasses import replace

import pytest
from planning_log import READY, a_job, codes, courses, evidence, floor, released, state
from planning_samples import DAY, RULES, SHEET, START, expected, layer, plan, reading, sheet, zone

from curecal.planning.plan import Plan, State
from curecal.trade.data_sheets import Hardening, Milestone, TableWait, ThicknessWait, Wait
from curecal.trade.findings import Finding, Severity
from curecal.trade.job import (
    Below,
    Cable,
    Code,
    Covering,
    CoveringKind,
    HeatedBy,
    Heating,
    HeatingKind,
    Zone,
)
from curecal.trade.sources import Basis, Source
from curecal.words.sentences import words_for


def found(made: Plan, code: str) -> list[Finding]:
    return [finding for finding in made.findings if finding.code == code]


def heated(*cables: Cable, **more: object) -> Zone:
    return floor(heating=replace(Heating(cables=cables), **more))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("label_ohm", "told"), [(90.0, False), (99.0, False), (81.0, False), (99.2, True), (22.5, True)]
)
def test_a_label_that_contradicts_itself_is_told(label_ohm: float, *, told: bool) -> None:
    made = plan(a_job(heated(Cable("mat", 240.0, 640.0, label_ohm))))
    assert bool(found(made, "label-contradicts")) is told


def test_half_a_label_contradicts_nothing() -> None:
    for cable in (Cable("mat", 240.0), Cable("mat", 240.0, 640.0), Cable("mat", None, 640.0, 10.0)):
        assert not found(plan(a_job(heated(cable))), "label-contradicts")


@pytest.mark.parametrize(
    ("power_w", "area_m2", "told"),
    [
        # 640 W on 54 ft², as 5 m²: 128 W/m². The same figures as 5 ft² and as 54 m² are neither.
        ([640.0], 5.0, False),
        ([640.0], 0.46, True),
        ([640.0], 54.0, True),
        ([300.0], 5.0, False),
        ([299.0], 5.0, True),
        ([625.0, 625.0], 5.0, False),
        ([625.0, 626.0], 5.0, True),
        ([64.0, None], 5.0, False),
        ([None], 5.0, False),
        ([], 5.0, False),
        ([640.0], None, False),
    ],
)
def test_a_power_that_no_such_area_has_is_told(
    power_w: list[float | None], area_m2: float | None, *, told: bool
) -> None:
    cables = [Cable(f"mat {number}", 240.0, power) for number, power in enumerate(power_w)]
    made = plan(a_job(replace(heated(*cables), floor_area_m2=area_m2)))
    assert [each.params for each in found(made, "power-not-of-area")] == (
        [{"cable": "", "rated_w": sum(filter(None, power_w)), "area_m2": area_m2}] if told else []
    )


@pytest.mark.parametrize(
    ("rated_v", "supply_v", "code"),
    [
        (240.0, 240.0, None),
        (230.0, 240.0, None),
        (240.0, 216.0, None),
        (120.0, 240.0, "supply-too-high"),
        (240.0, 120.0, "supply-too-low"),
        (None, 240.0, None),
        (240.0, None, None),
    ],
)
def test_a_supply_the_cable_is_not_made_for_is_told(
    rated_v: float | None, supply_v: float | None, code: str | None
) -> None:
    made = plan(a_job(heated(Cable("mat", rated_v, 640.0), supply_v=supply_v)))
    told = {"supply-too-high", "supply-too-low"} & {*codes(made)}
    assert told == ({code} if code else set())


def test_twice_the_voltage_is_four_times_the_power_and_stops_the_floor() -> None:
    made = plan(a_job(heated(Cable("mat", 120.0, 160.0), supply_v=240.0)), released(), READY + DAY)
    (finding,) = found(made, "supply-too-high")
    assert finding.severity is Severity.STOP
    assert finding.params["power_ratio"] == pytest.approx(4.0)
    assert state(made) is State.STOPPED
    assert not made.is_released


def test_half_the_voltage_is_a_quarter_of_the_power_and_only_a_warning() -> None:
    made = plan(a_job(heated(Cable("mat", 240.0, 640.0), supply_v=120.0)), released(), READY + DAY)
    (finding,) = found(made, "supply-too-low")
    assert finding.severity is Severity.WARNING
    assert finding.params["power_ratio"] == pytest.approx(0.25)
    assert state(made) is State.RELEASED


@pytest.mark.parametrize(
    ("code", "power_w", "told"),
    [
        # 16 A are 80 % of 20 A.
        (Code.NEC, 3840.0, None),
        (Code.NEC, 3841.0, "load-over-80-percent"),
        (Code.CEC, 4000.0, "load-over-80-percent"),
        (Code.BS_7671, 4000.0, None),
        (Code.OTHER, 4800.0, None),
        (Code.OTHER, 4801.0, "load-over-breaker"),
    ],
)
def test_the_load_fits_the_breaker(code: Code, power_w: float, told: str | None) -> None:
    cables = (Cable("one", 240.0, power_w / 2), Cable("two", 240.0, power_w / 2))
    made = plan(a_job(heated(*cables, breaker_a=20.0), code=code))
    assert {"load-over-80-percent", "load-over-breaker"} & {*codes(made)} == (
        {told} if told else set()
    )


def test_a_load_that_is_not_known_is_not_judged() -> None:
    unknown = heated(Cable("one", 240.0, 9000.0), Cable("two", 240.0), breaker_a=20.0)
    assert not found(plan(a_job(unknown, code=Code.NEC)), "load-over-80-percent")
    no_cable = heated(breaker_a=20.0)
    assert not found(plan(a_job(no_cable, code=Code.NEC)), "load-over-80-percent")


def test_mats_together_read_the_inverse_of_the_sum_of_inverses() -> None:
    two = heated(Cable("one", resistance_ohm=60.0), Cable("two", resistance_ohm=30.0))
    (finding,) = found(plan(a_job(two)), "cables-together")
    assert finding.params["joint_ohm"] == pytest.approx(20.0)
    half = heated(Cable("one", resistance_ohm=60.0), Cable("two"))
    assert not found(plan(a_job(half)), "cables-together")


def test_a_floor_without_cable_figures_is_told_and_one_heated_by_water_has_none() -> None:
    assert found(plan(a_job(heated())), "no-cable-figures")
    water = plan(a_job(heated(kind=HeatingKind.WATER)))
    assert not found(water, "no-cable-figures")
    assert not found(plan(a_job()), "no-cable-figures")


def test_a_house_heated_by_nothing_needs_heat_that_is_not_this_floor() -> None:
    cold = expected(12.0, heated_by=HeatedBy.NOTHING)
    made = plan(a_job(climate=cold))
    (finding,) = found(made, "house-needs-heat")
    window = made.zones[0].energize.window
    assert window is not None
    assert finding.params["until_at"] == window.latest
    assert finding.params["at_least_c"] == 12.0
    order = made.zones[0].room_order
    assert order is not None
    assert (order.at_least_c, order.heated_by) == (12.0, "")
    no_date = plan(a_job(climate=expected(9.0, heated_by=HeatedBy.NOTHING)))
    assert found(no_date, "house-needs-heat-no-date")
    assert not found(plan(a_job()), "house-needs-heat")


def test_a_house_heated_by_nothing_is_told_without_an_order_once_the_clocks_are_out() -> None:
    made = plan(a_job(climate=expected(heated_by=HeatedBy.NOTHING)), evidence(), READY + DAY)
    assert made.zones[0].room_order is None
    (finding,) = found(made, "house-needs-heat")
    assert finding.params["at_least_c"] == 20.0


def test_a_settled_floor_is_told_nothing_more_of_its_layers() -> None:
    cold = expected(20.0, heated_by=HeatedBy.NOTHING)
    made = plan(a_job(climate=cold), released(), READY + DAY)
    assert state(made) is State.RELEASED
    assert not {"house-needs-heat", "heat-under-fallback"} & {*codes(made)}


@pytest.mark.parametrize(
    ("air_c", "measured_c", "told"), [(32.0, 20.0, False), (33.0, 20.0, True), (20.0, 34.0, True)]
)
def test_a_hot_room_is_told(air_c: float, measured_c: float, *, told: bool) -> None:
    made = plan(a_job(climate=expected(air_c)), [reading(START + DAY, measured_c)], START + DAY * 2)
    assert bool(found(made, "room-hot")) is told


@pytest.mark.parametrize(
    ("climate", "told"),
    [
        (expected(20.0, coldest_c=9.0), 1),
        (expected(20.0, coldest_c=10.0), 0),
        # Over ground the bed lies 3 K under the air.
        (expected(20.0, coldest_c=12.0, below=Below.GROUND), 1),
    ],
)
def test_a_room_that_may_fall_below_a_minimum_is_told_once(climate: object, told: int) -> None:
    made = plan(a_job(climate=climate))
    assert len(found(made, "may-fall-below-minimum")) == told


def test_what_has_no_hardening_of_its_own_has_no_minimum() -> None:
    sheet_only = zone(layer("mortar bed", None, existing=True), layer("uncoupling sheet", START))
    made = plan(a_job(sheet_only, climate=expected(20.0, coldest_c=5.0)))
    assert not found(made, "may-fall-below-minimum")


def test_a_floor_whose_clocks_are_out_may_be_cold_again() -> None:
    cold = a_job(climate=expected(20.0, coldest_c=9.0))
    assert not found(plan(cold, evidence(), READY + DAY), "may-fall-below-minimum")


def test_a_wait_by_fallback_is_told_and_one_under_it_with_its_source() -> None:
    made = plan(a_job(zone(layer("leveler", START, thickness_m=0.005))))
    (finding,) = found(made, "heat-by-fallback")
    assert finding.params["wait_s"] == 28 * 86400.0
    assert finding.severity is Severity.CAUTION
    short = found(plan(a_job()), "heat-under-fallback")
    assert [item.params["source"] for item in short] == [SHEET.text] * 3
    assert {item.params["wait_s"] for item in short} == {3 * 86400.0}
    long = zone(layer(sheet("leveler", 28.0), START, thickness_m=0.005))
    assert not {"heat-under-fallback", "heat-by-fallback"} & {*codes(plan(a_job(long)))}


@pytest.mark.parametrize(
    ("amount", "told"),
    [
        (TableWait(((10.0, 40 * 86400.0), (20.0, 20 * 86400.0))), [20.0]),
        (TableWait(((10.0, 40 * 86400.0), (20.0, 28 * 86400.0))), []),
        (ThicknessWait(((0.010, 7 * 86400.0),)), [7.0]),
        # Deeper than its sheet says: no wait, nothing to compare.
        (ThicknessWait(((0.003, 7 * 86400.0),)), []),
    ],
)
def test_a_wait_by_table_or_thickness_is_judged_where_this_floor_reads_it(
    amount: TableWait | ThicknessWait, told: list[float]
) -> None:
    base = sheet("leveler")
    heat = Wait(amount, SHEET, 20.0, 0.5, Hardening.CEMENT)
    made = replace(base, waits={**base.waits, Milestone.HEAT: heat})
    short = found(plan(a_job(zone(layer(made, START, thickness_m=0.005)))), "heat-under-fallback")
    assert [finding.params["wait_s"] for finding in short] == [days * 86400.0 for days in told]


def test_a_short_sheet_is_told_without_a_date_too_where_its_wait_is_plain() -> None:
    base = sheet("thinset", 3.0)
    table = TableWait(((10.0, 4 * 86400.0), (20.0, 2 * 86400.0)))
    heat = replace(base.waits[Milestone.HEAT], amount=table)
    by_table = replace(base, waits={**base.waits, Milestone.HEAT: heat})
    layers = (courses()[0], layer(by_table, None, "mortar"))
    made = plan(a_job(floor(layers=layers), climate=expected(9.0)))
    assert [finding.layer_id for finding in found(made, "heat-under-fallback")] == ["leveler"]


def test_a_classes_own_short_wait_and_a_sealers_are_no_conflict() -> None:
    sealed = zone(layer("epoxy grout", START), layer(sheet("sealer", 3.0), START + DAY * 4))
    assert not found(plan(a_job(sealed)), "heat-under-fallback")


def test_old_layers_and_a_screed_heated_bare_are_not_judged_by_their_heat_wait() -> None:
    made = zone(
        layer("concrete", None, existing=True),
        layer("sand-cement screed", START, thickness_m=0.05, heat_before_covering=True),
    )
    assert not found(plan(a_job(made)), "heat-by-fallback")


@pytest.mark.parametrize("own", [True, False])
def test_mortar_sealed_on_both_sides_is_told_where_its_sheet_is_silent(*, own: bool) -> None:
    mortar = sheet("thinset", 14.0)
    if own:
        long = replace(mortar.waits[Milestone.HEAT], source=Source(Basis.DATA_SHEET, "p. 2"))
        mortar = replace(mortar, heat_sealed=long)
    made = zone(
        layer("uncoupling sheet", START),
        layer(mortar, START + DAY, "mortar"),
        covering=Covering(CoveringKind.PORCELAIN, (0.3, 0.6)),
    )
    told = found(plan(a_job(made), as_of=START + DAY * 2), "sealed-both-sides")
    assert [finding.params["wait_s"] for finding in told] == ([] if own else [60 * 86400.0])


@pytest.mark.parametrize(
    ("board", "between"),
    [("uncoupling sheet", ()), ("foam-core board", ("primer",)), ("insulation board", ())],
)
def test_what_shuts_a_mortar_in_is_called_by_its_name(board: str, between: tuple[str, ...]) -> None:
    films = [layer(name, START) for name in between]
    made = zone(
        layer(board, START),
        *films,
        layer("thinset", START + DAY, "mortar"),
        covering=Covering(CoveringKind.PORCELAIN, (0.3, 0.6)),
    )
    (finding,) = found(plan(a_job(made), as_of=START + DAY * 2), "sealed-both-sides")
    said = words_for(a_job(made), RULES).finding(finding)[0]
    assert f"lies between the {board} and dense tile and dries slowly: 60 days" in said


def test_a_repair_wants_the_floor_off_a_day_before() -> None:
    old = layer("mortar bed", None, existing=True)
    planned = zone(old, layer(sheet("thinset", 10.0), repair=True))
    (finding,) = found(plan(a_job(planned)), "repair-floor-off")
    assert (finding.severity, finding.params["off_s"]) == (Severity.WARNING, 86400.0)
    # Once it is done, the advice comes too late to be of use.
    done = zone(old, layer(sheet("thinset", 10.0), START, repair=True))
    assert not found(plan(a_job(done)), "repair-floor-off")
    assert not found(plan(a_job()), "repair-floor-off")


@pytest.mark.parametrize(
    ("kind", "code"),
    [
        (CoveringKind.WOOD, "laying-wood"),
        (CoveringKind.LAMINATE, "laying-wood"),
        (CoveringKind.CORK, "laying-wood"),
        (CoveringKind.VINYL, "laying-vinyl"),
        (CoveringKind.LINOLEUM, "laying-vinyl"),
        (CoveringKind.CARPET, "laying-vinyl"),
        (CoveringKind.STONE, None),
    ],
)
def test_soft_coverings_say_when_the_floor_is_off(kind: CoveringKind, code: str | None) -> None:
    made = plan(a_job(floor(covering=Covering(kind))))
    told = [one for one in made.findings if one.code in {"laying-wood", "laying-vinyl"}]
    assert [one.code for one in told] == ([code] if code else [])
    words = words_for(made.job, RULES)
    assert all(f"before the {kind.value} is laid" in words.finding(one)[0] for one in told)


def test_a_loose_carpet_has_no_adhesive_to_spare() -> None:
    loose = Covering(CoveringKind.CARPET, is_floating=True)
    assert not found(plan(a_job(floor(covering=loose))), "laying-vinyl")
