"""A plan as facts alone: dates, states, hold points and codes, as every output shows them.

A snapshot is made from a plan, or read back from a plan kept as machine output: its fields are
the keys of that output, so that both compare alike. Instants are whole seconds. A field ending
in `_facts` is a message, the code and parameters behind the sentence of that name.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import field
from datetime import date, datetime

from curecal.instants import Window, ceil_second
from curecal.planning.comparison import appointment_snapshot as agreed
from curecal.planning.comparison.record_snapshot import (
    FinalCure,
    HeatingSnapshot,
    final_cure_snapshot,
    heating_snapshot,
)
from curecal.planning.comparison.what_if import Gain
from curecal.planning.plan import (
    Energize,
    HeatUp,
    Hold,
    LayerPlan,
    MilestonePlan,
    Plan,
    RampStep,
    RoomOrder,
    Step,
    ZonePlan,
)
from curecal.records import Record, record
from curecal.trade.findings import Finding, Message, Params

HoldKey = tuple[str, str | None, str | None]
"""A hold point's code, its cable's name and its layer's id."""


@record
class Ends(Record):
    """The two ends of a date; both None where there is no date."""

    earliest: datetime | None = None
    latest: datetime | None = None

    @property
    def ends(self) -> Ends:
        """Return the two ends alone, of a date that carries more."""
        return Ends(self.earliest, self.latest)

    @property
    def are_in_order(self) -> bool:
        """Return whether a late end comes with an early one, and not before it."""
        if self.earliest is None or self.latest is None:
            return self.latest is None
        return self.earliest <= self.latest


@record
class Decider(Record):
    """The layer's milestone, and its rule, that decide a zone's date."""

    layer_id: str
    layer: str
    milestone: str
    rule_id: str = ""


@record(kw_only=True)
class EnergizeSnapshot(Ends):
    """A zone's date to energize, and what decides it."""

    start_on: date | None = None
    owner_date: date | None = None
    governed_by: Decider | None = None
    basis: str | None = None
    source: str | None = None
    provisional: bool = False
    measured_share: float = 0.0
    blocked_facts: Message | None = None


@record(kw_only=True)
class MilestoneSnapshot(Ends):
    """The date one layer allows one thing, and what that rests on."""

    rule_id: str = ""
    basis: str = ""
    source: str = ""
    estimate: bool = False
    informative: bool = False
    blocked_facts: Message | None = None


@record
class StepSnapshot(Record):
    """One line of reasoning: a code and the numbers that go into its sentence."""

    code: str
    rule_id: str
    basis: str
    source: str
    inputs: Params = field(default_factory=dict)


@record
class LayerSnapshot(Record):
    """One layer: `done` where it is finished, `start` and `finish` where it is planned."""

    id: str
    name: str
    planned: bool
    part: str | None = None
    existing: bool = False
    done: datetime | None = None
    start: Ends | None = None
    finish: Ends | None = None
    latest_start: datetime | None = None
    milestones: Mapping[str, MilestoneSnapshot] = field(default_factory=dict)
    final_cure: FinalCure | None = None

    @property
    def title(self) -> str:
        """Return its name, with its part where it covers only one."""
        return f"{self.name} ({self.part})" if self.part else self.name

    @property
    def dates(self) -> Mapping[str, Ends]:
        """Return its dates by "start" (of planned work), "finish" and milestone."""
        work = {"start": self.start if self.planned else None, "finish": self.finish}
        dates = {name: ends for name, ends in work.items() if ends is not None}
        return dates | {name: milestone.ends for name, milestone in self.milestones.items()}

    @property
    def waits(self) -> Mapping[str, tuple[str, str, str]]:
        """Return what each milestone rests on: its rule, basis and source."""
        return {
            name: (milestone.rule_id, milestone.basis, milestone.source)
            for name, milestone in self.milestones.items()
        }


@record
class HoldSnapshot(Record):
    """A hold point's state; `evidence` is the log entry that decides it."""

    code: str
    state: str
    gates: str = ""
    by: str = ""
    cable: str | None = None
    layer_id: str | None = None
    evidence: str | None = None
    evidence_at: datetime | None = None
    reason_facts: Message | None = None

    @property
    def key(self) -> HoldKey:
        """Return what tells it apart from the zone's other hold points."""
        return self.code, self.cable, self.layer_id


@record
class HeatUpSnapshot(Record):
    """A heat-up, step by step."""

    purpose: str
    basis: str
    steps: tuple[RampStep, ...]
    ends_on: date
    step_k: float
    start_c: float
    start_measured: bool
    limit_c: float
    provisional: bool
    rule_id: str
    source: str
    limit_from_facts: Message | None = None
    target_c: float | None = None


@record
class ZoneSnapshot(Record):
    """One zone."""

    id: str
    name: str
    state: str
    may_energize: bool
    energize: EnergizeSnapshot = field(default_factory=EnergizeSnapshot)
    holds: tuple[HoldSnapshot, ...] = ()
    layers: tuple[LayerSnapshot, ...] = ()
    heat_ups: tuple[HeatUpSnapshot, ...] = ()
    room_order: RoomOrder | None = None
    why_facts: Message | None = None
    heating: HeatingSnapshot | None = None


@record(kw_only=True)
class VisitSnapshot(Ends):
    """An electrician's visit."""

    kind: str
    zones: tuple[str, ...]
    gates: tuple[str, ...] = ()
    appointment: agreed.AppointmentSnapshot | None = None


