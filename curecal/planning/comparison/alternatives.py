"""What if: the days of a job as it is beside its days after each of several changes."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime

from curecal.planning.make_plan import make_plan, plan_ahead
from curecal.planning.plan import Plan, State, ZonePlan
from curecal.planning.working_time.working_calendar import DayOff
from curecal.records import Record, record
from curecal.science.age import KeptAges
from curecal.trade.findings import Finding, Severity
from curecal.trade.job import Expected, Job
from curecal.trade.rules import Rules
from curecal.trade.site_log import Entry

_WORTH_SAYING = frozenset({Severity.ERROR, Severity.STOP, Severity.WARNING})


@record
class Alternative(Record):
    """The job after a change. `ahead` is the climate from now on: nobody warms the past."""

    said: str
    job: Job
    ahead: Expected
    day_off: DayOff


@record
class ZoneDays(Record):
    """The days of one zone, and how many days nearer each is than without the change.

    A gain is negative where the day goes later, and None where either plan has no such day.
    """

    zone: str
    name: str
    state: State
    start_on: date | None
    owner_on: date | None
    start_gain: int | None = None
    owner_gain: int | None = None


@record
class AlternativeOutcome(Record):
    """What a change does: the days of each zone, and what is found that was not found before."""

    said: str
    zones: tuple[ZoneDays, ...]
    new_dates: int = 0
    lost_dates: int = 0
    findings: tuple[Finding, ...] = ()

    @property
    def gained_days(self) -> int:
        """The days gained, over all zones and at both ends."""
        return sum((zone.start_gain or 0) + (zone.owner_gain or 0) for zone in self.zones)

    @property
    def helps(self) -> bool:
        """Return whether it brings any day forward."""
        nearer = any(
            (gain or 0) > 0 for zone in self.zones for gain in (zone.start_gain, zone.owner_gain)
        )
        return nearer or self.new_dates > 0

    @property
    def moves(self) -> bool:
        """Return whether it moves any day at all."""
        moved = any(zone.start_gain or zone.owner_gain for zone in self.zones)
        return bool(moved or self.new_dates or self.lost_dates)


@record
class WhatIf(Record):
    """The days as they are, after each change, the one that gains most first, and after all."""

    now: tuple[ZoneDays, ...]
    outcomes: tuple[AlternativeOutcome, ...]
    together: AlternativeOutcome | None


def what_if(
    job: Job,
    log: Iterable[Entry],
    as_of: datetime,
    alternatives: Sequence[Alternative],
    together: Alternative | None,
    *,
    rules: Rules,
    day_off: DayOff,
) -> WhatIf:
    """Return what each change does to the days of a job, each planned again from the start.

    A date where there was none gains most, one that is lost gains least.

    Rule: R6, R20, R21.

    Args:
        job: the job as it is.
        log: the site log.
        as_of: the instant to plan from.
        alternatives: the job after each change.
        together: the job after all of them; None where they do not go together.
        rules: the rules as data.
        day_off: why a local day is no working day, or None.
    """
    entries = tuple(log)
    kept = KeptAges()
    before = make_plan(job, entries, as_of, rules=rules, day_off=day_off, kept=kept)

    def outcome(alternative: Alternative) -> AlternativeOutcome:
        # What is expected of the past stays: a change is one of what is still to come.
        after = plan_ahead(
            alternative.job,
            entries,
            as_of,
            rules=rules,
            day_off=alternative.day_off,
            ahead=alternative.ahead,
            kept=kept,
        )
        return _outcome(alternative.said, before, after)

    outcomes = [outcome(alternative) for alternative in alternatives]
    return WhatIf(
        tuple(_days(zone) for zone in before.zones),
        tuple(sorted(outcomes, key=_rank)),
        None if together is None else outcome(together),
    )


def _rank(outcome: AlternativeOutcome) -> tuple[int, int]:
    return outcome.lost_dates - outcome.new_dates, -outcome.gained_days


def _outcome(said: str, before: Plan, after: Plan) -> AlternativeOutcome:
    pairs = list(zip(before.zones, after.zones, strict=True))
    known = {_mark(finding) for finding in before.findings}
    return AlternativeOutcome(
        said,
        tuple(_days(new, old) for old, new in pairs),
        sum(max(0, _dates(new) - _dates(old)) for old, new in pairs),
        sum(max(0, _dates(old) - _dates(new)) for old, new in pairs),
        tuple(
            finding
            for finding in after.findings
            if finding.severity in _WORTH_SAYING and _mark(finding) not in known
        ),
    )


def _mark(finding: Finding) -> tuple[object, ...]:
    return finding.code, finding.zone_id, finding.layer_id


def _dates(zone: ZonePlan) -> int:
    """Return how many of its two days a zone has; one to promise comes only with one at all."""
    days = (zone.energize.start_on, zone.energize.owner_date)
    return sum(day is not None for day in days)


def _days(zone: ZonePlan, before: ZonePlan | None = None) -> ZoneDays:
    """Return the days of a zone; without a plan before, nothing is gained or lost."""
    start_on, owner_on = zone.energize.start_on, zone.energize.owner_date
    if before is None:
        return ZoneDays(zone.zone.id, zone.zone.name, zone.state, start_on, owner_on)
    return ZoneDays(
        zone.zone.id,
        zone.zone.name,
        zone.state,
        start_on,
        owner_on,
        _gain(before.energize.start_on, start_on),
        _gain(before.energize.owner_date, owner_on),
    )


def _gain(before: date | None, after: date | None) -> int | None:
    return None if before is None or after is None else (before - after).days
