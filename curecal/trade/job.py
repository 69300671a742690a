"""The job as it is to be built: people, zones, heating, covering, layers from bottom to top."""

from __future__ import annotations

from dataclasses import field
from datetime import date, datetime, time, timedelta, tzinfo
from enum import StrEnum

from curecal.records import Record, record
from curecal.trade.data_sheets import DataSheet, MoistureLimit, Wait
from curecal.trade.sources import Source


class Units(StrEnum):
    """Which units people read; it never changes a result."""

    METRIC = "metric"
    IMPERIAL = "imperial"


class Code(StrEnum):
    """The electrical code whose words and checks apply."""

    NEC = "NEC"
    CEC = "CEC"
    BS_7671 = "BS 7671"
    OTHER = "other"


class Below(StrEnum):
    """What lies under the floor: all but a heated room make the bed colder than the air."""

    HEATED_ROOM = "heated room"
    GROUND = "ground"
    UNHEATED = "unheated"
    OUTDOORS = "outdoors"


class HeatedBy(StrEnum):
    """What keeps the room warm while the floor cures. It must not be the floor."""

    HOUSE_SYSTEM = "house system"
    TEMPORARY = "temporary"
    NOTHING = "nothing"


class Room(StrEnum):
    """What the room is used for; the floor's temperature limit follows from it."""

    LIVING_SPACE = "living space"
    BATHROOM = "bathroom"
    PERIMETER_STRIP = "perimeter strip"


class CoveringFamily(StrEnum):
    """What a base's cover time is stated for: coverings that want the same of what lies below."""

    TILE = "tile"
    WOOD = "wood"
    VINYL = "vinyl"
    POURED = "poured"
    OTHERS = "others"


class CoveringKind(StrEnum):
    """The finished surface."""

    CERAMIC = "ceramic tile"
    PORCELAIN = "porcelain tile"
    GLASS = "glass tile"
    STONE = "stone"
    WOOD = "wood"
    ENGINEERED_WOOD = "engineered wood"
    VINYL = "vinyl"
    LAMINATE = "laminate"
    CORK = "cork"
    LINOLEUM = "linoleum"
    CARPET = "carpet"
    MICROCEMENT = "microcement"
    TERRAZZO = "terrazzo"
    RESIN = "resin"
    BY_OTHERS = "by others"

    @property
    def family(self) -> CoveringFamily:
        """Which coverings it goes with."""
        if self in {self.CERAMIC, self.PORCELAIN, self.GLASS, self.STONE}:
            return CoveringFamily.TILE
        if self in {self.WOOD, self.ENGINEERED_WOOD, self.LAMINATE, self.CORK}:
            return CoveringFamily.WOOD
        if self in {self.MICROCEMENT, self.TERRAZZO, self.RESIN}:
            return CoveringFamily.POURED
        return CoveringFamily.OTHERS if self is self.BY_OTHERS else CoveringFamily.VINYL

    @property
    def is_mineral(self) -> bool:
        """Return whether it is tile, stone or bound by cement: it bears more warmth than wood."""
        return self.family is CoveringFamily.TILE or self in {self.MICROCEMENT, self.TERRAZZO}


class HeatingKind(StrEnum):
    """How the floor is heated."""

    ELECTRIC = "electric"
    WATER = "water"


class SensorPlace(StrEnum):
    """Where the floor sensor lies: only between two runs does it read the floor's usual warmth."""

    MIDWAY = "midway between two runs"
    CLOSE = "close to one run"
    OUTSIDE = "outside the heated area"


class Role(StrEnum):
    """Who a person is on this job."""

    CREW_LEAD = "crew_lead"
    CREW = "crew"
    ELECTRICIAN = "electrician"
    INSPECTOR = "inspector"
    TESTER = "tester"
    OWNER = "owner"
    OFFICE = "office"

    @property
    def as_written(self) -> str:
        """The role as people write it: `crew lead`."""
        return self.value.replace("_", " ")


@record
class Person(Record):
    """Somebody of the job: who is told, and who may sign what.

    `roles` are further roles beside the first. `until_at` ends all of them; what was signed
    before stands.
    """

    role: Role
    name: str
    email: str | None = None
    phone: str | None = None
    language: str | None = None
    reach_by: tuple[str, ...] = ()
    roles: tuple[Role, ...] = ()
    license: str | None = None
    until_at: datetime | None = None

    @property
    def every_role(self) -> frozenset[Role]:
        """All roles this person has or had."""
        return frozenset({self.role, *self.roles})

    def is_on_the_job(self, at: datetime) -> bool:
        """Return whether this person's roles have not ended at an instant."""
        return self.until_at is None or at < self.until_at


@record
class Expected(Record):
    """The climate to plan with until readings come in. What is None is filled by rule.

    `below` is None where nobody said: then it is not known whether the bed is as warm as its air.
    """

    air_c: float
    humidity: float | None = None
    coldest_c: float | None = None
    dampest: float | None = None
    below: Below | None = Below.HEATED_ROOM
    heated_by: HeatedBy = HeatedBy.HOUSE_SYSTEM


