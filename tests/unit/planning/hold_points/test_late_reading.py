"""Who looked before it was known settles nothing: frost, cold, moisture too early or too dry."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from planning_log import READY, a_job, codes, courses, fact, hold, state
from planning_samples import (
    ADA,
    DAY,
    START,
    daily,
    expected,
    item,
    job,
    layer,
    looked,
    plan,
    reading,
    zone,
)

from curecal.planning.plan import HoldState, Plan, State
from curecal.trade.data_sheets import Milestone
from curecal.trade.job import Covering, CoveringKind, Expected, Person, Role
from curecal.trade.site_log import (
    Entry,
    Inspection,
    Kept,
    Method,
    MoistureTest,
    Place,
    Result,
    Series,
)

HOUR = timedelta(hours=1)
OWNER = (Person(Role.OWNER, "Ida Fennell"), ADA)
WARM, FROZEN = START + HOUR * 4, START + HOUR * 27


def floor_of(*log: Entry, hours: float = 60.0, **more: object) -> Plan:
    made = job(zone(layer("thinset", START, "mortar")), **more)  # type: ignore[arg-type]
    return plan(made, log, START + HOUR * hours)


def heat_at(made: Plan) -> datetime | None:
    window = item(made, "mortar").milestones[Milestone.HEAT].window
    return None if window is None else window.earliest


def sound(at: datetime, result: Result = Result.SOUND, by: str | None = "Ada") -> Inspection:
    return looked(at, result, "mortar", by=by)


NIGHT = (reading(WARM, 10.0), reading(FROZEN, -4.0))


def test_a_look_before_anybody_read_the_frost_settles_nothing() -> None:
    for hours in (5, 26.9):
        assert heat_at(floor_of(*NIGHT, sound(START + HOUR * hours))) is None
    found = floor_of(*NIGHT, sound(FROZEN + HOUR))
    at = heat_at(found)
    assert at is not None
    # The full wait from when somebody looked: 28 d at 20 °C.
    assert at >= FROZEN + HOUR + DAY * 28


def test_the_reading_that_froze_is_named_not_the_look_before_it() -> None:
    (frost,) = [finding for finding in floor_of(*NIGHT).findings if finding.code == "frost"]
    assert frost.params["frozen_at"] == FROZEN
    assert frost.params["read_c"] == -4.0


def test_a_second_frost_wants_a_second_look() -> None:
    again = reading(FROZEN + HOUR * 23, -3.0)
    look = sound(FROZEN + HOUR)
    assert heat_at(floor_of(*NIGHT, look)) is not None
    assert heat_at(floor_of(*NIGHT, look, again)) is None
    assert heat_at(floor_of(*NIGHT, look, again, sound(FROZEN + HOUR * 24))) is not None


def test_a_look_amid_a_frost_that_a_logger_saw_go_on_settles_nothing() -> None:
    points = tuple((START + HOUR * n, -1.0 if 10 <= n <= 25 else 10.0, None) for n in range(48))
    log = Series(
        id="s",
        at=START + HOUR * 47,
        recorded=START + HOUR * 47,
        place=Place.SURFACE,
        device="d",
        interval_s=3600.0,
        points=points,
    )
    assert heat_at(floor_of(log, sound(START + HOUR * 15))) is None
    assert heat_at(floor_of(log, sound(START + HOUR * 25))) is not None


def test_a_displays_low_is_known_when_it_is_read() -> None:
    log = [reading(START, 10.0), reading(START + HOUR * 20, 10.0, low_c=-2.0)]
    assert heat_at(floor_of(*log, sound(START + HOUR * 12))) is None
    assert heat_at(floor_of(*log, sound(START + HOUR * 20))) is not None


def test_the_last_look_decides_and_needs_a_name_that_counts() -> None:
    good, bad = sound(FROZEN + HOUR), sound(FROZEN + HOUR * 2, Result.FAILED)
    assert heat_at(floor_of(*NIGHT, good, bad)) is None
    assert heat_at(floor_of(*NIGHT, bad, sound(FROZEN + HOUR * 3))) is not None
    # Of one instant the worst.
    assert heat_at(floor_of(*NIGHT, good, sound(FROZEN + HOUR, Result.REPLACE))) is None
    # That no moisture test is required says nothing of what the frost did.
    assert heat_at(floor_of(*NIGHT, sound(FROZEN + HOUR, Result.NOT_REQUIRED))) is None
    for by in ("", "Ida Fennell"):
        assert heat_at(floor_of(*NIGHT, sound(FROZEN + HOUR, by=by), people=OWNER)) is None


def test_frost_read_before_a_layer_lay_is_told_from_its_start() -> None:
    log = [reading(START - HOUR, -2.0), reading(START + HOUR * 2, 10.0)]
    (frost,) = [finding for finding in floor_of(*log).findings if finding.code == "frost"]
    assert frost.params["frozen_at"] == START
    assert "read_c" not in frost.params
    assert heat_at(floor_of(*log, sound(START + HOUR))) is not None


def test_an_answer_before_the_cold_was_last_read_is_none() -> None:
    log = [reading(START, 12.0), reading(START + HOUR * 20, 8.0), reading(START + HOUR * 40, 8.0)]
    for hours, expected_state in ((2, "unmet"), (30, "unmet"), (40, "met")):
        made = floor_of(*log, sound(START + HOUR * hours))
        assert hold(made, "ask-the-maker").state == expected_state
    (cold,) = [each for each in floor_of(*log).findings if each.code == "cold-at-application"]
    assert cold.params["cold_at"] == START + HOUR * 20


def screed() -> object:
    base = layer("calcium-sulfate screed", START, "screed", thickness_m=0.05)
    return zone(base, layer("adhesive", None, "glue"), covering=Covering(CoveringKind.WOOD))


def probe(
    hours: float, value: float, method: Method = Method.HUMIDITY, **more: object
) -> MoistureTest:
    return fact(
        MoistureTest,
        START + HOUR * hours,
        **{
            "layer": "screed",
            "method": method,
            "value_fraction": value,
            "points": 3,
            "depth_m": 0.03,
            "air_c": 20.0,
            "humidity": 0.55,
            **more,
        },
    )


@pytest.mark.parametrize(
    ("test", "expected_state", "code"),
    [
        # 0.4 % is a carbide figure of a dry screed, no humidity of any.
        (probe(2000, 0.004), "unmet", "moisture-too-dry"),
        (probe(2000, 0.199), "unmet", "moisture-too-dry"),
        (probe(2000, 0.2), "met", None),
        (probe(2000, 0.003, Method.CARBIDE), "met", None),
        (probe(0, 0.003, Method.CARBIDE), "unmet", "moisture-too-early"),
        (probe(1, 0.003, Method.CARBIDE), "unmet", "moisture-too-early"),
        (probe(23.9, 0.5), "unmet", "moisture-too-early"),
        # No longer too early, but far from likely: a second one is wanted.
        (probe(24, 0.5), "unmet", None),
        # Too wet counts at any age.
        (probe(1, 0.03, Method.CARBIDE), "failed", None),
    ],
)
def test_a_test_that_cannot_be_right_opens_nothing(
    test: MoistureTest, expected_state: str, code: str | None
) -> None:
    made = plan(a_job(screed()), [test], START + DAY * 100)  # type: ignore[arg-type]
    assert hold(made, "moisture-test").state == expected_state
    told = {each for each in codes(made) if each.startswith("moisture-too")}
    assert told == ({code} if code else set())


@pytest.mark.parametrize("ids", ["ab", "ba"])
def test_of_two_moisture_tests_of_one_instant_the_wet_one_decides(ids: str) -> None:
    dry = probe(2000, 0.003, Method.CARBIDE, id=ids[0])
    wet = probe(2000, 0.009, Method.CARBIDE, id=ids[1])
    made = plan(a_job(screed()), [dry, wet], START + DAY * 100)  # type: ignore[arg-type]
    assert hold(made, "moisture-test").state is HoldState.FAILED
    assert hold(made, "moisture-test").evidence == wet.id


def kept(above_c: float, by: str | None, to: datetime = READY) -> Kept:
    return fact(Kept, to, by=by, above_c=above_c, from_at=START, to_at=to)


COOL = Expected(20.0, 0.5, 15.0, 0.5)


def due(*log: Entry, climate: Expected = COOL, as_of: datetime = READY + DAY * 9) -> Plan:
    return plan(a_job(zone(*courses()), climate=climate), log, as_of)


def test_what_nobody_signed_is_no_temperature_on_record() -> None:
    signed, unsigned = due(kept(20.0, "Ada")), due(kept(20.0, None))
    assert hold(signed, "cure").state is HoldState.MET
    assert hold(unsigned, "cure").state is HoldState.UNMET
    assert codes(unsigned).count("signature-unsigned") == 1
    assert "signature-unsigned" not in codes(signed)
    assert state(unsigned) is State.ON_HOLD


@pytest.mark.parametrize("above_c", [25.0, 20.0, 17.0, 12.0, 5.0])
def test_what_nobody_signed_brings_no_date_nearer(above_c: float) -> None:
    bare, told = due(), due(kept(above_c, None))
    before, after = bare.zones[0].energize.window, told.zones[0].energize.window
    assert before is not None
    assert before.latest is not None
    assert after is not None
    assert after.latest is not None
    assert after.earliest >= before.earliest
    assert after.latest >= before.latest
    # It is no measured cold either, which would do a layer harm.
    assert "cold-at-application" not in codes(told)


def test_frost_counts_whoever_told_of_it() -> None:
    log = [kept(-5.0, None, START + DAY)]
    made = floor_of(*log, climate=expected(20.0))
    assert made.zones[0].state is State.NO_DATE
    assert "frost" in codes(made)


def test_looks_count_beside_a_statement_nobody_signed() -> None:
    log = [*daily(START, 7, 20.0), kept(12.0, None)]
    assert hold(due(*log), "cure").state is HoldState.MET


def test_frost_before_an_upper_layer_was_laid_is_none_of_its_harm() -> None:
    base = layer("epoxy barrier", START, "barrier")
    made = job(zone(base, layer("thinset", START + HOUR * 40, "mortar", sure=True)))
    log = [*NIGHT, reading(START + HOUR * 30, 15.0), reading(START + HOUR * 50, 15.0)]
    found = plan(made, log, START + HOUR * 60)
    assert "frost" not in codes(found)
    assert heat_at(found) is not None
