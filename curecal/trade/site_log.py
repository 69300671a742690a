"""The site log: facts, append-only. A correction is an entry that names the old one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import field
from datetime import datetime
from enum import StrEnum

from curecal.records import Record, record
from curecal.trade.findings import Params
from curecal.trade.logged_points import LoggedPoint, LoggedPoints

OPEN_OHM = 1e6
"""What stands for an open conductor or sensor [Ω]: beyond what any label or table holds."""


class Place(StrEnum):
    """Where a temperature was taken, worst first."""

    AIR = "air"
    SURFACE = "surface"
    FLOOR = "floor"


class Stage(StrEnum):
    """When a cable was tested."""

    DELIVERY = "delivery"
    LAID = "laid"
    EMBEDDED = "embedded"
    CONNECTION = "connection"
    IN_SERVICE = "in service"


class Result(StrEnum):
    """What an inspection found."""

    PASSED = "passed"
    SOUND = "sound"
    REPLACE = "replace"
    FAILED = "failed"
    NOT_REQUIRED = "not required"


class Origin(StrEnum):
    """How whoever typed an entry knows of what somebody else did."""

    SEEN = "seen"
    PHONE = "phone"
    PAPER = "paper"
    PHOTO = "photo"


class Device(StrEnum):
    """What protects the circuit against ground faults."""

    GFCI = "GFCI"
    RCD = "RCD"
    RCBO = "RCBO"


class TripTest(StrEnum):
    """What the protection did at its test."""

    TRIPPED = "tripped"
    DID_NOT_TRIP = "did not trip"


class Leads(StrEnum):
    """Where the heating leads are."""

    OFF = "off the thermostat"
    ON = "on the thermostat"


class Mode(StrEnum):
    """Which temperature the thermostat goes by."""

    FLOOR = "floor"
    AIR = "air"
    AIR_WITH_FLOOR_LIMIT = "air with floor limit"


class Schedule(StrEnum):
    """Whether the thermostat runs its own program."""

    OFF = "off"
    ON = "on"


class Method(StrEnum):
    """How moisture was measured."""

    CARBIDE = "carbide"
    HUMIDITY = "humidity"
    PROBE = "probe"
    HOOD = "hood"
    CALCIUM_CHLORIDE = "calcium chloride"
    WOOD_METER = "wood meter"

    @property
    def reads_humidity(self) -> bool:
        """Return whether it reads the relative humidity of the air in or on a base."""
        return self in {self.HUMIDITY, self.PROBE, self.HOOD}

    @property
    def lies_on_top(self) -> bool:
        """Return whether it stands on a base, and not in it."""
        return self in {self.HOOD, self.CALCIUM_CHLORIDE, self.WOOD_METER}


class Cause(StrEnum):
    """Why somebody stopped the work."""

    TRIPPED = "tripped"
    SMELL_OR_HEAT = "smell or heat"
    CABLE_DAMAGED = "cable damaged"
    READING_FAILED = "reading failed"
    FROST = "frost"
    CRACK = "crack or loose tile"
    SWITCHED_ON_EARLY = "switched on early"
    OTHER = "other"

    @property
    def is_electrical(self) -> bool:
        """Return whether only an electrician may lift the stop."""
        return self in {self.TRIPPED, self.SMELL_OR_HEAT, self.CABLE_DAMAGED, self.READING_FAILED}


class LeadAlarm(StrEnum):
    """What the continuity alarm on the heating leads does."""

    CONNECTED = "connected"
    SOUNDED = "sounded"
    REMOVED = "removed"


class VisitFor(StrEnum):
    """What somebody comes to the site for."""

    ROUGH_IN = "rough-in"
    INSPECTION = "inspection"
    TEST_AND_CONNECT = "test and connect"
    SWITCH_ON = "switch on"
    OTHER = "other"


class Booking(StrEnum):
    """How an appointment stands."""

    BOOKED = "booked"
    CONFIRMED = "confirmed"
    DECLINED = "declined"
    CALLED_OFF = "called off"
    DONE = "done"


@record(kw_only=True)
class Entry(Record):
    """What every entry has. `zone` is a zone's id, None for the whole job.

    `by` is who did it or saw it, `entered_by` who typed it where that is somebody else, `origin`
    how they know; `photo` is a picture of the sticker, the card or the meter.
    """

    id: str
    at: datetime
    recorded: datetime
    by: str | None = None
    entered_by: str | None = None
    origin: Origin | None = None
    photo: str | None = None
    note: str | None = None
    zone: str | None = None
    path: str = ""


@record(kw_only=True)
class Reading(Entry):
    """One look at a thermometer. `low_c` is a display's lowest value since its reset.

    Whether the heating was on is told or not: both flags are False where nobody said.
    """

    place: Place
    temperature_c: float | None = None
    humidity: float | None = None
    low_c: float | None = None
    heating_off: bool = False
    heating_on: bool = False

    @property
    def is_floor_on(self) -> bool:
        """Return whether it was a look at the floor while its heating was on."""
        return self.place is Place.FLOOR and self.heating_on


@record(kw_only=True)
class Kept(Entry):
    """A signed statement that the room stayed at or above a temperature."""

    above_c: float
    from_at: datetime
    to_at: datetime


@record(kw_only=True)
class Series(Entry):
    """A data logger's readings: (instant, °C or None, humidity fraction or None), in order."""

    place: Place
    device: str
    interval_s: float
    points: Sequence[LoggedPoint]

    def __post_init__(self) -> None:
        object.__setattr__(self, "points", LoggedPoints.of(self.points))


