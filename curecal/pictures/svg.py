"""The few SVG elements that pictures are made of, as text.

Shapes carry attributes and no `style`, so that they show under a content security policy without
exceptions. They are drawn in the color of the text around them: black on paper, light on dark.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from html import escape

from curecal.words.layout import wrap

FONT_PX, SMALL_PX = 13, 11
"""The sizes of text [px]: readable on a phone, where a picture is drawn at 320 px."""

LINE = 18.0
"""From one line of text to the next [px]."""

MARGIN = 8.0
"""Left free around a picture [px]."""

SAMPLE = 18.0
"""The width of a sample in a legend [px]."""
_TO_WORD = 24.0

Sample = Callable[[float, float], str]
"""What draws a sample: from its left edge, on the ground of the words beside it."""

# The widest ordinary letters of a sans-serif face, as a share of its size: a line ends early
# rather than being drawn over its neighbor.
_LETTER = 0.58
_BOLD = 0.62


def text(
    x: float,
    y: float,
    content: str,
    *,
    anchor: str = "start",
    bold: bool = False,
    size_px: int = FONT_PX,
) -> str:
    """Return a line of text with its baseline at a point."""
    weight = ' font-weight="bold"' if bold else ""
    end = "" if anchor == "start" else f' text-anchor="{anchor}"'
    size = "" if size_px == FONT_PX else f' font-size="{size_px}"'
    return f'<text x="{x:.1f}" y="{y:.1f}"{end}{weight}{size}>{escape(content)}</text>'


def box(x: float, y: float, width: float, height: float, look: str) -> str:
    """Return a rectangle; `look` are its attributes."""
    return f'<rect x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{height:.1f}" {look}/>'


def line(x: float, y: float, to_x: float, to_y: float, look: str) -> str:
    """Return a straight line; `look` are its attributes."""
    return f'<line x1="{x:.1f}" y1="{y:.1f}" x2="{to_x:.1f}" y2="{to_y:.1f}" {look}/>'


def uprights(spots: Iterable[tuple[float, float, float]], look: str) -> str:
    """Return upright lines as one shape: each at an x, from a y to another."""
    drawn = "".join([f"M{x:.1f} {y:.1f}V{to_y:.1f}" for x, y, to_y in spots])
    return f'<path d="{drawn}" {look}/>'


def polyline(points: Iterable[tuple[float, float]]) -> str:
    """Return a line through points."""
    drawn = " ".join([f"{x:.1f},{y:.1f}" for x, y in points])
    return f'<polyline points="{drawn}" fill="none"/>'


def dot(x: float, y: float) -> str:
    """Return a dot at a point."""
    return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="2.5" fill="currentColor" stroke="none"/>'


def hatch(name: str) -> str:
    """Return a pattern of slanted lines, for what may or may not be: plain in black and white."""
    return (
        f'<pattern id="{name}" width="6" height="6" patternUnits="userSpaceOnUse" '
        'patternTransform="rotate(45)"><line x1="0" y1="0" x2="0" y2="6" stroke="currentColor" '
        'stroke-width="2"/></pattern>'
    )


def picture(
    parts: Iterable[str],
    *,
    name: str,
    title: str,
    described: str,
    width: float,
    height: float,
) -> str:
    """Return a whole SVG document.

    Args:
        parts: Its elements.
        name: A word that no other picture on the same page has, for its ids.
        title: What it shows, in a few words.
        described: The same as the picture, in words, for who cannot see it.
        width: Its width [px].
        height: Its height [px].
    """
    body = "\n".join(parts)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.0f} {height:.0f}" '
        f'width="{width:.0f}" height="{height:.0f}" role="img" '
        f'aria-labelledby="{name}-title {name}-desc" font-family="sans-serif" '
        f'font-size="{FONT_PX}" fill="currentColor" stroke="none">\n'
        f'<title id="{name}-title">{escape(title)}</title>\n'
        f'<desc id="{name}-desc">{escape(described)}</desc>\n'
        f"<defs>{hatch(f'{name}-hatch')}</defs>\n{body}\n</svg>\n"
    )


def swatch(x: float, y: float, look: str) -> str:
    """Return a small rectangle, as a sample; `look` are its attributes."""
    return box(x, y - 9.0, SAMPLE, 10.0, look)


def diamond(x: float, y: float) -> str:
    """Return the sign of the layer that sets the date, as a sample."""
    return text(x + 4.0, y, "\u25c6")


def heading(parts: list[str], title: str, says: str, end: float) -> float:
    """Add a picture's title and its answer; return where the next line stands.

    Args:
        parts: The elements so far.
        title: What is shown.
        says: The answer, in words.
        end: The right edge of what is drawn [px].
    """
    y = MARGIN + FONT_PX
    for shown in wrap(title, letters(end - MARGIN, bold=True)):
        parts.append(text(MARGIN, y, shown, bold=True))
        y += LINE
    return paragraph(parts, says, end, y)


def paragraph(parts: list[str], said: str, end: float, y: float) -> float:
    """Add a text in lines, the first one at `y`; return where the next line stands."""
    if said:
        for shown in wrap(said, letters(end - MARGIN)):
            parts.append(text(MARGIN, y, shown))
            y += LINE
    return y


def legend(parts: list[str], entries: Iterable[tuple[Sample, str]], end: float, y: float) -> float:
    """Add samples with their words, from `y` on; return where what they explain begins."""
    x = MARGIN
    for sample, word in entries:
        taken = _TO_WORD + text_width(word, size_px=SMALL_PX)
        if x > MARGIN and x + taken > end:
            x, y = MARGIN, y + LINE
        parts.append(sample(x, y))
        first, *further = wrap(word, letters(end - x - _TO_WORD, size_px=SMALL_PX))
        parts.append(text(x + _TO_WORD, y, first, size_px=SMALL_PX))
        for shown in further:
            y += LINE
            parts.append(text(x + _TO_WORD, y, shown, size_px=SMALL_PX))
        x += taken + 8.0
    return y + 8.0


def text_width(content: str, *, size_px: int = FONT_PX) -> float:
    """Return the width [px] that a text takes at most."""
    return size_px * _LETTER * len(content)


def letters(width: float, *, bold: bool = False, size_px: int = FONT_PX) -> int:
    """Return how many letters of ordinary text fit into a width [px]."""
    return max(int(width / (size_px * (_BOLD if bold else _LETTER))), 1)
