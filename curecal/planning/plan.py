"""The types of a plan: dates as windows, each with the steps that lead to it.

A window's two ends answer two questions: `earliest` under the expected climate, `latest` under
the coldest (and dampest); `latest` is None where no date can be promised. A milestone without a
window has no date, and `blocked` says why and what to do.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import field
from datetime import date, datetime
from enum import StrEnum
from itertools import pairwise

from curecal.instants import Window
from curecal.planning.repair import first_switched_on_by
from curecal.records import Record, record
from curecal.trade.data_sheets import Milestone
from curecal.trade.findings import Finding, Message, Params
from curecal.trade.hold_codes import BEFORE_ANY_HEAT, Gate, HoldCode
from curecal.trade.job import Job, Layer, Role, Zone
from curecal.trade.site_log import Booking, VisitFor
from curecal.trade.sources import Source


class State(StrEnum):
    """Where a zone stands between the first pour and everyday use."""

    PLANNED = "planned"
    CURING = "curing"
    ON_HOLD = "on hold"
    CLEAR = "clear"
    RELEASED = "released"
    HEATING_UP = "heating up"
    IN_SERVICE = "in service"
    STOPPED = "stopped"
    NO_DATE = "no date"

    @property
    def own_reason(self) -> str:
        """The code of the reason that says no more than the state itself."""
        return f"why-{self.value.replace(' ', '-')}"


RELEASED_STATES = frozenset({State.RELEASED, State.HEATING_UP, State.IN_SERVICE})


class HoldState(StrEnum):
    """What the evidence says of a hold point."""

    MET = "met"
    UNMET = "unmet"
    FAILED = "failed"
    NOT_NEEDED = "not needed"


class HeatUpPurpose(StrEnum):
    """What a heat-up is for. A bare screed's is the crew's, long before any release."""

    FIRST_HEAT = "first heat"
    BARE_SCREED = "bare screed"
    AFTER_REPAIR = "after repair"


class VisitKind(StrEnum):
    """What an electrician comes for, in the order of the visits."""

    ROUGH_IN = "rough-in-and-first-test"
    CONNECTION = "test-and-connect"
    ENERGIZE = "energize"


class StepCode(StrEnum):
    """Codes of steps that something asks for; all others are only said."""

    NO_WAIT = "no-wait"


@record
class Step(Record):
    """One line of reasoning, checkable by hand.

    `code` names a template of the message catalogue, `params` what goes in (names end in their
    unit), `rule` the rule's id, `source` where its numbers come from.
    """

    code: str
    rule: str
    source: Source
    params: Params = field(default_factory=dict)


@record
class MilestonePlan(Record):
    """When one layer allows one thing.

    `rule` is the id of the rule whose wait came out longest. `estimate` is True where the rule's
    date is only an estimate and a moisture test decides; `informative` where it gates nothing.
    """

    milestone: Milestone
    window: Window | None
    rule: str
    source: Source
    steps: tuple[Step, ...] = ()
    blocked: Message | None = None
    estimate: bool = False
    informative: bool = False


_LAST = (Milestone.HEAT, Milestone.BARE_HEAT, Milestone.COVER, Milestone.WET)


@record
class LayerPlan(Record):
    """One layer: when it starts and is finished (done, or planned), and what it then allows.

    `start` and `finish` are windows of planned work; for a done layer `finish` is the instant
    twice. Both are None where the chain below has no date. `latest_start_at` is the last working
    instant a planned layer can start without moving the date told. `clock_start` is where its
    clocks run from: its finish, or a later thaw; None where there is no date.
    """

    layer: Layer
    planned: bool
    start: Window | None
    finish: Window | None
    milestones: Mapping[Milestone, MilestonePlan] = field(default_factory=dict)
    latest_start_at: datetime | None = None
    clock_start: Window | None = None

    @property
    def last_milestone(self) -> MilestonePlan | None:
        """What the layer has to wait for longest: heat, where it is ever heated."""
        return next((self.milestones[name] for name in _LAST if name in self.milestones), None)


@record
class Hold(Record):
    """A hold point and what the evidence says. `evidence` is the id of the deciding log entry."""

    code: HoldCode
    gates: Gate
    by: Role
    state: HoldState
    cable: str | None = None
    layer_id: str | None = None
    evidence: str | None = None
    evidence_at: datetime | None = None
    reason: Message | None = None

    @property
    def is_outstanding(self) -> bool:
        """Return whether it keeps the next step back: not met, or failed."""
        return self.state in {HoldState.UNMET, HoldState.FAILED}


@record
class RampStep(Record):
    """One set-point of a heat-up: the local day it starts, the temperature, days it holds."""

    on: date
    to_c: float
    hold_days: int


@record
class HeatUp(Record):
    """A heat-up, and what it is for.

    `target_c` is where it ends, `limit_c` how far the floor may ever go.
    `basis` is "floor" (floor sensor) or "flow" (water). `provisional` is True while the start is
    not measured or the floor is not released. `ends_on` is the local day after the last step:
    in service for a finished floor, cold for a bare screed. `step_k` is the most a day may
    add, or of a floor sensor's set-point take away [K].
    """

    purpose: HeatUpPurpose
    basis: str
    start_c: float
    start_measured: bool
    target_c: float
    limit_c: float
    limit_from: Message
    steps: tuple[RampStep, ...]
    ends_on: date
    step_k: float
    provisional: bool
    rule: str
    source: Source


def most_change(basis: str, steps: Sequence[RampStep], step_k: float) -> float:
    """Return the most that two neighboring steps of a heat-up differ as shown [K].

    The water of a bare screed goes from 25 °C to the highest at once, and down as somebody set it.

    Rule: R14, R19.

    Args:
        basis: "floor" or "flow".
        steps: the steps, in order.
        step_k: the most a day may add [K].
    """
    if basis != "flow":
        return step_k
    return max([step_k, *(abs(later.to_c - step.to_c) for step, later in pairwise(steps))])


@record
class Governing(Record):
    """Which layer's which milestone, by which rule, sets a zone's date."""

    layer_id: str
    layer_name: str
    milestone: Milestone
    rule: str


@record
class Energize(Record):
    """When a zone may be switched on, as far as the clocks go. A date alone is no permission.

    `start_on` is the first fitting local day at or after `window.earliest`; `owner_date` the one
    at or after `window.latest`: the only date an owner is told. `measured_share` is the share of
    the governing layer's span that readings cover [0, 1].
    """

    window: Window | None
    start_on: date | None
    owner_date: date | None
    governed_by: Governing | None
    source: Source | None
    provisional: bool
    measured_share: float
    blocked: Message | None = None


@record
class RoomOrder(Record):
    """Keep the room so, until then, by that means, and not with this floor."""

    at_least_c: float
    until: datetime
    heated_by: str


def free_since(released_at: datetime | None, went_on_at: datetime | None) -> datetime | None:
    """Return from when a floor's day counts: its release, or the later end of a stop.

    Rule: R20, R22.

    Args:
        released_at: when it was released; None where it is not.
        went_on_at: when the last stop of a person was lifted, if one was.

    Returns:
        The instant; None without a release.
    """
    if released_at is None or went_on_at is None:
        return released_at
    return max(released_at, went_on_at)


@record
class ZonePlan(Record):
    """One zone: its state, the reason in one message, and all that leads there.

    `may_energize` is the answer now: a released floor waits for its first heat's first hour.
    `went_on_at` is when the last stop of a person was lifted.
    """

    zone: Zone
    state: State
    may_energize: bool
    why: Message
    energize: Energize
    holds: tuple[Hold, ...]
    layers: tuple[LayerPlan, ...]
    heat_ups: tuple[HeatUp, ...]
    room_order: RoomOrder | None = None
    went_on_at: datetime | None = None

    @property
    def is_released(self) -> bool:
        """Return whether the crew lead's release counts, even if its first hour is still ahead."""
        return self.state in RELEASED_STATES

    @property
    def released_at(self) -> datetime | None:
        """When the crew lead released the floor, by a release that counts."""
        return next(
            (
                hold.evidence_at
                for hold in self.holds
                if hold.code is HoldCode.RELEASE and hold.state is HoldState.MET
            ),
            None,
        )

    @property
    def free_since(self) -> datetime | None:
        """From when a released floor's day counts: its release, or the later end of a stop."""
        return free_since(self.released_at, self.went_on_at)

    @property
    def waits_for_electrician(self) -> bool:
        """Return whether something electrical is outstanding: not even a bare screed is heated."""
        return any(hold.is_outstanding and hold.code in BEFORE_ANY_HEAT for hold in self.holds)

    @property
    def first_switched_on_by(self) -> Role:
        """Who switches it on for the first time, or again after a repair."""
        return first_switched_on_by(self.zone, [item.layer for item in self.layers])


