"""What tradespeople write of trip tests, thermostats, connections: known, asked about, or a no."""

from __future__ import annotations

from datetime import datetime

import pytest
from planning_log import READY, a_job, codes, evidence, fact, hold, released, state, without
from planning_samples import DAY, START, plan

from curecal.planning.hold_points.protection import read_protection
from curecal.planning.hold_points.site_devices import Leads, read_leads
from curecal.planning.hold_points.thermostat_mode import controls_floor
from curecal.planning.hold_points.trip_test import Tripped, read_trip
from curecal.planning.plan import HoldState, Plan, State
from curecal.planning.site_log.said import is_licence, is_nobody, may_say
from curecal.trade.job import Person, Role
from curecal.trade.site_log import Connected, Energized, Entry, Protection, ThermostatSet

LATE = READY + DAY * 3
CONNECTED = {
    "by": "the electrician",
    "licence": "L 1",
    "locked": True,
    "tagged": True,
    "heating_leads": "not landed",
}


def in_service(*later: Entry) -> Plan:
    """Return the plan of a released floor that was switched on, with what is logged later."""
    on = fact(Energized, READY + DAY, by="the electrician")
    return plan(a_job(), [*released(), on, *later], LATE + DAY)


def alone(entry: Entry) -> Plan:
    """Return the plan of a finished floor on which one entry says what others had said."""
    return plan(a_job(), [*without(evidence(), type(entry)), entry], LATE)


@pytest.mark.parametrize(
    "written",
    [
        "tripped",
        "Passed",
        "tripped in 18 ms",
        "tripped at 22 mA",
        "tripped at 22 mA in 0,02 s",
        "18 ms",
        "tripped ok",
        "tripped.",
        "It tripped",
        "test button: tripped",
        "trip test ok",
        "tested ok",
        "yes",
        "good",
        "works",
        "ausgelöst",
    ],
)
def test_a_trip_test_is_passed_by_known_words_and_figures(written: str) -> None:
    assert read_trip(written, most_a=0.03, most_s=0.3) is Tripped.YES
    made = alone(fact(Protection, START, type="GFCI 5 mA", trip_test=written))
    assert hold(made, "protection").state is HoldState.MET


@pytest.mark.parametrize(
    ("written", "tripped"),
    [
        ("failed", Tripped.NO),
        ("it failed", Tripped.NO),
        ("did not trip", Tripped.NO),
        ("didn\u2019t trip", Tripped.NO),
        ("tripped in 400 ms", Tripped.DOUBTFUL),
        ("> 300 ms", Tripped.DOUBTFUL),
        ("tripped at 45 mA", Tripped.DOUBTFUL),
        ("0 ms", Tripped.DOUBTFUL),
        ("not tested", Tripped.DOUBTFUL),
        ("hat nicht ausgelöst", Tripped.DOUBTFUL),
        ("keeps tripping", Tripped.DOUBTFUL),
        ("test button stuck", Tripped.DOUBTFUL),
        ("trip", Tripped.UNKNOWN),
        ("22 mA", Tripped.UNKNOWN),
        ("ok?", Tripped.UNKNOWN),
        ("tripped twice", Tripped.UNKNOWN),
        ("\u2713", Tripped.UNKNOWN),
        (None, Tripped.UNKNOWN),
    ],
)
def test_other_words_for_a_trip_test_are_none(written: str | None, tripped: Tripped) -> None:
    assert read_trip(written, most_a=0.03, most_s=0.3) is tripped
    made = alone(fact(Protection, START, type="GFCI 5 mA", trip_test=written))
    expected = HoldState.FAILED if tripped is Tripped.NO else HoldState.UNMET
    assert hold(made, "protection").state is expected


def protection(kind: str, trip_test: str | None, at: datetime = LATE) -> Entry:
    return fact(Protection, at, type=kind, trip_test=trip_test)


