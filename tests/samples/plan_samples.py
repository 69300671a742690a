"""Hand-made plans for tests of words and of the command line: one zone a state, invented data."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from curecal.instants import Window
from curecal.material_classes.rules import load_rules
from curecal.planning.plan import (
    Energize,
    Governing,
    HeatUp,
    Hold,
    HoldState,
    LayerPlan,
    MilestonePlan,
    Plan,
    RampStep,
    RoomOrder,
    State,
    Step,
    Visit,
    ZonePlan,
)
from curecal.trade.data_sheets import DataSheet, Hardening, Kind, Milestone
from curecal.trade.findings import Finding, Message, Severity
from curecal.trade.hold_codes import Gate, HoldCode
from curecal.trade.job import Code, Expected, Job, Layer, Role, Units, Zone
from curecal.trade.rules import Rule
from curecal.trade.sources import Basis, Source

TZ = ZoneInfo("America/Halifax")
AS_OF = datetime(2026, 12, 2, 20, 0, tzinfo=UTC)
SHEET = Source(Basis.DATA_SHEET, "rev. 2026-02, p. 2")
FALLBACK = Source(Basis.FALLBACK, "two trade notes: 28 days where no sheet is found")

RULES = replace(
    load_rules(),
    by_id={
        rule: Rule(rule, title, Source(Basis.PUBLISHED, f"source of {title.lower()}"))
        for rule, title in {
            "R1": "Cement cures slower in the cold",
            "R4": "Time counts by the temperature it had",
            "R6": "What is not measured counts at its worst",
            "R9": "The longer end of a range counts",
            "R10": "The longest wait counts; without a sheet, 28 days",
            "R19": "The first heat goes in steps",
            "R27": "A date alone counts from the end of the day",
        }.items()
    },
    classes={},
    holds=(),
    cautions=("sheets-override", "licensed-electrician", "as-the-log-says", "not-a-dryer"),
)


def sheet(name: str, kind: Kind = Kind.THINSET) -> DataSheet:
    return DataSheet(name, kind, Hardening.CEMENT, SHEET, 20.0, 0.5, 10.0, SHEET)


def layer(name: str, index: int = 0, **more: Any) -> Layer:
    path = f"zone.0.layer.{index}"
    return Layer(name.replace(" ", "-"), name, sheet(name), path, **more)


def window(first: datetime, days: float | None = 4.0) -> Window:
    return Window(first, None if days is None else first + timedelta(days=days))


def milestone(
    what: Milestone, first: datetime | None, days: float | None = 4.0, **more: Any
) -> MilestonePlan:
    if first is None:
        blocked = Message("needs-sheet", {"layer": "thinset"})
        return MilestonePlan(what, None, "R10", FALLBACK, blocked=blocked, **more)
    steps = (
        Step("done", "R27", RULES.source("R27"), {"done_at": AS_OF}),
        Step("wait", "R9", SHEET, {"wait_s": 28 * 86400.0, "rated_c": 20.0, "written": "28 d"}),
        Step(
            "rate-expected",
            "R1",
            RULES.source("R1"),
            {"bed_c": 18.0, "rated_c": 20.0, "minimum_c": 10.0, "rate_ratio": 0.9071},
        ),
        Step("reached", "R10", FALLBACK, {"since_at": AS_OF, "earliest_at": first, "taken_s": 9e5}),
    )
    return MilestonePlan(what, window(first, days), "R10", FALLBACK, steps, **more)


START = datetime(2026, 11, 30, 18, 30, tzinfo=UTC)
HEAT = datetime(2027, 1, 4, 19, 10, tzinfo=UTC)


def layers() -> tuple[LayerPlan, ...]:
    leveler = layer("leveler over cable", 1, thickness_m=0.01, done_at=START)
    thinset, grout = layer("thinset", 2), layer("grout, shower side", 3, part="shower")
    slab = layer("old slab", 0, existing=True)
    cover = START + timedelta(days=2, hours=8)
    return (
        LayerPlan(slab, planned=False, start=None, finish=None),
        LayerPlan(
            leveler,
            planned=False,
            start=None,
            finish=Window(START, START),
            milestones={
                Milestone.WALK: milestone(Milestone.WALK, START + timedelta(hours=6), 0.0),
                Milestone.COVER: milestone(Milestone.COVER, cover, 1.0, estimate=True),
                Milestone.HEAT: milestone(Milestone.HEAT, HEAT - timedelta(days=5)),
            },
        ),
        LayerPlan(
            thinset,
            planned=True,
            start=window(cover, 1),
            finish=window(cover + timedelta(hours=5), 1),
            milestones={
                Milestone.GROUT: milestone(Milestone.GROUT, cover + timedelta(days=2), 2.0),
                Milestone.HEAT: milestone(Milestone.HEAT, HEAT),
            },
            latest_start_at=cover + timedelta(days=3),
        ),
        LayerPlan(
            grout,
            planned=True,
            start=window(cover + timedelta(days=3), None),
            finish=window(cover + timedelta(days=4), None),
            milestones={
                Milestone.SEAL: milestone(Milestone.SEAL, cover + timedelta(days=7), None),
                Milestone.HEAT: milestone(Milestone.HEAT, None),
            },
        ),
    )


HOLDS = (
    Hold(
        HoldCode.TEST_BEFORE_CONNECTION,
        Gate.CONNECTION,
        Role.ELECTRICIAN,
        HoldState.FAILED,
        "mat 1",
        evidence="e-1",
        evidence_at=AS_OF,
        reason=Message(
            "earth-finite",
            {"cable": "mat 1", "read_ohm": 26.0, "limit_ohm": 1e6, "tested_at": AS_OF},
        ),
    ),
    Hold(
        HoldCode.PROTECTION,
        Gate.ENERGIZE,
        Role.ELECTRICIAN,
        HoldState.UNMET,
        reason=Message("protection-none"),
    ),
    Hold(HoldCode.RELEASE, Gate.ENERGIZE, Role.CREW_LEAD, HoldState.UNMET),
    Hold(
        HoldCode.TEST_AFTER_LAYING, Gate.EMBEDDING, Role.ELECTRICIAN, HoldState.MET, evidence="e-0"
    ),
)


def ramp(*, provisional: bool = True, measured: bool = False) -> HeatUp:
    return HeatUp(
        "first heat",
        "floor",
        15.0,
        measured,
        29.0,
        29.0,
        Message("limit-room", {"room_kind": "living space"}),
        (
            RampStep(date(2027, 1, 5), 20.0, 1),
            RampStep(date(2027, 1, 6), 25.0, 1),
            RampStep(date(2027, 1, 7), 29.0, 3),
        ),
        date(2027, 1, 10),
        5.0,
        provisional,
        "R19",
        RULES.source("R19"),
    )


WHY = {
    State.STOPPED: Message(
        "stopped",
        {"cause": "smell or heat", "reason": "burning smell", "stopped_at": AS_OF},
    ),
    State.NO_DATE: Message("needs-sheet", {"layer": "gypsum leveler"}),
}


def zone(state: State = State.CURING, *, name: str = "hall bath", **more: Any) -> ZonePlan:
    no_date = state is State.NO_DATE
    energize = Energize(
        None if no_date else window(HEAT),
        None if no_date else date(2027, 1, 5),
        None if no_date else date(2027, 1, 11),
        None if no_date else Governing("thinset", "thinset", Milestone.HEAT, "R10"),
        None if no_date else FALLBACK,
        provisional=True,
        measured_share=0.4,
        blocked=WHY[State.NO_DATE] if no_date else None,
    )
    made = ZonePlan(
        zone=Zone(name.replace(" ", "-"), name, "zone.0", tuple(p.layer for p in layers())),
        state=state,
        may_energize=state in {State.RELEASED, State.HEATING_UP, State.IN_SERVICE},
        why=WHY.get(
            state,
            Message(f"why-{state.value.replace(' ', '-')}", {"layer": "thinset", "count": 0}),
        ),
        energize=energize,
        holds=HOLDS,
        layers=layers(),
        heat_ups=(ramp(),),
        room_order=RoomOrder(15.6, HEAT, "house system"),
    )
    return replace(made, **more)


def job(*zones: ZonePlan, **more: Any) -> Job:
    made = Job(
        "alder-lane-hall-bath",
        "Alder Lane, hall bath",
        "America/Halifax",
        TZ,
        Expected(18.9),
        tuple(each.zone for each in zones),
        units=Units.IMPERIAL,
        code=Code.NEC,
    )
    return replace(made, **more)


FINDINGS = (
    Finding(
        Severity.WARNING,
        "cold-at-application",
        "zone.0.layer.1",
        {"layer": "leveler over cable", "bed_c": 8.0, "minimum_c": 10.0, "cold_at": START},
    ),
    Finding(Severity.STOP, "frost", "zone.0.layer.2", {"layer": "thinset", "frozen_at": AS_OF}),
)


def plan(*zones: ZonePlan, findings: tuple[Finding, ...] = (), **more: Any) -> Plan:
    chosen = zones or (zone(),)
    first = chosen[0].zone.id
    visits = (
        Visit("test-and-connect", (first,), window(HEAT - timedelta(days=3), 2)),
        Visit("energize", (first,), window(HEAT, None)),
        Visit("energize", (first,), window(HEAT, 0.0)),
        Visit("rough-in-and-first-test", (first,), None),
    )
    return Plan(job(*chosen, **more), AS_OF, chosen, visits, RULES.cautions, findings)
