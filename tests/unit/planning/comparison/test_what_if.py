"""What would bring the date forward, and that nothing else does."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from planning_log import READY, a_job, courses, fact, floor, released
from planning_samples import DAY, RULES, START, every_day, expected, layer, sheet, zone

from curecal.planning.comparison.what_if import Gain, what_helps
from curecal.trade.job import Covering, CoveringKind, Job, Zone
from curecal.trade.site_log import Done, Entry


def gains(job: Job, log: tuple[Entry, ...] = (), as_of: datetime = START + DAY) -> tuple[Gain, ...]:
    return what_helps(job, log, as_of, rules=RULES, day_off=every_day)


def sealed(done: datetime | None) -> Zone:
    """Return modified mortar under porcelain on a sheet: 60 days; rapid mortar has no such wait."""
    return zone(
        layer("uncoupling sheet", START),
        layer("thinset", done, "mortar"),
        covering=Covering(CoveringKind.PORCELAIN, (0.3, 0.6)),
    )


def test_a_warm_room_helps_up_to_the_rated_temperature() -> None:
    (gain,) = gains(a_job(climate=expected(13.0)), as_of=START + DAY * 5)
    assert gain.what.code == "warm-room"
    assert gain.what.params["air_c"] == 20.0
    assert gain.days >= 1
    # At the rated temperature and above there is nothing to gain.
    assert gains(a_job(), as_of=START + DAY * 5) == ()
    assert gains(a_job(climate=expected(24.0)), as_of=START + DAY * 5) == ()


def test_a_rapid_mortar_helps_where_it_is_not_laid_yet() -> None:
    (gain,) = gains(a_job(sealed(None)))
    assert gain.what.code == "rapid-products"
    assert gain.zone == "hall"
    assert 28 <= gain.days <= 36
    assert gains(a_job(sealed(START + DAY))) == ()


def test_what_the_log_says_is_laid_is_past_remedy() -> None:
    done = fact(Done, START + DAY, layer="mortar")
    assert gains(a_job(sealed(None)), (done,), START + DAY * 2) == ()
    # A day planned in the file is not done yet.
    ahead = sealed(START + DAY * 3)
    assert [gain.what.code for gain in gains(a_job(ahead))] == ["rapid-products"]


def test_a_product_that_is_rapid_already_or_has_no_rapid_class_stays() -> None:
    rapid = zone(
        layer("uncoupling sheet", START),
        layer("rapid thinset", None),
        layer("cement grout", None),
        layer("concrete", None, existing=True),
    )
    assert gains(a_job(rapid)) == ()


def test_without_a_rapid_class_nothing_is_offered() -> None:
    classes = {name: made for name, made in RULES.classes.items() if not name.startswith("rapid")}
    found = what_helps(
        a_job(sealed(None)),
        (),
        START + DAY,
        rules=replace(RULES, classes=classes),
        day_off=every_day,
    )
    assert found == ()


def test_a_rapid_class_that_would_take_longer_is_no_gain() -> None:
    # The mortar's own sheet says 3 days, a rapid class without a sheet 28.
    made = zone(layer("uncoupling sheet", START), layer(sheet("thinset", 3.0), None))
    assert gains(a_job(made)) == ()


def test_the_largest_gain_comes_first() -> None:
    found = gains(a_job(sealed(None), climate=expected(17.0)))
    assert {gain.what.code for gain in found} == {"warm-room", "rapid-products"}
    assert found[0].days >= found[1].days


def test_a_released_floor_needs_no_help() -> None:
    assert gains(a_job(climate=expected(18.0)), tuple(released()), READY + DAY) == ()


def test_no_date_is_no_gain() -> None:
    assert gains(a_job(climate=expected(9.0))) == ()


def test_old_layers_have_nothing_to_warm() -> None:
    old = zone(layer("concrete", None, existing=True))
    assert gains(a_job(old, climate=expected(5.0))) == ()


def test_each_zone_has_its_own_gains() -> None:
    other = replace(sealed(None), id="bath", name="bath", path="zone.1")
    found = gains(a_job(floor(layers=courses()), other), as_of=START + DAY * 5)
    assert {gain.zone for gain in found} == {"bath"}


def test_a_warm_room_helps_from_now_on_and_not_backwards() -> None:
    # Mortar of 28 d at 20 °C, ten days old, in a room taken to be at 13 °C, never measured.
    # K(13) = exp(43790/8.314 · (1/293.15 - 1/286.15)) = 0.64434 of the rate at 20 °C.
    # As it is: 28/0.64434 = 43.455 d, so 13 April 22:55, first morning 14 April.
    # At 20 °C from now on: 10 + 28 - 6.4434 = 31.557 d, so 2 April 01:22, that morning: 12 days.
    # (Had the ten days been warm too, it would be 30 March: 15 days.)
    made = a_job(zone(layer("thinset", START, "mortar")), climate=expected(13.0))
    (gain,) = gains(made, as_of=START + DAY * 10)
    assert (gain.what.code, gain.days) == ("warm-room", 12)
