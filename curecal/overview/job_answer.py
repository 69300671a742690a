"""A job in one line: the answer, its days, what comes next, who is waited for, what is at risk."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from curecal.instants import local_day
from curecal.overview.risks import Risk, risks_of
from curecal.planning.plan import Appointment, HeatUpPurpose, Plan, State, Visit, ZonePlan
from curecal.planning.working_time.working_calendar import Calendar
from curecal.planning.zone.stable_day import crew_day
from curecal.records import Record, record
from curecal.trade.findings import Finding, FindingCode, Severity
from curecal.trade.hold_codes import HoldCode
from curecal.trade.site_log import Entry
from curecal.words.report.headline import deciding, headline
from curecal.words.sentences import Words
from curecal.words.values import clean

DAYS_AHEAD = 92
"""How many days of a job are kept for the board."""
_NO_DAY = frozenset({State.STOPPED, State.NO_DATE, State.HEATING_UP, State.IN_SERVICE})


@record
class NextThing(Record):
    """What comes next, in words, and the first local day it may; None where no day is known."""

    what: str
    on: date | None


@record
class OfJob(Record):
    """Somebody of a job, for whoever looks for them: the name, and each role."""

    name: str
    roles: tuple[str, ...]


@record
class FirstToDo(Record):
    """The first thing that somebody is waited for: the role, and what in words."""

    by: str
    what: str


@record
class JobAnswer(Record):
    """A job in one line.

    `start_on` is the day of the crew, `owner_on` the day of the owner, both of the zone that the
    job waits for; `waiting_for` are roles. `has_problem` is True with an error or a stop.
    `address` and `people` are what the job is found by beside its name. `without_sheet` are the
    layers, still to cure, whose wait is not their own data sheet's; `to_do` has what each of
    `waiting_for` is waited for.
    """

    state: str
    may_energize: bool
    answer: str
    start_on: date | None
    owner_on: date | None
    next_step: NextThing | None
    next_visit: NextThing | None
    waiting_for: tuple[str, ...]
    risks: tuple[Risk, ...]
    has_problem: bool
    address: str | None = None
    people: tuple[OfJob, ...] = ()
    without_sheet: tuple[str, ...] = ()
    to_do: tuple[FirstToDo, ...] = ()


@record
class DayEvent(Record):
    """One thing of one local day of a job: `step`, `visit`, `heat` or `owner`, in words."""

    on: date
    kind: str
    what: str


def job_answer(
    plan: Plan,
    findings: Sequence[Finding],
    log: Sequence[Entry],
    *,
    words: Words,
    calendar: Calendar,
) -> JobAnswer:
    """Return a job in one line.

    Args:
        plan: the plan.
        findings: what reading the job found.
        log: the site log.
        words: the language and units of the job.
        calendar: the working days of its site.
    """
    zone, to_do = deciding(plan), _to_do(plan, words)
    every = (*findings, *plan.findings)
    return JobAnswer(
        state=zone.state.value if zone else State.NO_DATE.value,
        may_energize=plan.may_energize,
        answer=headline(plan, words),
        start_on=_start_on(zone),
        owner_on=None if zone is None else _owner_on(zone, plan, calendar),
        next_step=_next_step(plan, words),
        next_visit=_next_visit(plan, words),
        waiting_for=tuple(one.by for one in to_do),
        risks=risks_of(plan, log, words=words, calendar=calendar),
        has_problem=any(one.severity in {Severity.ERROR, Severity.STOP} for one in every),
        address=plan.job.address,
        people=tuple(
            OfJob(person.name, tuple(role.value for role in person.every_role))
            for person in plan.job.people
            if person.is_on_the_job(plan.as_of)
        ),
        without_sheet=_without_sheet(plan),
        to_do=to_do,
    )


def _without_sheet(plan: Plan) -> tuple[str, ...]:
    waiting = {zone.zone.id for zone in plan.zones if not zone.is_released}
    return tuple(
        dict.fromkeys(
            str(finding.params["layer"])
            for finding in plan.findings
            if finding.code == FindingCode.HEAT_BY_FALLBACK and finding.zone_id in waiting
        )
    )


def unread_answer(text: str, reason: str) -> JobAnswer:
    """Return the line of a job that cannot be planned.

    Args:
        text: the answer in words.
        reason: why, in words.
    """
    risk = Risk("not-planned", "", reason)
    return JobAnswer(
        state=State.NO_DATE.value,
        may_energize=False,
        answer=text,
        start_on=None,
        owner_on=None,
        next_step=None,
        next_visit=None,
        waiting_for=(),
        risks=(risk,),
        has_problem=True,
    )


def job_days(plan: Plan, *, words: Words, calendar: Calendar) -> tuple[DayEvent, ...]:
    """Return what the days of a job hold from today on, in order.

    Args:
        plan: the plan.
        words: the language and units of the job.
        calendar: the working days of its site.
    """
    today = local_day(plan.as_of, plan.job.tz)
    events = [*_steps(plan, words), *_visits(plan, words), *_heat_days(plan, words)]
    events += _owner_days(plan, words, calendar)
    ahead = today + timedelta(days=DAYS_AHEAD)
    return tuple(
        sorted(
            (event for event in events if today <= event.on < ahead),
            key=lambda event: (event.on, event.kind, event.what),
        )
    )


def _in_zone(zone: ZonePlan, plan: Plan) -> str | None:
    """Return a zone's name where the job has others."""
    return clean(zone.zone.name) if len(plan.zones) > 1 else None


