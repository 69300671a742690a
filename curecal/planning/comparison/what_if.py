"""Changes that would bring the date forward, and by how much."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import field, replace
from datetime import datetime

from curecal.instants import instant
from curecal.planning.make_plan import make_plan, plan_ahead
from curecal.planning.plan import RELEASED_STATES, Plan, ZonePlan
from curecal.planning.site_log.log_at_instant import facts_at, fold_done
from curecal.planning.working_time.working_calendar import DayOff
from curecal.records import Record, record
from curecal.science.age import KeptAges
from curecal.trade.data_sheets import DataSheet, Kind
from curecal.trade.findings import Message, Params
from curecal.trade.job import Job, Layer, Zone
from curecal.trade.rules import Rules
from curecal.trade.site_log import Entry

_RAPID = {Kind.THINSET: "rapid thinset", Kind.LEVELER: "rapid leveler"}


@record
class Gain(Record):
    """One thing that helps a zone: what, and the days its first day comes nearer."""

    zone: str
    code: str
    days: int
    params: Params = field(default_factory=dict)

    @property
    def what(self) -> Message:
        """Return what helps as a message."""
        return Message(self.code, self.params)


def what_helps(
    job: Job, log: Iterable[Entry], as_of: datetime, *, rules: Rules, day_off: DayOff
) -> tuple[Gain, ...]:
    """Return what would bring each zone's first day forward, the largest gain first.

    Tried are a room at the warmest rated temperature, and rapid products for layers that are
    not applied yet, as their class has them. Their own sheets decide.

    Rule: R1, R10.

    Args:
        job: the job.
        log: the site log.
        as_of: the instant to plan from.
        rules: the rules as data.
        day_off: why a local day is no working day, or None.

    Returns:
        Gains of a day and more; empty where only time helps.
    """
    entries = tuple(log)
    # What the log says is done is done, and past any remedy.
    job, _ = fold_done(job, facts_at(entries, instant(as_of), job.people))
    kept = KeptAges()
    now = make_plan(job, entries, as_of, rules=rules, day_off=day_off, kept=kept)
    gains: list[Gain] = []
    warm_c = max(
        (layer.sheet.rated_c for zone in job.zones for layer in zone.layers if not layer.existing),
        default=job.expected.air_c,
    )
    if warm_c > job.expected.air_c:
        # Nobody warms the past: only what is still to come changes.
        warmer = replace(job.expected, air_c=warm_c)
        then = plan_ahead(
            job, entries, as_of, rules=rules, day_off=day_off, ahead=warmer, kept=kept
        )
        gains += _gains(now, then, Message("warm-room", {"air_c": warm_c}))
    rapid = replace(job, zones=tuple(_rapid(zone, rules.classes) for zone in job.zones))
    if rapid != job:
        then = make_plan(rapid, entries, as_of, rules=rules, day_off=day_off, kept=kept)
        gains += _gains(now, then, Message("rapid-products"))
    return tuple(sorted(gains, key=lambda gain: -gain.days))


def _gains(now: Plan, then: Plan, what: Message) -> list[Gain]:
    found = []
    for before, after in zip(now.zones, then.zones, strict=True):
        days = _nearer(before, after)
        if days >= 1 and before.state not in RELEASED_STATES:
            found.append(Gain(before.zone.id, what.code, days, what.params))
    return found


def _nearer(before: ZonePlan, after: ZonePlan) -> int:
    if before.energize.start_on is None or after.energize.start_on is None:
        return 0
    return (before.energize.start_on - after.energize.start_on).days


def _rapid(zone: Zone, classes: Mapping[str, DataSheet]) -> Zone:
    """Return a zone with rapid classes for the layers that are not applied yet."""
    return replace(zone, layers=tuple(_rapid_layer(layer, classes) for layer in zone.layers))


def _rapid_layer(layer: Layer, classes: Mapping[str, DataSheet]) -> Layer:
    name = _RAPID.get(layer.sheet.kind)
    if layer.existing or layer.done_at is not None or layer.sheet.rapid or name is None:
        return layer
    sheet = classes.get(name)
    return layer if sheet is None else replace(layer, sheet=sheet)
