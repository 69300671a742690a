"""Pictures in block characters, for a terminal: the same models, a sign for every stretch."""

from __future__ import annotations

from datetime import datetime
from itertools import zip_longest

from curecal.pictures.section import FloorSection, Slab, SlabState
from curecal.pictures.timeline import BarKind, Timeline, TimelineRow
from curecal.words.layout import Line, TextRun, columns, pad, paragraph, wrap

# They differ in how dark they are, so they read without color, and on paper.
SIGNS = {
    BarKind.WORK: "=",
    BarKind.COUNTED: "\u2588",
    BarKind.WAITING: "\u2591",
    BarKind.WINDOW: "\u2573",
    BarKind.VISIT: "\u2500",
}
_NOW = "\u2502"
_DIAMOND = "\u25c6"
_LABEL_SHARE = 0.3
_MOST_LABEL = 30


def timeline_lines(timeline: Timeline, width: int) -> list[Line]:
    """Return a timeline for a terminal, as many columns wide as there are."""
    taken = max((columns(_label(row)) for row in timeline.rows), default=0)
    label = min(taken, _MOST_LABEL, int(width * _LABEL_SHARE))
    cells = width - label - 4
    lines: list[Line] = [(TextRun(timeline.title, "head"),)]
    lines += paragraph(timeline.says, width)
    lines.append(())
    lines.append((TextRun(" " * (label + 4) + _axis(timeline, cells), "dim"),))
    for row in timeline.rows:
        style = "head" if row.is_governing else ""
        beside = [_bar(row, timeline, cells), TextRun(_fitted(row.says, cells), "dim")]
        for name, run in zip_longest(wrap(_label(row), label), beside):
            lines.append((TextRun(f"  {pad(name or '', label)}  ", style), run or TextRun("")))
    lines.append(())
    words = [f"{SIGNS[kind] * 2} {word}" for kind, word in timeline.legend]
    words.append(f"{_NOW} {timeline.now_text}")
    if timeline.governing_text:
        words.append(f"{_DIAMOND} {timeline.governing_text}")
    # A sign and its words stay on one line.
    bound = [word.replace(" ", "\u00a0") for word in words]
    lines += paragraph("   ".join(bound), width, indent=2)
    for text in (timeline.energize_text, timeline.to_do_text):
        if text:
            lines += paragraph(text, width, indent=2)
    return lines


def section_lines(section: FloorSection, width: int, *, is_alone: bool = True) -> list[Line]:
    """Return a section for a terminal; not alone, it stands under its zone's timeline."""
    inner = width - 6
    edge = "\u2500" * inner
    lines: list[Line] = []
    if is_alone:
        lines += [(TextRun(section.title, "head"),), *paragraph(section.says, width), ()]
    lines += [(TextRun(f"  {section.top_text}", "dim"),), (TextRun(f"  \u250c{edge}\u2510"),)]
    for index, slab in enumerate(section.slabs):
        if index:
            lines.append((TextRun(f"  \u251c{edge}\u2524"),))
        lines += _slab(slab, section.cable_text, inner)
    lines += [(TextRun(f"  \u2514{edge}\u2518"),), (TextRun(f"  {section.bottom_text}", "dim"),)]
    return lines


def _label(row: TimelineRow) -> str:
    return f"{_DIAMOND} {row.label}" if row.is_governing else row.label


def _fitted(text: str, width: int) -> str:
    if columns(text) <= width:
        return text
    return f"{text[: width - 1].rstrip()}\u2026"


def _place(at: datetime, timeline: Timeline, cells: int) -> int:
    share = (at - timeline.first) / (timeline.last - timeline.first)
    return min(max(int(share * cells), 0), cells - 1)


def _axis(timeline: Timeline, cells: int) -> str:
    line = [" "] * cells
    free = 0
    for at, label in timeline.ticks:
        start = _place(at, timeline, cells)
        if start >= free and start + len(label) <= cells:
            line[start : start + len(label)] = label
            free = start + len(label) + 1
    return "".join(line).rstrip()


def _bar(row: TimelineRow, timeline: Timeline, cells: int) -> TextRun:
    line = [" "] * cells
    # The window is drawn last: it is what people look for.
    for bar in sorted(row.bars, key=lambda bar: bar.kind is BarKind.WINDOW):
        start = _place(bar.start, timeline, cells)
        end = max(_place(bar.end, timeline, cells), start + 1)
        line[start:end] = SIGNS[bar.kind] * (end - start)
    now = _place(timeline.now, timeline, cells)
    if line[now] == " ":
        line[now] = _NOW
    return TextRun("".join(line).rstrip())


def _slab(slab: Slab, cable: str, inner: int) -> list[Line]:
    label = f"{_DIAMOND} {slab.label}" if slab.is_governing else slab.label
    room = inner - 2 - columns(slab.thickness_text) - 1
    first = f" {pad(_fitted(label, room), room)} {slab.thickness_text} "
    said = f"{slab.says}; {cable}  \u25cb  \u25cb  \u25cb" if slab.holds_cable else slab.says
    lines = [_walled(first, inner, "head" if slab.is_governing else "")]
    lines.append(_walled(f"   {_fitted(said, inner - 4)}", inner, ""))
    if slab.state is SlabState.CURING:
        full = inner - 10
        counted = int(full * slab.cured_fraction)
        bar = SIGNS[BarKind.COUNTED] * counted + SIGNS[BarKind.WAITING] * (full - counted)
        lines.append(_walled(f"   {bar} {int(100 * slab.cured_fraction):3d} %", inner, ""))
    return lines


def _walled(text: str, inner: int, style: str) -> Line:
    return (TextRun("  \u2502"), TextRun(pad(text, inner), style), TextRun("\u2502"))
