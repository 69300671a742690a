"""From which temperature a heat-up starts, and when it starts anew: the runs of one heat-up."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from curecal.instants import add, local_day
from curecal.planning.climate.zone_climate import End
from curecal.planning.first_heat.set_points import Profile, set_on_days
from curecal.planning.zone_context import ZoneContext
from curecal.records import Record, record
from curecal.trade.site_log import Energized, HeatStep, Place, Reading

PAUSE = timedelta(days=1)
"""A floor that was off for longer has cooled down: its heat-up starts anew (R19)."""

Running = Sequence[Energized | HeatStep]
"""Entries of a heat-up that the log tells of, in order."""


@record
class HeatUpRun(Record):
    """One go of a heat-up: from being switched on until it was off for over a day.

    `opened_at` is None while a floor found cold is not switched on again; `cold_c` is how cold it
    was found before this run; `broken_at` since when, by the log, this run was over.
    """

    opened_at: datetime | None
    entries: tuple[Energized | HeatStep, ...] = ()
    cold_c: float | None = None
    broken_at: datetime | None = None


def starting_temperature(ctx: ZoneContext, start: datetime, end: End) -> tuple[float, bool]:
    """Return the floor's temperature a heat-up starts from [°C], and whether it was measured.

    A floor reading counts when it is no older than a day at the start, with the heating off, and
    signed: what it said before that says nothing of this morning. The last one counts; one near it
    that is colder than a floor without heat can have been counts instead. One that is unsigned, or
    does not say whether the heating was off, counts only where it is colder.

    Rule: R19.

    Args:
        start: the morning of the first step.
        end: under which climate an unmeasured floor is taken.
    """
    oldest = add(start, -ctx.rules.first_heat.fresh_s)
    told = [
        (reading, reading.temperature_c)
        for reading in ctx.facts.of(Reading, ctx.zone)
        if reading.place is Place.FLOOR
        and reading.temperature_c is not None
        and not reading.heating_on
        and oldest <= reading.at <= start
    ]
    fresh = [
        (look.at, value_c)
        for look, value_c in told
        if look.heating_off and look.by and ctx.facts.is_from_the_job(look)
    ]
    if fresh:
        last_at = fresh[-1][0]
        spots = ctx.rules.spot_readings
        last_c = min(value_c for at, value_c in fresh if at == last_at)
        beside_c = min(value_c for at, value_c in fresh if at >= add(last_at, -spots.lone_s))
        own_c = beside_c if last_c - beside_c > spots.jump_k else last_c
        # What does not count by itself can only make it colder.
        return min([own_c, *(value_c for look, value_c in told if look.at >= last_at)]), True
    assumed = ctx.clocks.climate.assumed
    air_c = assumed.air_c if end is End.EARLIEST else assumed.coldest_air_c
    taken_c = air_c - ctx.rules.first_heat.below_air_k
    return min([taken_c, *(value_c for _, value_c in told)]), False


def opening_temperature(ctx: ZoneContext, run: HeatUpRun) -> tuple[float, bool]:
    """Return the temperature a run starts from [°C], and whether it was measured that morning.

    Until it is measured again, a floor that was found cold is taken no warmer.

    Rule: R19.

    Args:
        ctx: the zone.
        run: the run.
    """
    start_c, measured = starting_temperature(ctx, run.opened_at or ctx.facts.as_of, End.EARLIEST)
    if measured or run.cold_c is None:
        return start_c, measured
    return min(start_c, run.cold_c), False


def is_resumed(entry: Energized | HeatStep, last_at: datetime) -> bool:
    """Return whether an entry says that a heat-up starts anew after a pause.

    A switch-on entry after earlier ones says that the floor had been off in between: more than
    a day after the entry before it, the pause may have been as long.

    Rule: R19.

    Args:
        last_at: when the entry before it was.

    Returns:
        True for a switch-on more than a day later.
    """
    return isinstance(entry, Energized) and entry.at - last_at > PAUSE


def find_runs(
    ctx: ZoneContext, begun: Running, profile_from: Callable[[float], Profile] | None
) -> list[HeatUpRun]:
    """Return the runs of a heat-up, in order: a pause of more than a day ends one.

    Nobody has to log that a floor was switched on again: one that is seen off a day after it was
    last known to be on, and far under its set-point, has been off.

    Rule: R19.

    Args:
        ctx: the zone.
        begun: the log entries of the heat-up, in order.
        profile_from: the set-points from a starting temperature [°C] on; None where the floor's
            own temperature is not what is set.

    Returns:
        Runs; the last one not opened where the floor was found cold and is not on again.
    """
    runs: list[HeatUpRun] = []
    last_at: datetime | None = None
    on_at: datetime | None = None
    off_at: datetime | None = None
    cold_c: float | None = None
    for entry in _told(ctx, begun, looks=profile_from is not None):
        if isinstance(entry, Reading) and not entry.heating_on:
            # Who does not say that it was off is believed where it can hardly have been on.
            if not entry.heating_off and not _is_cold(ctx, runs[-1], entry, profile_from):
                continue
            off_at = off_at or entry.at
            if runs[-1].opened_at is None:
                runs[-1] = replace(runs[-1], cold_c=entry.temperature_c)
            elif _is_cold(ctx, runs[-1], entry, profile_from):
                cold_c = entry.temperature_c
                if on_at is not None and entry.at - on_at > PAUSE:
                    runs[-1] = replace(runs[-1], broken_at=off_at)
                    runs.append(HeatUpRun(None, cold_c=cold_c))
            continue
        heat = () if isinstance(entry, Reading) else (entry,)
        seen_c = _cold_though_on(ctx, runs, entry, on_at)
        was_off = cold_c is not None and off_at is not None and entry.at - off_at > PAUSE
        again = last_at is not None and any(is_resumed(step, last_at) for step in heat)
        if not runs:
            runs.append(HeatUpRun(entry.at, heat))
        elif runs[-1].opened_at is None:
            runs[-1] = replace(runs[-1], opened_at=entry.at, entries=heat)
        elif was_off or again or seen_c is not None:
            runs[-1] = replace(runs[-1], broken_at=off_at or entry.at)
            runs.append(HeatUpRun(entry.at, heat, cold_c=cold_c if seen_c is None else seen_c))
        else:
            runs[-1] = replace(runs[-1], entries=(*runs[-1].entries, *heat))
        last_at = entry.at if heat else last_at
        on_at, off_at, cold_c = entry.at, None, None
    return runs


def _told(ctx: ZoneContext, begun: Running, *, looks: bool) -> list[Energized | HeatStep | Reading]:
    """Return a heat-up's entries with the looks at its floor since, in order.

    Who looks and switches on in one instant looked first.
    """
    seen = [
        reading
        for reading in (ctx.facts.of(Reading, ctx.zone) if looks and begun else ())
        if reading.place is Place.FLOOR
        and reading.temperature_c is not None
        and reading.at > begun[0].at
    ]
    return sorted([*seen, *begun], key=lambda entry: entry.at)


def _cold_though_on(
    ctx: ZoneContext,
    runs: Sequence[HeatUpRun],
    entry: Energized | HeatStep | Reading,
    on_at: datetime | None,
) -> float | None:
    """Return the temperature of a floor seen on and far colder than its run began; else None.

    What is heated for over a day does not get there: it was off, and is on again.
    """
    if not isinstance(entry, Reading) or entry.temperature_c is None or on_at is None:
        return None
    if runs[-1].opened_at is None or entry.at - on_at <= PAUSE:
        return None
    start_c, _ = opening_temperature(ctx, runs[-1])
    is_cold = entry.temperature_c < start_c - ctx.rules.first_heat.cold_k
    return entry.temperature_c if is_cold else None


def _is_cold(
    ctx: ZoneContext,
    run: HeatUpRun,
    look: Reading,
    profile_from: Callable[[float], Profile] | None,
) -> bool:
    """Return whether a floor that is off lies far under what it was set to, or was to be set to."""
    set_c = [entry.to_c for entry in run.entries if isinstance(entry, HeatStep)]
    if not set_c and profile_from is not None and run.opened_at is not None:
        start_c, _ = opening_temperature(ctx, run)
        tz = ctx.calendar.tz
        steps, _ = set_on_days(profile_from(start_c), local_day(run.opened_at, tz))
        set_c = [step.to_c for step in steps if step.on <= local_day(look.at, tz)]
    seen_c = look.temperature_c
    return seen_c is not None and seen_c < set_c[-1] - ctx.rules.first_heat.cold_k