@record(kw_only=True)
class Done(Entry):
    """A layer was finished at `at`; `sure` where somebody was asked and it is right."""

    layer: str
    part: str | None = None
    lot: str | None = None
    sure: bool = False


@record(kw_only=True)
class Resistance(Entry):
    """A cable's readings. `to_earth_ohm` None with `earth_open` is an open line."""

    stage: Stage
    cable: str | None = None
    conductor_ohm: float | None = None
    earth_open: bool = False
    to_earth_ohm: float | None = None
    to_earth_at_least: bool = False
    insulation_ohm: float | None = None
    insulation_at_least: bool = False
    insulation_at_v: float | None = None
    sensor_ohm: float | None = None
    floor_c: float | None = None
    meter: str | None = None


@record(kw_only=True)
class NotTested(Entry):
    """A cable was not tested before it was covered, at a stage: it stays missed for good."""

    stage: Stage
    cable: str | None = None


@record(kw_only=True)
class MoistureTest(Entry):
    """A moisture test of a layer, its value, and the conditions it was taken in.

    By calcium chloride it is what evaporates [kg/(m²·s)], by any other method a fraction.
    """

    layer: str
    method: Method
    value_fraction: float | None = None
    value_kgm2s: float | None = None
    depth_m: float | None = None
    points: int | None = None
    heating_off_s: float | None = None
    air_c: float | None = None
    humidity: float | None = None

    @property
    def figure(self) -> float:
        """Return what it read, in the unit of its method."""
        told = self.value_fraction if self.value_kgm2s is None else self.value_kgm2s
        return told or 0.0


@record(kw_only=True)
class MarkedPoints(Entry):
    """Places for the moisture test were marked clear of the cable."""

    layer: str | None = None


@record(kw_only=True)
class Inspection(Entry):
    """Somebody looked and decided; with a layer, about that layer."""

    result: Result
    layer: str | None = None


@record(kw_only=True)
class Protection(Entry):
    """Ground-fault protection is in, and its trip test."""

    device: Device
    trips_at_a: float | None = None
    trip_test: TripTest | None = None
    trip_s: float | None = None


@record(kw_only=True)
class Connected(Entry):
    """The licensed connection: breaker off, locked, tagged, heating leads off the thermostat."""

    locked: bool | None = None
    tagged: bool | None = None
    leads: Leads | None = None


@record(kw_only=True)
class Continuity(Entry):
    """The alarm on the heating leads, from laying until the electrician connects."""

    state: LeadAlarm
    cable: str | None = None


@record(kw_only=True)
class ThermostatSet(Entry):
    """The thermostat's mode and its floor limit."""

    mode: Mode
    limit_c: float | None = None
    schedule: Schedule | None = None


@record(kw_only=True)
class VisitNote(Entry):
    """What was agreed of a visit: the last entry of an id holds, what it leaves out stays.

    `start_at` and `end_at` may lie ahead of `at`; `who` is a person's name.
    """

    visit: str
    state: Booking
    purpose: VisitFor | None = None
    start_at: datetime | None = None
    end_at: datetime | None = None
    who: str | None = None


@record(kw_only=True)
class Release(Entry):
    """The crew lead releases the floor."""


@record(kw_only=True)
class Energized(Entry):
    """The floor was switched on."""


@record(kw_only=True)
class HeatStep(Entry):
    """A step of the heat-up was set."""

    to_c: float


@record(kw_only=True)
class Stopped(Entry):
    """Somebody stopped the work: its cause decides who may lift the stop."""

    cause: Cause
    reason: str | None = None


@record(kw_only=True)
class Resumed(Entry):
    """Somebody lifts a stop, with what was found."""

    found: str


@record(kw_only=True)
class Remark(Entry):
    """A photo or a note: kept, never computed with.

    `is_lost` is True of a logger's readings that should count and cannot be read.
    """

    file: str | None = None
    text: str | None = None
    is_lost: bool = False


@record(kw_only=True)
class Correction(Entry):
    """Replaces fields of an earlier entry, or withdraws it."""

    of: str
    withdrawn: bool = False
    changes: Params = field(default_factory=dict)


Log = tuple[Entry, ...]