@record
class Work(Record):
    """When work is done: weekdays (Monday is 0), hours of the local day, days off.

    Hours that end before they start end on the next day; the shift is one of the day it begins on.
    """

    days: frozenset[int] = frozenset({0, 1, 2, 3, 4})
    start: time = time(8, 0)
    end: time = time(17, 0)
    holidays: str | None = None
    days_off: tuple[date, ...] = ()

    @property
    def passes_midnight(self) -> bool:
        """Return whether a shift ends on the day after it began."""
        return self.end <= self.start

    @property
    def shift_s(self) -> float:
        """How long a shift is by the clock on the wall [s]."""
        day = date.min + timedelta(days=1)
        ends = datetime.combine(day, self.end) + timedelta(days=self.passes_midnight)
        return (ends - datetime.combine(day, self.start)).total_seconds()

    def is_within(self, wall: time) -> bool:
        """Return whether a time of the day lies in the hours, their ends included."""
        if self.passes_midnight:
            return wall >= self.start or wall <= self.end
        return self.start <= wall <= self.end


@record
class Thermistor(Record):
    """A floor sensor: Steinhart-Hart coefficients, or a table of (°C, Ω)."""

    name: str
    coefficients: tuple[float, float, float] | None = None
    table: tuple[tuple[float, float], ...] = ()


@record(kw_only=True)
class Laying(Record):
    """How a cable lies in the floor: for the record and for checks; it holds no date.

    `spacing_m` is from run to run, `strapping_m` from one strap to the next.
    """

    heated_area_m2: float | None = None
    spacing_m: float | None = None
    clearance_walls_m: float | None = None
    clearance_drains_m: float | None = None
    strapping_m: float | None = None
    sensor_place: SensorPlace | None = None


NOT_DESCRIBED = Laying()


@record
class Cable(Record):
    """One heating cable or mat, as its label and manual state it, and how it lies."""

    name: str
    voltage_v: float | None = None
    power_w: float | None = None
    resistance_ohm: float | None = None
    below_fraction: float = 0.10
    above_fraction: float = 0.10
    insulation_ohm: float = 1e6
    insulation_at_v: float = 500.0
    sensor: Thermistor | None = None
    serial: str | None = None
    laying: Laying = NOT_DESCRIBED


@record
class Heating(Record):
    """The heating of one zone, with its maker's own wait and limit.

    `heated_area_m2` is that of all its cables together.
    """

    kind: HeatingKind = HeatingKind.ELECTRIC
    cables: tuple[Cable, ...] = ()
    wait: Wait | None = None
    wait_from: str | None = None
    floor_limit_c: float | None = None
    source: Source | None = None
    supply_v: float | None = None
    breaker_a: float | None = None
    protection: str | None = None
    protection_source: str | None = None
    circuit: str | None = None
    heated_area_m2: float | None = None


@record
class Covering(Record):
    """The finished surface of one zone; `size_m` are the tile's two edges.

    `is_floating` where nothing fixes it to the floor; not `is_named` where the job names no
    covering and the worst has to be expected. `moisture_limits` are its maker's own for the base.
    `is_absorbent` where its sheet says that it takes up water; `has_joints` not where tile is laid
    edge to edge, without grout.
    """

    kind: CoveringKind = CoveringKind.CERAMIC
    size_m: tuple[float, float] | None = None
    limit_c: float | None = None
    wait: Wait | None = None
    source: Source | None = None
    is_floating: bool = False
    is_named: bool = True
    moisture_limits: tuple[MoistureLimit, ...] = ()
    is_absorbent: bool = False
    has_joints: bool = True


UNNAMED_COVERING = Covering(is_named=False)


@record
class HeatUpWish(Record):
    """What the job asks of the first heat-up; the limits cut it. `flow` is a water profile."""

    target_c: float | None = None
    step_k: float | None = None
    hold_days: int | None = None
    flow: tuple[tuple[float, int], ...] = ()


@record
class Layer(Record):
    """One pour, coat or course. Every pour is a layer of its own.

    `done_at` is the end of application; None while it has not been done. `thickness_m` is the
    deepest point. `since_at` is by when a layer that was there before had been laid. `path` is the
    layer's place in the job file.
    """

    id: str
    name: str
    sheet: DataSheet
    path: str
    thickness_m: float | None = None
    done_at: datetime | None = None
    planned_start_at: datetime | None = None
    planned_finish_at: datetime | None = None
    duration_s: float | None = None
    part: str | None = None
    existing: bool = False
    since_at: datetime | None = None
    repair: bool = False
    heat_before_covering: bool = False
    over_cable: bool | None = None
    sure: bool = False

    @property
    def title(self) -> str:
        """Its name, with its part where it covers only one."""
        return f"{self.name} ({self.part})" if self.part else self.name


@record
class Zone(Record):
    """What one thermostat heats. Layers stand bottom to top."""

    id: str
    name: str
    path: str
    layers: tuple[Layer, ...]
    room: Room = Room.LIVING_SPACE
    floor_area_m2: float | None = None
    energized_by: Role = Role.ELECTRICIAN
    covering: Covering = UNNAMED_COVERING
    heating: Heating = field(default_factory=Heating)
    heat_up: HeatUpWish = field(default_factory=HeatUpWish)


@record
class Job(Record):
    """A whole job, complete: sheets resolved, instants in UTC, its zone's `tzinfo` inside."""

    id: str
    name: str
    timezone: str
    tz: tzinfo
    expected: Expected
    zones: tuple[Zone, ...]
    units: Units = Units.METRIC
    language: str = "en"
    code: Code = Code.OTHER
    address: str | None = None
    work: Work = field(default_factory=Work)
    people: tuple[Person, ...] = ()

    def people_as(self, role: Role, at: datetime) -> tuple[Person, ...]:
        """Return who has a role on the job at an instant, as a first role or a further one."""
        return tuple(
            person
            for person in self.people
            if role in person.every_role and person.is_on_the_job(at)
        )
