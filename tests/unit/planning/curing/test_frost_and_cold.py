"""Frost and cold on fresh layers: what stops, what restarts, what only loses credit."""

from __future__ import annotations

from datetime import timedelta

from planning_samples import (
    DAY,
    START,
    daily,
    expected,
    job,
    layer,
    looked,
    plan,
    reading,
    sheet,
    zone,
)

from curecal.instants import Window
from curecal.planning.plan import HoldState, Plan, State
from curecal.trade.data_sheets import Milestone
from curecal.trade.job import Layer
from curecal.trade.site_log import Entry, Place, Result

HOUR = timedelta(hours=1)
FROST = [
    reading(START, 10.0),
    reading(START + DAY, 10.0),
    reading(START + HOUR * 40, -2.0),
    reading(START + HOUR * 50, 10.0),
]


def frozen(*log: Entry, made: Layer | None = None, as_of: timedelta = DAY * 10) -> Plan:
    return plan(job(zone(made or layer("thinset", START, "mortar"))), [*FROST, *log], START + as_of)


def codes(made: Plan) -> list[str]:
    return [finding.code for finding in made.findings]


def heat(made: Plan) -> Window | None:
    return made.zones[0].layers[0].milestones[Milestone.HEAT].window


def test_frost_before_72_hours_of_age_stops() -> None:
    made = frozen()
    assert "frost" in codes(made)
    assert made.zones[0].state is State.NO_DATE
    assert heat(made) is None
    assert made.zones[0].why.code == "frost"


def test_before_the_frost_was_read_the_plan_had_a_date() -> None:
    made = frozen(as_of=HOUR * 39)
    assert heat(made) is not None
    assert "frost" not in codes(made)


def test_found_sound_the_full_wait_starts_at_the_thaw() -> None:
    made = frozen(looked(START + DAY * 3, Result.SOUND, "mortar"))
    window = heat(made)
    assert window is not None
    # The colder of two readings holds until the next: the thaw is the reading at 50 h. It reaches
    # three hours at 10 °C (rate 0.4974). Then nothing counts until the frost is a day past, at
    # 64 h; then 10 °C until that reading is a day past, at 74 h; and the rest at 20 °C.
    hours = (window.earliest - START).total_seconds() / 3600.0
    assert abs(hours - (74 + 672 - 13 * 0.4974)) < 0.01


def test_a_frost_nobody_saw_end_has_thawed_when_somebody_looked() -> None:
    log = [reading(START, 10.0), reading(START + HOUR * 20, -2.0)]
    seen = START + HOUR * 22
    made = plan(
        job(zone(layer("thinset", START, "mortar"))),
        [*log, looked(seen, Result.SOUND, "mortar")],
        START + DAY,
    )
    window = heat(made)
    assert window is not None
    assert window.earliest >= seen + DAY * 28


def test_an_inspection_of_another_layer_or_before_the_frost_settles_nothing() -> None:
    assert heat(frozen(looked(START + DAY * 3, Result.SOUND, "grout"))) is None
    assert heat(frozen(looked(START + HOUR * 2, Result.SOUND, "mortar"))) is None


def test_found_bad_it_still_has_no_date() -> None:
    assert heat(frozen(looked(START + DAY * 3, Result.FAILED, "mortar"))) is None


def test_replace_waits_for_a_new_layer() -> None:
    look = looked(START + DAY * 3, Result.REPLACE, "mortar")
    made = frozen(look)
    assert made.zones[0].energize.blocked is not None
    assert made.zones[0].energize.blocked.code == "replace-layer"
    renewed = frozen(look, made=layer("thinset", START + DAY * 4, "mortar"))
    window = heat(renewed)
    assert window is not None
    assert window.earliest == START + DAY * 32


def test_after_72_hours_of_age_frost_is_a_warning_without_credit() -> None:
    log = [
        *daily(START, 8, 20.0),
        reading(START + DAY * 9, -1.0),
        *daily(START + DAY * 10, 2, 20.0),
    ]
    made = plan(job(zone(layer("thinset", START, "mortar"))), log, START + DAY * 12)
    assert "frost-after-hardening" in codes(made)
    assert "frost" not in codes(made)
    window = heat(made)
    assert window is not None
    # Two days lost: from the reading before to the reading after, the colder holds.
    assert window.earliest == START + DAY * 30