def _start_on(zone: ZonePlan | None) -> date | None:
    return None if zone is None or zone.state in _NO_DAY else zone.energize.start_on


def _owner_on(zone: ZonePlan, plan: Plan, calendar: Calendar) -> date | None:
    if zone.state in _NO_DAY:
        return None
    return crew_day(zone, plan.as_of, calendar) if zone.is_released else zone.energize.owner_date


def _next_step(plan: Plan, words: Words) -> NextThing | None:
    """Return the work that comes first; with none left what is to be done first, or the heat."""
    planned = [
        NextThing(
            words.text("jobs.layer", {"layer": item.layer.title, "zone": _in_zone(zone, plan)}),
            None if item.start is None else local_day(item.start.earliest, plan.job.tz),
        )
        for zone in plan.zones
        if zone.state is not State.STOPPED
        for item in zone.layers
        if item.planned and not item.layer.existing
    ]
    dated = [step for step in planned if step.on is not None]
    if planned:
        return min(dated, key=lambda step: step.on or date.max, default=planned[0])
    today = local_day(plan.as_of, plan.job.tz)
    ahead = [
        NextThing(event.what, event.on) for event in _heat_days(plan, words) if event.on >= today
    ]
    zone = deciding(plan)
    if zone is not None and zone.state is not State.STOPPED and not zone.is_released:
        ahead = _first_to_do(zone, words) or ahead
    return min(ahead, key=lambda step: step.on or date.max, default=None)


def _first_to_do(zone: ZonePlan, words: Words) -> list[NextThing]:
    """Return what is to be done first; of the release the day is known."""
    found = [
        NextThing(
            words.text(f"jobs.hold.{hold.code}"),
            zone.energize.start_on if hold.code is HoldCode.RELEASE else None,
        )
        for hold in zone.holds
        if hold.is_outstanding and hold.code is not HoldCode.CURE
    ]
    return found[:1]


def _next_visit(plan: Plan, words: Words) -> NextThing | None:
    """Return the visit that comes first: at its appointment, else when its window opens."""
    visits = [
        NextThing(
            words.text(f"jobs.visit.{visit.kind}"),
            None if visit.window is None else local_day(visit.window.earliest, plan.job.tz),
        )
        for visit in plan.visits
        if not _is_agreed(visit)
    ]
    visits += [
        NextThing(words.name("visit_for", one.purpose.value), local_day(one.start_at, plan.job.tz))
        for one in _agreed(plan)
    ]
    return min(visits, key=lambda visit: visit.on or date.max, default=None)


