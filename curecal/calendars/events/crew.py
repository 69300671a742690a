"""The crew's calendar: next steps, gates, inspection, readings due, the room, the heat-up.

The crew is told windows. All instants are rounded up to working hours, in times and in texts.

Rule: R8, R21.
"""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date, datetime, timedelta

from curecal.calendars.event import Audience, Days, Event, EventKey, Follows, Status
from curecal.calendars.event_context import DAY, Board, layer_label, once
from curecal.calendars.stable_dates.event_hours import (
    evening_before,
    fills_hours,
    firmness,
    span,
    working_hour,
    working_window,
)
from curecal.calendars.stable_dates.stable_dates import (
    SECOND_VISIT,
    early_day,
    owed_days,
    visit_window,
)
from curecal.calendars.stable_dates.unfixed_work import Sliding
from curecal.instants import Window, add, local_day, morning_at_or_after
from curecal.planning.curing.build_up import BuildUp
from curecal.planning.plan import HeatUp, Hold, HoldState, LayerPlan, MilestonePlan, ZonePlan
from curecal.trade.hold_codes import Gate, HoldCode
from curecal.trade.job import Layer

_BARE = "bare screed"
_CHISELLED = HoldCode.TEST_AFTER_CHISELLING
INSPECTION = HoldCode.INSPECTION_BEFORE_CONCEALMENT
_HOUR_S = 3600


def crew_events(board: Board) -> tuple[Event, ...]:
    """What the crew has to do, and when it may.

    Args:
        board: The plan and what it is shown with.

    Returns:
        The events, zone by zone.
    """
    return tuple(event for zone in board.plan.zones for event in _Zone(board, zone).events())