def test_drying_products_are_vulnerable_until_their_last_milestone() -> None:
    log = [*daily(START, 1, 20.0), reading(START + DAY * 1.5, -1.0), reading(START + DAY * 2, 20.0)]
    young = plan(job(zone(layer("membrane", START, "skin"))), log, START + DAY * 3)
    assert "frost" in codes(young)
    late = [*daily(START, 3, 20.0), reading(START + DAY * 4, -1.0), reading(START + DAY * 5, 20.0)]
    dry = plan(job(zone(layer("membrane", START, "skin"))), late, START + DAY * 5)
    assert "frost" not in codes(dry)
    assert "frost-after-hardening" in codes(dry)


def test_resins_and_sheets_only_lose_credit() -> None:
    for made in (layer("epoxy barrier", START, "barrier"), layer("uncoupling sheet", START, "mat")):
        found = frozen(made=made)
        assert "frost" not in codes(found)


def test_frost_before_the_layer_was_laid_is_none_of_its_harm() -> None:
    made = frozen(made=layer("thinset", START + HOUR * 51, "mortar"))
    assert "frost" not in codes(made)
    assert "frost-after-hardening" not in codes(made)


def test_a_touch_of_freezing_at_the_very_start_counts() -> None:
    log = [reading(START, 0.0), reading(START, 0.0, Place.AIR)]
    assert "frost" in codes(plan(job(zone(layer("thinset", START, "mortar"))), log, START + DAY))


def test_a_sheet_may_say_how_long_frost_harms_it() -> None:
    hardy = sheet("thinset", frost_age_s=3600.0)
    made = frozen(made=layer(hardy, START, "mortar"))
    assert "frost" not in codes(made)


def cold(*log: Entry, made: Layer | None = None) -> Plan:
    return plan(
        job(zone(made or layer("thinset", START, "mortar"))),
        [*daily(START, 1, 9.0), *daily(START + DAY * 2, 5, 20.0), *log],
        START + DAY * 7,
    )


def test_laid_below_the_minimum_is_lost_time_and_a_question_to_the_maker() -> None:
    made = cold()
    assert "cold-at-application" in codes(made)
    hold = next(hold for hold in made.zones[0].holds if hold.code == "ask-the-maker")
    assert hold.state is HoldState.UNMET
    window = heat(made)
    assert window is not None
    # Two days below 10 °C: from the first look to the first warm one the colder holds.
    assert window.earliest == START + DAY * 30


def test_the_makers_answer_settles_it() -> None:
    for result, state in ((Result.SOUND, HoldState.MET), (Result.FAILED, HoldState.FAILED)):
        made = cold(looked(START + DAY * 3, result, "mortar"))
        hold = next(hold for hold in made.zones[0].holds if hold.code == "ask-the-maker")
        assert hold.state is state


def test_cold_after_it_may_be_covered_is_lost_time_only() -> None:
    log = [*daily(START, 3, 20.0), reading(START + DAY * 4, 9.0), reading(START + DAY * 5, 20.0)]
    made = plan(job(zone(layer("thinset", START, "mortar"))), log, START + DAY * 5)
    assert "cold-at-application" not in codes(made)


def test_cold_while_it_was_being_laid_counts() -> None:
    begun = layer("thinset", START + HOUR * 4, "mortar", duration_s=4 * 3600.0)
    log = [reading(START, 9.0), reading(START + HOUR * 3, 20.0), reading(START + HOUR * 20, 20.0)]
    made = plan(job(zone(begun)), log, START + DAY)
    assert "cold-at-application" in codes(made)


def test_a_climate_that_never_gets_there_leaves_cold_open_ended() -> None:
    made = plan(
        job(zone(layer("thinset", START, "mortar")), climate=expected(9.0)),
        daily(START, 2, 9.0),
        START + DAY * 2,
    )
    assert made.zones[0].state is State.NO_DATE
    assert "cold-at-application" in codes(made)


def test_a_layer_without_early_milestones_is_judged_at_its_start() -> None:
    made = plan(
        job(zone(layer(sheet("silicone", 3.0), START, "edge joint"))),
        daily(START, 2, 9.0),
        START + DAY * 2,
    )
    assert "cold-at-application" in codes(made)
