"""What a crew lead is told: the next step, what is due before it, the room, what nobody recorded.

Rule: R21, R23, R24, R26.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, datetime, timedelta

from curecal.instants import Window, add, end_of_day, local_day
from curecal.planning.curing.build_up import BuildUp
from curecal.planning.plan import Hold, HoldState, LayerPlan, State, ZonePlan
from curecal.reminders.builders.bare_heat_up import bare_heat_up, has_begun, runs_bare, shown_number
from curecal.reminders.builders.reminder_context import Ask, Scene, begun_at
from curecal.reminders.builders.state_changes import last_day
from curecal.reminders.timing.sending_hours import (
    last_working,
    next_evening,
    rounds,
    working_day_before,
)
from curecal.trade.data_sheets import SPLIT_OVER_A_NIGHT
from curecal.trade.findings import Message
from curecal.trade.hold_codes import Gate, HoldCode
from curecal.trade.job import Role
from curecal.trade.site_log import Series

_DAY = timedelta(days=1)
_INSPECTION = HoldCode.INSPECTION_BEFORE_CONCEALMENT
_SETTLED = frozenset({State.RELEASED, State.HEATING_UP, State.IN_SERVICE})
_RISKS = frozenset(
    {
        "frost",
        "cold-at-application",
        "may-fall-below-minimum",
        "house-needs-heat",
        "house-needs-heat-no-date",
        "room-hot",
        "open-too-long",
        "embedded-untested",
    }
)


def for_crew(scene: Scene) -> Iterator[Ask]:
    """Give what the crew lead is told of each zone.

    Args:
        scene: the plan.

    Yields:
        What to say.
    """
    for zone in scene.plan.zones:
        yield from _next_step(scene, zone)
        yield from _tests(scene, zone)
        yield from _room(scene, zone)
        yield from _is_it_done(scene, zone)
        yield from _is_it_on(scene, zone)
        yield from _bare_heat(scene, zone)
        if zone.state is State.CLEAR:
            yield from _release(scene, zone)
    yield from _risks(scene)
    if any(zone.state not in _SETTLED for zone in scene.plan.zones):
        yield from _loggers(scene)


def _planned(zone: ZonePlan) -> list[tuple[LayerPlan, Window]]:
    """Return the layers to come with their starts, in order of work."""
    coming = [(item, item.start) for item in zone.layers if item.planned and item.start]
    return sorted(coming, key=lambda pair: pair[1].earliest)


def _next_step(scene: Scene, zone: ZonePlan) -> Iterator[Ask]:
    if zone.state is State.STOPPED:
        return
    for item, start in _planned(zone)[:1]:
        opens = scene.calendar.next_working(start.earliest) or start.earliest
        start_on = local_day(opens, scene.tz)
        ask = Ask(
            kind="next-step",
            due_at=scene.day_at(start_on, "next-step"),
            zone_id=zone.zone.id,
            subject=item.layer.id,
            # With its hour: whether it is done is asked from then on.
            occasion=opens.astimezone(scene.tz).isoformat(),
            parts=("text", "keep", "day"),
            params=scene.zone_facts(zone)
            | {
                "layer": item.layer.name,
                "part": item.layer.part,
                "start_at": opens,
                "latest_start_at": item.latest_start_at,
                "day_on": scene.crew_day(zone),
            },
            topic="crew",
            day_on=scene.crew_day(zone),
            sliding=True,
        )
        yield from _with_day(scene, zone, ask)


def _tests(scene: Scene, zone: ZonePlan) -> Iterator[Ask]:
    """Tests and the inspection that the next work waits for, a kind of test at a time."""
    groups: dict[tuple[str, str], list[Hold]] = {}
    for hold in zone.holds:
        wanted = "test" in hold.code or hold.code == _INSPECTION
        if wanted and hold.is_outstanding:
            groups.setdefault((hold.code, hold.layer_id or ""), []).append(hold)
    for (code, layer_id), holds in groups.items():
        due_on = _gated_on(scene, zone, holds[0])
        if due_on is None:
            continue
        kind = "inspection-due" if code == _INSPECTION else "reading-due"
        rule = scene.rule(kind)
        before = working_day_before(due_on, rule.before, scene.calendar)
        layer = next((item.layer.name for item in zone.layers if item.layer.id == layer_id), None)
        again = any(hold.state is HoldState.FAILED for hold in holds)
        ask = Ask(
            kind=kind,
            due_at=scene.day_at(before, kind),
            zone_id=zone.zone.id,
            subject=f"{code} {layer_id}".strip(),
            occasion=due_on.isoformat(),
            parts=("text", *(("failed",) if again else ()), "cables", "layer"),
            params=scene.zone_facts(zone)
            | {
                "hold": code,
                "by": holds[0].by,
                "cables": ", ".join(hold.cable for hold in holds if hold.cable),
                "layer": layer,
                "due_on": due_on,
            },
            until_at=scene.day_at(due_on + _DAY),
            sliding=True,
        )
        if due_on >= scene.local_on:
            yield ask
            continue
        # Its day has passed: said again each week until it is on record.
        for round_on in rounds(due_on, scene.local_on, rule.every):
            due_at = scene.day_at(round_on, kind)
            yield replace(ask, due_at=due_at, occasion=round_on.isoformat(), until_at=None)


def _gated_on(scene: Scene, zone: ZonePlan, hold: Hold) -> date | None:
    """Return the day of the work that a test must come before."""
    starts = {item.layer.id: start for item, start in _planned(zone)}
    stack = BuildUp(replace(zone.zone, layers=tuple(item.layer for item in zone.layers)))
    embedding = stack.embedding()
    gated: Window | None = None
    if hold.code is HoldCode.TEST_AFTER_CHISELLING:
        repairs = [start for item, start in _planned(zone) if item.layer.repair]
        gated = repairs[0] if repairs else None
    elif hold.gates is Gate.EMBEDDING:
        gated = starts.get(embedding.id) if embedding else None
        if gated is None:
            return None
    elif hold.gates is Gate.COVER:
        tested = next((item.layer for item in zone.layers if item.layer.id == hold.layer_id), None)
        under = tested or embedding
        above = stack.above(under) if under else ()
        gated = next((start for each in above if (start := starts.get(each.id))), None)
        if gated is None:
            return None
    if gated is not None:
        opens = scene.calendar.next_working(gated.earliest) or gated.earliest
        return local_day(opens, scene.tz)
    return scene.crew_day(zone)


def _room(scene: Scene, zone: ZonePlan) -> Iterator[Ask]:
    order, begun = zone.room_order, begun_at(zone)
    if order is None or begun is None or zone.state is State.STOPPED:
        return
    parts = ("text", "means", "not-floor", "day")
    if runs_bare(scene, zone):
        parts = ("text-bare", "means", "bare", "day")
    for round_on in rounds(
        local_day(begun, scene.tz), scene.local_on, scene.rule("keep-room").every
    ):
        ask = Ask(
            kind="keep-room",
            due_at=max(scene.day_at(round_on, "keep-room"), begun),
            zone_id=zone.zone.id,
            occasion=round_on.isoformat(),
            parts=parts,
            params=scene.zone_facts(zone)
            | {
                "least_c": order.at_least_c,
                "order_at": order.until,
                "heated_by": order.heated_by,
                "day_on": scene.crew_day(zone),
            },
            topic="crew",
            day_on=scene.crew_day(zone),
        )
        yield from _with_day(scene, zone, ask)


def _with_day(scene: Scene, zone: ZonePlan, ask: Ask) -> Iterator[Ask]:
    """Give what names the day in passing to each crew lead; a nearer one than they know is not.

    In the morning it may be nearer only until that morning's reading: it is told as a day that
    moved, once it has stood. One at hand is told by what releases the floor, or moves it.
    """
    soon = next_evening(scene.as_of, scene.rules.soon, scene.tz)
    at_hand = ask.day_on is not None and scene.day_at(ask.day_on) < soon
    for person in scene.people:
        if Role.CREW_LEAD not in person.roles:
            continue
        last = last_day(scene, person, zone, ask.topic)
        known_on = last.day_on if last else None
        nearer = bool(ask.day_on and known_on and ask.day_on < known_on)
        if zone.may_energize or not (nearer or at_hand):
            yield replace(ask, only=person.id)
            continue
        silent = {**ask.params, "day_on": None}
        yield replace(ask, only=person.id, params=silent, topic="", day_on=None)


def _is_it_done(scene: Scene, zone: ZonePlan) -> Iterator[Ask]:
    """A layer whose time has passed unrecorded: planned by the job, or told as the next step."""
    rule = scene.rule("is-it-done")
    for item, _ in _planned(zone):
        layer = item.layer
        passed = layer.planned_finish_at or _told_finish(scene, zone, item)
        if passed is None or passed > scene.as_of:
            continue
        first_on = local_day(passed, scene.tz) + _DAY
        for round_on in rounds(first_on, scene.local_on, rule.every):
            yield Ask(
                kind="is-it-done",
                due_at=scene.day_at(round_on, "is-it-done"),
                zone_id=zone.zone.id,
                subject=layer.id,
                occasion=round_on.isoformat(),
                params=scene.zone_facts(zone)
                | {"layer": layer.name, "part": layer.part, "planned_at": passed},
            )


def _told_finish(scene: Scene, zone: ZonePlan, item: LayerPlan) -> datetime | None:
    """Return when a layer would be finished had it begun at the hour it was told as next."""
    told = [
        datetime.fromisoformat(each.occasion)
        for person in scene.people
        for each in scene.told.about(person.id, zone.zone.id, "next-step", item.layer.id)
    ]
    if not told:
        return None
    split = item.layer.sheet.kind in SPLIT_OVER_A_NIGHT
    done = scene.calendar.run(max(told), item.layer.duration_s, split=split)
    return done[1] if done else None


def _is_it_on(scene: Scene, zone: ZonePlan) -> Iterator[Ask]:
    """A released floor of which nobody wrote that it is on: no number goes to the owner."""
    at, day_on = zone.released_at, scene.crew_day(zone)
    if zone.state is not State.RELEASED or at is None or day_on is None:
        return
    first_on = max(local_day(at, scene.tz), day_on) + _DAY
    for round_on in rounds(first_on, scene.local_on, scene.rule("is-it-done").every):
        yield Ask(
            kind="is-it-done",
            due_at=scene.day_at(round_on, "is-it-done"),
            zone_id=zone.zone.id,
            subject="energized",
            occasion=round_on.isoformat(),
            parts=("switched-on",),
            params=scene.zone_facts(zone) | {"released_at": at, "day_on": day_on},
        )


def _bare_heat(scene: Scene, zone: ZonePlan) -> Iterator[Ask]:
    """One number for each step: that of a day off on the last working day before it."""
    heat_up = bare_heat_up(scene, zone)
    if heat_up is None:
        return
    begun = has_begun(scene, zone, heat_up)
    for index, step in enumerate(heat_up.steps):
        until_on = step.on + (max(1, step.hold_days) - 1) * _DAY
        if index and not begun:
            break
        if until_on < scene.local_on:
            continue
        due_on = last_working(step.on, scene.calendar)
        first = () if index else ("measure",)
        yield Ask(
            kind="bare-heat-day",
            due_at=scene.day_at(due_on, "bare-heat-day"),
            zone_id=zone.zone.id,
            # A number told ahead may change once the floor is measured: then it is told anew.
            subject=f"step {index + 1} {shown_number(heat_up, index)}",
            occasion=step.on.isoformat(),
            parts=("text", *(("off",) if index + 1 == len(heat_up.steps) else ()), *first),
            params=scene.zone_facts(zone)
            | {"heat_up": heat_up, "index": index, "day_on": step.on, "until_on": until_on}
            | {"ends_on": heat_up.ends_on},
            until_at=end_of_day(until_on, scene.tz),
            sliding=True,
        )


def _release(scene: Scene, zone: ZonePlan) -> Iterator[Ask]:
    latest = zone.energize.window.latest if zone.energize.window else None
    met = [hold.evidence_at for hold in zone.holds if hold.evidence_at]
    clear_at = max([*met, *((latest,) if latest else ())], default=scene.fact_at)
    rule = scene.rule("release-due")
    for round_on in rounds(local_day(clear_at, scene.tz), scene.local_on, rule.every):
        yield Ask(
            kind="release-due",
            due_at=max(scene.day_at(round_on, "release-due"), clear_at),
            zone_id=zone.zone.id,
            occasion=round_on.isoformat(),
            params=scene.zone_facts(zone) | {"day_on": scene.crew_day(zone)},
        )


def _risks(scene: Scene) -> Iterator[Ask]:
    zones = {zone.zone.id: zone for zone in scene.plan.zones}
    for finding in scene.plan.findings:
        zone = zones.get(finding.zone_id or "")
        if zone is None or finding.code not in _RISKS or begun_at(zone) is None:
            continue
        yield Ask(
            kind="climate-risk",
            due_at=scene.fact_at,
            zone_id=zone.zone.id,
            subject=f"{finding.code} {finding.layer_id or ''}".strip(),
            params=scene.zone_facts(zone) | {"found": Message(finding.code, finding.params)},
        )


def _loggers(scene: Scene) -> Iterator[Ask]:
    """An export before the memory of a logger in use is full."""
    last: dict[tuple[str, str], datetime] = {}
    for entry in scene.log:
        if isinstance(entry, Series) and entry.points:
            name = (entry.zone or "", entry.device)
            last[name] = max(entry.points[-1][0], last.get(name, entry.points[-1][0]))
    zones = {zone.zone.id: zone for zone in scene.plan.zones}
    for (zone_id, device), at in last.items():
        zone = zones.get(zone_id, scene.plan.zones[0])
        due_on = local_day(add(at, scene.rules.logger_s), scene.tz)
        yield Ask(
            kind="logger-due",
            due_at=scene.day_at(due_on, "logger-due"),
            zone_id=zone.zone.id,
            subject=device[:60].replace("|", " "),
            occasion=due_on.isoformat(),
            params=scene.zone_facts(zone) | {"device": device, "last_at": at},
        )
