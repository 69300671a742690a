"""The crew's calendar: next steps, gates, inspection, readings due, the room, the heat-up.

The crew is told windows. All instants are rounded up to working hours, in times and in texts.

Rule: R8, R21.
"""

from __future__ import annotations

import math
from datetime import timedelta

from curecal.calendars.event import Audience, Days, Event, EventKey, Follows, Status
from curecal.calendars.event_context import DAY, EventContext, layer_label, once
from curecal.calendars.events.appointments import appointment_events
from curecal.calendars.events.inspection_slot import inspection_slot
from curecal.calendars.purpose import Purpose, PurposeKind
from curecal.calendars.stable_dates.due_days import (
    INSPECTION,
    TESTS,
    due_day,
    gated_work,
    owed,
    planned_start,
    shown_work,
    stack_of,
)
from curecal.calendars.stable_dates.event_hours import (
    evening_before,
    fills_hours,
    firmness,
    span,
    working_window,
)
from curecal.calendars.stable_dates.stable_dates import owed_days
from curecal.instants import Window, morning_at_or_after
from curecal.planning.plan import (
    HeatUp,
    HeatUpPurpose,
    Hold,
    HoldState,
    LayerPlan,
    MilestonePlan,
    ZonePlan,
)
from curecal.planning.zone.stable_day import early_day
from curecal.trade.hold_codes import Gate, HoldCode
from curecal.trade.job import Layer
from curecal.trade.site_log import VisitFor

_HOUR_S = 3600
_STEP, _GATE = Purpose(PurposeKind.STEP), Purpose(PurposeKind.GATE)


def crew_events(ctx: EventContext) -> tuple[Event, ...]:
    """Return what the crew has to do, and when it may.

    Args:
        ctx: The plan and what it is shown with.

    Returns:
        The events, zone by zone.
    """
    zones = [_Zone(ctx, zone) for zone in ctx.plan.zones]
    events = [event for zone in zones for event in zone.events()]
    slots = {zone.zone.zone.id for zone in zones if zone.inspection() is not None}
    shown = {
        one.id
        for one in ctx.plan.appointments
        if one.purpose is VisitFor.INSPECTION and any(map(one.is_for, slots))
    }
    return (*events, *appointment_events(ctx, Audience.CREW, shown))