def _is_agreed(visit: Visit) -> bool:
    return visit.appointment is not None and visit.appointment.stands


def _agreed(plan: Plan) -> list[Appointment]:
    """Return the appointments somebody is still to come to."""
    return [one for one in plan.appointments if one.stands and one.end_at > plan.as_of]


def _to_do(plan: Plan, words: Words) -> tuple[FirstToDo, ...]:
    """Return who has something to do that is not the next layer: of the zone waited for."""
    zone = deciding(plan)
    if zone is None or zone.is_released or zone.state is State.STOPPED:
        return ()
    # The cure is nobody's to do; the release comes after all else.
    waiting = [
        hold for hold in zone.holds if hold.is_outstanding and hold.code is not HoldCode.CURE
    ]
    before = [hold for hold in waiting if hold.code is not HoldCode.RELEASE] or waiting
    first = {hold.by.value: hold for hold in reversed(before)}
    return tuple(
        FirstToDo(role, words.text(f"jobs.hold.{first[role].code}"))
        for role in dict.fromkeys(hold.by.value for hold in before)
    )


def _steps(plan: Plan, words: Words) -> list[DayEvent]:
    return [
        DayEvent(
            local_day(item.start.earliest, plan.job.tz),
            "step",
            words.text("jobs.day-step", {"layer": item.layer.title, "zone": _in_zone(zone, plan)}),
        )
        for zone in plan.zones
        if zone.state is not State.STOPPED
        for item in zone.layers
        if item.planned and item.start is not None and not item.layer.existing
    ]


def _visits(plan: Plan, words: Words) -> list[DayEvent]:
    """Return appointments on their day with their hour, and windows on the day they open."""
    names = {zone.zone.id: _in_zone(zone, plan) for zone in plan.zones}
    found = [
        DayEvent(
            local_day(one.start_at, plan.job.tz),
            "visit",
            words.text(
                "jobs.day-visit-agreed",
                {
                    "visit": words.name("visit_for", one.purpose.value),
                    "zone": names.get(one.zone_id or ""),
                    "hour": f"{one.start_at.astimezone(plan.job.tz):%H:%M}",
                    "misfit": one.misfit,
                },
            ),
        )
        for one in _agreed(plan)
    ]
    for visit in plan.visits:
        if visit.window is None or _is_agreed(visit):
            continue
        first = local_day(visit.window.earliest, plan.job.tz)
        latest = visit.window.latest
        last = None if latest is None else local_day(latest, plan.job.tz)
        params = {
            "visit": words.name("visit", visit.kind),
            "zone": ", ".join(name for zone in visit.zone_ids if (name := names.get(zone))),
            "latest_on": None if last == first else last,
        }
        found.append(DayEvent(first, "visit", words.text("jobs.day-visit", params)))
    return found


def _heat_days(plan: Plan, words: Words) -> list[DayEvent]:
    """Return the set-points of every heat-up that somebody may run: not of a stopped floor."""
    found = []
    for zone in plan.zones:
        for heat_up in zone.heat_ups:
            bare = heat_up.purpose is HeatUpPurpose.BARE_SCREED
            may_run = zone.is_released or (bare and not zone.waits_for_electrician)
            if zone.state is State.STOPPED or not may_run:
                continue
            for step, setting in zip(heat_up.steps, words.settings(heat_up), strict=True):
                params = {"setting": setting, "zone": _in_zone(zone, plan)}
                text = words.text(f"jobs.day-{heat_up.basis}", params)
                found.append(DayEvent(step.on, "heat", text))
    return found


def _owner_days(plan: Plan, words: Words, calendar: Calendar) -> list[DayEvent]:
    days = [(zone, _owner_on(zone, plan, calendar)) for zone in plan.zones]
    return [
        DayEvent(on, "owner", words.text("jobs.day-owner", {"zone": _in_zone(zone, plan)}))
        for zone, on in days
        if on is not None
    ]
