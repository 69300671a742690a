"""Log entries by hand, and a floor with everything on record, for tests of the planning floor."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from itertools import count
from typing import TypeVar

from planning_samples import DAY, START, daily, job, layer, sheet, zone

from curecal.planning.plan import Hold, Plan, State
from curecal.trade.job import Job, Layer, Zone
from curecal.trade.site_log import (
    Connected,
    Device,
    Entry,
    Leads,
    Mode,
    Protection,
    Release,
    Resistance,
    Stage,
    ThermostatSet,
    TripTest,
)

E = TypeVar("E", bound=Entry)
HOUR = timedelta(hours=1)
READY = START + DAY * 7
"""When the last clock of `floor` runs out."""
_ids = count(1)


def fact(kind: type[E], at: datetime, **more: object) -> E:
    """Return an entry of a kind, recorded when it happened and signed."""
    made = {"id": f"e{next(_ids)}", "at": at, "recorded": at, "by": "Ada", **more}
    return kind(**made)  # type: ignore[arg-type]


def measured(at: datetime, stage: Stage, **more: object) -> Resistance:
    """Return a set of readings with nothing wrong: 240 V and 640 W are 90 Ω."""
    good = Resistance(
        id=f"e{next(_ids)}",
        at=at,
        recorded=at,
        by="Ada",
        stage=stage,
        conductor_ohm=90.0,
        earth_open=True,
        insulation_ohm=500e6,
        insulation_at_v=500.0,
    )
    return replace(good, **more)  # type: ignore[arg-type]


def courses() -> tuple[Layer, ...]:
    """Return a leveler over the cable, mortar and grout: three days each, four days of work."""
    return (
        layer(sheet("leveler", 3.0), START, "leveler", thickness_m=0.005),
        layer(sheet("thinset", 3.0), START + DAY * 2, "mortar"),
        layer(sheet("cement grout", 3.0), START + DAY * 4, "grout"),
    )


def floor(**more: object) -> Zone:
    """Return a finished floor whose clocks run out at `READY`."""
    return zone(*courses(), **more)


def evidence() -> list[Entry]:
    """Return everything that must be on record before the release of `floor`."""
    return [
        *daily(START, 7, 20.0),
        measured(START - HOUR * 5, Stage.DELIVERY),
        measured(START - HOUR * 2, Stage.LAID),
        measured(START + DAY, Stage.EMBEDDED),
        measured(START + DAY * 5, Stage.CONNECTION),
        fact(
            Protection,
            START + DAY * 5,
            device=Device.RCD,
            trips_at_a=0.03,
            trip_test=TripTest.TRIPPED,
        ),
        fact(ThermostatSet, START + DAY * 5, mode=Mode.FLOOR, limit_c=29.0),
        fact(
            Connected,
            START + DAY * 5,
            locked=True,
            tagged=True,
            leads=Leads.OFF,
        ),
    ]


def wired(after: timedelta) -> list[Entry]:
    """Return what must be on record before a cable is switched on, some time after the start."""
    at = START + after
    made = {"locked": True, "tagged": True, "leads": Leads.OFF}
    return [
        measured(START - HOUR * 5, Stage.DELIVERY),
        measured(START - HOUR * 2, Stage.LAID),
        measured(START + DAY, Stage.EMBEDDED),
        measured(at, Stage.CONNECTION),
        fact(Protection, at, device=Device.RCD, trips_at_a=0.03, trip_test=TripTest.TRIPPED),
        fact(ThermostatSet, at, mode=Mode.FLOOR, limit_c=29.0),
        fact(Connected, at, **made),
    ]


def released(at: datetime = READY + HOUR, **more: object) -> list[Entry]:
    """Return the evidence and the release."""
    return [*evidence(), fact(Release, at, **more)]


def without(log: list[Entry], kind: type[Entry]) -> list[Entry]:
    """Return a log without the entries of one kind."""
    return [entry for entry in log if not isinstance(entry, kind)]


def a_job(*zones: Zone, **more: object) -> Job:
    """Return a job, by default of the finished floor."""
    return job(*(zones or (floor(),)), **more)  # type: ignore[arg-type]


def hold(made: Plan, code: str, cable: str | None = None) -> Hold:
    """Return a hold point of the first zone."""
    return next(
        point
        for point in made.zones[0].holds
        if point.code == code and (cable is None or point.cable == cable)
    )


def state(made: Plan) -> State:
    """Return the first zone's state."""
    return made.zones[0].state


def codes(made: Plan) -> list[str]:
    """Return the codes of what was found."""
    return [finding.code for finding in made.findings]
