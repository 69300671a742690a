"""The electrician's visits: what each is for, and between which instants it makes sense."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from curecal.instants import Window, start_of_day
from curecal.planning.plan import (
    RELEASED_STATES,
    Appointment,
    HeatUpPurpose,
    State,
    Visit,
    VisitKind,
    ZonePlan,
)
from curecal.planning.repair import first_switched_on_by, is_repair
from curecal.planning.zone_context import ZoneContext
from curecal.trade.hold_codes import HoldCode
from curecal.trade.job import HeatingKind, Role

_BEFORE_EMBEDDING = frozenset({HoldCode.TEST_ON_DELIVERY, HoldCode.TEST_AFTER_LAYING})
_AT_CONNECTION = frozenset(
    {HoldCode.TEST_BEFORE_CONNECTION, HoldCode.CONNECTION, HoldCode.PROTECTION, HoldCode.THERMOSTAT}
)


def list_visits(ctx: ZoneContext, plan: ZonePlan) -> list[Visit]:
    """Return the visits one zone still needs.

    The first comes before the cable is embedded; the second once the last layer is down, so
    that it is behind everybody when the date comes, but before a screed is heated bare; the
    third on the date, and never before.
    A repair needs none: the crew takes the readings.

    Rule: R18, R20, R24.

    Returns:
        Visits in order; a window is None where no date is known.
    """
    if ctx.zone.heating.kind is not HeatingKind.ELECTRIC or is_repair(ctx.zone.layers):
        return []
    outstanding = {hold.code for hold in plan.holds if hold.is_outstanding}
    visits = []
    zone = (ctx.zone.id,)
    embedding = ctx.build_up.embedding
    layers = {item.layer.id: item for item in plan.layers}
    bed = layers[embedding.id] if embedding else None
    if outstanding & _BEFORE_EMBEDDING and bed is not None and bed.planned:
        window = None
        if bed.start is not None:
            earliest = min(
                ctx.calendar.next_working(ctx.facts.as_of) or ctx.facts.as_of,
                bed.start.earliest,
            )
            window = Window(earliest, bed.start.earliest)
        visits.append(
            Visit(VisitKind.ROUGH_IN, zone, window, tuple(sorted(outstanding & _BEFORE_EMBEDDING)))
        )
    if outstanding & _AT_CONNECTION:
        visits.append(
            Visit(
                VisitKind.CONNECTION,
                zone,
                _when_to_connect(ctx, plan),
                tuple(sorted(outstanding & _AT_CONNECTION)),
            )
        )
    waiting = plan.state not in {State.HEATING_UP, State.IN_SERVICE}
    if first_switched_on_by(ctx.zone, ctx.zone.layers) is Role.ELECTRICIAN and waiting:
        visits.append(
            Visit(
                VisitKind.ENERGIZE,
                zone,
                _when_to_energize(ctx, plan),
                (HoldCode.CURE, HoldCode.RELEASE),
            )
        )
    return visits


def _when_to_connect(ctx: ZoneContext, plan: ZonePlan) -> Window | None:
    """Return from the last layer's finish to the zone's date.

    A screed that is heated bare is connected before that: from its own finish to its first day.
    """
    bare = next(
        (heat_up for heat_up in plan.heat_ups if heat_up.purpose == HeatUpPurpose.BARE_SCREED), None
    )
    if bare is not None and ctx.facts.as_of < start_of_day(bare.ends_on, ctx.calendar.tz):
        screeds = [item.finish for item in plan.layers if item.layer.heat_before_covering]
        laid = [finish.earliest for finish in screeds if finish is not None]
        first = ctx.calendar.next_working(max([ctx.facts.as_of, *laid[:1]]))
        by = ctx.calendar.opens(bare.steps[0].on)
        return None if first is None else Window(first, max(first, by))
    finishes = [item.finish for item in plan.layers if not item.layer.existing]
    known = [finish.earliest for finish in finishes if finish is not None]
    if len(known) < len(finishes) or plan.energize.window is None:
        return None
    # Nobody can come yesterday: a last layer long down asks for the next working hour.
    first = ctx.calendar.next_working(max([ctx.facts.as_of, *known]))
    if first is None:
        return None
    return Window(first, max(first, plan.energize.window.earliest))


def _when_to_energize(ctx: ZoneContext, plan: ZonePlan) -> Window | None:
    """Return the opening of the first day it may be, and of the day the owner is told."""
    energize = plan.energize
    if energize.start_on is None or plan.state is State.STOPPED:
        return None
    first = ctx.calendar.opens(energize.start_on)
    if plan.state in RELEASED_STATES:
        return Window(first, first)
    latest = ctx.calendar.opens(energize.owner_date) if energize.owner_date else None
    return Window(first, latest)


def merge_visits(
    visits: Sequence[Visit], appointments: Sequence[Appointment] = ()
) -> tuple[Visit, ...]:
    """Return the visits of all zones, made into one where one trip serves several.

    Those of one kind are one where their windows overlap and no appointment parts them, or where
    they have the same appointment. The joint visit comes when the last of its zones is ready.

    Rule: R20.

    Args:
        visits: the zones' visits.
        appointments: the appointments of the job, as all zones leave them.

    Returns:
        Visits ordered by kind, then by their earliest instant.
    """
    held = {appointment.id: appointment for appointment in appointments}
    joined: list[Visit] = []
    for kind in VisitKind:
        alike = [_held(visit, held) for visit in visits if visit.kind == kind]
        dated = [(visit.window, visit) for visit in alike if visit.window is not None]
        dated.sort(key=lambda pair: (pair[0].earliest, pair[1].zone_ids))
        merged: list[Visit] = []
        for _, visit in dated:
            found = next(
                (
                    (index, both)
                    for index, before in enumerate(merged)
                    if (both := _in_one(before, visit)) is not None
                ),
                None,
            )
            if found is None:
                merged.append(visit)
            else:
                merged[found[0]] = found[1]
        joined.extend(merged)
        joined.extend(visit for visit in alike if visit.window is None)
    return tuple(joined)


def _held(visit: Visit, held: Mapping[str, Appointment]) -> Visit:
    """Return a visit with its appointment as all zones leave it."""
    own = visit.appointment
    return visit if own is None else replace(visit, appointment=held.get(own.id, own))


def _in_one(before: Visit, visit: Visit) -> Visit | None:
    """Return both visits as one trip; None where they are two."""
    if before.window is None or visit.window is None or before.appointment != visit.appointment:
        return None
    window = _joint(before.window, visit.window, visit.kind)
    if window is None and visit.appointment is not None:
        window = before.window.later(visit.window)
    if window is None:
        return None
    return replace(
        before,
        zone_ids=before.zone_ids + visit.zone_ids,
        window=window,
        gates=tuple(sorted({*before.gates, *visit.gates})),
    )


def _joint(one: Window, other: Window, kind: VisitKind) -> Window | None:
    """Return the window of one visit for both, the other's beginning later; None for two."""
    if one.latest is not None and one.latest < other.earliest:
        return None
    window = one.later(other)
    if kind != VisitKind.ENERGIZE and one.latest is not None and other.latest is not None:
        # Tested before its own pour, connected before its own date: the first zone's end is the
        # joint visit's. Only switching on waits for the last.
        window = Window(window.earliest, min(one.latest, other.latest))
    return window
