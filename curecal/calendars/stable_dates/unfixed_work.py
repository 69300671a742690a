"""Planned work that nobody fixed an hour for, shown so that it moves once a day at most.

Such work starts "now" in the plan, and all that waits for it moves with every hour. A crew is
told days: the work that may start today is shown from this morning, and what comes after it
from the morning at or after its instant, so never before it may start.

Rule: R8, R26.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from curecal.calendars.stable_dates.event_hours import working_hour, working_window
from curecal.instants import Window
from curecal.planning.curing.build_up import BuildUp
from curecal.planning.plan import LayerPlan
from curecal.planning.working_time.working_calendar import Calendar


class UnfixedWork:
    """The layers of a zone that slide with the clock, and the times they are shown with."""

    def __init__(
        self, as_of: datetime, calendar: Calendar, stack: BuildUp, plans: Iterable[LayerPlan]
    ) -> None:
        self.as_of = as_of
        self.calendar = calendar
        self.stack = stack
        self.plans = {plan.layer.id: plan for plan in plans}
        # The layers that start now, with the last instant that a layer under them let them.
        self.heads: dict[str, datetime | None] = {}
        self.tails: set[str] = set()
        for plan in self.plans.values():
            self._sort(plan)

    def start(self, plan: LayerPlan, planned: Window) -> Window:
        """Return the window that a planned layer is shown to start in.

        Args:
            plan: The layer.
            planned: When the plan starts it.

        Returns:
            The window in working hours.

        Rule: R8, R26.
        """
        layer_id = plan.layer.id
        if layer_id in self.tails:
            late = planned.latest and opening(planned.latest, self.calendar)
            return Window(opening(planned.earliest, self.calendar), late)
        rounded = working_window(planned, self.calendar)
        if layer_id not in self.heads:
            return rounded
        opens = self.calendar.opens(self.calendar.shift_day(rounded.earliest))
        gate = self.heads[layer_id]
        start = opens if gate is None else max(opens, working_hour(gate, self.calendar))
        if rounded.latest is None:
            return Window(start, None)
        if rounded.latest == rounded.earliest:
            return Window(start, start)
        return Window(start, opening(rounded.latest, self.calendar))

    def finish(self, plan: LayerPlan, start: datetime) -> datetime | None:
        """Return when a planned layer is shown to be finished.

        Args:
            plan: The layer.
            start: When it is shown to start.

        Returns:
            The instant. Of work that starts now, the end of its first day, since its true end
            moves with the hour; of what slides behind it, the end of its last day.

        Rule: R26.
        """
        if plan.layer.id in self.heads:
            return self.calendar.closes(self.calendar.shift_day(start))
        if plan.finish is None:
            return None
        at = plan.finish.earliest
        if plan.layer.id not in self.tails:
            return at
        return max(at, self.calendar.closes(self.calendar.shift_day(at)))

    def latest_start(self, plan: LayerPlan) -> datetime | None:
        """Return by when a planned layer has to start so that the owner's date is kept.

        Args:
            plan: The layer.

        Returns:
            The instant; of work that slides, the start of work of its day, which is never later.

        Rule: R26.
        """
        at = plan.latest_start_at
        if at is None or (plan.layer.id not in self.heads and plan.layer.id not in self.tails):
            return at
        return min(at, self.calendar.opens(self.calendar.shift_day(at)))

    def _sort(self, plan: LayerPlan) -> None:
        """Put a layer with those that slide, if it does; those under it have been looked at."""
        layer = plan.layer
        if not plan.planned or plan.start is None or plan.finish is None:
            return
        start = plan.start.earliest
        # An hour that a person wrote down stands until it has passed.
        if start == layer.planned_start_at or plan.finish.earliest == layer.planned_finish_at:
            return
        under = [self.plans[lower.id] for lower in self.stack.below(layer)]
        if any(lower.layer.id in self.heads.keys() | self.tails for lower in under):
            self.tails.add(layer.id)
            return
        gates = [gate for lower in under if (gate := self._gate(lower, plan)) is not None]
        if all(gate <= self.as_of for gate in gates) and start >= self.as_of:
            self.heads[layer.id] = max(gates, default=None)

    def _gate(self, under: LayerPlan, plan: LayerPlan) -> datetime | None:
        """Return when a layer lets the one on it start, where that is known."""
        name = self.stack.required_milestone(under.layer, plan.layer)
        found = under.milestones.get(name) if name else None
        if found is None or found.informative or found.window is None:
            return under.finish.earliest if under.finish else None
        return found.window.earliest


def opening(at: datetime, calendar: Calendar) -> datetime:
    """Return the start of a working day at or after an instant.

    Args:
        at: The instant.
        calendar: The working days.

    Returns:
        The instant in UTC; the full hour where no day within two years is worked.

    Rule: R8.
    """
    hour = working_hour(at, calendar)
    if hour <= calendar.opens(calendar.shift_day(hour)):
        return hour
    return working_hour(calendar.closes(calendar.shift_day(hour)), calendar)
