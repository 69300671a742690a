"""The record's part about the layers: product, lot, sheet, thickness, wait, what has counted."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from curecal.papers.blocks import Block, FactList, PaperContext, Picture, Presence, Row, Section
from curecal.pictures.in_words import section_in_words, timeline_in_words
from curecal.pictures.section import make_section
from curecal.pictures.section_svg import section_svg
from curecal.pictures.timeline import make_timeline
from curecal.pictures.timeline_svg import timeline_svg
from curecal.planning.plan import LayerPlan, MilestonePlan, State, StepCode, ZonePlan
from curecal.trade.site_log import Done
from curecal.words.report.details import final_cure_text
from curecal.words.values import clean

_COLUMNS = (
    ("layer", 1.7),
    ("thickness", 0.85),
    ("finished", 1.75),
    ("wait", 0.75),
    ("counted", 1.4),
    ("ready", 1.85),
)


def layers_table(ctx: PaperContext, zone: ZonePlan) -> Section:
    """Return a zone's layers, the lowest first: how thick, when finished, what wait, since when."""
    rows = [_layer(ctx, zone, item) for item in zone.layers]
    return Section(ctx.text("section.layers"), (ctx.table(_COLUMNS, rows),))


def layers_section(ctx: PaperContext, zone: ZonePlan) -> Section:
    """Return what the record holds of a zone's layers, with covering and pictures."""
    covering = zone.zone.covering
    facts = (
        ctx.fact("covering", ctx.shown("covering", covering.kind) if covering.is_named else None),
        ctx.fact("tile-size", _size(ctx, zone)),
        ctx.fact("joints", None),
    )
    told = layers_table(ctx, zone)
    blocks: tuple[Block, ...] = (*told.blocks, FactList(facts), *_pictures(ctx, zone))
    return Section(told.title, blocks)


def _size(ctx: PaperContext, zone: ZonePlan) -> str | None:
    size_m = zone.zone.covering.size_m
    if size_m is None:
        return None
    return ctx.text("tile-size", one_m=size_m[0], other_m=size_m[1])


def _layer(ctx: PaperContext, zone: ZonePlan, item: LayerPlan) -> Row:
    layer = item.layer
    last = item.last_milestone
    missing = item.finish is None or item.planned
    cells = (
        clean(layer.title),
        ctx.shown("thickness_m", layer.thickness_m) or "",
        _finished(ctx, item),
        "" if layer.existing else _wait(ctx, last),
        "" if layer.existing or missing else _counted(ctx, last),
        "" if layer.existing else _ready(ctx, last),
    )
    told = Presence.MISSING if missing and not layer.existing else Presence.TOLD
    return Row(cells, " ".join(_sheet(ctx, zone, item, last)), told, told_at=2)


def _finished(ctx: PaperContext, item: LayerPlan) -> str:
    if item.layer.existing:
        return ctx.words.text("report.existing")
    if item.planned or item.finish is None:
        return ctx.text("told.missing")
    return ctx.at(item.finish.earliest)


def _wait(ctx: PaperContext, last: MilestonePlan | None) -> str:
    """Return the rated wait that decides a layer's date: the longest of several."""
    if last is None:
        return ctx.text("no-wait")
    # Work that is still planned has a wait, and no clock yet.
    waits = _numbers(last, "needed_s") or _numbers(last, "wait_s")
    if waits:
        return ctx.shown("wait_s", max(waits)) or ""
    return ctx.text("no-wait") if any(step.code == StepCode.NO_WAIT for step in last.steps) else ""


def _counted(ctx: PaperContext, last: MilestonePlan | None) -> str:
    """Return how much of a wait has counted in how much time, once it is over."""
    if last is None or last.window is None or last.window.earliest > ctx.plan.as_of:
        return "" if last is None else ctx.text("counting")
    counted, passed = _numbers(last, "credited_s"), _numbers(last, "passed_s")
    if not counted or not passed:
        return ""
    return ctx.text("counted", credited_s=max(counted), passed_s=max(passed))


def _ready(ctx: PaperContext, last: MilestonePlan | None) -> str:
    if last is None:
        return ""
    if last.window is None:
        return ctx.words.text("report.undated")
    first = ctx.words.at(last.window.earliest)
    if last.window.latest is None:
        return ctx.text("from", first=first)
    latest = ctx.words.at(last.window.latest)
    return first if latest == first else ctx.text("between", first=first, last=latest)


def _sheet(
    ctx: PaperContext, zone: ZonePlan, item: LayerPlan, last: MilestonePlan | None
) -> Iterator[str]:
    """Yield the product with its sheet and lot, and where the wait comes from."""
    layer = item.layer
    if layer.existing:
        return
    sheet = layer.sheet
    yield ctx.text(
        "sheet", product=sheet.name, sheet=ctx.words.source(sheet.source), kind=sheet.kind.value
    )
    lots = [
        entry.lot
        for entry in ctx.facts.of(Done, zone.zone)
        if entry.layer == layer.id and entry.part in {None, layer.part} and entry.lot
    ]
    yield ctx.text("lot", lot=", ".join(lots)) if lots else ctx.text("no-lot")
    if last is not None and last.source != sheet.source:
        yield ctx.text("wait-from", source=ctx.words.source(last.source))
    if cure := final_cure_text(item, ctx.words):
        yield cure


def _numbers(milestone: MilestonePlan, name: str) -> list[float]:
    return [value for step in milestone.steps if isinstance(value := step.params.get(name), float)]


def _pictures(ctx: PaperContext, zone: ZonePlan) -> tuple[Picture, Picture]:
    """Return the timeline and the section of a zone."""
    plan = ctx.plan
    if zone.state is State.IN_SERVICE:
        # Nothing moves any more: drawn as of its last entry, a record is the same on any day.
        plan = replace(plan, as_of=ctx.stamp_at)
    timeline = make_timeline(plan, zone, ctx.log, ctx.words)
    # The timeline beside it gives the answer.
    section = replace(make_section(plan, zone, ctx.words), says="")
    return (
        Picture(timeline_svg(timeline), timeline_in_words(timeline)),
        Picture(section_svg(section), section_in_words(section)),
    )