class _Zone:
    """One zone on the board, with its layers by id."""

    def __init__(self, board: Board, zone: ZonePlan) -> None:
        self.board = board
        self.zone = zone
        # Of the layers as planned, so that every neighbor has its plan.
        layers = tuple(plan.layer for plan in zone.layers)
        self.stack = BuildUp(replace(zone.zone, layers=layers))
        self.plans = {plan.layer.id: plan for plan in zone.layers}
        self.slides = Sliding(board, self.stack, zone.layers)
        self.facts: dict[str, object] = {"zone": zone.zone.name, **board.contact()}

    def events(self) -> list[Event]:
        """All events of the zone; nothing follows what is not there."""
        gates = [event for plan in self.zone.layers if (event := self.gate(plan))]
        slot = self.inspection()
        known = {event.key for event in gates} | {
            self.key("step", plan.layer) for plan in self.zone.layers if _start(plan)
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

    def key(self, purpose: str, layer: Layer | None = None) -> EventKey:
        """The key of an event about this zone."""
        return EventKey(Audience.CREW, self.zone.zone.id, layer.id if layer else "", purpose)

    def step(self, plan: LayerPlan, known: set[EventKey]) -> Event | None:
        """A planned layer: its start window, its finish, the latest start that keeps the date."""
        planned = _start(plan)
        if planned is None:
            return None
        board = self.board
        start = self.slides.start(plan, planned)
        finish = self.slides.finish(plan, start.earliest)
        fixed = finish is not None and plan.layer.id not in self.slides.heads
        params = (
            self.facts
            | _ends(start)
            | {
                "layer": layer_label(board, plan),
                "latest_start_at": self.slides.latest_start(plan),
                "finish_at": span(start.earliest, finish, board.tz).end_at if fixed else None,
            }
        )
        parts = ("window", _late(start), "finish", "keep", "contact")
        times = span(start.earliest, finish, board.tz)
        return Event(
            self.key("step", plan.layer),
            board.say("crew-step.summary", params),
            "\n".join(
                line for line in (board.text("crew-step", parts, params), self.governed()) if line
            ),
            times,
            firmness(start),
            busy=fills_hours(times),
            location=board.address,
            alarms=(evening_before(start.earliest, board.tz),),
            follows=self.follows(plan, known),
        )

    def governed(self) -> str:
        """Which layer sets the zone's date, and by which rule."""
        by = self.zone.energize.governed_by
        if by is None:
            return ""
        title = self.board.words.rule(by.rule)
        return self.board.say("crew-step.governed", {"layer": by.layer_name, "title": title})

    def follows(self, plan: LayerPlan, known: set[EventKey]) -> tuple[Follows, ...]:
        """What must be finished first: the layers under it, and the inspection before a pour."""
        found: list[Follows] = []
        for under in self.stack.below(plan.layer):
            lower = self.plans[under.id]
            opening = self.opening(lower, plan.layer)
            if _start(lower):
                gap = _gap_hours(lower, opening)
                found.append(Follows(self.key("step", under), gap))
            else:
                found.append(Follows(self.key("gate", under)))
        if self.embedding() is plan:
            found.append(Follows(self.key(INSPECTION)))
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
        board = self.board
        window = working_window(opening.window, board.calendar)
        params = (
            self.facts
            | _ends(window)
            | {
                "layer": layer_label(board, plan),
                "next": layer_label(board, waiting),
                "latest_start_at": self.slides.latest_start(waiting),
            }
        )
        parts = ("window", _late(window), *(["test"] if opening.estimate else []), "keep")
        return Event(
            self.key("gate", plan.layer),
            board.say("crew-gate.summary", params),
            board.text("crew-gate", parts, params),
            span(window.earliest, window.latest, board.tz),
            firmness(window, estimate=opening.estimate),
            location=board.address,
            alarms=(evening_before(window.earliest, board.tz),),
        )

    def embedding(self) -> LayerPlan | None:
        """The layer that embeds the cable."""
        layer = self.stack.embedding()
        return self.plans[layer.id] if layer else None

    def inspection(self) -> Event | None:
        """The slot between the fixed cable and the pour, while the inspection is outstanding."""
        wanted = [hold for hold in self.zone.holds if hold.code == INSPECTION]
        pour = self.embedding()
        poured = _start(pour)
        outstanding = any(hold.is_outstanding for hold in wanted)
        if pour is None or poured is None or not outstanding:
            return None
        board = self.board
        closes = self.slides.start(pour, poured).earliest
        opens = self.cable_fixed(closes)
        params = self.facts | {"layer": layer_label(board, pour), "pour_at": closes}
        return Event(
            self.key(INSPECTION),
            board.say("crew-inspection.summary", params),
            board.text("crew-inspection", ("text", "visible", "contact"), params),
            span(opens, closes, board.tz),
            Status.TENTATIVE,
            location=board.address,
            alarms=(evening_before(opens, board.tz),),
        )

    def cable_fixed(self, closes: datetime) -> datetime:
        """From when an inspector can see the cable: after the laid test, else a working day."""
        calendar = self.board.calendar
        laid = [
            working_hour(hold.evidence_at, calendar)
            for hold in self.zone.holds
            if hold.code is HoldCode.TEST_AFTER_LAYING and hold.evidence_at
        ]
        fixed = max(laid, default=None)
        if fixed is not None and fixed < closes:
            return fixed
        before = calendar.latest_start(closes, None, split=False)
        return before if before is not None and before < closes else add(closes, -_HOUR_S)

    def readings(self) -> list[Event]:
        """Tests that are outstanding, one event a kind of test, on the day they are due by."""
        groups: dict[tuple[str, str], list[Hold]] = {}
        for hold in self.zone.holds:
            if hold.is_outstanding and ("test" in hold.code):
                groups.setdefault((hold.code, hold.layer_id or ""), []).append(hold)
        return [event for holds in groups.values() if (event := self.reading(holds))]

    def reading(self, holds: list[Hold]) -> Event | None:
        """One kind of test: of which cables or layer, and by when."""
        first = holds[0]
        due_on = self.due_on(first)
        if due_on is None:
            return None
        board = self.board
        layer = self.plans.get(first.layer_id or "")
        again = any(hold.state is HoldState.FAILED for hold in holds)
        params = self.facts | {
            "hold": board.words.hold(Hold(first.code, first.gates, first.by, first.state)),
            "who": board.words.person(first.by),
            "cables": ", ".join(hold.cable for hold in holds if hold.cable),
            "layer": layer_label(board, layer) if layer else None,
            "due_on": due_on,
        }
        parts = ("text", "owed", "cables", "layer", *(["failed"] if again else []))
        return Event(
            self.key(first.code, layer.layer if layer else None),
            board.say(f"crew-reading.{_summary(first)}", params),
            board.text("crew-reading", parts, params),
            owed_days(board, due_on),
            location=board.address,
            alarms=(evening_before(due_on, board.tz),),
        )

    def due_on(self, hold: Hold) -> date | None:
        """The day a test is due by: that of the work it gates, and before any heat at all."""
        due_on = self.gated_on(hold)
        bare = [each.steps[0].on for each in self.zone.heat_ups if each.purpose == _BARE]
        # A screed heated bare is heated long before it is covered.
        if due_on is None or hold.code is not HoldCode.TEST_AFTER_EMBEDDING:
            return due_on
        return min(due_on, *bare) if bare else due_on

    def gated_on(self, hold: Hold) -> date | None:
        """The day of the work a test gates, else of the first switch-on."""
        gated: Window | None = None
        if hold.code == _CHISELLED:
            gated = self.repairing()
        elif hold.gates is Gate.EMBEDDING:
            gated = _start(self.embedding())
        elif hold.gates is Gate.COVER:
            gated = self.cover_of(hold)
        elif hold.gates is Gate.CONNECTION:
            visits = [
                visit_window(self.board, visit)
                for visit in self.board.plan.visits
                if visit.kind == SECOND_VISIT and self.zone.zone.id in visit.zone_ids
            ]
            # The visit may be at any time of its window; its end is when the test is due by.
            ends = (window.latest or window.earliest for window in visits if window)
            closes = next(ends, None)
            return local_day(closes, self.board.tz) if closes else early_day(self.board, self.zone)
        if gated is None:
            return early_day(self.board, self.zone)
        return local_day(working_hour(gated.earliest, self.board.calendar), self.board.tz)

    def repairing(self) -> Window | None:
        """When the first repair is planned to cover the cable again."""
        starts = (_start(plan) for plan in self.zone.layers if plan.layer.repair)
        return next((start for start in starts if start), None)

    def cover_of(self, hold: Hold) -> Window | None:
        """When what covers the tested layer is planned to start."""
        embedding = self.stack.embedding()
        tested = self.plans[hold.layer_id].layer if hold.layer_id in self.plans else embedding
        above = self.stack.above(tested) if tested else ()
        starts = (_start(self.plans[layer.id]) for layer in above)
        return next((start for start in starts if start), None)

    def room(self) -> Event | None:
        """The order to keep the room warm while the floor cures."""
        order = self.zone.room_order
        if order is None:
            return None
        board = self.board
        first_on = board.zone_on(self.zone)
        morning = morning_at_or_after(order.until, board.tz, board.calendar.work.start)
        until_on = max(first_on + DAY, morning)
        params = self.facts | {
            "least_c": order.at_least_c,
            "until_on": until_on,
            "heated_by": order.heated_by,
        }
        return Event(
            self.key("keep the room"),
            board.say("crew-room.summary", params),
            board.text("crew-room", ("text", "means", "not-floor"), params),
            Days(first_on, until_on),
            location=board.address,
        )

    def heat_ups(self) -> list[Event]:
        """Every heat-up, as days; tentative while its start is not measured or released."""
        keys: list[EventKey] = []
        return [
            self.heat_up(heat_up, once(keys, self.key(f"heat-up {heat_up.purpose}")))
            for heat_up in self.zone.heat_ups
            if heat_up.steps
        ]

    def heat_up(self, heat_up: HeatUp, key: EventKey) -> Event:
        """One heat-up, by days of its own while it waits for the release."""
        board = self.board
        first_on = heat_up.steps[0].on
        ends_on = max(heat_up.ends_on, first_on + DAY)
        bare = heat_up.purpose == _BARE
        shift = timedelta()
        waits = heat_up.provisional and not bare and not self.zone.may_energize
        if waits:
            shift = (early_day(board, self.zone) or first_on) - first_on
        params = self.facts | {"purpose": heat_up.purpose}
        said = (("provisional-bare",) if bare else ("provisional",)) if heat_up.provisional else ()
        lines = [board.text("crew-heat-up", ("text", *said), params)]
        settings = board.words.settings(heat_up)
        for step, setting in zip(heat_up.steps, settings, strict=True):
            count = (step.on - first_on).days + 1
            shown = {"day_on": step.on, "day_count": count, "setting": setting}
            lines.append(board.say(f"crew-heat-up.{'count' if waits else 'step'}", shown))
        shown = {"ends_on": ends_on, "day_count": (ends_on - first_on).days + 1}
        lines.append(board.say(f"crew-heat-up.{'count-end' if waits else 'end'}", shown))
        return Event(
            key,
            board.say(f"crew-heat-up.{'summary-bare' if bare else 'summary'}", params),
            "\n".join(lines),
            Days(first_on + shift, ends_on + shift),
            Status.TENTATIVE if heat_up.provisional else Status.CONFIRMED,
            location=board.address,
            alarms=(evening_before(first_on + shift, board.tz),),
        )


def _summary(hold: Hold) -> str:
    """Which summary names a hold point: one whose name is too long for a phone has its own."""
    return "summary-points" if hold.code is HoldCode.TEST_POINTS else "summary"


def _start(plan: LayerPlan | None) -> Window | None:
    """When a layer that is still to come is planned to start, where that has a date."""
    return plan.start if plan is not None and plan.planned else None


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