class _Zone:
    """One zone on the ctx, with its layers by id."""

    def __init__(self, ctx: EventContext, zone: ZonePlan) -> None:
        self.ctx = ctx
        self.zone = zone
        self.stack = stack_of(zone)
        self.plans = {plan.layer.id: plan for plan in zone.layers}
        self.unfixed = shown_work(ctx.plan, zone, ctx.calendar)
        self.facts: dict[str, object] = {"zone": zone.zone.name, **ctx.contact()}

    def events(self) -> list[Event]:
        """All events of the zone; nothing follows what is not there."""
        gates = [event for plan in self.zone.layers if (event := self.gate(plan))]
        slot = self.inspection()
        known = {event.key for event in gates} | {
            self.key(_STEP, plan.layer) for plan in self.zone.layers if planned_start(plan)
        }
        if slot:
            known.add(slot.key)
        steps = [event for plan in self.zone.layers if (event := self.step(plan, known))]
        room = self.room()
        return [
            *steps,
            *gates,
            *([slot] if slot else []),
            *self.readings(),
            *([room] if room else []),
            *self.heat_ups(),
        ]

    def key(self, purpose: Purpose, layer: Layer | None = None) -> EventKey:
        """The key of an event about this zone."""
        return EventKey(Audience.CREW, self.zone.zone.id, layer.id if layer else "", purpose.text)

    def step(self, plan: LayerPlan, known: set[EventKey]) -> Event | None:
        """A planned layer: its start window, its finish, the latest start that keeps the date."""
        planned = planned_start(plan)
        if planned is None:
            return None
        ctx = self.ctx
        start = self.unfixed.start(plan, planned)
        finish = self.unfixed.finish(plan, start.earliest)
        fixed = finish is not None and plan.layer.id not in self.unfixed.heads
        params = (
            self.facts
            | _ends(start)
            | {
                "layer": layer_label(ctx, plan),
                "latest_start_at": self.unfixed.latest_start(plan),
                "finish_at": span(start.earliest, finish, ctx.tz).end_at if fixed else None,
            }
        )
        parts = ("window", _late(start), "finish", "keep", "contact")
        times = span(start.earliest, finish, ctx.tz)
        return Event(
            self.key(_STEP, plan.layer),
            ctx.say("crew-step.summary", params),
            "\n".join(
                line
                for line in (
                    self.before(plan),
                    ctx.text("crew-step", parts, params),
                )
                if line
            ),
            times,
            firmness(start),
            busy=fills_hours(times),
            location=ctx.address,
            alarms=(evening_before(start.earliest, ctx.tz),),
            follows=self.follows(plan, known),
        )

    def before(self, plan: LayerPlan) -> str:
        """Return what must be done before a layer goes on: it stands in the entry of the work."""
        names = [
            self.ctx.words.hold(hold)
            for hold in self.zone.holds
            if hold.is_outstanding
            and (gated := gated_work(self.zone, hold)) is not None
            and gated[0].layer.id == plan.layer.id
            and hold.gates in {Gate.EMBEDDING, Gate.COVER}
        ]
        what = "; ".join(dict.fromkeys(names))
        covers = "cable" if plan is self.embedding() else "layer"
        return self.ctx.say(f"crew-step.before-{covers}", {"what": what}) if what else ""

    def follows(self, plan: LayerPlan, known: set[EventKey]) -> tuple[Follows, ...]:
        """Return what must be finished first: layers under it, and the inspection before a pour."""
        found: list[Follows] = []
        for under in self.stack.below(plan.layer):
            lower = self.plans[under.id]
            opening = self.opening(lower, plan.layer)
            if planned_start(lower):
                gap = _gap_hours(lower, opening)
                found.append(Follows(self.key(_STEP, under), gap))
            else:
                found.append(Follows(self.key(_GATE, under)))
        if self.embedding() is plan:
            found.append(Follows(self.key(Purpose(PurposeKind.HOLD, INSPECTION))))
        return tuple(link for link in found if link.key in known)

    def opening(self, under: LayerPlan, layer: Layer) -> MilestonePlan | None:
        """The milestone of a layer that lets another follow it, where it gates anything."""
        gate = self.stack.required_milestone(under.layer, layer)
        found = under.milestones.get(gate) if gate else None
        return None if found is None or found.informative else found

    def gate(self, plan: LayerPlan) -> Event | None:
        """A done layer that the next planned one waits for: from when it may follow."""
        if plan.planned or plan.layer.existing:
            return None
        above = [self.plans[layer.id] for layer in self.stack.above(plan.layer)]
        waiting = next((upper for upper in above if upper.planned), None)
        opening = self.opening(plan, waiting.layer) if waiting else None
        if waiting is None or opening is None or opening.window is None:
            return None
        ctx = self.ctx
        window = working_window(opening.window, ctx.calendar)
        params = (
            self.facts
            | _ends(window)
            | {
                "layer": layer_label(ctx, plan),
                "next": layer_label(ctx, waiting),
                "latest_start_at": self.unfixed.latest_start(waiting),
            }
        )
        parts = ("window", _late(window), *(["test"] if opening.estimate else []), "keep")
        return Event(
            self.key(_GATE, plan.layer),
            ctx.say("crew-gate.summary", params),
            ctx.text("crew-gate", parts, params),
            span(window.earliest, window.latest, ctx.tz),
            firmness(window, estimate=opening.estimate),
            location=ctx.address,
            alarms=(evening_before(window.earliest, ctx.tz),),
        )

    def embedding(self) -> LayerPlan | None:
        """The layer that embeds the cable."""
        layer = self.stack.embedding
        return self.plans[layer.id] if layer else None

    def inspection(self) -> Event | None:
        """The slot of the inspector, or the hour agreed with them."""
        pour = self.embedding()
        poured = planned_start(pour)
        if pour is None or poured is None:
            return None
        closes = self.unfixed.start(pour, poured).earliest
        key = self.key(Purpose(PurposeKind.HOLD, INSPECTION))
        params = self.facts | {"layer": layer_label(self.ctx, pour), "pour_at": closes}
        return inspection_slot(self.ctx, self.zone, key, params, closes=closes)

    def readings(self) -> list[Event]:
        """Tests that are outstanding, one event a kind of test, on the day they are due by."""
        return [event for holds in owed(self.zone, TESTS) if (event := self.reading(holds))]

    def reading(self, holds: list[Hold]) -> Event | None:
        """One kind of test: of which cables or layer, and by when."""
        first = holds[0]
        ctx = self.ctx
        day_on = due_day(ctx.plan, self.zone, first, ctx.calendar)
        if day_on is None:
            return None
        layer = self.plans.get(first.layer_id or "")
        again = any(hold.state is HoldState.FAILED for hold in holds)
        params = self.facts | {
            "hold": ctx.words.hold(Hold(first.code, first.gates, first.by, first.state)),
            "who": ctx.words.person(first.by),
            "cables": ", ".join(hold.cable for hold in holds if hold.cable),
            "layer": layer_label(ctx, layer) if layer else None,
            "due_on": day_on,
        }
        parts = ("text", "owed", "cables", "layer", *(["failed"] if again else []))
        return Event(
            self.key(Purpose(PurposeKind.HOLD, first.code), layer.layer if layer else None),
            ctx.say(f"crew-reading.{_summary(first)}", params),
            ctx.text("crew-reading", parts, params),
            owed_days(day_on, ctx.plan.as_of, ctx.calendar),
            location=ctx.address,
            alarms=(evening_before(day_on, ctx.tz),),
        )

    def room(self) -> Event | None:
        """The order to keep the room warm while the floor cures."""
        order = self.zone.room_order
        if order is None:
            return None
        ctx = self.ctx
        first_on = ctx.zone_on(self.zone)
        morning = morning_at_or_after(order.until, ctx.tz, ctx.calendar.work.start)
        until_on = max(first_on + DAY, morning)
        params = self.facts | {
            "least_c": order.at_least_c,
            "until_on": until_on,
            "heated_by": order.heated_by,
        }
        return Event(
            self.key(Purpose(PurposeKind.KEEP_ROOM)),
            ctx.say("crew-room.summary", params),
            ctx.text("crew-room", ("text", "means", "not-floor"), params),
            Days(first_on, until_on),
            location=ctx.address,
        )

    def heat_ups(self) -> list[Event]:
        """Every heat-up, as days; tentative while its start is not measured or released."""
        keys: list[EventKey] = []
        return [
            self.heat_up(
                heat_up, once(keys, self.key(Purpose(PurposeKind.HEAT_UP, heat_up.purpose)))
            )
            for heat_up in self.zone.heat_ups
            if heat_up.steps
        ]

    def heat_up(self, heat_up: HeatUp, key: EventKey) -> Event:
        """One heat-up, by days of its own while it waits for the release."""
        ctx = self.ctx
        first_on = heat_up.steps[0].on
        ends_on = max(heat_up.ends_on, first_on + DAY)
        bare = heat_up.purpose == HeatUpPurpose.BARE_SCREED
        shift = timedelta()
        waits = heat_up.provisional and not bare and not self.zone.is_released
        if waits:
            day_on = early_day(self.zone, ctx.plan.as_of, ctx.calendar)
            shift = (day_on or first_on) - first_on
        params = self.facts | {"purpose": heat_up.purpose}
        said: tuple[str, ...] = ()
        if heat_up.provisional:
            said = ("provisional-bare",) if bare else ("provisional",)
        first = ("electrical-first",) if bare and self.zone.waits_for_electrician else ()
        lines = [ctx.text("crew-heat-up", (*first, "text", *said), params)]
        settings = ctx.words.settings(heat_up)
        for step, setting in zip(heat_up.steps, settings, strict=True):
            count = (step.on - first_on).days + 1
            shown = {"day_on": step.on, "day_count": count, "setting": setting}
            lines.append(ctx.say(f"crew-heat-up.{'count' if waits else 'step'}", shown))
        shown = {"ends_on": ends_on, "day_count": (ends_on - first_on).days + 1}
        lines.append(ctx.say(f"crew-heat-up.{'count-end' if waits else 'end'}", shown))
        return Event(
            key,
            ctx.say(f"crew-heat-up.{'summary-bare' if bare else 'summary'}", params),
            "\n".join(lines),
            Days(first_on + shift, ends_on + shift),
            Status.TENTATIVE if heat_up.provisional else Status.CONFIRMED,
            location=ctx.address,
            alarms=(evening_before(first_on + shift, ctx.tz),),
        )


def _summary(hold: Hold) -> str:
    """Which summary names a hold point: one whose name is too long for a phone has its own."""
    return "summary-points" if hold.code is HoldCode.TEST_POINTS else "summary"


def _ends(window: Window) -> dict[str, object]:
    return {"earliest_at": window.earliest, "latest_at": window.latest}


def _late(window: Window) -> str:
    """Which text tells of the late end."""
    if window.latest is None:
        return "no-latest"
    return "latest" if window.latest > window.earliest else "fixed"


def _gap_hours(under: LayerPlan, opening: MilestonePlan | None) -> int | None:
    """The wait after a layer, in whole hours rounded up; None where none is known."""
    if opening is None or opening.window is None or under.finish is None:
        return None
    wait_s = (opening.window.earliest - under.finish.earliest).total_seconds()
    return math.ceil(wait_s / _HOUR_S) if wait_s > 0 else None
