"""What a plan told: its dates, states and hold points alone, from a plan or from one kept before.

Instants are whole seconds, as every output shows them, so that a plan and its own machine output
compare alike.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import field
from datetime import date, datetime

from curecal.instants import Window, ceil_second
from curecal.planning.plan import Energize, Hold, LayerPlan, Plan, ZonePlan
from curecal.records import Record, record
from curecal.trade.findings import Finding

_TOO_EARLY = frozenset({"covered-early", "covered-wet", "covered-without-date"})

HoldKey = tuple[str, str, str]
"""A hold point's code, its cable's name and its layer's id, empty where it has none."""


@record
class Ends(Record):
    """The two ends of a date as told; both None where there was no date."""

    earliest: datetime | None = None
    latest: datetime | None = None


@record
class Decider(Record):
    """What decided a zone's date: `rule` is the rule's id, empty where a kept plan has none."""

    layer_id: str
    layer: str
    milestone: str
    rule: str = ""


@record
class LayerTold(Record):
    """One layer as told: `dates` by "start", "finish" or milestone, `waits` what each rests on."""

    id: str
    name: str
    planned: bool
    existing: bool = False
    done_at: datetime | None = None
    dates: Mapping[str, Ends] = field(default_factory=dict)
    waits: Mapping[str, tuple[str, str, str]] = field(default_factory=dict)


@record
class ZoneTold(Record):
    """One zone as told; `early` are the layers that came before what lies below allowed it."""

    id: str
    name: str
    state: str
    may_energize: bool
    ends: Ends = field(default_factory=Ends)
    start_on: date | None = None
    owner_date: date | None = None
    decider: Decider | None = None
    holds: Mapping[HoldKey, str] = field(default_factory=dict)
    layers: tuple[LayerTold, ...] = ()
    evidence: Mapping[HoldKey, str | None] = field(default_factory=dict)
    early: frozenset[str] = frozenset()


@record
class VisitTold(Record):
    """An electrician's visit as told."""

    kind: str
    zone_ids: tuple[str, ...]
    ends: Ends


@record
class Told(Record):
    """A whole plan as told at an instant."""

    job_id: str
    as_of: datetime
    zones: tuple[ZoneTold, ...]
    visits: tuple[VisitTold, ...] = ()


def told(plan: Plan) -> Told:
    """Return what a plan tells.

    Rule: R8, R21.

    Args:
        plan: the plan.

    Returns:
        Its dates, states and hold points.
    """
    return Told(
        plan.job.id,
        plan.as_of,
        tuple(_zone(zone, plan.findings) for zone in plan.zones),
        tuple(VisitTold(visit.kind, visit.zone_ids, _ends(visit.window)) for visit in plan.visits),
    )


def _zone(zone: ZonePlan, findings: Sequence[Finding]) -> ZoneTold:
    return ZoneTold(
        id=zone.zone.id,
        name=zone.zone.name,
        state=zone.state.value,
        may_energize=zone.may_energize,
        ends=_ends(zone.energize.window),
        start_on=zone.energize.start_on,
        owner_date=zone.energize.owner_date,
        decider=_decider(zone.energize),
        holds={_key(hold): hold.state.value for hold in zone.holds},
        layers=tuple(_layer(layer) for layer in zone.layers),
        evidence={_key(hold): hold.evidence for hold in zone.holds},
        early=frozenset(
            finding.layer_id
            for finding in findings
            if finding.zone_id == zone.zone.id
            and finding.layer_id is not None
            and finding.code in _TOO_EARLY
        ),
    )


def _key(hold: Hold) -> HoldKey:
    return hold.code, hold.cable or "", hold.layer_id or ""


def _decider(energize: Energize) -> Decider | None:
    governed = energize.governed_by
    if governed is None:
        return None
    milestone = governed.milestone.value
    return Decider(governed.layer_id, governed.layer_name, milestone, governed.rule)


def _layer(item: LayerPlan) -> LayerTold:
    dates = {"start": _ends(item.start)} if item.planned else {}
    dates["finish"] = _ends(item.finish)
    waits = {}
    for milestone, plan in item.milestones.items():
        dates[milestone.value] = _ends(plan.window)
        waits[milestone.value] = (plan.rule, plan.source.basis.value, plan.source.text)
    done_at = None if item.planned or item.finish is None else _second(item.finish.earliest)
    layer = item.layer
    return LayerTold(layer.id, layer.title, item.planned, layer.existing, done_at, dates, waits)


def _ends(window: Window | None) -> Ends:
    if window is None:
        return Ends()
    return Ends(_second(window.earliest), None if window.latest is None else _second(window.latest))


def _second(at: datetime) -> datetime:
    return ceil_second(at)
