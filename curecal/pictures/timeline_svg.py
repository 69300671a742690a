"""A timeline as SVG: a row a layer, the temperatures and the set-points below."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from datetime import datetime
from functools import partial

from curecal.pictures.in_words import timeline_in_words
from curecal.pictures.svg import (
    LINE,
    MARGIN,
    SAMPLE,
    SMALL_PX,
    Sample,
    box,
    diamond,
    dot,
    heading,
    legend,
    letters,
    line,
    paragraph,
    picture,
    polyline,
    swatch,
    text,
    text_width,
    uprights,
)
from curecal.pictures.timeline import Bar, BarKind, Temperatures, Timeline, TimelineRow
from curecal.records import Record, record
from curecal.words.layout import wrap

# All lengths in px. A row is a line of text over its bar, so that a phone is as wide as it must be.
# From a row's words to its bar, and from there to the next row.
_TO_BAR, _BAR, _TO_NEXT = 5.0, 12.0, 21.0
_PANEL = 110.0
_STROKE = 'stroke="currentColor"'
_OUTLINE = f'fill="none" {_STROKE}'
_NOW_LOOK = f'{_STROKE} stroke-dasharray="4 3"'
_CURED_LOOK = f'{_STROKE} stroke-width="2"'
_MARK_LOOK = f'{_STROKE} stroke-width="1.5"'
_EXPECTED_LOOK = f'{_STROKE} stroke-dasharray="6 3"'
_MINIMUM_LOOK = f'{_STROKE} stroke-dasharray="1 3"'
_LOOKS = {
    BarKind.WORK: _OUTLINE,
    BarKind.COUNTED: 'fill="currentColor"',
    BarKind.WAITING: 'fill="currentColor" fill-opacity="0.25"',
    BarKind.VISIT: f'{_OUTLINE} stroke-dasharray="3 2"',
}
# What a temperature panel shows at least, so that a room's tenths do not look like weather [K].
_LEAST_SPAN_K = 6.0


@record
class _Place(Record):
    """Where a picture's rows stand, and how an instant becomes a place on its axis."""

    across: Callable[[datetime], float]
    end: float
    name: str


def timeline_svg(timeline: Timeline, *, width: float = 720.0, name: str = "time") -> str:
    """Return a timeline as an SVG document.

    Args:
        timeline: What to draw.
        width: Its width [px], from 320.
        name: A word that no other picture on the same page has.
    """
    end = width - MARGIN
    first, span = timeline.first, timeline.last - timeline.first

    def across(at: datetime) -> float:
        return MARGIN + (end - MARGIN) * min(max((at - first) / span, 0.0), 1.0)

    place = _Place(across, end, name)
    parts: list[str] = []
    y = _head(parts, timeline, place)
    y = _axis(parts, timeline, place, y)
    bands = []
    for row in timeline.rows:
        y = _row(parts, row, place, y)
        bands.append((y - 3.0, y + _BAR + 3.0))
        y += _TO_NEXT
    y = legend(parts, _temperature_samples(timeline.temperatures), place.end, y + LINE)
    bands.append((y, y + _PANEL))
    parts += _panel(timeline.temperatures, place, y)
    # Beside the bars and in the panel, where no words stand.
    for at, look in _instants(timeline, place):
        parts.append(uprights([(at, top, bottom) for top, bottom in bands], look))
    y += _PANEL + LINE + 2.0
    for said in (timeline.energize_text, timeline.to_do_text):
        y = paragraph(parts, said, place.end, y)
    return picture(
        parts,
        name=name,
        title=timeline.title,
        described=timeline_in_words(timeline),
        width=width,
        height=y - LINE + MARGIN,
    )


def _head(parts: list[str], timeline: Timeline, place: _Place) -> float:
    y = heading(parts, timeline.title, timeline.says, place.end)
    return legend(parts, _row_samples(timeline, place), place.end, y + 2.0)


def _row_samples(timeline: Timeline, place: _Place) -> Iterable[tuple[Sample, str]]:
    for kind, word in timeline.legend:
        yield partial(swatch, look=_look(kind, place)), word
    if timeline.marks_text:
        yield _mark_sample, timeline.marks_text
    if timeline.governing_text:
        yield diamond, timeline.governing_text


def _temperature_samples(shown: Temperatures) -> Iterable[tuple[Sample, str]]:
    yield partial(_level_sample, look=_EXPECTED_LOOK), shown.expected_text
    if shown.minimum_text:
        yield partial(_level_sample, look=_MINIMUM_LOOK), shown.minimum_text
    if shown.curves:
        yield _measured_sample, shown.measured_text
    for heat_up in shown.heat_ups:
        yield partial(_level_sample, look=_MARK_LOOK), heat_up.text


def _mark_sample(x: float, y: float) -> str:
    return uprights([(x + SAMPLE / 2.0, y - 11.0, y + 3.0)], _MARK_LOOK)


def _measured_sample(x: float, y: float) -> str:
    return dot(x + SAMPLE / 2.0, y - 4.0)


