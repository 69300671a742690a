"""A section as SVG: slabs to scale, each filled as far as its wait has counted."""

from __future__ import annotations

from collections.abc import Iterable

from curecal.pictures.in_words import section_in_words
from curecal.pictures.section import FloorSection, Slab, SlabState
from curecal.pictures.svg import FONT_PX, box, cut, letters, line, picture, text
from curecal.words.layout import wrap

# All lengths in px, but the scale: 1 mm of floor is 1.2 px, and nothing is thinner than its text.
_MARGIN = 8.0
_LINE = 18.0
_PX_PER_M = 1200.0
_THINNEST, _THICKEST = 40.0, 140.0
_FILM = 40.0
_CABLE_RADIUS = 4.0
_CABLE_APART = 26.0


def section_svg(section: FloorSection, *, width: float = 720.0, name: str = "section") -> str:
    """Return a section as an SVG document.

    Args:
        section: What to draw.
        width: Its width [px], from 320.
        name: A word that no other picture on the same page has.
    """
    inner = width - 2 * _MARGIN
    parts = []
    y = _MARGIN + FONT_PX
    parts.append(text(_MARGIN, y, cut(section.title, inner), bold=True))
    for shown in wrap(section.says, letters(inner)):
        y += _LINE
        parts.append(text(_MARGIN, y, shown))
    y += _LINE + 4.0
    parts.append(text(_MARGIN, y, section.top_text))
    y += 6.0
    for slab in section.slabs:
        height = _height(slab)
        parts += _slab(slab, section.cable_text, (y, height, width, name))
        y += height
    y += _LINE
    parts.append(text(_MARGIN, y, section.bottom_text))
    return picture(
        parts,
        name=name,
        title=section.title,
        described=section_in_words(section),
        width=width,
        height=y + _MARGIN,
    )


def _height(slab: Slab) -> float:
    if slab.thickness_m is None:
        return _FILM
    return min(max(slab.thickness_m * _PX_PER_M, _THINNEST), _THICKEST)


def _slab(slab: Slab, cable: str, place: tuple[float, float, float, str]) -> Iterable[str]:
    y, height, width, name = place
    inner = width - 2 * _MARGIN
    # The fill rises like a level, so that a floor reads as how full its layers are.
    filled = height * slab.cured_fraction
    if filled > 0.0:
        yield box(
            _MARGIN,
            y + height - filled,
            inner,
            filled,
            'fill="currentColor" fill-opacity="0.18"',
        )
    if slab.state is SlabState.EXISTING:
        yield box(_MARGIN, y, inner, height, f'fill="url(#{name}-hatch)" fill-opacity="0.25"')
    dashes = ' stroke-dasharray="4 3"' if slab.state is SlabState.AHEAD else ""
    thick = ' stroke-width="2.5"' if slab.is_governing else ""
    yield box(_MARGIN, y, inner, height, f'fill="none" stroke="currentColor"{dashes}{thick}')
    if slab.holds_cable:
        yield from _cable(y + height, width)
    label = f"\u25c6 {slab.label}" if slab.is_governing else slab.label
    if slab.part:
        label = f"{label} ({slab.part})"
    thick_px = 0.58 * FONT_PX * len(slab.thickness_text) + 14.0
    yield text(_MARGIN + 6.0, y + 16.0, cut(label, inner - thick_px), bold=slab.is_governing)
    if slab.thickness_text:
        yield text(width - _MARGIN - 6.0, y + 16.0, slab.thickness_text, anchor="end")
    said = f"{slab.says}; {cable}" if slab.holds_cable else slab.says
    yield text(_MARGIN + 6.0, y + 33.0, cut(said, inner - 12.0))


def _cable(bottom: float, width: float) -> Iterable[str]:
    """Return the heating cable's runs, cut through, on the ground of the layer it lies in."""
    y = bottom - _CABLE_RADIUS - 1.0
    x = width - _MARGIN - 14.0
    least = width * 0.55
    while x > least:
        yield (
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{_CABLE_RADIUS:.1f}" fill="none" '
            'stroke="currentColor" stroke-width="2"/>'
        )
        x -= _CABLE_APART
    yield line(least, bottom, width - _MARGIN, bottom)
