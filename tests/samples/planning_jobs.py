"""Jobs nobody would think of, and their logs: strategies for the laws of the planner."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import count
from typing import Protocol

from hypothesis import strategies as st
from planning_samples import DAY, START, expected, job, layer, plan, sheet, wait, weekdays, zone

from curecal.instants import Window
from curecal.planning.plan import Plan, ZonePlan
from curecal.trade.data_sheets import DataSheet, Kind, Milestone
from curecal.trade.job import Covering, CoveringKind, Expected, Job, Layer
from curecal.trade.site_log import (
    Cause,
    Continuity,
    Device,
    Energized,
    Entry,
    Inspection,
    Kept,
    LeadAlarm,
    Method,
    Mode,
    MoistureTest,
    Place,
    Protection,
    Reading,
    Release,
    Resistance,
    Result,
    Resumed,
    Series,
    Stage,
    Stopped,
    ThermostatSet,
    TripTest,
)

HOUR = timedelta(hours=1)

# Bottom to top; of each rank one or none is taken, so that every stack could be built.
_BASES: tuple[DataSheet, ...] = (
    sheet("leveler"),
    sheet("rapid leveler"),
    sheet("mortar bed"),
    sheet("concrete"),
    sheet("sand-cement screed"),
    sheet("calcium-sulfate screed", heat_d=21.0),
    sheet("leveler", heat_d=9.0, doubling_k=8.0),
)
_THIN: tuple[DataSheet, ...] = (sheet("membrane"), sheet("primer"), sheet("epoxy barrier"))
_BEDS: tuple[DataSheet, ...] = (
    sheet("thinset"),
    sheet("unmodified thinset", heat_d=14.0),
    sheet("rapid thinset", heat_d=3.0),
    sheet("thinset", heat_d=7.0, doubling_k=10.0),
)
_GROUTS: tuple[DataSheet, ...] = (
    sheet("cement grout"),
    sheet("cement grout", heat_d=10.0),
    sheet("epoxy grout"),
)
_SEALERS: tuple[DataSheet, ...] = (sheet("sealer"),)

coverings = st.sampled_from(
    [
        Covering(),
        Covering(CoveringKind.PORCELAIN, (0.6, 0.6)),
        Covering(CoveringKind.PORCELAIN, (0.1, 0.1)),
        Covering(CoveringKind.VINYL),
        Covering(CoveringKind.WOOD),
    ]
)


class _Printer(Protocol):
    """What hypothesis hands over to have a failing case shown."""

    def text(self, obj: str) -> None: ...


@dataclass(frozen=True, slots=True, repr=False)
class Case:
    """A job, what was logged, and when somebody asks."""

    job: Job
    log: tuple[Entry, ...]
    as_of: datetime
    day_off: object = weekdays

    def __repr__(self) -> str:
        """Return what a person needs to see of a failing case: sheets by name, times as text."""
        lines = [f"{self.as_of:%m-%d %H:%M} {self.job.expected} {self.job.zones[0].covering}"]
        for each in self.layers:
            times = (each.done_at, each.planned_start_at, each.planned_finish_at)
            told = " / ".join(f"{at:%m-%d %H:%M}" if at else "-" for at in times)
            lines.append(f"{each.name} {each.part} {each.thickness_m} {each.duration_s} {told}")
        return "\n  ".join([*lines, *map(str, self.log)])

    def _repr_pretty_(self, printer: _Printer, cycle: object) -> None:
        del cycle  # a case holds no case
        printer.text(repr(self))

    @property
    def layers(self) -> tuple[Layer, ...]:
        """The only zone's layers."""
        return self.job.zones[0].layers

    def plan(self) -> Plan:
        """Return its plan."""
        return plan(self.job, self.log, self.as_of, self.day_off)

    def with_layers(self, layers: Sequence[Layer]) -> Case:
        """Return the case with other layers."""
        floor = replace(self.job.zones[0], layers=tuple(layers))
        return replace(self, job=replace(self.job, zones=(floor,)))

    def each_layer(self, change: Callable[[Layer], Layer]) -> Case:
        """Return the case with every layer changed alike."""
        return self.with_layers([change(each) for each in self.layers])

    def in_climate(self, climate: Expected) -> Case:
        """Return the case in another expected climate."""
        return replace(self, job=replace(self.job, expected=climate))


@st.composite
def climates(draw: st.DrawFn) -> Expected:
    """A climate with a cold and a damp end, near the places where laws bend."""
    air_c = draw(st.floats(11.0, 26.0) | st.sampled_from([20.0, 23.0, 10.0]))
    humidity = draw(st.floats(0.3, 0.74))
    return expected(
        air_c,
        humidity=humidity,
        coldest_c=air_c - draw(st.floats(0.0, 6.0)),
        dampest=min(humidity + draw(st.floats(0.0, 0.2)), 0.95),
    )