def _level_sample(x: float, y: float, look: str) -> str:
    return line(x, y - 4.0, x + SAMPLE, y - 4.0, look)


def _look(kind: BarKind, place: _Place) -> str:
    if kind is BarKind.WINDOW:
        return f'fill="url(#{place.name}-hatch)" {_STROKE}'
    return _LOOKS[kind]


def _axis(parts: list[str], timeline: Timeline, place: _Place, y: float) -> float:
    """Add the days, and under them the words for now and for the day it is cured."""
    y += LINE
    ticks = [(place.across(at), label) for at, label in timeline.ticks]
    free = -1.0
    for x, label in ticks:
        width = text_width(label, size_px=SMALL_PX)
        # On a narrow screen every other day is enough.
        if x >= free and x + width <= place.end:
            parts.append(text(x, y - 3.0, label, size_px=SMALL_PX))
            free = x + width + 6.0
    parts.append(uprights([(x, y, y + 4.0) for x, _label in ticks], _STROKE))
    parts.append(line(MARGIN, y + 4.0, place.end, y + 4.0, _STROKE))
    words = [(place.across(timeline.now), timeline.now_text)]
    if timeline.energize is not None:
        words.append((place.across(timeline.energize.earliest), timeline.cured_text))
    for x, word in _apart(sorted(words), place):
        parts.append(text(x, y + 17.0, word, size_px=SMALL_PX))
    return y + LINE + 4.0


def _apart(words: Sequence[tuple[float, str]], place: _Place) -> Iterable[tuple[float, str]]:
    """Return where one or two words begin: at their places, inside the picture, side by side."""
    taken = [text_width(word, size_px=SMALL_PX) for _x, word in words]
    x, word = words[-1]
    last = min(x - 3.0, place.end - taken[-1])
    if len(words) > 1:
        before, first_word = words[0]
        first = max(min(before - 3.0, last - taken[0] - 6.0), MARGIN)
        last = max(last, first + taken[0] + 6.0)
        yield first, first_word
    yield last, word


def _row(parts: list[str], row: TimelineRow, place: _Place, y: float) -> float:
    """Add a row's words, and its bars below them; return where the bars begin."""
    label = f"\u25c6 {row.label}" if row.is_governing else row.label
    y += 14.0
    inner = place.end - MARGIN
    labels = wrap(label, letters(inner, bold=row.is_governing))
    for shown in labels:
        parts.append(text(MARGIN, y, shown, bold=row.is_governing))
        y += LINE
    # The date stands at the right, under the name where both are too long for one line.
    if text_width(labels[-1]) + text_width(row.says) + 8.0 <= inner:
        y -= LINE
    for shown in wrap(row.says, letters(inner)):
        parts.append(text(place.end, y, shown, anchor="end", bold=row.is_governing))
        y += LINE
    y += _TO_BAR - LINE
    parts += [_bar(bar, place, y) for bar in row.bars]
    if row.marks:
        spots = [(place.across(mark.at), y - 2.0, y + _BAR + 5.0) for mark in row.marks]
        parts.append(uprights(spots, _MARK_LOOK))
    return y


def _bar(bar: Bar, place: _Place, y: float) -> str:
    x = place.across(bar.start)
    # What takes an hour is still to be seen.
    width = max(place.across(bar.end) - x, 1.5)
    return box(x, y, width, _BAR, _look(bar.kind, place))


def _panel(shown: Temperatures, place: _Place, top: float) -> Iterable[str]:
    low, high = _reach(shown)

    def up(value_c: float) -> float:
        return top + _PANEL * (high - value_c) / (high - low)

    for value_c, look in (
        (shown.expected_c, _EXPECTED_LOOK),
        (shown.minimum_c, _MINIMUM_LOOK),
    ):
        if value_c is not None:
            yield line(MARGIN, up(value_c), place.end, up(value_c), look)
    yield f"<g {_MARK_LOOK}>"
    for curve in shown.curves:
        points = [(place.across(at), up(value_c)) for at, value_c in curve.points]
        yield dot(*points[0]) if len(points) == 1 else polyline(points)
    for heat_up in shown.heat_ups:
        yield polyline(
            (place.across(at), up(step.to_c))
            for step in heat_up.steps
            for at in (step.start, step.end)
        )
    yield "</g>"


def _reach(shown: Temperatures) -> tuple[float, float]:
    """Return the lowest and the highest temperature of a panel [°C]."""
    values = [value for curve in shown.curves for _at, value in curve.points]
    values += [step.to_c for heat_up in shown.heat_ups for step in heat_up.steps]
    values.append(shown.expected_c)
    if shown.minimum_c is not None:
        values.append(shown.minimum_c)
    low, high = min(values) - 1.0, max(values) + 1.0
    spare = max(_LEAST_SPAN_K - (high - low), 0.0) / 2.0
    return low - spare, high + spare


def _instants(timeline: Timeline, place: _Place) -> Iterable[tuple[float, str]]:
    yield place.across(timeline.now), _NOW_LOOK
    if timeline.energize is not None:
        yield place.across(timeline.energize.earliest), _CURED_LOOK
