"""A timeline as SVG: a row a layer, the temperatures and the set-points below."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import datetime

from curecal.pictures.in_words import timeline_in_words
from curecal.pictures.svg import FONT_PX, box, cut, dot, letters, line, path, picture, text
from curecal.pictures.timeline import Bar, BarKind, Temperatures, Timeline, TimelineRow
from curecal.records import Record, record
from curecal.words.layout import wrap

# All lengths in px. A row is a line of text over its bar, so that a phone is as wide as it must be.
_MARGIN = 8.0
_LINE = 18.0
_ROW = 40.0
_BAR = 12.0
_PANEL = 110.0
_SMALL_PX = 11
_OUTLINE = 'fill="none" stroke="currentColor"'
_LOOKS = {
    BarKind.WORK: _OUTLINE,
    BarKind.COUNTED: 'fill="currentColor"',
    BarKind.WAITING: 'fill="currentColor" fill-opacity="0.25"',
    BarKind.VISIT: f'{_OUTLINE} stroke-dasharray="3 2"',
}
# What a temperature panel shows at least, so that a room's tenths do not look like weather [K].
_LEAST_SPAN_K = 6.0

Across = Callable[[datetime], float]


@record
class _Place(Record):
    """Where the rows of a picture stand, and how an instant becomes a place on its axis."""

    across: Across
    width: float
    name: str


def timeline_svg(
    timeline: Timeline, legend: tuple[str, str, str], *, width: float = 720.0, name: str = "time"
) -> str:
    """Return a timeline as an SVG document.

    Args:
        timeline: What to draw.
        legend: The words for what has counted, what is still ahead, and the window.
        width: Its width [px], from 320.
        name: A word that no other picture on the same page has.
    """
    inner = width - 2 * _MARGIN
    span_s = (timeline.last - timeline.first).total_seconds()

    def across(at: datetime) -> float:
        share = (at - timeline.first).total_seconds() / span_s
        return _MARGIN + inner * min(max(share, 0.0), 1.0)

    place = _Place(across, width, name)
    parts: list[str] = []
    y = _heading(parts, timeline, legend, place)
    top = y + 4.0
    y = _axis(parts, timeline, place, y)
    bands = [(top + _LINE, y - 4.0)]
    for row in timeline.rows:
        parts += _row(row, place, y)
        bands.append((y + 16.0, y + 34.0))
        y += _ROW
    bands.append((y, y + _PANEL + 14.0))
    y = _panel(parts, timeline.temperatures, place, y)
    parts += _uprights(timeline, place, bands)
    foot = y + _LINE
    for shown in _foot(timeline, inner):
        parts.append(text(_MARGIN, foot, shown))
        foot += _LINE
    return picture(
        parts,
        name=name,
        title=timeline.title,
        described=timeline_in_words(timeline),
        width=width,
        height=foot,
    )


def _heading(
    parts: list[str], timeline: Timeline, legend: tuple[str, str, str], place: _Place
) -> float:
    inner = place.width - 2 * _MARGIN
    y = _MARGIN + FONT_PX
    parts.append(text(_MARGIN, y, cut(timeline.title, inner), bold=True))
    for shown in wrap(timeline.says, letters(inner)):
        y += _LINE
        parts.append(text(_MARGIN, y, shown))
    kinds = (BarKind.COUNTED, BarKind.WAITING, BarKind.WINDOW)
    x = _MARGIN
    y += _LINE + 2.0
    for kind, word in zip(kinds, legend, strict=True):
        taken = 24.0 + 0.55 * _SMALL_PX * len(word) + 10.0
        if x > _MARGIN and x + taken > place.width:
            x, y = _MARGIN, y + _LINE
        parts.append(box(x, y - 9.0, 18.0, 10.0, _look(kind, place)))
        parts.append(text(x + 24.0, y, word, size_px=_SMALL_PX))
        x += taken
    return y + 6.0


def _look(kind: BarKind, place: _Place) -> str:
    if kind is BarKind.WINDOW:
        return f'fill="url(#{place.name}-hatch)" stroke="currentColor"'
    return _LOOKS[kind]


def _axis(parts: list[str], timeline: Timeline, place: _Place, y: float) -> float:
    free = -1.0
    for at, label in timeline.ticks:
        x = place.across(at)
        parts.append(line(x, y + _LINE, x, y + _LINE + 4.0, 'stroke="currentColor"'))
        width = 0.6 * _SMALL_PX * len(label)
        # On a narrow screen every other day is enough.
        if x >= free and x + width <= place.width:
            parts.append(text(x, y + _LINE - 3.0, label, size_px=_SMALL_PX))
            free = x + width + 6.0
    end = place.width - _MARGIN
    parts.append(line(_MARGIN, y + _LINE + 4.0, end, y + _LINE + 4.0, 'stroke="currentColor"'))
    return y + _LINE + 8.0


def _row(row: TimelineRow, place: _Place, y: float) -> Iterable[str]:
    says_px = 0.58 * FONT_PX * len(row.says) + 12.0
    room = place.width - 2 * _MARGIN - says_px
    label = f"\u25c6 {row.label}" if row.is_governing else row.label
    yield text(_MARGIN, y + 14.0, cut(label, room), bold=row.is_governing)
    if row.says:
        yield text(place.width - _MARGIN, y + 14.0, row.says, anchor="end", bold=row.is_governing)
    for bar in row.bars:
        yield _bar(bar, place, y + 19.0)
    for mark in row.marks:
        x = place.across(mark.at)
        yield line(x, y + 17.0, x, y + 33.0, 'stroke="currentColor" stroke-width="1.5"')


def _bar(bar: Bar, place: _Place, y: float) -> str:
    x = place.across(bar.start)
    # What takes an hour is still to be seen.
    width = max(place.across(bar.end) - x, 1.5)
    return box(x, y, width, _BAR, _look(bar.kind, place))


def _panel(parts: list[str], shown: Temperatures, place: _Place, y: float) -> float:
    top, bottom = y + 10.0, y + 10.0 + _PANEL
    values = [value for curve in shown.curves for _at, value in curve.points]
    values += [step.to_c for heat_up in shown.heat_ups for step in heat_up]
    values.append(shown.expected_c)
    if shown.minimum_c is not None:
        values.append(shown.minimum_c)
    low, high = min(values) - 1.0, max(values) + 1.0
    spare = max(_LEAST_SPAN_K - (high - low), 0.0) / 2.0
    low, high = low - spare, high + spare

    def up(value_c: float) -> float:
        return bottom - (value_c - low) / (high - low) * (bottom - top)

    end = place.width - _MARGIN
    levels = [(shown.expected_c, shown.expected_text, "6 3")]
    if shown.minimum_c is not None:
        levels.append((shown.minimum_c, shown.minimum_text, "1 3"))
    for value_c, label, dashes in levels:
        look = f'stroke="currentColor" stroke-dasharray="{dashes}"'
        parts.append(line(_MARGIN, up(value_c), end, up(value_c), look))
        parts.append(text(_MARGIN, up(value_c) - 3.0, label, size_px=_SMALL_PX))
    parts.append('<g stroke="currentColor" stroke-width="1.5">')
    for curve in shown.curves:
        points = [(place.across(at), up(value_c)) for at, value_c in curve.points]
        parts.append(dot(*points[0]) if len(points) == 1 else path(points))
    for heat_up in shown.heat_ups:
        steps = [
            (place.across(at), up(step.to_c)) for step in heat_up for at in (step.start, step.end)
        ]
        parts.append(path(steps))
    parts.append("</g>")
    for heat_up in shown.heat_ups:
        # Where it ends is what people ask for.
        step = max(heat_up, key=lambda step: step.to_c)
        x = min(place.across(step.end), end)
        parts.append(text(x, up(step.to_c) - 4.0, step.text, anchor="end", size_px=_SMALL_PX))
    return bottom + 4.0


def _uprights(
    timeline: Timeline, place: _Place, bands: Iterable[tuple[float, float]]
) -> Iterable[str]:
    """Return the upright lines, now and the day it is cured, beside the bars: not through words."""
    x = place.across(timeline.now)
    cured = timeline.energize
    bottom = 0.0
    for start, end in bands:
        yield line(x, start, x, end, 'stroke="currentColor" stroke-dasharray="4 3"')
        if cured is not None:
            at = place.across(cured.earliest)
            yield line(at, start, at, end, 'stroke="currentColor" stroke-width="2"')
        bottom = end
    # The word stands on the side where there is room.
    is_left = x > place.width / 2.0
    yield text(
        x - 3.0 if is_left else x + 3.0,
        bottom - 16.0,
        timeline.now_text,
        anchor="end" if is_left else "start",
        size_px=_SMALL_PX,
    )


def _foot(timeline: Timeline, inner: float) -> Iterable[str]:
    for shown in (timeline.energize_text, timeline.to_do_text):
        if shown:
            yield from wrap(shown, letters(inner))
