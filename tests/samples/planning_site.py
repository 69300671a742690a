"""A site lived day by day: people who do what the plan says, and write it down."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, time

from planning_samples import DAY, job, plan, weekdays, zone

from curecal.instants import local_at
from curecal.planning.plan import Plan, State, ZonePlan
from curecal.trade.job import Expected, Job
from curecal.trade.site_log import (
    Connected,
    Device,
    Done,
    Energized,
    Entry,
    HeatStep,
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
    Stage,
    ThermostatSet,
    TripTest,
)

FIRST = date(2027, 3, 1)  # a Monday
CLIMATE = Expected(18.0, 0.5, 14.0, 0.6)
WEEKS = 16


@dataclass(frozen=True, slots=True)
class Morning:
    """What was told at six in the morning, and what was known then."""

    day: date
    log: tuple[Entry, ...]
    told: Plan

    @property
    def floor(self) -> ZonePlan:
        """The only zone."""
        return self.told.zones[0]


Weather = Callable[[date], float]
Crew = Callable[[date], bool]


class Site:
    """A job with people who do what the plan says, and write it down."""

    def __init__(self, made: Job, *, weather: Weather, works: Crew) -> None:
        """Take the job, how warm it is on a day, and whether the crew comes on a day."""
        self.job = made
        self.weather = weather
        self.works = works
        self.log: list[Entry] = []
        self.written: set[str] = set()

    def mornings(self) -> Iterator[Morning]:
        """Live until a week after the floor is in service."""
        serving = 0
        for index in range(WEEKS * 7):
            day = FIRST + index * DAY
            told = plan(self.job, self.log, at_hour(day, 6), weekdays)
            morning = Morning(day, tuple(self.log), told)
            yield morning
            serving += morning.floor.state is State.IN_SERVICE
            if serving > 5:
                return
            self._live(morning)

    def _live(self, morning: Morning) -> None:
        day, floor = morning.day, morning.floor
        noon = at_hour(day, 12)
        self._write(
            Reading,
            f"look-{day}",
            noon,
            place=Place.SURFACE,
            temperature_c=self.weather(day),
            humidity=0.5,
        )
        if self.works(day):
            self._work(day, floor)
        self._owed(day)
        self._heat_bare(day, floor)
        self._heat_finished(day, floor)

    def _write(self, kind: type[Entry], name: str, at: datetime, **more: object) -> None:
        if name not in self.written:
            self.written.add(name)
            made = {"id": name, "at": at, "recorded": at, "by": "Ada", **more}
            self.log.append(kind(**made))  # type: ignore[arg-type]

    def _work(self, day: date, floor: ZonePlan) -> None:
        for planned in floor.layers:
            if not planned.planned or planned.finish is None or planned.start is None:
                continue
            if planned.finish.earliest.date() == day:
                at = planned.finish.earliest
                self._write(Done, f"done-{planned.layer.id}", at, layer=planned.layer.id)

    def _owed(self, day: date) -> None:
        """Write what electrician and crew lead owe: early, so that only clocks decide."""
        stages = [Stage.DELIVERY, Stage.LAID]
        laid = [entry for entry in self.log if isinstance(entry, Done)]
        if len(laid) >= 1 or any(each.done_at for each in self.job.zones[0].layers):
            stages.append(Stage.EMBEDDED)
        # A screed that is heated bare is connected before anything lies on it.
        bare = any(each.heat_before_covering for each in self.job.zones[0].layers)
        if len(laid) >= (1 if bare else 2):
            stages += [Stage.CONNECTION, Stage.IN_SERVICE]
        for stage in stages:
            self._write(
                Resistance,
                f"test-{stage.value}",
                at_hour(day, 18),
                stage=stage,
                cable="mat",
                conductor_ohm=90.0,
                earth_open=True,
                insulation_ohm=5e6,
                insulation_at_v=500.0,
            )
        self._write(MarkedPoints, "points", at_hour(FIRST, 7))
        if Stage.CONNECTION in stages:
            at = at_hour(day, 19)
            self._write(
                Protection,
                "protection",
                at,
                device=Device.RCD,
                trips_at_a=0.03,
                trip_test=TripTest.TRIPPED,
            )
            self._write(ThermostatSet, "thermostat", at, mode=Mode.FLOOR, limit_c=29.0)
            self._write(
                Connected,
                "connected",
                at,
                locked=True,
                tagged=True,
                leads=Leads.OFF,
            )

    def _heat_bare(self, day: date, floor: ZonePlan) -> None:
        """Switch a bare screed on when its day has come; test its moisture when it is cold."""
        for heat_up in floor.heat_ups:
            if heat_up.purpose != "bare screed":
                continue
            if heat_up.steps[0].on == day:
                self._write(Energized, "bare-on", at_hour(day, 8))
            if "bare-on" in self.written and heat_up.ends_on == day:
                self._write(
                    MoistureTest,
                    "moisture",
                    at_hour(day, 11),
                    layer=floor.layers[0].layer.id,
                    method=Method.CARBIDE,
                    value_fraction=0.012,
                    depth_m=0.03,
                    points=3,
                    heating_off_s=86400.0,
                    air_c=20.0,
                    humidity=0.55,
                )

    def _heat_finished(self, day: date, floor: ZonePlan) -> None:
        if floor.state is State.CLEAR:
            self._write(Release, "release", at_hour(day, 7), by="Ada")
        if floor.is_released:
            for heat_up in floor.heat_ups:
                for step in heat_up.steps:
                    if heat_up.purpose != "bare screed" and step.on == day:
                        self._write(Energized, "on", at_hour(day, 8))
                        self._write(HeatStep, f"step-{day}", at_hour(day, 8), to_c=step.to_c)


def at_hour(day: date, hour: int) -> datetime:
    """Return an hour of a day on site."""
    return local_at(day, time(hour), job(zone()).tz)
