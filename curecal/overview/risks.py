"""What puts the day that a job's people were told at risk, and why."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, datetime, timedelta

from curecal.instants import local_day
from curecal.planning.plan import Appointment, HoldState, Plan, State, VisitKind, ZonePlan
from curecal.planning.site_log.log_at_instant import facts_at
from curecal.planning.working_time.working_calendar import Calendar
from curecal.records import Record, record
from curecal.trade.findings import FindingCode
from curecal.trade.hold_codes import Gate, HoldCode
from curecal.trade.site_log import Booking, Entry, Kept, Reading, Series
from curecal.words.sentences import Words
from curecal.words.values import clean

# Somebody can still be called for the day after tomorrow.
_SOON = timedelta(days=2)
# A crew that was on site within a week has written something; our own choice.
_SILENT = timedelta(days=7)
# Whoever is to come within a week has said so by now; our own choice.
_CONFIRMED_BEFORE = timedelta(days=7)
_HARDENING = frozenset({State.CURING, State.ON_HOLD})
_COLD = frozenset(
    {
        FindingCode.FROST,
        FindingCode.COLD_AT_APPLICATION,
        FindingCode.COLDER_THAN_COLDEST,
        FindingCode.COLDEST_LOWERED,
        FindingCode.MAY_FALL_BELOW_MINIMUM,
    }
)
# The clocks meet the one, and the other comes after everything else.
_LAST = frozenset({HoldCode.CURE, HoldCode.RELEASE})


@record
class Risk(Record):
    """Why a job is at risk: a code for machines, the zone's id, a sentence for people."""

    code: str
    zone: str
    why: str


def risks_of(
    plan: Plan, log: Sequence[Entry], *, words: Words, calendar: Calendar
) -> tuple[Risk, ...]:
    """Return what puts a job's days at risk, the worst of each zone first.

    Rule: R21a, R22, R23, R26.

    Args:
        plan: the plan.
        log: the site log.
        words: the language and units of the job.
        calendar: the working days of its site.
    """
    found = []
    for zone in plan.zones:
        named = clean(zone.zone.name) if len(plan.zones) > 1 else None
        for code, params in (
            *_without_day(zone, words),
            *_failed(zone, words),
            *_late_work(zone, plan, calendar),
            *_before_gate(zone, plan, words),
            *_silence(zone, plan, log),
            *_cold(zone, plan, words),
        ):
            why = words.text(f"jobs.risk.{code}", {"zone": named, **params})
            found.append(Risk(code, zone.zone.id, why))
    names = {zone.zone.id: clean(zone.zone.name) for zone in plan.zones if len(plan.zones) > 1}
    for one in plan.appointments:
        for code, params in _open_visit(one, plan, words):
            said = {"zone": names.get(one.zone_id or ""), **params}
            found.append(Risk(code, one.zone_id or "", words.text(f"jobs.risk.{code}", said)))
    return tuple(found)


Found = Iterator[tuple[str, dict[str, object]]]


def _without_day(zone: ZonePlan, words: Words) -> Found:
    """Give that a zone is stopped, has no date, or none that can be promised."""
    if zone.state is State.STOPPED:
        yield "stopped", {"why": words.message(zone.why)}
    elif zone.state is State.NO_DATE:
        yield "no-date", {"why": words.message(zone.why)}
    elif not zone.is_released and zone.energize.owner_date is None:
        yield "no-promise", {}


def _failed(zone: ZonePlan, words: Words) -> Found:
    if zone.state is State.STOPPED:
        return
    for hold in zone.holds:
        if hold.state is HoldState.FAILED:
            yield "failed", {"what": words.hold(hold)}


def _late_work(zone: ZonePlan, plan: Plan, calendar: Calendar) -> Found:
    """Give the work that has to begin by tomorrow's working day, or was planned for a past day."""
    today = local_day(plan.as_of, plan.job.tz)
    due_on = _next_working_day(today, calendar)
    if zone.state is State.STOPPED:
        return
    for item in zone.layers:
        if not item.planned or item.layer.existing:
            continue
        planned_at = item.layer.planned_finish_at or item.layer.planned_start_at
        if planned_at is not None and planned_at < plan.as_of:
            yield "not-logged", {"layer": item.layer.title, "planned_at": planned_at}
        elif item.latest_start_at is not None:
            start_on = local_day(item.latest_start_at, plan.job.tz)
            if start_on <= due_on:
                yield "start-by", {"layer": item.layer.title, "start_on": start_on}