@st.composite
def stacks(
    draw: st.DrawFn, *, all_done: bool = False, parts: bool = True, bare: bool = True
) -> list[Layer]:
    """Layers bottom to top, the lower ones done one after another, the rest planned."""
    numbers = count(1)
    sheets = [
        *draw(st.lists(st.sampled_from(_BASES), max_size=2)),
        *draw(st.lists(st.sampled_from(_THIN), max_size=1)),
    ]
    if draw(st.booleans()):
        sheets += [draw(st.sampled_from(_BEDS)), sheet("uncoupling sheet")]
    sheets.append(draw(st.sampled_from(_BEDS)))
    sheets += draw(st.lists(st.sampled_from(_GROUTS), max_size=1))
    sheets += draw(st.lists(st.sampled_from(_SEALERS), max_size=1))
    done = len(sheets) if all_done else draw(st.integers(0, len(sheets)))
    at = START
    layers = []
    for index, made in enumerate(sheets):
        at += draw(st.integers(0, 200)) * HOUR
        layers.append(
            layer(
                made,
                at if index < done else None,
                f"{next(numbers)} {made.name}",
                thickness_m=draw(st.integers(2, 10)) / 1000.0,
                duration_s=draw(st.sampled_from([None, 7200.0, 36_000.0])),
                part=draw(st.sampled_from([None, None, None, "bay"])) if parts else None,
                # Laws hold at every hour of the day: nobody is asked whether a night is right.
                sure=True,
                heat_before_covering=bare and made.kind is Kind.SCREED and draw(st.booleans()),
            )
        )
    return layers


@st.composite
def wished(draw: st.DrawFn, layers: list[Layer]) -> list[Layer]:
    """The layers, those not done with the times somebody wrote down for them."""
    at = max((each.done_at for each in layers if each.done_at), default=START)
    found = []
    for each in layers:
        changed = each
        if each.done_at is None and draw(st.booleans()):
            at += draw(st.integers(1, 300)) * HOUR
            finish = at + draw(st.integers(0, 80)) * HOUR
            changed = replace(
                each,
                planned_start_at=at if draw(st.booleans()) else None,
                planned_finish_at=finish if draw(st.booleans()) else None,
            )
        found.append(changed)
    return found


@st.composite
def logs(
    draw: st.DrawFn, *, least_c: float = -3.0, most_c: float = 26.0
) -> tuple[Reading | Series | Kept, ...]:
    """Looks at thermometers, loggers, signed statements: any of them, anywhere in a month."""
    degrees = st.floats(least_c, most_c)
    found: list[Reading | Series | Kept] = []
    for index in range(draw(st.integers(0, 6))):
        at = START + draw(st.integers(-30, 900)) * HOUR
        value_c = draw(degrees)
        found.append(
            Reading(
                id=f"look-{index}",
                at=at,
                recorded=at,
                place=draw(st.sampled_from(Place)),
                temperature_c=value_c,
                humidity=draw(st.none() | st.floats(0.3, 0.9)),
                low_c=draw(st.none() | st.just(max(value_c - 2.0, least_c))),
                heating_off=draw(st.sampled_from([True, True, False])),
            )
        )
    for index in range(draw(st.integers(0, 2))):
        first = START + draw(st.integers(-10, 600)) * HOUR
        values = draw(st.lists(degrees, min_size=2, max_size=5))
        found.append(logger(f"logger-{index}", first, 8 * HOUR, values, draw(st.floats(0.3, 0.9))))
    if draw(st.booleans()):
        first = START + draw(st.integers(0, 300)) * HOUR
        last = first + draw(st.integers(1, 400)) * HOUR
        found.append(
            Kept(
                id="kept",
                at=last,
                recorded=last,
                above_c=draw(degrees),
                from_at=first,
                to_at=last,
                by=draw(st.sampled_from(["Ada", "Ada", None])),
            )
        )
    return tuple(found)


