"""Clocks: exact ends against worked values, and what is missing where there is none."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from planning_samples import DAY, RULES, SHEET, START, expected, plan, sheet
from planning_samples import job as make_job
from planning_samples import layer as make_layer
from planning_samples import zone as make_zone

from curecal.instants import Window
from curecal.planning.climate.zone_climate import make_climate
from curecal.planning.curing.clocks import Clocks, WaitEnd, find_latest
from curecal.planning.site_log.log_at_instant import facts_at
from curecal.trade.data_sheets import (
    DataSheet,
    DryingWait,
    FixedWait,
    Hardening,
    Milestone,
    SheetWait,
    TableWait,
    ThicknessWait,
    UntilTested,
    Wait,
)
from curecal.trade.job import Expected

D = 86400.0
NOW = Window(START, START)


def clocks(made: Expected, as_of_d: float = 0.0) -> Clocks:
    facts = facts_at([], START + DAY * as_of_d, ())
    return Clocks(make_climate(make_zone(), made, facts, START, RULES), RULES)


def wait(
    amount: object,
    *,
    rated_c: float = 20.0,
    rated_rh: float = 0.5,
    law: Hardening = Hardening.CEMENT,
) -> Wait:
    return Wait(amount, SHEET, rated_c, rated_rh, law, "as written")  # type: ignore[arg-type]


def due(
    made: Expected,
    amount: object,
    *,
    rated_c: float = 20.0,
    rated_rh: float = 0.5,
    law: Hardening = Hardening.CEMENT,
    product: DataSheet | None = None,
    thickness_m: float | None = None,
    start: Window = NOW,
) -> WaitEnd:
    return clocks(made).end_wait(
        rule="R10",
        wait=wait(amount, rated_c=rated_c, rated_rh=rated_rh, law=law),
        sheet=product or sheet("thinset"),
        thickness_m=thickness_m,
        start=start,
    )


def days(found: WaitEnd) -> float:
    assert found.window is not None
    return (found.window.earliest - START).total_seconds() / D


@pytest.mark.parametrize("air_c", [-10.0, 5.0, 20.0, 35.0])
def test_what_hardens_at_once_waits_as_long_in_any_climate(air_c: float) -> None:
    made = expected(air_c, coldest_c=air_c - 5.0)
    found = due(made, FixedWait(2 * D), law=Hardening.AT_ONCE)
    assert found.window == Window(START + 2 * DAY, START + 2 * DAY)
    assert not any(step.code.startswith("rate-") for step in found.steps)


def test_at_its_rating_a_wait_is_itself_to_the_second() -> None:
    found = due(expected(20.0), FixedWait(28 * D))
    assert found.window == Window(START + DAY * 28, START + DAY * 28)


def test_warmer_than_its_rating_is_no_credit() -> None:
    assert days(due(expected(30.0), FixedWait(28 * D))) == 28.0


def test_the_fallback_in_a_room_of_66_fahrenheit() -> None:
    # 28 d at 20 °C, room 18.889 °C: 29.58 d. Computed by the law of Freiesleben Hansen &
    # Pedersen 1977 (constants from memory), to the last digit given.
    assert days(due(expected((66 - 32) / 1.8), FixedWait(28 * D))) == pytest.approx(
        29.58, abs=0.005
    )


def test_a_ratio_of_rates_not_the_energy_of_the_rating() -> None:
    # Rated 23 °C, at 10 °C: 0.43271, the ratio of both rates (computed by the same law).
    assert days(due(expected(10.0), FixedWait(D), rated_c=23.0)) == pytest.approx(
        1 / 0.43271, abs=1e-4
    )


def test_a_printed_doubling_step_counts_where_it_is_slower() -> None:
    cold = expected(13.0)
    plain = due(cold, FixedWait(D), rated_c=21.0)
    stepped = due(cold, FixedWait(D), rated_c=21.0, product=sheet("thinset", doubling_k=8.0))
    assert days(plain) * 24 == pytest.approx(39.0, abs=0.05)
    assert days(stepped) * 24 == pytest.approx(48.0, abs=1e-3)


def test_calcium_sulfate_dries_by_the_deficit_of_the_air() -> None:
    # 55 mm: 40 + 15/0.5 = 70 d rated 20 °C, 65 %; at 17 °C, 62 % the deficit is 0.8996 of that:
    # 77.8 d (saturation pressures as in ASHRAE Fundamentals 2017 ch. 1).
    made = expected(17.0, humidity=0.62, dampest=0.62)
    product = RULES.classes["calcium-sulfate screed"]
    amount = DryingWait(((0.04, D / 0.001), (None, 2 * D / 0.001)))
    found = due(
        made, amount, rated_rh=0.65, law=Hardening.DRYING, product=product, thickness_m=0.055
    )
    assert days(found) == pytest.approx(77.8, abs=0.05)
    ratio = next(
        step.params["rate_ratio"] for step in found.steps if step.code == "rate-expected-drying"
    )
    assert ratio == pytest.approx(0.8996, abs=5e-5)


def test_a_cement_screed_lies_under_cover_first() -> None:
    # 75 mm with the break at 40 mm: 110 d (BS 5385-3 as quoted by a screed trade page), after
    # 7 d under cover.
    amount = DryingWait(((0.04, D / 0.001), (None, 2 * D / 0.001)), 7 * D)
    found = due(expected(20.0), amount, law=Hardening.DRYING, thickness_m=0.075)
    assert days(found) == pytest.approx(117.0, abs=1e-6)


@pytest.mark.parametrize("humidity", [0.75, 0.80, 1.0])
def test_at_the_humidity_limit_nothing_dries(humidity: float) -> None:
    made = expected(20.0, humidity=humidity, dampest=humidity)
    found = due(made, FixedWait(D), law=Hardening.DRYING)
    assert found.window is None
    assert found.blocked is not None
    assert found.blocked.code == "too-damp"


def test_resin_halves_its_speed_every_ten_kelvin() -> None:
    product = sheet("epoxy grout", minimum_c=5.0)
    found = due(expected(10.0), FixedWait(D), law=Hardening.REACTION, product=product)
    assert days(found) == pytest.approx(2.0, abs=1e-6)


def test_below_the_minimum_there_is_no_date_and_at_it_there_is() -> None:
    below = due(expected(9.99), FixedWait(D))
    assert below.window is None
    assert below.blocked is not None
    assert below.blocked.code == "below-minimum"
    assert due(expected(10.0), FixedWait(D)).window is not None


def test_a_coldest_below_the_minimum_leaves_no_latest() -> None:
    found = due(Expected(20.0, 0.5, 9.0, 0.5), FixedWait(D))
    assert found.window == Window(START + DAY, None)
    assert "latest-never" in [step.code for step in found.steps]


def test_a_start_without_a_latest_has_no_latest_end() -> None:
    found = due(expected(20.0), FixedWait(D), start=Window(START, None))
    assert found.window == Window(START + DAY, None)


def test_what_takes_years_has_no_date() -> None:
    found = due(expected(20.0), FixedWait(4 * 365 * D))
    assert found.window is None
    assert found.blocked is not None
    assert found.blocked.code == "beyond-horizon"


def test_a_start_beyond_every_calendar_has_no_date() -> None:
    far = START + timedelta(days=365 * 20)
    assert due(expected(20.0), FixedWait(D), start=Window(far, far)).window is None


def test_no_wait_is_reached_at_once() -> None:
    assert due(expected(5.0), FixedWait(0.0)).window == NOW


def test_a_sheets_table_is_a_rate_over_temperature() -> None:
    table = TableWait(((10.0, 48 * 3600.0), (21.0, 24 * 3600.0)))
    for room_c, hours in ((21.0, 24.0), (25.0, 24.0), (10.0, 48.0), (15.5, 32.0)):
        found = due(expected(room_c), table, rated_c=21.0, product=sheet("thinset", minimum_c=5.0))
        # Halfway between both temperatures the rate is halfway: 3/4 of full, 32 h.
        assert days(found) * 24 == pytest.approx(hours, abs=1e-3)


def test_thickness_decides_and_the_class_ends() -> None:
    rule = ThicknessWait((), D, 8 * 3600 / 0.001, 0.012)
    assert days(due(expected(20.0), rule, thickness_m=0.010)) * 24 == pytest.approx(80.0)
    assert days(due(expected(20.0), rule, thickness_m=0.002)) == 1.0
    assert days(due(expected(20.0), rule, thickness_m=0.012)) == 4.0
    deeper = due(expected(20.0), rule, thickness_m=0.0125)
    assert deeper.blocked is not None
    assert deeper.blocked.code == "thicker-than-class"
    unknown = due(expected(20.0), rule)
    assert unknown.blocked is not None
    assert unknown.blocked.code == "needs-thickness"


def test_bands_of_thickness() -> None:
    bands = ThicknessWait(((0.010, 6 * 3600.0), (0.030, D)))
    assert days(due(expected(20.0), bands, thickness_m=0.010)) == 0.25
    assert days(due(expected(20.0), bands, thickness_m=0.011)) == 1.0
    assert due(expected(20.0), bands, thickness_m=0.031).window is None


@pytest.mark.parametrize(
    ("amount", "code"),
    [
        (UntilTested(), "needs-moisture-test"),
        (SheetWait(), "needs-sheet"),
        (DryingWait(((None, D),)), "needs-thickness"),
    ],
)
def test_what_is_missing_is_asked_for(amount: object, code: str) -> None:
    found = due(expected(20.0), amount)
    assert found.window is None
    assert found.blocked is not None
    assert found.blocked.code == code


def test_a_drying_rule_that_ends_says_nothing_of_what_is_thicker() -> None:
    found = due(expected(20.0), DryingWait(((0.04, D / 0.001),)), thickness_m=0.05)
    assert found.blocked is not None
    assert found.blocked.code == "thicker-than-class"


def test_frost_gives_nothing_to_a_product_that_bears_cold() -> None:
    product = sheet("thinset", minimum_c=-5.0)
    assert due(expected(-1.0), FixedWait(D), product=product).window is None
    assert due(expected(1.0), FixedWait(D), product=product).window is not None


def test_a_clock_started_before_now_shows_what_it_has_been_credited() -> None:
    made = clocks(expected(10.0), as_of_d=2.0)
    found = made.end_wait(
        rule="R10",
        wait=wait(FixedWait(10 * D)),
        sheet=sheet("thinset"),
        thickness_m=None,
        start=NOW,
    )
    credited = next(step for step in found.steps if step.code == "credited")
    # Two days at 10 °C: the rate is 0.4974 of that at 20 °C.
    assert credited.params["credited_s"] == pytest.approx(2 * D * 0.4974, rel=1e-3)
    assert credited.params["passed_s"] == 2 * D


def test_the_start_that_still_makes_it_is_the_inverse_of_the_wait() -> None:
    made = clocks(expected(13.0))
    found = made.end_wait(
        rule="R10", wait=wait(FixedWait(5 * D)), sheet=sheet("thinset"), thickness_m=None, start=NOW
    )
    assert found.window is not None
    assert found.rate is not None
    back = made.start_by(found.rate, found.window.earliest, found.needed_s)
    assert back is not None
    assert abs((back - START).total_seconds()) < 1.0
    assert made.start_by(found.rate, START + DAY, found.needed_s) is None


def test_the_latest_of_several_governs_and_one_without_a_date_governs_all() -> None:
    short, long = due(expected(20.0), FixedWait(D)), due(expected(20.0), FixedWait(2 * D))
    assert find_latest([short, long]) == (long.window, long)
    assert find_latest([long, short]) == (long.window, long)
    none = due(expected(20.0), SheetWait())
    for order in ([short, none, long], [none, short], [short, none, replace(none, rule="R1")]):
        assert find_latest(order) == (None, none)


def test_every_milestone_carries_its_steps() -> None:
    made = plan(
        make_job(
            make_zone(make_layer("thinset", START), make_layer("cement grout", START + DAY * 2))
        )
    )
    for item in made.zones[0].layers:
        for milestone in item.milestones.values():
            codes = [step.code for step in milestone.steps]
            assert codes[0] in {"done", "planned"}
            assert "reached" in codes
            assert all(step.source.text for step in milestone.steps)
    assert Milestone.HEAT in made.zones[0].layers[0].milestones