@pytest.mark.parametrize(
    ("entry", "code"),
    [
        (protection("RCD 30 mA", "tripped twice"), "protection-trip-words"),
        (protection("RCD", "tripped"), "protection-sensitivity"),
        (protection("the one in the hall", "tripped"), "protection-words"),
        (protection("rcd  30 mA", None), "protection-again"),
        (fact(ThermostatSet, LATE, mode="programme 2", limit_c=27.0), "thermostat-words"),
        (
            fact(Connected, LATE, **{**CONNECTED, "heating_leads": "up"}),
            "connection-leads-words",
        ),
    ],
)
def test_words_that_are_not_understood_are_asked_about_and_stop_nothing(
    entry: Entry, code: str
) -> None:
    made = in_service(entry)
    assert state(made) is State.HEATING_UP
    assert [each.severity.value for each in made.findings if each.code == code] == ["warning"]
    # Where nothing met the hold point before, they do not meet it.
    first = {"protection-again": "protection-untested"}.get(code, code)
    held = [each for each in alone(entry).zones[0].holds if each.state is HoldState.UNMET]
    assert first in [each.reason.code for each in held if each.reason]
    assert state(alone(entry)) is State.ON_HOLD


@pytest.mark.parametrize(
    "entry",
    [
        protection("RCD 30 mA", "failed"),
        protection("RCD 30 mA", "not tested"),
        protection("RCD 300 mA", "tripped"),
        protection("RCD 300 mA", "not tested"),
        protection("none", "tripped"),
        protection("breaker 15 A", "tripped"),
        protection("the one in the hall", "not tripped"),
        protection("RCBO B16 30 mA", None),
        fact(ThermostatSet, LATE, mode="floor sensor broken", limit_c=27.0),
        fact(ThermostatSet, LATE, mode="air", limit_c=27.0),
        fact(ThermostatSet, LATE, mode="floor", limit_c=45.0),
        fact(Connected, LATE, **{**CONNECTED, "heating_leads": "landed on thermostat"}),
        fact(Connected, LATE, **{**CONNECTED, "heating_leads": "not landed, one connected"}),
    ],
)
def test_words_that_may_mean_a_failure_stop_a_floor_that_is_on(entry: Entry) -> None:
    made = in_service(entry)
    assert not made.zones[0].is_released
    assert "held-while-on" in codes(made)


def test_after_a_failure_words_that_are_not_understood_clear_nothing() -> None:
    bad = protection("RCD 30 mA", "failed")
    vague = protection("RCD 30 mA", "tripped twice", LATE + DAY / 2)
    assert hold(in_service(bad, vague), "protection").state is HoldState.FAILED
    # After one that only lacked something, the newest question is asked.
    coarse = protection("RCD 300 mA", "tripped")
    reason = hold(in_service(coarse, vague), "protection").reason
    assert reason is not None
    assert reason.code == "protection-trip-words"
    # Of one instant, what is understood decides.
    beside = protection("RCD 30 mA", "tripped twice")
    assert hold(in_service(beside, protection("RCD 30 mA", "ok")), "protection").state is (
        HoldState.MET
    )


def test_a_thermostats_limit_stands_until_another_is_set() -> None:
    silent = fact(ThermostatSet, LATE, mode="floor, schedule on")
    made = in_service(silent)
    assert (state(made), hold(made, "thermostat").evidence) == (State.HEATING_UP, silent.id)
    high = fact(ThermostatSet, LATE - DAY, mode="floor", limit_c=45.0)
    assert hold(in_service(high, silent), "thermostat").state is HoldState.FAILED
    # The limit of another mode is not the floor's.
    for mode in ("air", "eco"):
        other = fact(ThermostatSet, LATE - DAY, mode=mode, limit_c=25.0)
        reason = hold(in_service(other, silent), "thermostat").reason
        assert reason is not None
        assert reason.code == "thermostat-no-limit"
    assert hold(alone(silent), "thermostat").state is HoldState.UNMET