@st.composite
def evidence(draw: st.DrawFn, case: Case) -> tuple[Entry, ...]:
    """What electrician, inspector and crew lead write: some of it, good or bad, at any time."""
    found: list[Entry] = []

    def write(kind: type[Entry], **more: object) -> None:
        at = START + draw(st.integers(0, 1400)) * HOUR
        late = draw(st.sampled_from([0, 0, 30]))
        by = draw(st.sampled_from(["Ada", "Ada", None, "Nobody We Know"]))
        made = {"id": f"e{len(found)}", "at": at, "recorded": at + late * HOUR, "by": by, **more}
        found.append(kind(**made))  # type: ignore[arg-type]

    for stage in draw(st.lists(st.sampled_from(Stage), max_size=4)):
        write(
            Resistance,
            stage=stage,
            cable="mat",
            conductor_ohm=draw(st.sampled_from([90.0, 90.0, 300.0])),
            earth_open=True,
            insulation_ohm=draw(st.sampled_from([None, 5e6, 5e6, 1e5])),
            insulation_at_v=500.0,
        )
    layers = st.sampled_from([None, *(each.id for each in case.layers)])
    for result in draw(st.lists(st.sampled_from(Result), max_size=3)):
        write(Inspection, result=result, layer=draw(layers))
    if draw(st.booleans()):
        write(
            Protection,
            device=Device.RCD,
            trips_at_a=0.03,
            trip_test=draw(st.sampled_from([None, *TripTest])),
        )
    if draw(st.booleans()):
        write(ThermostatSet, mode=Mode.FLOOR, limit_c=draw(st.sampled_from([27.0, 40.0])))
    if draw(st.booleans()):
        write(
            MoistureTest,
            layer=draw(st.sampled_from(case.layers)).id,
            method=Method.CARBIDE,
            value_fraction=draw(st.sampled_from([0.004, 0.03])),
            depth_m=draw(st.sampled_from([None, 0.004, 0.03])),
            points=3,
            air_c=20.0,
            humidity=0.55,
        )
    for kind in draw(st.lists(st.sampled_from([Release, Energized]), max_size=2)):
        write(kind)
    for alarm in draw(st.lists(st.sampled_from(LeadAlarm), max_size=1)):
        write(Continuity, state=alarm)
    for cause in draw(st.lists(st.sampled_from(Cause), max_size=1)):
        write(Stopped, cause=cause)
        write(Resumed, found="a loose wire")
    return tuple(found)


def logger(
    name: str,
    first: datetime,
    every: timedelta,
    values_c: Sequence[float],
    humidity: float | None,
    place: Place = Place.AIR,
) -> Series:
    """Return a logger's readings, handed in with the last of them."""
    points = tuple((first + every * index, value, humidity) for index, value in enumerate(values_c))
    last = points[-1][0]
    return Series(
        id=name,
        at=last,
        recorded=last,
        place=place,
        device=name,
        interval_s=every.total_seconds(),
        points=points,
    )


@st.composite
def cases(
    draw: st.DrawFn,
    *,
    all_done: bool = False,
    parts: bool = True,
    bare: bool = True,
    least_c: float = -3.0,
    most_c: float = 26.0,
) -> Case:
    """Any job with any log at any instant of its first two months."""
    layers = draw(stacks(all_done=all_done, parts=parts, bare=bare))
    if not all_done:
        layers = draw(wished(layers))
    done = [each.done_at for each in layers if each.done_at]
    as_of = max([START, *done]) + draw(st.integers(0, 60 * 24)) * HOUR
    maker = draw(st.none() | st.just(wait(draw(st.floats(1.0, 60.0)), layers[-1].sheet)))
    heating = replace(
        zone().heating, wait=maker, wait_from=draw(st.sampled_from([None, layers[0].id]))
    )
    floor = zone(*layers, covering=draw(coverings), heating=heating)
    log = draw(logs(least_c=least_c, most_c=most_c))
    return Case(job(floor, climate=draw(climates())), log, as_of)


def windows(made: Plan) -> dict[tuple[str, str], Window | None]:
    """Return every window of a plan by what it says: starts, finishes, milestones, the zone's."""
    found: dict[tuple[str, str], Window | None] = {}
    for floor in made.zones:
        found[floor.zone.id, "energize"] = floor.energize.window
        for each in floor.layers:
            found[each.layer.id, "start"] = each.start
            found[each.layer.id, "finish"] = each.finish
            for milestone, dated in each.milestones.items():
                found[each.layer.id, milestone.value] = dated.window
    return found


def only(made: Plan) -> ZonePlan:
    """Return the plan's only zone."""
    return made.zones[0]


def heat(made: Plan, index: int = -1) -> Window | None:
    """Return when a layer may be heated."""
    return only(made).layers[index].milestones[Milestone.HEAT].window


def assert_never_earlier(
    before: Plan, after: Plan, *, but_for: frozenset[tuple[str, str]] = frozenset()
) -> None:
    """Assert that no window of a plan lies earlier than it did; no date is the latest of all.

    A layer without any start was never planned: what has no counterpart is not compared.
    """
    old, new = windows(before), windows(after)
    for name in old.keys() & new.keys() - but_for:
        _assert_not_before(name, old[name], new[name])


def _assert_not_before(name: tuple[str, str], old: Window | None, new: Window | None) -> None:
    if new is None:
        return
    if old is None:
        # A done layer has no start in either plan; else a date came from nowhere.
        assert name[1] == "start", (name, old, new)
        return
    assert new.earliest >= old.earliest, (name, old, new)
    if new.latest is not None:
        assert old.latest is not None, (name, old, new)
        assert new.latest >= old.latest, (name, old, new)


def a_day_later(case: Case) -> Case:
    """Return the case asked a day later, with the same facts."""
    return replace(case, as_of=case.as_of + DAY)


def own_heat(made: DataSheet, days: float) -> DataSheet:
    """Return a sheet with a heat wait of its own."""
    return replace(made, waits={**made.waits, Milestone.HEAT: wait(days, made)})