@record
class PlanSnapshot(Record):
    """A whole plan at an instant."""

    job_id: str
    as_of: datetime
    zones: tuple[ZoneSnapshot, ...]
    visits: tuple[VisitSnapshot, ...] = ()
    appointments: tuple[agreed.AppointmentSnapshot, ...] = ()
    job: str = ""
    timezone: str = ""
    may_energize: bool = False
    sooner: tuple[Gain, ...] = ()
    caution_codes: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()


def snapshot(
    plan: Plan, findings: Sequence[Finding] = (), gains: Sequence[Gain] = ()
) -> PlanSnapshot:
    """Return a plan as facts alone.

    Rule: R8, R21.

    Args:
        plan: the plan.
        findings: what reading the job found; the plan's own follow.
        gains: what would bring a date forward.

    Returns:
        Its dates, states, hold points and codes.
    """
    return PlanSnapshot(
        job_id=plan.job.id,
        as_of=plan.as_of,
        zones=tuple(_zone(zone) for zone in plan.zones),
        visits=tuple(
            VisitSnapshot(
                *_pair(visit.window),
                kind=visit.kind,
                zones=visit.zone_ids,
                gates=visit.gates,
                appointment=None
                if visit.appointment is None
                else agreed.appointment_snapshot(visit.appointment),
            )
            for visit in plan.visits
        ),
        appointments=tuple(map(agreed.appointment_snapshot, plan.appointments)),
        job=plan.job.name,
        timezone=plan.job.timezone,
        may_energize=plan.may_energize,
        sooner=tuple(gains),
        caution_codes=plan.cautions,
        findings=(*findings, *plan.findings),
    )


def milestone_snapshot(milestone: MilestonePlan) -> MilestoneSnapshot:
    """Return one milestone as facts alone.

    Rule: R8.

    Args:
        milestone: the milestone.

    Returns:
        Its dates, and what they rest on.
    """
    return MilestoneSnapshot(
        *_pair(milestone.window),
        rule_id=milestone.rule,
        basis=milestone.source.basis.value,
        source=milestone.source.text,
        estimate=milestone.estimate,
        informative=milestone.informative,
        blocked_facts=milestone.blocked,
    )


def step_snapshot(step: Step) -> StepSnapshot:
    """Return one line of reasoning as facts alone.

    Rule: R8.

    Args:
        step: the line.

    Returns:
        Its code, numbers and source.
    """
    source = step.source
    return StepSnapshot(step.code, step.rule, source.basis.value, source.text, step.params)


def _zone(zone: ZonePlan) -> ZoneSnapshot:
    return ZoneSnapshot(
        id=zone.zone.id,
        name=zone.zone.name,
        state=zone.state.value,
        may_energize=zone.may_energize,
        energize=_energize(zone.energize),
        holds=tuple(_hold(hold) for hold in zone.holds),
        layers=tuple(_layer(layer) for layer in zone.layers),
        heat_ups=tuple(_heat_up(ramp) for ramp in zone.heat_ups),
        room_order=zone.room_order,
        why_facts=zone.why,
        heating=heating_snapshot(zone.zone.heating),
    )


def _energize(energize: Energize) -> EnergizeSnapshot:
    source, governed = energize.source, energize.governed_by
    decider = None
    if governed is not None:
        milestone = governed.milestone.value
        decider = Decider(governed.layer_id, governed.layer_name, milestone, governed.rule)
    return EnergizeSnapshot(
        *_pair(energize.window),
        start_on=energize.start_on,
        owner_date=energize.owner_date,
        governed_by=decider,
        basis=None if source is None else source.basis.value,
        source=None if source is None else source.text,
        provisional=energize.provisional,
        measured_share=energize.measured_share,
        blocked_facts=energize.blocked,
    )


def _hold(hold: Hold) -> HoldSnapshot:
    return HoldSnapshot(
        code=hold.code.value,
        state=hold.state.value,
        gates=hold.gates.value,
        by=hold.by,
        cable=hold.cable,
        layer_id=hold.layer_id,
        evidence=hold.evidence,
        evidence_at=None if hold.evidence_at is None else ceil_second(hold.evidence_at),
        reason_facts=hold.reason,
    )


def _layer(item: LayerPlan) -> LayerSnapshot:
    layer, latest_start_at = item.layer, item.latest_start_at
    is_done = item.finish is not None and not item.planned
    return LayerSnapshot(
        id=layer.id,
        name=layer.name,
        planned=item.planned,
        part=layer.part,
        existing=layer.existing,
        done=_pair(item.finish)[0] if is_done else None,
        start=Ends(*_pair(item.start)),
        finish=Ends(*_pair(item.finish)),
        # By when work must have begun is rounded down: later would be too late.
        latest_start=None if latest_start_at is None else latest_start_at.replace(microsecond=0),
        milestones={
            milestone.value: milestone_snapshot(plan) for milestone, plan in item.milestones.items()
        },
        final_cure=final_cure_snapshot(layer.sheet.final_cure),
    )


def _heat_up(ramp: HeatUp) -> HeatUpSnapshot:
    return HeatUpSnapshot(
        purpose=ramp.purpose,
        basis=ramp.basis,
        steps=ramp.steps,
        ends_on=ramp.ends_on,
        step_k=ramp.step_k,
        start_c=ramp.start_c,
        start_measured=ramp.start_measured,
        limit_c=ramp.limit_c,
        limit_from_facts=ramp.limit_from,
        target_c=ramp.target_c,
        provisional=ramp.provisional,
        rule_id=ramp.rule,
        source=ramp.source.text,
    )


def _pair(window: Window | None) -> tuple[datetime | None, datetime | None]:
    if window is None:
        return None, None
    latest = window.latest
    return ceil_second(window.earliest), None if latest is None else ceil_second(latest)
