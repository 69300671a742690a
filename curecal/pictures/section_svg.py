"""A section as SVG: slabs to scale, each filled as far as its wait has counted."""

from __future__ import annotations

from collections.abc import Iterable
from functools import partial

from curecal.pictures.in_words import section_in_words
from curecal.pictures.section import FloorSection, Slab, SlabState
from curecal.pictures.svg import (
    LINE,
    MARGIN,
    Sample,
    box,
    diamond,
    heading,
    legend,
    letters,
    picture,
    swatch,
    text,
    text_width,
)
from curecal.words.layout import wrap

# All lengths in px, but the scale: 1 mm of floor is 1.2 px, and nothing is thinner than its text.
_PX_PER_M = 1200.0
# A thin layer has a line for its name and one for how far it is, and more where they need them.
_THINNEST, _THICKEST = 40.0, 140.0
_USUAL_LINES, _NEXT_LINE = 2, 17.0
# The cable's own line, under the words of the layer it lies in.
_CABLE_LINE = 16.0
_CABLE_RADIUS = 4.0
_CABLE_APART = 26.0
_COUNTED_LOOK = 'fill="currentColor" fill-opacity="0.18"'


def section_svg(section: FloorSection, *, width: float = 720.0, name: str = "section") -> str:
    """Return a section as an SVG document.

    Args:
        section: What to draw.
        width: Its width [px], from 320.
        name: A word that no other picture on the same page has.
    """
    end = width - MARGIN
    parts: list[str] = []
    y = heading(parts, section.title, section.says, end)
    y = legend(parts, _samples(section), end, y + 2.0) + LINE
    parts.append(text(MARGIN, y, section.top_text))
    y += 6.0
    for slab in section.slabs:
        words = _words(slab, end)
        height = _height(slab, len(words))
        parts += _slab(slab, words, section.cable_text, (y, height, end, name))
        y += height
    y += LINE
    parts.append(text(MARGIN, y, section.bottom_text))
    return picture(
        parts,
        name=name,
        title=section.title,
        described=section_in_words(section),
        width=width,
        height=y + MARGIN,
    )


def _samples(section: FloorSection) -> Iterable[tuple[Sample, str]]:
    yield partial(swatch, look=_COUNTED_LOOK), section.counted_text
    if section.governing_text:
        yield diamond, section.governing_text


def _words(slab: Slab, end: float) -> list[tuple[str, bool]]:
    """Return the lines that stand in a slab, and whether each is bold."""
    inner = end - MARGIN - 12.0
    label = f"\u25c6 {slab.label}" if slab.is_governing else slab.label
    room = inner - text_width(slab.thickness_text) - 2.0
    names = wrap(label, letters(room, bold=slab.is_governing))
    said = [(shown, False) for shown in wrap(slab.says, letters(inner))]
    return [*((shown, slab.is_governing) for shown in names), *said]


def _height(slab: Slab, line_count: int) -> float:
    least = _THINNEST + _NEXT_LINE * (line_count - _USUAL_LINES)
    if slab.holds_cable:
        least += _CABLE_LINE
    return max(min((slab.thickness_m or 0.0) * _PX_PER_M, _THICKEST), least)


def _slab(
    slab: Slab,
    words: Iterable[tuple[str, bool]],
    cable: str,
    place: tuple[float, float, float, str],
) -> Iterable[str]:
    y, height, end, name = place
    inner = end - MARGIN
    # The fill rises like a level, so that a floor reads as how full its layers are.
    filled = height * slab.cured_fraction
    if filled > 0.0:
        yield box(MARGIN, y + height - filled, inner, filled, _COUNTED_LOOK)
    if slab.state is SlabState.EXISTING:
        yield box(MARGIN, y, inner, height, f'fill="url(#{name}-hatch)" fill-opacity="0.25"')
    dashes = ' stroke-dasharray="4 3"' if slab.state is SlabState.AHEAD else ""
    thick = ' stroke-width="2.5"' if slab.is_governing else ""
    yield box(MARGIN, y, inner, height, f'fill="none" stroke="currentColor"{dashes}{thick}')
    for number, (shown, is_bold) in enumerate(words):
        yield text(MARGIN + 6.0, y + 16.0 + _NEXT_LINE * number, shown, bold=is_bold)
    if slab.thickness_text:
        yield text(end - 6.0, y + 16.0, slab.thickness_text, anchor="end")
    if slab.holds_cable:
        yield from _cable(cable, y + height, end)


def _cable(cable: str, bottom: float, end: float) -> Iterable[str]:
    """Return the heating cable's runs, cut through, on the ground of the layer it lies in."""
    y = bottom - _CABLE_RADIUS - 2.0
    yield text(MARGIN + 6.0, y + 2.0, cable)
    x = end - 14.0
    least = MARGIN + text_width(cable) + 20.0
    while x > least:
        yield (
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{_CABLE_RADIUS:.1f}" fill="none" '
            'stroke="currentColor" stroke-width="2"/>'
        )
        x -= _CABLE_APART
