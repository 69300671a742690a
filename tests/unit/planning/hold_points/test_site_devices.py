"""Protection, thermostat, connection: every choice, and the figures beside it."""

from __future__ import annotations

from dataclasses import replace

import pytest
from planning_log import READY, a_job, evidence, fact, floor, hold
from planning_samples import DAY, START, plan

from curecal.planning.plan import HoldState
from curecal.trade.job import Code, Room
from curecal.trade.site_log import (
    Connected,
    Device,
    Leads,
    Mode,
    Protection,
    ThermostatSet,
    TripTest,
)

TRIPPED, NOT = TripTest.TRIPPED, TripTest.DID_NOT_TRIP


# IEC 60364-7-753: 30 mA at most; IEC 61008-1: within 300 ms (both from memory). A GFCI is class A
# by its name: 4 to 6 mA (UL 943, from memory).
@pytest.mark.parametrize(
    ("device", "trips_at_a", "trip_test", "trip_s", "state", "reason"),
    [
        (Device.RCD, 0.03, TRIPPED, None, "met", "protection-trips"),
        (Device.RCBO, 0.03, TRIPPED, 0.018, "met", "protection-trips"),
        (Device.GFCI, None, TRIPPED, None, "met", "protection-trips"),
        (Device.GFCI, 0.005, TRIPPED, 0.3, "met", "protection-trips"),
        (Device.RCD, None, TRIPPED, None, "unmet", "protection-sensitivity"),
        (Device.RCBO, None, None, None, "unmet", "protection-sensitivity"),
        (Device.RCD, 0.03, None, None, "unmet", "protection-untested"),
        (Device.GFCI, None, None, None, "unmet", "protection-untested"),
        (Device.RCD, 0.3, TRIPPED, None, "failed", "protection-coarse"),
        (Device.RCD, float("nan"), TRIPPED, None, "failed", "protection-coarse"),
        (Device.RCD, 0.03, TRIPPED, 0.301, "failed", "protection-slow"),
        (Device.RCD, 0.03, TRIPPED, float("nan"), "failed", "protection-slow"),
        (Device.GFCI, 0.005, NOT, None, "failed", "protection-failed"),
        (Device.RCD, 0.3, NOT, 2.0, "failed", "protection-failed"),
    ],
)
def test_protection_is_a_device_that_tripped_within_its_figures(
    device: Device,
    trips_at_a: float | None,
    trip_test: TripTest | None,
    trip_s: float | None,
    state: str,
    reason: str,
) -> None:
    entry = fact(
        Protection,
        START,
        device=device,
        trips_at_a=trips_at_a,
        trip_test=trip_test,
        trip_s=trip_s,
    )
    point = hold(plan(a_job(), [entry]), "protection")
    assert point.reason is not None
    assert (point.state, point.reason.code) == (state, reason)


# Class A trips at 4 to 6 mA (UL 943); NEC 424.44(G) and, from 2017, 424.45 ask for it (both from
# memory). 30 mA is the most of IEC 60364-7-753 (from memory).
@pytest.mark.parametrize(
    ("code", "page", "trips_at_a", "reason"),
    [
        (Code.NEC, None, 0.005, "protection-trips"),
        (Code.NEC, None, 0.006, "protection-trips"),
        (Code.NEC, None, 0.0061, "protection-not-class-a"),
        (Code.NEC, None, 0.03, "protection-not-class-a"),
        # No maker's page lifts a rule of NEC.
        (Code.NEC, "guide, p. 9", 0.03, "protection-not-class-a"),
        (Code.CEC, None, 0.03, "protection-not-class-a"),
        (Code.CEC, None, 0.005, "protection-trips"),
        (Code.CEC, "guide, p. 9", 0.03, "protection-trips"),
        (Code.CEC, "guide, p. 9", 0.1, "protection-coarse"),
        (Code.BS_7671, None, 0.03, "protection-trips"),
        (Code.OTHER, None, 0.03, "protection-trips"),
        (Code.OTHER, None, 0.1, "protection-coarse"),
    ],
)
@pytest.mark.parametrize("room", [Room.LIVING_SPACE, Room.BATHROOM])
def test_the_code_says_how_sensitive_protection_must_be(
    code: Code, page: str | None, trips_at_a: float, reason: str, room: Room
) -> None:
    heating = replace(floor().heating, protection_source=page)
    job = a_job(floor(room=room, heating=heating), code=code)
    device = Device.GFCI if trips_at_a < 0.01 else Device.RCD
    entry = fact(Protection, START, device=device, trips_at_a=trips_at_a, trip_test=TRIPPED)
    point = hold(plan(job, [entry]), "protection")
    assert point.reason is not None
    assert point.reason.code == reason
    assert point.state == ("met" if reason == "protection-trips" else "failed")
    # The way out is told only where there is one.
    assert point.reason.params["page_a"] == (0.03 if code is Code.CEC else None)


