"""What a crew lead is told: the next step, what is due before it, the room, what nobody recorded.

Rule: R21, R23, R24, R26.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta

from curecal.calendars.stable_dates.due_days import INSPECTION, TESTS, due_day, owed, shown_work
from curecal.instants import add, end_of_day, local_day
from curecal.planning.plan import HoldState, State, ZonePlan
from curecal.planning.zone.stable_day import worst_day
from curecal.reminders.builders.bare_heat_up import bare_heat_up, has_begun, runs_bare, shown_number
from curecal.reminders.builders.crew_questions import questions, work_to_come
from curecal.reminders.builders.reminder_context import Ask, ReminderContext, begun_at
from curecal.reminders.builders.state_changes import last_day
from curecal.reminders.reminder_types import MessageKind, Occasion, Topic
from curecal.reminders.timing.sending_hours import (
    next_evening,
    rounds,
    working_day_before,
)
from curecal.trade.findings import FindingCode, Message
from curecal.trade.hold_codes import HoldCode
from curecal.trade.job import Role
from curecal.trade.site_log import Kept, Reading, Series

_DAY = timedelta(days=1)
_HOUR_S = 3600.0
_SETTLED = frozenset({State.RELEASED, State.HEATING_UP, State.IN_SERVICE})
_CURING = frozenset({State.CURING, State.ON_HOLD})
_RISKS = frozenset(
    {
        FindingCode.FROST,
        FindingCode.COLD_AT_APPLICATION,
        FindingCode.MAY_FALL_BELOW_MINIMUM,
        FindingCode.HOUSE_NEEDS_HEAT,
        FindingCode.HOUSE_NEEDS_HEAT_NO_DATE,
        FindingCode.ROOM_HOT,
        FindingCode.OPEN_TOO_LONG,
        FindingCode.EMBEDDED_UNTESTED,
    }
)


def for_crew(ctx: ReminderContext) -> Iterator[Ask]:
    """Give what the crew lead is told of each zone.

    Args:
        ctx: the plan.

    Yields:
        What to say.
    """
    for zone in ctx.plan.zones:
        yield from _next_step(ctx, zone)
        yield from _tests(ctx, zone)
        yield from _room(ctx, zone)
        yield from _temperature(ctx, zone)
        yield from questions(ctx, zone)
        yield from _bare_heat(ctx, zone)
        if zone.state is State.CLEAR or _lacks_time_only(ctx, zone):
            yield from _release(ctx, zone)
    yield from _risks(ctx)
    if any(zone.state not in _SETTLED for zone in ctx.plan.zones):
        yield from _loggers(ctx)


def _next_step(ctx: ReminderContext, zone: ZonePlan) -> Iterator[Ask]:
    if zone.state is State.STOPPED:
        return
    for item, start in work_to_come(zone)[:1]:
        # As the crew's calendar shows it: work without an hour of its own is told by its day.
        opens = shown_work(ctx.plan, zone, ctx.calendar).start(item, start).earliest
        start_on = local_day(opens, ctx.tz)
        ask = Ask(
            kind=MessageKind.NEXT_STEP,
            due_at=ctx.day_at(
                working_day_before(start_on, ctx.rule(MessageKind.NEXT_STEP).before, ctx.calendar),
                MessageKind.NEXT_STEP,
            ),
            until_at=ctx.calendar.closes(start_on),
            zone_id=zone.zone.id,
            subject=item.layer.id,
            # With its hour: whether it is done is asked from then on.
            occasion=Occasion(on=start_on, at=opens),
            parts=("text", "keep", "day"),
            params=ctx.zone_facts(zone)
            | {
                "layer": item.layer.name,
                "part": item.layer.part,
                "start_at": opens,
                "latest_start_at": item.latest_start_at,
                "day_on": ctx.crew_day(zone),
            },
            topic=Topic.CREW,
            day_on=ctx.crew_day(zone),
            sliding=True,
        )
        yield from _with_day(ctx, zone, ask)


def _tests(ctx: ReminderContext, zone: ZonePlan) -> Iterator[Ask]:
    """Tests and the inspection that the next work waits for, a kind of test at a time."""
    for holds in owed(zone, TESTS | {INSPECTION}):
        code, layer_id = holds[0].code, holds[0].layer_id or ""
        due_on = due_day(ctx.plan, zone, holds[0], ctx.calendar)
        if due_on is None:
            continue
        kind = MessageKind.INSPECTION_DUE if code is INSPECTION else MessageKind.READING_DUE
        rule = ctx.rule(kind)
        before = working_day_before(due_on, rule.before, ctx.calendar)
        layer = next((item.layer.name for item in zone.layers if item.layer.id == layer_id), None)
        again = any(hold.state is HoldState.FAILED for hold in holds)
        ask = Ask(
            kind=kind,
            due_at=ctx.day_at(before, kind),
            zone_id=zone.zone.id,
            subject=f"{code} {layer_id}".strip(),
            occasion=Occasion(on=due_on),
            parts=("text", *(("failed",) if again else ()), "cables", "layer"),
            params=ctx.zone_facts(zone)
            | {
                "hold": code,
                "by": holds[0].by,
                "cables": ", ".join(hold.cable for hold in holds if hold.cable),
                "layer": layer,
                "due_on": due_on,
            },
            until_at=ctx.calendar.closes(due_on),
            sliding=True,
        )
        if due_on >= ctx.local_on:
            yield ask
            continue
        # Its day has passed: said again each week until it is on record.
        for round_on in rounds(due_on, ctx.local_on, rule.every):
            due_at = ctx.day_at(round_on, kind)
            yield replace(
                ask,
                due_at=due_at,
                occasion=Occasion(on=round_on),
                until_at=None,
                parts=("overdue", *ask.parts[1:]),
            )


def _room(ctx: ReminderContext, zone: ZonePlan) -> Iterator[Ask]:
    order, begun = zone.room_order, begun_at(zone)
    if order is None or begun is None or zone.state is State.STOPPED:
        return
    parts = ("text", "means", "not-floor", "day")
    if runs_bare(ctx, zone):
        parts = ("text-bare", "means", "bare", "day")
    every = ctx.rule(MessageKind.KEEP_ROOM).every
    first_on = local_day(begun, ctx.tz)
    for round_on in ctx.rounds(MessageKind.KEEP_ROOM, zone.zone.id, first_on, every):
        ask = Ask(
            kind=MessageKind.KEEP_ROOM,
            due_at=max(ctx.day_at(round_on, MessageKind.KEEP_ROOM), begun),
            zone_id=zone.zone.id,
            occasion=Occasion(on=round_on),
            parts=parts,
            params=ctx.zone_facts(zone)
            | {
                "least_c": order.at_least_c,
                "order_at": _full_hour(order.until),
                "heated_by": order.heated_by,
                "day_on": ctx.crew_day(zone),
            },
            topic=Topic.CREW,
            day_on=ctx.crew_day(zone),
        )
        yield from _with_day(ctx, zone, ask)


def _full_hour(at: datetime) -> datetime:
    """Return the full hour at or after an instant: a room is kept warm by no minute."""
    whole = at.replace(minute=0, second=0, microsecond=0)
    return whole if whole == at else add(whole, _HOUR_S)


def _with_day(ctx: ReminderContext, zone: ZonePlan, ask: Ask) -> Iterator[Ask]:
    """Give what names the day in passing to each crew lead; a nearer one than they know is not.

    In the morning it may be nearer only until that morning's reading: it is told as a day that
    moved, once it has stood. One at hand is told by what releases the floor, or moves it.
    """
    soon = next_evening(ctx.as_of, ctx.rules.soon, ctx.tz)
    at_hand = ask.day_on is not None and ctx.day_at(ask.day_on) < soon
    for person in ctx.people:
        if Role.CREW_LEAD not in person.roles:
            continue
        last = last_day(ctx, person, zone, ask.topic)
        known_on = last.day_on if last else None
        nearer = bool(ask.day_on and known_on and ask.day_on < known_on)
        if zone.is_released or not (nearer or at_hand):
            yield replace(ask, only=person.id)
            continue
        silent = {**ask.params, "day_on": None}
        yield replace(ask, only=person.id, params=silent, topic=Topic.NONE, day_on=None)


def _bare_heat(ctx: ReminderContext, zone: ZonePlan) -> Iterator[Ask]:
    """One number for each step: that of a day off on the last working day before it."""
    heat_up = bare_heat_up(ctx, zone)
    if heat_up is None or zone.waits_for_electrician:
        return
    begun = has_begun(ctx, zone, heat_up)
    for index, step in enumerate(heat_up.steps):
        until_on = step.on + (max(1, step.hold_days) - 1) * _DAY
        if index and not begun:
            break
        if until_on < ctx.local_on:
            continue
        due_on = working_day_before(
            step.on, ctx.rule(MessageKind.BARE_HEAT_DAY).before, ctx.calendar
        )
        first = () if index else ("measure",)
        yield Ask(
            kind=MessageKind.BARE_HEAT_DAY,
            due_at=ctx.day_at(due_on, MessageKind.BARE_HEAT_DAY),
            zone_id=zone.zone.id,
            # A number told ahead may change once the floor is measured: then it is told anew.
            subject=f"step {index + 1} {shown_number(heat_up, index)}",
            occasion=Occasion(on=step.on),
            parts=("text", *(("off",) if index + 1 == len(heat_up.steps) else ()), *first),
            params=ctx.zone_facts(zone)
            | {"heat_up": heat_up, "index": index, "day_on": step.on, "until_on": until_on}
            | {"ends_on": heat_up.ends_on},
            until_at=end_of_day(until_on, ctx.tz),
            sliding=True,
            # The first one waits for nothing once all is on record.
            alone=not index,
        )


def _temperature(ctx: ReminderContext, zone: ZonePlan) -> Iterator[Ask]:
    """Ask for a temperature where none came for long while something cures."""
    begun = begun_at(zone)
    late_on, early_on = worst_day(zone, ctx.calendar), ctx.crew_day(zone)
    if begun is None or zone.state not in _CURING:
        return
    rule = ctx.rule(MessageKind.TEMPERATURE_DUE)
    last_at = max([begun, *_measured(ctx, zone)])
    every = rule.every * _DAY
    if late_on is not None and late_on < local_day(last_at, ctx.tz) + every:
        # It is cured at the coldest as well by then.
        return
    costs = late_on is not None and early_on is not None and late_on > max(early_on, ctx.local_on)
    first_on = local_day(last_at, ctx.tz) + every
    for round_on in ctx.rounds(MessageKind.TEMPERATURE_DUE, zone.zone.id, first_on, rule.every):
        yield Ask(
            kind=MessageKind.TEMPERATURE_DUE,
            due_at=ctx.day_at(round_on, MessageKind.TEMPERATURE_DUE),
            zone_id=zone.zone.id,
            occasion=Occasion(on=round_on),
            parts=("text", "costs" if costs else "counts"),
            params=ctx.zone_facts(zone)
            | {"since_on": local_day(last_at, ctx.tz), "late_on": late_on, "early_on": early_on},
        )


def _measured(ctx: ReminderContext, zone: ZonePlan) -> Iterator[datetime]:
    """Give when a temperature of a zone was last on record, by each entry that has one."""
    for entry in ctx.log:
        if entry.zone not in {None, zone.zone.id}:
            continue
        if isinstance(entry, Reading) and entry.temperature_c is not None:
            yield entry.at
        elif isinstance(entry, Series) and entry.points:
            yield entry.points[-1][0]
        elif isinstance(entry, Kept):
            yield entry.to_at


def _lacks_time_only(ctx: ReminderContext, zone: ZonePlan) -> bool:
    """Return whether nothing but the last hours of its waits keeps a floor from its release.

    It is wanted ahead, so that it is looked at when they are over, and said if it is so then.
    """
    latest = zone.energize.window.latest if zone.energize.window else None
    outstanding = {hold.code for hold in zone.holds if hold.is_outstanding}
    waits = zone.state in _CURING and outstanding <= {HoldCode.CURE, HoldCode.RELEASE}
    return waits and latest is not None and latest > ctx.as_of


def _release(ctx: ReminderContext, zone: ZonePlan) -> Iterator[Ask]:
    latest = zone.energize.window.latest if zone.energize.window else None
    met = [hold.evidence_at for hold in zone.holds if hold.evidence_at]
    clear_at = max([*met, *((latest,) if latest else ())], default=ctx.fact_at)
    rule = ctx.rule(MessageKind.RELEASE_DUE)
    for round_on in rounds(local_day(clear_at, ctx.tz), ctx.local_on, rule.every):
        yield Ask(
            kind=MessageKind.RELEASE_DUE,
            due_at=max(ctx.day_at(round_on, MessageKind.RELEASE_DUE), clear_at),
            zone_id=zone.zone.id,
            occasion=Occasion(on=round_on),
            params=ctx.zone_facts(zone) | {"day_on": ctx.crew_day(zone)},
        )


def _risks(ctx: ReminderContext) -> Iterator[Ask]:
    zones = {zone.zone.id: zone for zone in ctx.plan.zones}
    for finding in ctx.plan.findings:
        zone = zones.get(finding.zone_id or "")
        if zone is None or finding.code not in _RISKS or begun_at(zone) is None:
            continue
        yield Ask(
            kind=MessageKind.CLIMATE_RISK,
            due_at=ctx.fact_at,
            zone_id=zone.zone.id,
            subject=f"{finding.code} {finding.layer_id or ''}".strip(),
            params=ctx.zone_facts(zone) | {"found": Message(finding.code, finding.params)},
        )


def _loggers(ctx: ReminderContext) -> Iterator[Ask]:
    """An export before the memory of a logger in use is full."""
    last: dict[tuple[str, str], datetime] = {}
    for entry in ctx.log:
        if isinstance(entry, Series) and entry.points:
            name = (entry.zone or "", entry.device)
            last[name] = max(entry.points[-1][0], last.get(name, entry.points[-1][0]))
    zones = {zone.zone.id: zone for zone in ctx.plan.zones}
    for (zone_id, device), at in last.items():
        zone = zones.get(zone_id, ctx.plan.zones[0])
        due_on = local_day(add(at, ctx.rules.logger_s), ctx.tz)
        yield Ask(
            kind=MessageKind.LOGGER_DUE,
            due_at=ctx.day_at(due_on, MessageKind.LOGGER_DUE),
            zone_id=zone.zone.id,
            subject=device[:60].replace("|", " "),
            occasion=Occasion(on=due_on),
            params=ctx.zone_facts(zone) | {"device": device, "last_at": at},
        )
