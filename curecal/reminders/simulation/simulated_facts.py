"""What a site would record if all went as planned: the facts a simulation plays with."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import datetime, time, timedelta
from itertools import count

from curecal.errors import OutsideValidity
from curecal.instants import local_day
from curecal.planning.curing.build_up import BuildUp
from curecal.planning.first_heat.first_heat import floor_limit
from curecal.planning.hold_points.cable_limits import label_resistance, sensor_temperature
from curecal.planning.plan import HeatUp, HeatUpPurpose, Hold, LayerPlan, Plan, State, ZonePlan
from curecal.planning.working_time.working_calendar import Calendar
from curecal.records import PlainTable
from curecal.reminders.timing.sending_hours import wish_at
from curecal.trade.hold_codes import Gate, HoldCode
from curecal.trade.job import Cable, Expected, Person, Role, Thermistor
from curecal.trade.rules import Rules
from curecal.trade.site_log import (
    Connected,
    Device,
    Done,
    Energized,
    Entry,
    HeatStep,
    Inspection,
    Leads,
    MarkedPoints,
    Method,
    Mode,
    MoistureTest,
    Place,
    Protection,
    Reading,
    Release,
    Resistance,
    Result,
    Stage,
    ThermostatSet,
    TripTest,
)

_DAY = timedelta(days=1)
_STAND_IN = "simulation"
# An ordinary room and an ordinary screed: of these entries only the day counts.
_ORDINARY_RH = 0.65
_ORDINARY_M = 0.05
# The release has its own turn; time meets the cure, and the job file the list of layers.
_NO_ENTRY_MEETS = frozenset({HoldCode.RELEASE, HoldCode.CURE, HoldCode.COMPLETE_LIST})
_MORNING = time(8, 0)
_STAGES = {
    HoldCode.TEST_ON_DELIVERY: Stage.DELIVERY,
    HoldCode.TEST_AFTER_LAYING: Stage.LAID,
    HoldCode.TEST_AFTER_EMBEDDING: Stage.EMBEDDED,
    HoldCode.TEST_BEFORE_CONNECTION: Stage.CONNECTION,
    HoldCode.TEST_AFTER_CHISELLING: Stage.IN_SERVICE,
}
# A usual floor sensor at 25 °C (common practice): warmer has less, colder more.
_MIDDLE_OHM = 10e3
# The play needs some day: that of a cement-based product without a sheet.
_WITHOUT_A_DATE = timedelta(days=28)


class SimulatedSite:
    """A site where everything goes as planned, and is written down when it happens."""

    def __init__(self, rules: Rules, ahead: Expected, calendar: Calendar) -> None:
        self.rules = rules
        self.ahead = ahead
        self.calendar = calendar
        self._ids = count(1)
        self._finishes: dict[tuple[str, str], datetime] = {}
        self._tried: set[tuple[str, ...]] = set()

    def coming(self, plan: Plan, now: datetime) -> tuple[list[Entry], list[datetime]]:
        """Return what is recorded by now, and when to look again.

        Args:
            plan: the plan of now.
            now: the instant.

        Returns:
            The entries, and instants at which something may begin or end.
        """
        facts: list[Entry] = []
        later: list[datetime] = []
        for zone in plan.zones:
            for at, entry in self._zone(plan, zone, now):
                if at > now:
                    later.append(at)
                elif entry is not None:
                    facts.append(entry)
        return facts, later

    def _zone(
        self, plan: Plan, zone: ZonePlan, now: datetime
    ) -> Iterator[tuple[datetime, Entry | None]]:
        if zone.state in {State.STOPPED, State.IN_SERVICE}:
            return
        yield from self._look(zone, now)
        yield from self._work(zone, now)
        yield from self._holds(zone, now)
        if zone.state is State.CLEAR:
            at = self.calendar.next_working(now) or now
            lead = next(iter(plan.job.people_as(Role.CREW_LEAD, at)), None)
            yield at, Release(**self._head(zone, at, by=lead.name if lead else _STAND_IN))
        yield from self._heat(zone, now)

    def _head(self, zone: ZonePlan, at: datetime, by: str = _STAND_IN) -> PlainTable:
        entry_id = f"simulated-{next(self._ids)}"
        return {"id": entry_id, "at": at, "recorded": at, "by": by, "zone": zone.zone.id}

    def _once(self, *what: str) -> bool:
        """Return whether something is done for the first time."""
        if what in self._tried:
            return False
        self._tried.add(what)
        return True

    def _look(self, zone: ZonePlan, now: datetime) -> Iterator[tuple[datetime, Entry | None]]:
        """A look at the thermometer each morning while the floor cures."""
        today = local_day(now, self.calendar.tz)
        at = wish_at(today, _MORNING, self.calendar.tz)
        if at <= now and self._once("look", zone.zone.id, today.isoformat()):
            yield (
                at,
                Reading(
                    **self._head(zone, now),
                    place=Place.AIR,
                    temperature_c=self.ahead.air_c,
                    humidity=self.ahead.humidity,
                ),
            )
        next_on = today if at > now else today + _DAY
        yield wish_at(next_on, _MORNING, self.calendar.tz), None

    def _work(self, zone: ZonePlan, now: datetime) -> Iterator[tuple[datetime, Entry | None]]:
        """Each layer is begun when it may, and finished as long after as the plan has it."""
        for item in zone.layers:
            if not item.planned or item.start is None or item.finish is None:
                continue
            key = (zone.zone.id, item.layer.id)
            if item.start.earliest > now and key not in self._finishes:
                yield item.start.earliest, None
                continue
            finish = self._finishes.setdefault(key, item.finish.earliest)
            entry = None
            if finish <= now and self._once("done", *key):
                entry = Done(**self._head(zone, finish), layer=item.layer.id, part=item.layer.part)
            yield finish, entry

    def _holds(self, zone: ZonePlan, now: datetime) -> Iterator[tuple[datetime, Entry | None]]:
        for hold in zone.holds:
            if not hold.is_outstanding or hold.code in _NO_ENTRY_MEETS:
                continue
            at = self._due(zone, hold, now)
            if at is None:
                continue
            key = ("hold", zone.zone.id, hold.code, hold.cable or "", hold.layer_id or "")
            entry = None
            if at <= now and self._once(*key, local_day(now, self.calendar.tz).isoformat()):
                entry = self._evidence(zone, hold, now)
            if at > now or entry is not None:
                yield at, entry

    def _due(self, zone: ZonePlan, hold: Hold, now: datetime) -> datetime | None:
        """Return when a hold point is met: just before what waits for it."""
        working = self.calendar.next_working(now) or now
        embedding = BuildUp(zone.zone).embedding
        bed = next((item for item in zone.layers if item.layer is embedding), None)
        if hold.gates is Gate.EMBEDDING or hold.code in {
            HoldCode.TEST_POINTS,
            HoldCode.TEST_AFTER_CHISELLING,
        }:
            first = bed if hold.code is not HoldCode.TEST_AFTER_CHISELLING else _first_repair(zone)
            start = first.start if first is not None and first.planned else None
            return working if start is None else max(start.earliest, now)
        if hold.code is HoldCode.MOISTURE_TEST:
            return _dry_at(zone, hold, working)
        early = hold.code is HoldCode.TEST_AFTER_EMBEDDING or not _work_to_come(zone)
        return working if early and not (bed is not None and bed.planned) else None

    def _evidence(self, zone: ZonePlan, hold: Hold, now: datetime) -> Entry | None:
        """Return what meets a hold point."""
        head = self._head(zone, now)
        if hold.code in _STAGES:
            cables = zone.zone.heating.cables
            cable = next((item for item in cables if item.name == (hold.cable or "")), None)
            return self._tested(cable or Cable(""), hold, _STAGES[hold.code], head)
        limit_c, _ = floor_limit(zone.zone, self.rules)
        made: dict[str, Callable[[], Entry | None]] = {
            HoldCode.INSPECTION_BEFORE_CONCEALMENT: lambda: Inspection(
                **head, result=Result.PASSED
            ),
            HoldCode.TEST_POINTS: lambda: MarkedPoints(**head),
            HoldCode.PROTECTION: lambda: Protection(
                **head, device=Device.RCD, trips_at_a=0.005, trip_test=TripTest.TRIPPED
            ),
            HoldCode.THERMOSTAT: lambda: ThermostatSet(**head, mode=Mode.FLOOR, limit_c=limit_c),
            HoldCode.CONNECTION: lambda: Connected(
                **head, locked=True, tagged=True, leads=Leads.OFF
            ),
            HoldCode.MOISTURE_TEST: lambda: self._dry(zone, hold, head),
        }
        make = made.get(hold.code)
        if make is None:
            return Inspection(**head, result=Result.SOUND, layer=hold.layer_id)
        return make()

    def _tested(self, cable: Cable, hold: Hold, stage: Stage, head: PlainTable) -> Resistance:
        floor_c = self.ahead.air_c
        return Resistance(
            **head,
            stage=stage,
            cable=hold.cable,
            conductor_ohm=label_resistance(cable),
            earth_open=True,
            insulation_ohm=cable.insulation_ohm * 10.0,
            insulation_at_v=cable.insulation_at_v,
            sensor_ohm=sensed_ohm(cable.sensor, floor_c) if cable.sensor else None,
            floor_c=floor_c,
        )

    def _dry(self, zone: ZonePlan, hold: Hold, head: PlainTable) -> MoistureTest | None:
        layer = next((item.layer for item in zone.layers if item.layer.id == hold.layer_id), None)
        limits = () if layer is None else layer.sheet.moisture_limits
        limit = next((one for one in limits if one.limit_fraction is not None), None)
        if layer is None or limit is None:
            return None
        return MoistureTest(
            **head,
            layer=layer.id,
            method=Method(limit.method),
            value_fraction=limit.figure / 2.0,
            depth_m=(layer.thickness_m or _ORDINARY_M) / 2.0,
            points=3,
            heating_off_s=_DAY.total_seconds(),
            air_c=self.ahead.air_c,
            humidity=self.ahead.humidity or _ORDINARY_RH,
        )

    def _heat(self, zone: ZonePlan, now: datetime) -> Iterator[tuple[datetime, Entry | None]]:
        """The floor measured on the first morning, switched on, and each set-point in turn."""
        for heat_up in zone.heat_ups:
            bare = heat_up.purpose == HeatUpPurpose.BARE_SCREED
            if not heat_up.steps or not (bare or zone.is_released):
                continue
            if bare and not _lies_bare(zone):
                continue
            yield from self._steps(zone, heat_up, now)

    def _steps(
        self, zone: ZonePlan, heat_up: HeatUp, now: datetime
    ) -> Iterator[tuple[datetime, Entry | None]]:
        key = (zone.zone.id, heat_up.purpose)
        for index, step in enumerate(heat_up.steps):
            at = self.calendar.opens(step.on)
            if at > now:
                yield at, None
                return
            if not index and self._once("on", *key):
                yield (
                    at,
                    Reading(
                        **self._head(zone, at),
                        place=Place.FLOOR,
                        temperature_c=heat_up.start_c,
                        heating_off=True,
                    ),
                )
                yield at, Energized(**self._head(zone, at))
            if self._once("step", *key, str(index)):
                yield at, HeatStep(**self._head(zone, at), to_c=step.to_c)


def with_stand_in(people: Sequence[Person]) -> tuple[Person, ...]:
    """Return the people of a job with one more who may sign whatever is still to come.

    Args:
        people: the people of the job.

    Returns:
        Them, and somebody in every role whom nobody tells anything.
    """
    return (
        *people,
        Person(Role.CREW, _STAND_IN, roles=tuple(Role), license=_STAND_IN),
    )


def sensed_ohm(sensor: Thermistor, floor_c: float) -> float:
    """Return the resistance at which a sensor means a temperature [Ω].

    Args:
        sensor: the sensor, whose resistance falls as it warms.
        floor_c: the temperature [°C].

    Returns:
        The resistance.
    """
    low_ohm, high_ohm = 10.0, 10e6
    for _ in range(80):
        middle_ohm = (low_ohm * high_ohm) ** 0.5
        try:
            warm = sensor_temperature(sensor, middle_ohm) > floor_c
        except OutsideValidity:
            # Beyond what any floor has: judged by the side it is on.
            warm = middle_ohm < _MIDDLE_OHM
        if warm:
            low_ohm = middle_ohm
        else:
            high_ohm = middle_ohm
    return high_ohm


def _dry_at(zone: ZonePlan, hold: Hold, working: datetime) -> datetime | None:
    """Return when a base is tested: once its own dates say that it may be dry."""
    item = next((layer for layer in zone.layers if layer.layer.id == hold.layer_id), None)
    if item is None or item.planned or item.finish is None:
        return None
    windows = [
        milestone.window.earliest for milestone in item.milestones.values() if milestone.window
    ]
    return max(*(windows or [item.finish.earliest + _WITHOUT_A_DATE]), working)


def _work_to_come(zone: ZonePlan) -> bool:
    """Return whether the connection must wait: for all work, or for a screed to heat bare."""
    if any(heat_up.purpose == HeatUpPurpose.BARE_SCREED for heat_up in zone.heat_ups):
        return any(item.planned for item in zone.layers if item.layer.heat_before_covering)
    return any(item.planned for item in zone.layers)


def _first_repair(zone: ZonePlan) -> LayerPlan | None:
    return next((item for item in zone.layers if item.layer.repair), None)


def _lies_bare(zone: ZonePlan) -> bool:
    """Return whether a screed to be heated bare is laid, and nothing on it yet."""
    seen = False
    for item in zone.layers:
        if item.layer.heat_before_covering:
            seen = not item.planned
        elif seen and not item.planned:
            return False
    return seen
