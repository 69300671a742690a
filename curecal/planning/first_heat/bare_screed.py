"""A screed heated bare: when it may be, what the log says of it, and when it is cold again."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, timedelta, tzinfo

from curecal.instants import Window, local_day, start_of_day
from curecal.planning.climate.zone_climate import End
from curecal.planning.first_heat.first_heat import plan_bare_heat_up
from curecal.planning.first_heat.heat_up_runs import PAUSE, is_resumed
from curecal.planning.plan import HeatUp, RampStep
from curecal.planning.tolerances import HAIR_K
from curecal.planning.zone_context import ZoneContext
from curecal.records import Record, record
from curecal.trade.data_sheets import BESIDE_THE_FLOOR
from curecal.trade.findings import Finding, Severity
from curecal.trade.job import Layer
from curecal.trade.layers_below import place_of
from curecal.trade.site_log import Energized, Entry, HeatStep, Place, Reading, Stopped

Span = tuple[datetime, datetime | None]


@record
class BareHeatUpRun(Record):
    """One heat-up as the log tells of it: its entries, and when something broke it off."""

    entries: tuple[Entry, ...]
    broken_at: datetime | None = None

    @property
    def begun(self) -> datetime:
        """When it was first said to be on."""
        return self.entries[0].at


def says_on(entry: Entry) -> bool:
    """Return whether an entry says that the floor's heating was on.

    Rule: R22.

    Returns:
        True for a switch-on, a step of the heat-up, a reading of the floor with its heating on.
    """
    on = isinstance(entry, Reading) and entry.is_floor_on
    return on or isinstance(entry, (Energized, HeatStep))


def says_off(entry: Entry) -> bool:
    """Return whether an entry is a reading of the floor with its heating off.

    Rule: R22.
    """
    return isinstance(entry, Reading) and entry.place is Place.FLOOR and entry.heating_off


def is_in(span: Span, at: datetime) -> bool:
    """Return whether an instant lies in a span.

    Rule: R14.

    Args:
        span: (first, last) instants; no last where it is open.

    Returns:
        True from its first instant on, before its last.
    """
    first, last = span
    return first <= at and (last is None or at < last)


def covered_at(ctx: ZoneContext, layer: Layer) -> datetime | None:
    """Return when the first layer over a screed was done.

    Rule: R14.

    Args:
        layer: the screed.

    Returns:
        An instant, or None where it lies bare.
    """
    above = ctx.zone.layers[place_of(ctx.zone.layers, layer) + 1 :]
    covering = [upper for upper in above if upper.sheet.kind not in BESIDE_THE_FLOOR]
    return min((upper.done_at for upper in covering if upper.done_at is not None), default=None)


def find_bare_runs(ctx: ZoneContext, span: Span) -> list[BareHeatUpRun]:
    """Return the heat-ups of a bare screed that the log tells of, in order.

    A stop of a person ends one, and so does a pause of more than a day: seen off, or switched on
    again. What somebody tells who is not of the job begins none.

    Rule: R14, R19.

    Args:
        span: when it may be heated bare.
    """
    runs: list[BareHeatUpRun] = []
    told: list[Entry] = []
    off_at: datetime | None = None
    for entry in ctx.facts.entries:
        if entry.zone not in {None, ctx.zone.id} or not is_in(span, entry.at):
            continue
        if isinstance(entry, Stopped):
            if told:
                runs.append(BareHeatUpRun(tuple(told), entry.at))
            told, off_at = [], None
        elif says_off(entry):
            off_at = off_at or entry.at
        elif says_on(entry) and (told or ctx.facts.is_from_the_job(entry)):
            if told and _paused(told[-1], entry, off_at):
                runs.append(BareHeatUpRun(tuple(told), off_at or entry.at))
                told = []
            off_at = None
            told.append(entry)
    return [*runs, BareHeatUpRun(tuple(told))] if told else runs


def _paused(before: Entry, entry: Entry, off_at: datetime | None) -> bool:
    """Return whether the floor was off for more than a day before an entry says it is on."""
    if off_at is not None:
        return entry.at - off_at > PAUSE
    return isinstance(entry, Energized) and is_resumed(entry, before.at)


def cold_on(heat_up: HeatUp, run: BareHeatUpRun, tz: tzinfo) -> date:
    """Return from which local day a screed heated bare is cold, by its profile and its log.

    Who comes later to the top holds it as long; who sees the floor warm lets it come down.

    Rule: R14.

    Args:
        heat_up: the profile, by days.
        run: what the log says of it.
        tz: the site's time zone.
    """
    ends_on = heat_up.ends_on
    top = max(heat_up.steps, key=lambda step: step.to_c)
    down = heat_up.steps[_last_at_top(heat_up.steps, top.to_c) + 1 :]
    held = False
    for index, entry in enumerate(run.entries):
        if isinstance(entry, Reading) and _was_set(run.entries, index):
            continue
        to_c = _told_c(entry)
        days = 1
        if isinstance(entry, HeatStep):
            at_top = entry.to_c >= top.to_c - HAIR_K
            days = top.hold_days if at_top and not held else 1
            held = at_top
        below = [step for step in down if to_c is None or step.to_c < to_c - HAIR_K]
        days += sum(step.hold_days for step in below)
        ends_on = max(ends_on, local_day(entry.at, tz) + timedelta(days=days))
    return ends_on


def _was_set(entries: Sequence[Entry], index: int) -> bool:
    """Return whether a step, set the day before a reading or after it, says more than it does.

    A floor follows its set-point within a day; a reading without one near is all there is.
    """
    seen_at = entries[index].at
    steps = [entry for entry in entries if isinstance(entry, HeatStep)]
    return any(step.at > seen_at - timedelta(days=1) for step in steps)


def _last_at_top(steps: Sequence[RampStep], top_c: float) -> int:
    return max(index for index, step in enumerate(steps) if step.to_c >= top_c)


def _told_c(entry: Entry) -> float | None:
    """Return how warm an entry says the floor was made or found [°C]."""
    if isinstance(entry, HeatStep):
        return entry.to_c
    return entry.temperature_c if isinstance(entry, Reading) else None


def read_bare_log(
    ctx: ZoneContext, bare: Window, until: datetime | None
) -> tuple[datetime | None, date | None]:
    """Return when the heat-up that counts began, and from which day it is cold, by the log.

    One that was broken off before it was cold does not count; what warms the screed after one
    that does only puts off the day it is cold.

    Rule: R14.

    Args:
        bare: from when the screed may be heated.
        until: when it was covered, if it was.

    Returns:
        When it began, and the first local day it is cold; None where the log tells of none.
    """
    if bare.latest is None:
        return None, None
    begun: datetime | None = None
    cold: date | None = None
    for run in find_bare_runs(ctx, (bare.latest, until)):
        profile = plan_bare_heat_up(ctx, bare.latest, End.EARLIEST, begun or run.begun)
        if profile is None:
            return None, None
        ends_on = cold_on(profile, run, ctx.calendar.tz)
        broken_at = run.broken_at
        cold_at = start_of_day(ends_on, ctx.calendar.tz)
        if begun is None and broken_at is not None and broken_at < cold_at:
            continue
        begun = begun or run.begun
        cold = ends_on if cold is None else max(cold, ends_on)
    return begun, cold


def find_unlogged(
    ctx: ZoneContext, layer: Layer, bare: Window, begun: datetime | None, until: datetime | None
) -> tuple[Finding, ...]:
    """Return a warning if a screed was covered and no heat-up of it is on record.

    Rule: R14.

    Args:
        layer: the screed.
        bare: from when it may be heated.
        begun: when its heat-up began, if it did.
        until: when it was covered, if it was.
    """
    if begun is not None or until is None or bare.earliest > until:
        return ()
    params = {"layer": layer.name, "covered_at": until}
    return (ctx.finding(Severity.WARNING, "bare-heat-not-logged", layer.path, params, layer.id),)


def find_unsure(ctx: ZoneContext, layer: Layer, bare: Window) -> tuple[Finding, ...]:
    """Return a warning if a screed's first day to be heated bare has come and is not sure.

    Rule: R14, R23.

    Args:
        layer: the screed.
        bare: from when it may be heated.
    """
    as_of = ctx.facts.as_of
    if as_of < bare.earliest or (bare.latest is not None and bare.latest <= as_of):
        return ()
    params = {"layer": layer.name, "latest_at": bare.latest}
    return (ctx.finding(Severity.WARNING, "bare-heat-unsure", layer.path, params, layer.id),)