@record
class Appointment(Record):
    """A visit that was agreed, as its last entry left it.

    `zone_id` is None for the whole job; `who` a person's name, None where the job names nobody
    of that trade; `entry_id` the entry that holds. `misfit` says why it cannot be
    kept as it is; it stands all the same until somebody moves it.
    """

    id: str
    purpose: VisitFor
    state: Booking
    start_at: datetime
    end_at: datetime
    who: str | None
    zone_id: str | None
    entry_id: str
    path: str
    misfit: Message | None = None

    @property
    def stands(self) -> bool:
        """Return whether somebody is to come: booked or confirmed."""
        return self.state in {Booking.BOOKED, Booking.CONFIRMED}

    def is_for(self, zone_id: str) -> bool:
        """Return whether it is about a zone."""
        return self.zone_id in {None, zone_id}

    def overlaps(self, other: Appointment) -> bool:
        """Return whether both take some of the same hours."""
        return self.start_at < other.end_at and other.start_at < self.end_at


@record
class Visit(Record):
    """An electrician's visit to one zone or to several, with the appointment for it."""

    kind: VisitKind
    zone_ids: tuple[str, ...]
    window: Window | None
    gates: tuple[str, ...] = ()
    appointment: Appointment | None = None


@record
class Plan(Record):
    """The whole answer for one job at one instant."""

    job: Job
    as_of: datetime
    zones: tuple[ZonePlan, ...]
    visits: tuple[Visit, ...]
    cautions: tuple[str, ...]
    findings: tuple[Finding, ...]
    appointments: tuple[Appointment, ...] = ()

    @property
    def may_energize(self) -> bool:
        """True only when every zone may be on now."""
        return bool(self.zones) and all(zone.may_energize for zone in self.zones)

    @property
    def is_released(self) -> bool:
        """True only when every zone is released."""
        return bool(self.zones) and all(zone.is_released for zone in self.zones)
