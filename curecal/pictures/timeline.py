"""A zone's timeline as bars, marks and curves over time: no pixels, and all words ready to draw.

Rows lie as the floor does, the top layer first, so that a picture rises to the right as work goes
on, and a list that stands upside down falls.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import UTC, date, datetime, timedelta
from enum import StrEnum

from curecal.instants import Window, local_day, start_of_day
from curecal.planning.plan import HeatUp, LayerPlan, Plan, Visit, ZonePlan
from curecal.records import Record, record
from curecal.trade.data_sheets import Milestone
from curecal.trade.hold_codes import Gate
from curecal.trade.job import Layer
from curecal.trade.site_log import Log, Place, Reading, Series
from curecal.words.report.headline import headline
from curecal.words.report.layers import days
from curecal.words.sentences import Words
from curecal.words.values import clean, month

_DAY = timedelta(days=1)
# Steps of the axis [days]: whole weeks read best, so that they begin on Mondays.
_TICK_DAYS = (1, 7, 14, 28, 56, 91, 182, 364)
_MOST_TICKS = 8
# Nothing finer can be seen; a logger's year would be a line of 50,000 points.
_MOST_POINTS = 400
_LAST = (Milestone.HEAT, Milestone.BARE_HEAT, Milestone.COVER, Milestone.WET)
_ON_THE_WAY = (Milestone.WALK, Milestone.GROUT, Milestone.COVER, Milestone.SEAL)


class BarKind(StrEnum):
    """What a stretch of a row means."""

    WORK = "work"
    COUNTED = "counted"
    WAITING = "waiting"
    WINDOW = "window"
    VISIT = "visit"


@record
class Bar(Record):
    """A stretch of time in a row."""

    kind: BarKind
    start: datetime
    end: datetime


@record
class MilestoneMark(Record):
    """An instant in a row, with a word for it: something the layer allows from then on."""

    at: datetime
    text: str


@record
class TimelineRow(Record):
    """One layer, or the electrician's visits. `says` is its last date in short."""

    label: str
    says: str
    bars: tuple[Bar, ...]
    marks: tuple[MilestoneMark, ...] = ()
    is_governing: bool = False


@record
class Curve(Record):
    """Temperatures [°C] that were measured in one place; a gap begins a new curve."""

    points: tuple[tuple[datetime, float], ...]


@record
class SetPoint(Record):
    """One set-point of a heat-up [°C], from a day's start to the next one's."""

    start: datetime
    end: datetime
    to_c: float
    on_text: str
    text: str


@record
class Temperatures(Record):
    """What the lower half of a timeline shows, all in °C. `minimum_c`: no layer cures below it."""

    curves: tuple[Curve, ...]
    expected_c: float
    minimum_c: float | None
    expected_text: str
    minimum_text: str
    heat_ups: tuple[tuple[SetPoint, ...], ...] = ()


@record
class Timeline(Record):
    """One zone over time. `energize` is when it may be switched on, `says` the answer in words."""

    title: str
    says: str
    first: datetime
    last: datetime
    now: datetime
    now_text: str
    ticks: tuple[tuple[datetime, str], ...]
    rows: tuple[TimelineRow, ...]
    energize: Window | None
    energize_text: str
    to_do_text: str
    temperatures: Temperatures


def make_timeline(plan: Plan, zone: ZonePlan, log: Log, words: Words) -> Timeline:
    """Return the timeline of one zone of a plan.

    Args:
        plan: The plan.
        zone: The zone in it.
        log: The job's site log: its temperatures are drawn.
        words: The reader's language and units.
    """
    governed = zone.energize.governed_by
    governing = None if governed is None else governed.layer_id
    rows = [
        _layer_row(item, plan, words, is_governing=item.layer.id == governing)
        for item in reversed(zone.layers)
        if not item.layer.existing
    ]
    visits = [visit for visit in plan.visits if zone.zone.id in visit.zone_ids and visit.window]
    if visits:
        rows.append(_visits_row(visits, plan, words))
    window = zone.energize.window
    temperatures = _temperatures(plan, zone, log, words)
    first, last = _span(plan, window, rows, temperatures)
    return Timeline(
        title=f"{clean(plan.job.name)}: {clean(zone.zone.name)}",
        says=headline(plan, words),
        first=first,
        last=last,
        now=plan.as_of,
        now_text=words.text("picture.now"),
        ticks=_ticks(first, last, plan, words),
        rows=tuple(rows),
        energize=window,
        energize_text=_energize_text(zone, plan, words),
        to_do_text=_to_do(zone, words),
        temperatures=temperatures,
    )


