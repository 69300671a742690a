"""The record's part about the first heat: as planned, and as it was run."""

from __future__ import annotations

from curecal.papers.blocks import Block, Lines, PaperContext, Presence, Row, Section
from curecal.papers.record_evidence import entry_row
from curecal.planning.plan import HeatUp, State, ZonePlan
from curecal.trade.site_log import Energized, HeatStep, Reading

_PLANNED = (("from-day", 2.0), ("set-floor", 2.0), ("for-days", 1.0))
_RUN = (("what", 1.5), ("when", 1.6), ("says", 2.9), ("by", 1.5))


def heat_up_section(ctx: PaperContext, zone: ZonePlan) -> Section:
    """Return the set-points of a zone's heat-ups, and what the log says of them."""
    blocks: list[Block] = []
    for heat_up in zone.heat_ups:
        blocks += _planned(ctx, zone, heat_up)
    entries = [
        *ctx.facts.of(Energized, zone.zone),
        *ctx.facts.of(HeatStep, zone.zone),
        *(entry for entry in ctx.facts.of(Reading, zone.zone) if entry.is_floor_on),
    ]
    rows = [
        entry_row(ctx, entry) for entry in sorted(entries, key=lambda entry: (entry.at, entry.id))
    ]
    if not rows:
        told = Presence.MISSING if zone.is_released else Presence.NOT_RECORDED
        rows = [ctx.unrecorded(len(_RUN), ctx.entry_name("energized"), told)]
    blocks.append(ctx.table(_RUN, rows, ctx.text("heat-up-run")))
    return Section(ctx.text("section.heat-up"), tuple(blocks))


def _planned(ctx: PaperContext, zone: ZonePlan, heat_up: HeatUp) -> list[Block]:
    rows = [
        Row((ctx.words.day(step.on), setting, ctx.text("days", count=step.hold_days)))
        for step, setting in zip(heat_up.steps, ctx.words.settings(heat_up), strict=True)
    ]
    title = ctx.text("heat-up-planned", purpose=ctx.words.name("purpose", heat_up.purpose))
    lines = [
        ctx.words.text(
            "report.limit",
            {"limit_c": heat_up.limit_c, "from": ctx.words.message(heat_up.limit_from)},
        )
    ]
    if zone.state is not State.IN_SERVICE and heat_up.provisional and not zone.is_released:
        lines.append(ctx.words.condition(heat_up))
    return [ctx.table(_PLANNED, rows, title), Lines(tuple(lines))] if rows else []