def _next_working_day(today: date, calendar: Calendar) -> date:
    at = calendar.next_working(calendar.opens(today + timedelta(days=1)))
    return today if at is None else local_day(at, calendar.tz)


def _before_gate(zone: ZonePlan, plan: Plan, words: Words) -> Found:
    """Give what has to be done before a day that has nearly come: the embedding's, or the heat's.

    A floor that has cured and is held counts as well.
    """
    if zone.is_released or zone.state is State.STOPPED:
        return
    outstanding = [hold for hold in zone.holds if hold.state is HoldState.UNMET]
    soon_on = local_day(plan.as_of, plan.job.tz) + _SOON
    covered_on = min(
        (
            local_day(visit.window.latest, plan.job.tz)
            for visit in plan.visits
            if visit.kind is VisitKind.ROUGH_IN and zone.zone.id in visit.zone_ids
            if visit.window is not None and visit.window.latest is not None
        ),
        default=None,
    )
    embedding = [hold for hold in outstanding if hold.gates is Gate.EMBEDDING]
    if embedding and covered_on is not None and covered_on <= soon_on:
        yield "before-covering", {"what": words.hold(embedding[0]), "covered_on": covered_on}
    start_on = zone.energize.start_on
    left = [hold for hold in outstanding if hold.code not in _LAST]
    if left and start_on is not None and start_on <= soon_on:
        yield "before-heat", {"what": words.hold(left[0]), "count": len(left), "day_on": start_on}


def _silence(zone: ZonePlan, plan: Plan, log: Sequence[Entry]) -> Found:
    """Give that nobody has told a temperature for a week while something hardens."""
    window = zone.energize.window
    if zone.state not in _HARDENING or window is None or window.latest == window.earliest:
        return
    done = [
        item.finish.earliest
        for item in zone.layers
        if not item.planned and not item.layer.existing and item.finish is not None
    ]
    known = facts_at(log, plan.as_of, plan.job.people).entries
    told = [
        last_at
        for entry in known
        if entry.zone in {None, zone.zone.id} and (last_at := _told_until(entry)) is not None
    ]
    last_at = max((at for at in (*done, *told) if at <= plan.as_of), default=None)
    if last_at is not None and last_at + _SILENT <= plan.as_of:
        yield "silence", {"since_at": last_at}


def _cold(zone: ZonePlan, plan: Plan, words: Words) -> Found:
    """Give the first thing that a zone still hardening was too cold for, or may be."""
    if zone.is_released or zone.state is State.STOPPED:
        return
    for finding in plan.findings:
        if finding.zone_id == zone.zone.id and finding.code in _COLD:
            yield "cold", {"why": words.finding(finding)[0].rstrip(".")}
            return


def _open_visit(one: Appointment, plan: Plan, words: Words) -> Found:
    """Give that a visit to come does not fit any more, or nobody has confirmed it yet."""
    if not one.stands or one.end_at <= plan.as_of:
        return
    params: dict[str, object] = {
        "who": one.who or words.person("electrician"),
        "start_at": one.start_at,
        "purpose": words.name("visit_for", one.purpose.value),
    }
    # A later day than the floor needs costs nobody a wrong trip.
    if one.misfit is not None and one.misfit.code != FindingCode.VISIT_AFTER_WINDOW:
        yield "visit-misfit", {**params, "why": one.misfit}
    elif one.state is Booking.BOOKED and one.start_at <= plan.as_of + _CONFIRMED_BEFORE:
        yield "visit-unconfirmed", params


def _told_until(entry: Entry) -> datetime | None:
    """Return the last instant of which an entry tells a temperature."""
    if isinstance(entry, Series):
        return entry.points[-1][0] if entry.points else None
    if isinstance(entry, Kept):
        return entry.to_at
    return entry.at if isinstance(entry, Reading) else None