@pytest.mark.parametrize(
    ("mode", "limit_c", "room", "expected"),
    [
        (Mode.FLOOR, 29.0, Room.LIVING_SPACE, "met"),
        (Mode.FLOOR, 29.0 + 1e-12, Room.LIVING_SPACE, "met"),
        # 85 °F: the set-point for 29 °C rounds down to 84.
        (Mode.FLOOR, 29.44, Room.LIVING_SPACE, "failed"),
        (Mode.FLOOR, float("nan"), Room.LIVING_SPACE, "failed"),
        (Mode.FLOOR, 33.0, Room.BATHROOM, "met"),
        (Mode.FLOOR, None, Room.LIVING_SPACE, "unmet"),
        (Mode.AIR, 25.0, Room.LIVING_SPACE, "failed"),
        (Mode.AIR_WITH_FLOOR_LIMIT, 25.0, Room.LIVING_SPACE, "failed"),
    ],
)
def test_the_thermostat_controls_the_floor_within_its_limit(
    mode: Mode, limit_c: float | None, room: Room, expected: str
) -> None:
    entry = fact(ThermostatSet, START, mode=mode, limit_c=limit_c)
    assert hold(plan(a_job(floor(room=room)), [entry]), "thermostat").state == expected


@pytest.mark.parametrize(
    ("before", "state"),
    [
        ([{"mode": Mode.FLOOR, "limit_c": 27.0}], "met"),
        # A limit of another mode is not the floor's, and one that does not count is none.
        ([{"mode": Mode.AIR, "limit_c": 27.0}], "unmet"),
        ([{"mode": Mode.FLOOR, "limit_c": 27.0, "by": None}], "unmet"),
        ([{"mode": Mode.FLOOR}], "unmet"),
        # Of two of one instant the higher limit stands.
        ([{"mode": Mode.FLOOR, "limit_c": 27.0}, {"mode": Mode.FLOOR, "limit_c": 35.0}], "failed"),
    ],
)
def test_a_floor_limit_stands_until_another_is_set(
    before: list[dict[str, object]], state: str
) -> None:
    log = [fact(ThermostatSet, START, **made) for made in before]
    log.append(fact(ThermostatSet, START + DAY, mode=Mode.FLOOR))
    assert hold(plan(a_job(), log, START + DAY * 2), "thermostat").state == state


CONNECTED = {"locked": True, "tagged": True, "leads": Leads.OFF}


@pytest.mark.parametrize(
    ("more", "expected", "reason"),
    [
        ({}, "met", "connection-done"),
        ({"locked": False}, "failed", "connection-not-locked"),
        ({"tagged": False}, "failed", "connection-not-locked"),
        # Thermostats boot into heating.
        ({"leads": Leads.ON}, "failed", "connection-not-locked"),
        ({"locked": None}, "unmet", "connection-incomplete"),
        ({"tagged": None}, "unmet", "connection-incomplete"),
        ({"leads": None}, "unmet", "connection-incomplete"),
    ],
)
def test_the_connection_is_locked_tagged_and_off_the_thermostat(
    more: dict[str, object], expected: str, reason: str
) -> None:
    entry = fact(Connected, START, **{**CONNECTED, **more})
    point = hold(plan(a_job(), [entry]), "connection")
    assert point.reason is not None
    assert (point.state, point.reason.code) == (expected, reason)
    if expected == "met":
        assert point.reason.params["license"] == "L 1"


def test_bad_news_of_anybody_counts_and_good_news_of_nobody() -> None:
    at = READY
    worse = [
        fact(Protection, at, by=None, device=Device.RCD, trips_at_a=0.3, trip_test=TRIPPED),
        fact(ThermostatSet, at, by="a stranger", mode=Mode.FLOOR, limit_c=40.0),
        fact(Connected, at, by=None, leads=Leads.ON),
    ]
    better = [
        fact(Protection, at, by=None, device=Device.GFCI, trip_test=TRIPPED),
        fact(ThermostatSet, at, by="a stranger", mode=Mode.FLOOR, limit_c=27.0),
        fact(Connected, at, by=None, **CONNECTED),
    ]
    names = ("protection", "thermostat", "connection")
    made = plan(a_job(), [*evidence(), *worse], at)
    assert [hold(made, code).state for code in names] == [HoldState.FAILED] * 3
    alone = plan(a_job(), better, at)
    assert [hold(alone, code).state for code in names] == [HoldState.UNMET] * 3
    assert [hold(alone, code).reason.code for code in names] == [  # type: ignore[union-attr]
        "signature-unsigned",
        "signature-unknown",
        "signature-unsigned",
    ]
    # What does not count hides nothing that was said before it.
    again = plan(a_job(), [*worse, *[type(entry)(**fields_at(entry)) for entry in better]], READY)
    assert [hold(again, code).state for code in names] == [HoldState.FAILED] * 3


def fields_at(entry: object) -> dict[str, object]:
    """Return an entry's fields, a minute later."""
    names = [name for kind in type(entry).__mro__ for name in getattr(kind, "__slots__", ())]
    return {name: getattr(entry, name) for name in names} | {"at": READY}
