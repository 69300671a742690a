"""A zone's timeline as bars, marks and curves over time: no pixels, and all words ready to draw.

Rows lie as the floor does, the top layer first, so that a picture rises to the right as work goes
on, and a list that stands upside down falls.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime, timedelta
from enum import StrEnum

from curecal.instants import Window, local_day, start_of_day
from curecal.planning.plan import HeatUp, LayerPlan, MilestonePlan, Plan, Visit, ZonePlan
from curecal.records import Record, record
from curecal.trade.data_sheets import Milestone
from curecal.trade.hold_codes import Gate
from curecal.trade.site_log import Log, Place, Reading, Series
from curecal.words.report.headline import headline_of, place_of
from curecal.words.report.layers import days
from curecal.words.sentences import Words
from curecal.words.values import clean, short_day

_DAY = timedelta(days=1)
# Steps of the axis [days]: whole weeks read best, so that they begin on Mondays.
_TICK_DAYS = (1, 7, 14, 28, 56, 91, 182, 364)
_MOST_TICKS = 8
# Nothing finer can be seen; a logger's year would be a line of 50,000 points.
_MOST_POINTS = 400
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
    """An instant from which a layer allows something; `says` names it, with its days."""

    at: datetime
    milestone: Milestone
    says: str


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
class SetPoints(Record):
    """A heat-up, step by step, and where it ends in words."""

    text: str
    steps: tuple[SetPoint, ...]


@record
class Temperatures(Record):
    """What the lower half of a timeline shows, all in °C. `minimum_c`: no layer cures below it."""

    curves: tuple[Curve, ...]
    expected_c: float
    minimum_c: float | None
    expected_text: str
    minimum_text: str
    measured_text: str = ""
    heat_ups: tuple[SetPoints, ...] = ()


@record
class Timeline(Record):
    """One zone over time. `energize` is when it is cured, `says` the answer in words.

    `legend` has the kinds of bars that the rows show, as far as no row says them; `marks_text` and
    `governing_text` are empty where no row has such a sign.
    """

    title: str
    says: str
    legend: tuple[tuple[BarKind, str], ...]
    marks_text: str
    governing_text: str
    first: datetime
    last: datetime
    now: datetime
    now_text: str
    ticks: tuple[tuple[datetime, str], ...]
    rows: tuple[TimelineRow, ...]
    energize: Window | None
    cured_text: str
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
        title=place_of(plan, zone),
        says=headline_of(plan, zone, words),
        legend=tuple(_legend(rows, words)),
        marks_text=_marks_text(rows, words),
        governing_text=words.text("picture.governing")
        if any(row.is_governing for row in rows)
        else "",
        first=first,
        last=last,
        now=plan.as_of,
        now_text=words.text("picture.now"),
        ticks=_ticks(first, last, plan, words),
        rows=tuple(rows),
        energize=window,
        cured_text=words.text("picture.cured-mark"),
        energize_text=_energize_text(zone, plan, words),
        to_do_text=_to_do(zone, words),
        temperatures=temperatures,
    )


def _legend(rows: Iterable[TimelineRow], words: Words) -> Iterable[tuple[BarKind, str]]:
    shown = {bar.kind for row in rows for bar in row.bars} - {BarKind.VISIT}
    return ((kind, words.text(f"picture.{kind.value}")) for kind in BarKind if kind in shown)


def _marks_text(rows: Iterable[TimelineRow], words: Words) -> str:
    marked = {mark.milestone for row in rows for mark in row.marks}
    steps = [words.name("short", name.value) for name in _ON_THE_WAY if name in marked]
    return words.text("picture.marks", {"steps": ", ".join(steps)}) if steps else ""


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
    last = item.last_milestone
    bars: list[Bar] = []
    says = words.text("report.undated")
    if item.planned and item.start is not None and item.finish is not None:
        bars.append(Bar(BarKind.WORK, item.start.earliest, item.finish.earliest))
    if last is not None and last.window is not None and item.clock_start is not None:
        bars += _wait_bars(item.clock_start.earliest, last.window, plan.as_of)
        when = days(last.window, plan, words, _near(plan))
        says = f"{words.name('short', last.milestone.value)} {when}"
    marks = tuple(
        _mark(milestone, milestone.window, plan, words)
        for name in _ON_THE_WAY
        if (milestone := item.milestones.get(name)) is not None
        and milestone is not last
        and milestone.window is not None
    )
    return TimelineRow(clean(item.layer.title), says, tuple(bars), marks, is_governing)


def _mark(milestone: MilestonePlan, window: Window, plan: Plan, words: Words) -> MilestoneMark:
    name = words.name("short", milestone.milestone.value)
    says = f"{name} {days(window, plan, words, _near(plan))}"
    return MilestoneMark(window.earliest, milestone.milestone, says)


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
    return (step.end for heat_up in temperatures.heat_ups for step in heat_up.steps)


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
        ticks.append((at, short_day(day, words.catalogue)))
        day += timedelta(days=step)
    return tuple(ticks)


def _temperatures(plan: Plan, zone: ZonePlan, log: Log, words: Words) -> Temperatures:
    expected_c = plan.job.expected.air_c
    minimum_c = max(
        (item.layer.sheet.minimum_c for item in zone.layers if not item.layer.existing),
        default=None,
    )
    curves = tuple(_curves(plan, zone, log))
    return Temperatures(
        curves=curves,
        expected_c=expected_c,
        minimum_c=minimum_c,
        expected_text=words.text("picture.expected", {"expected_c": expected_c}),
        minimum_text=""
        if minimum_c is None
        else words.text("picture.minimum", {"minimum_c": minimum_c}),
        measured_text=words.text("picture.measured") if curves else "",
        heat_ups=tuple(_set_points(heat_up, plan, words) for heat_up in zone.heat_ups),
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


def _set_points(heat_up: HeatUp, plan: Plan, words: Words) -> SetPoints:
    tz = plan.job.tz
    settings = words.settings(heat_up)
    steps = tuple(
        SetPoint(
            start_of_day(step.on, tz),
            start_of_day(step.on + timedelta(days=step.hold_days), tz),
            step.to_c,
            words.day(step.on),
            setting,
        )
        for step, setting in zip(heat_up.steps, settings, strict=True)
    )
    highest = max(steps, key=lambda step: step.to_c, default=None)
    purpose = words.name("purpose", heat_up.purpose)
    if highest is None:
        return SetPoints(purpose, ())
    params = {"purpose": purpose, "setting": highest.text}
    return SetPoints(words.text("picture.heat-up", params), steps)