def _energize_text(zone: ZonePlan, plan: Plan, words: Words) -> str:
    if zone.energize.window is None:
        return words.text("picture.no-date")
    when = days(zone.energize.window, plan, words, _near(plan))
    return words.text("picture.cured", {"when": when})


def _to_do(zone: ZonePlan, words: Words) -> str:
    """Return what must be done before the floor is switched on, the clocks aside."""
    outstanding = [
        words.hold(hold)
        for hold in zone.holds
        if hold.is_outstanding and hold.gates is not Gate.EMBEDDING
    ]
    if not outstanding:
        return ""
    return words.text("picture.to-do", {"holds": "; ".join(outstanding)})


def _near(plan: Plan) -> date:
    return local_day(plan.as_of, plan.job.tz)


def _layer_row(item: LayerPlan, plan: Plan, words: Words, *, is_governing: bool) -> TimelineRow:
    last = next((item.milestones[name] for name in _LAST if name in item.milestones), None)
    bars: list[Bar] = []
    says = words.text("report.undated")
    if item.planned and item.start is not None and item.finish is not None:
        bars.append(Bar(BarKind.WORK, item.start.earliest, item.finish.earliest))
    if last is not None and last.window is not None and item.clock_start is not None:
        bars += _wait_bars(item.clock_start.earliest, last.window, plan.as_of)
        when = days(last.window, plan, words, _near(plan))
        says = f"{words.name('short', last.milestone.value)} {when}"
    marks = tuple(
        MilestoneMark(milestone.window.earliest, words.name("short", milestone.milestone.value))
        for name in _ON_THE_WAY
        if (milestone := item.milestones.get(name)) is not None
        and milestone is not last
        and milestone.window is not None
    )
    return TimelineRow(_name(item.layer), says, tuple(bars), marks, is_governing)


def _name(layer: Layer) -> str:
    name = clean(layer.name)
    return f"{name} ({clean(layer.part)})" if layer.part else name


def _wait_bars(start: datetime, window: Window, now: datetime) -> Iterable[Bar]:
    """Return a wait as what is behind, what is ahead at least, and the window at its end."""
    middle = min(max(now, start), window.earliest)
    if start < middle:
        yield Bar(BarKind.COUNTED, start, middle)
    if middle < window.earliest:
        yield Bar(BarKind.WAITING, middle, window.earliest)
    if window.latest is not None and window.earliest < window.latest:
        yield Bar(BarKind.WINDOW, window.earliest, window.latest)


def _visits_row(visits: Sequence[Visit], plan: Plan, words: Words) -> TimelineRow:
    windows = [visit.window for visit in visits if visit.window is not None]
    bars = [
        Bar(BarKind.VISIT, window.earliest, window.latest or window.earliest) for window in windows
    ]
    says = ", ".join(days(window, plan, words, _near(plan)) for window in windows)
    return TimelineRow(words.text("picture.electrician"), says, tuple(bars))


def _span(
    plan: Plan, window: Window | None, rows: Iterable[TimelineRow], temperatures: Temperatures
) -> tuple[datetime, datetime]:
    """Return the first and the last instant drawn: whole local days around all that is shown."""
    bars = [bar for row in rows for bar in row.bars]
    ends = [plan.as_of, *(bar.end for bar in bars), *_heat_up_ends(temperatures)]
    if window is not None:
        ends.append(window.latest or window.earliest)
    starts = [plan.as_of, *(bar.start for bar in bars)]
    tz = plan.job.tz
    first = start_of_day(local_day(min(starts), tz) - _DAY, tz)
    return first, start_of_day(local_day(max(ends), tz) + 2 * _DAY, tz)