@pytest.mark.parametrize(
    ("mode", "expected"),
    [
        ("floor mode (not air)", True),
        ("Floor (sensor)", True),
        ("Floor mode, not ambient", True),
        ("floor mode not air", True),
        ("floor sensor, no air control", True),
        ("floor only, air sensor off", True),
        ("floor mode, schedule off", True),
        ("floor, max 82 °F", True),
        ("floor sensor 10k", True),
        ("external floor sensor", True),
        ("floor sensor, NTC", True),
        ("floor mode, programmable", True),
        ("floor / manual mode", True),
        ("underfloor sensor", True),
        ("sonde au sol", True),
        ("floor, not air off", False),
        ("floor, air not off", False),
        ("floor, air limited to 82 °F", False),
        ("floor, without sensor", False),
        ("no floor sensor, not air", False),
        ("floor, schedule air", False),
        ("Raumfühler", False),
        ("regulator 40 %", False),
        ("external sensor", None),
    ],
)
def test_what_is_said_beside_the_floors_mode(mode: str, *, expected: bool | None) -> None:
    assert controls_floor(mode) is expected


@pytest.mark.parametrize(
    ("kind", "known", "trips_a"),
    [
        ("G.F.C.I.", True, None),
        ("RCCB 25/0.03", True, 0.03),
        ("RCCB 25/0.3", True, 0.3),
        ("RCD 30mA 80A main switch, not RCBO", True, 0.03),
        ("GFCI, later moved to panel B", True, None),
        ("RCD 30 mA, not RCD", False, 0.03),
        ("GFCI, later", False, None),
        ("GFCI, not fitted", False, None),
    ],
)
def test_a_device_is_known_beside_what_it_is_not(
    kind: str, *, known: bool, trips_a: float | None
) -> None:
    read = read_protection(kind)
    assert (read.known, read.none, read.trips_a) == (known, not known, trips_a)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        *((text, True) for text in ("License no: 4711", "License No E33", "EC No: 33", "No-33")),
        *((text, True) for text in ("SIN 4711", "LIC. NO.: 33", "Lic no E-1234", "master roll")),
        *((text, False) for text in ("none yet no. 12", "no licence 4711", "E 33 (expired)")),
        *((text, False) for text in ("E 33, no longer valid", "ohne Lizenz 2026", "pending")),
        *((text, False) for text in ("no", "-", "n/a", "sin licencia", "E 33, without license")),
    ],
)
def test_a_license_is_a_number_and_no_no(text: str, *, expected: bool) -> None:
    assert is_licence(text) is expected
    made = alone(fact(Connected, START, **{**CONNECTED, "licence": text}))
    assert (hold(made, "connection").state is HoldState.MET) is expected


@pytest.mark.parametrize(
    ("by", "nobody"),
    [
        *((by, False) for by in ("Lee No", "Sin Wei", "Ida Nie", "Pat Nil", "Uden Pedersen")),
        *((by, False) for by in ("Pas Muster", "Inspector Pat Later", "Inspector (no objections)")),
        *((by, True) for by in ("no one", "no electrician", "inspector, no signature", "later")),
        *((by, True) for by in ("sin electricista", "not signed", "to be named", "n/a", "-", None)),
    ],
)
def test_a_name_may_sound_like_a_no(by: str | None, *, nobody: bool) -> None:
    assert is_nobody(by) is nobody
    assert may_say((), by, barred=frozenset()) is not nobody
    people = (Person(Role.OWNER, by or "x"),)
    assert not may_say(people, by, barred=frozenset({Role.OWNER}))


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        *((text, Leads.OFF) for text in ("not landed", "off", "Not yet landed", "capped off")),
        *((text, Leads.OFF) for text in ("not landed, capped", "wire-nutted, not landed")),
        *((text, Leads.OFF) for text in ("not landed on thermostat", "not terminated")),
        *((text, Leads.LANDED) for text in ("landed", "Landed on the thermostat")),
        *((text, Leads.DOUBTFUL) for text in ("connected", "no longer not landed", "capped?")),
        *((text, Leads.UNKNOWN) for text in ("isolated", "loose", "taped")),
    ],
)
def test_where_the_heating_leads_are(text: str | None, expected: Leads) -> None:
    assert read_leads(text) is expected