def _heat_up_ends(temperatures: Temperatures) -> Iterable[datetime]:
    return (heat_up[-1].end for heat_up in temperatures.heat_ups if heat_up)


def _ticks(
    first: datetime, last: datetime, plan: Plan, words: Words
) -> tuple[tuple[datetime, str], ...]:
    span_days = (last - first) / _DAY
    step = next((step for step in _TICK_DAYS if span_days / step <= _MOST_TICKS), _TICK_DAYS[-1])
    tz = plan.job.tz
    day = local_day(first, tz) + _DAY
    if step > 1:
        day += timedelta(days=-day.weekday() % 7)
    ticks = []
    while (at := start_of_day(day, tz)) < last:
        ticks.append((at, f"{day.day} {month(day, words.catalogue)}"))
        day += timedelta(days=step)
    return tuple(ticks)


def _temperatures(plan: Plan, zone: ZonePlan, log: Log, words: Words) -> Temperatures:
    expected_c = plan.job.expected.air_c
    minimum_c = max(
        (item.layer.sheet.minimum_c for item in zone.layers if not item.layer.existing),
        default=None,
    )
    return Temperatures(
        curves=tuple(_curves(plan, zone, log)),
        expected_c=expected_c,
        minimum_c=minimum_c,
        expected_text=words.text("picture.expected", {"expected_c": expected_c}),
        minimum_text=""
        if minimum_c is None
        else words.text("picture.minimum", {"minimum_c": minimum_c}),
        heat_ups=tuple(tuple(_set_points(heat_up, plan, words)) for heat_up in zone.heat_ups),
    )


def _curves(plan: Plan, zone: ZonePlan, log: Log) -> Iterable[Curve]:
    """Return what was measured: looks as one curve a place, each logger's runs as their own."""
    seen: dict[Place, list[tuple[datetime, float]]] = {}
    for entry in log:
        if entry.at > plan.as_of or entry.zone not in {None, zone.zone.id}:
            continue
        if isinstance(entry, Reading) and entry.temperature_c is not None and not entry.is_floor_on:
            seen.setdefault(entry.place, []).append((entry.at, entry.temperature_c))
        elif isinstance(entry, Series):
            yield from _runs(entry, plan.as_of)
    for points in seen.values():
        # A look says nothing of the days after it, so each is a point of its own.
        yield from (Curve((point,)) for point in _thinned(sorted(points)))


def _runs(series: Series, now: datetime) -> Iterable[Curve]:
    gap = timedelta(seconds=2 * series.interval_s)
    run: list[tuple[datetime, float]] = []
    for at, temperature_c, _humidity in series.points:
        if temperature_c is None or at > now:
            continue
        if run and at - run[-1][0] > gap:
            yield Curve(tuple(_thinned(run)))
            run = []
        run.append((at, temperature_c))
    if run:
        yield Curve(tuple(_thinned(run)))


def _thinned(points: Sequence[tuple[datetime, float]]) -> Sequence[tuple[datetime, float]]:
    """Return at most so many points as can be seen, keeping the coldest of each stretch."""
    if len(points) <= _MOST_POINTS:
        return points
    size = -(-len(points) // _MOST_POINTS)
    return [
        min(points[at : at + size], key=lambda point: point[1])
        for at in range(0, len(points), size)
    ]


def _set_points(heat_up: HeatUp, plan: Plan, words: Words) -> Iterable[SetPoint]:
    texts = words.settings(heat_up)
    tz = plan.job.tz
    for step, text in zip(heat_up.steps, texts, strict=True):
        start = start_of_day(step.on, tz)
        end = start_of_day(step.on + timedelta(days=step.hold_days), tz)
        yield SetPoint(
            start.astimezone(UTC), end.astimezone(UTC), step.to_c, words.day(step.on), text
        )
