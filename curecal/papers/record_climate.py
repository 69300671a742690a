"""The record's part about the climate: what was expected, and every reading there is."""

from __future__ import annotations

import math
from collections.abc import Iterator

from curecal.papers.blocks import Block, Fact, FactList, PaperContext, Row, Section
from curecal.planning.plan import ZonePlan
from curecal.trade.site_log import Kept, Reading, Series

_READINGS = (("when", 1.8), ("where", 2.2), ("temperature", 1.5), ("humidity", 0.9), ("by", 1.6))
_LOGGERS = (
    ("logger", 1.4),
    ("where", 1.0),
    ("readings", 0.9),
    ("first", 1.8),
    ("last", 1.8),
    ("span", 1.8),
)


def climate_section(ctx: PaperContext, zone: ZonePlan) -> Section:
    """Return what the record holds of a zone's climate, measured and expected."""
    readings = list(_readings(ctx, zone))
    loggers = [_logger(ctx, series) for series in ctx.facts.of(Series, zone.zone)]
    blocks: list[Block] = [FactList(tuple(_expected(ctx, zone)))]
    if loggers:
        blocks.append(ctx.table(_LOGGERS, loggers, ctx.text("loggers")))
    if readings:
        blocks.append(ctx.table(_READINGS, readings, ctx.text("readings")))
    return Section(ctx.text("section.climate"), tuple(blocks))


def _expected(ctx: PaperContext, zone: ZonePlan) -> Iterator[Fact]:
    expected = ctx.plan.job.expected
    yield ctx.fact(
        "expected-air",
        ctx.text("climate", air_c=expected.air_c, humidity_rh=expected.humidity),
    )
    coldest = None
    if expected.coldest_c is not None:
        coldest = ctx.text("climate", air_c=expected.coldest_c, humidity_rh=expected.dampest)
    yield ctx.fact("expected-coldest", coldest or ctx.text("by-rule"))
    yield ctx.fact("below", ctx.shown("below", expected.below))
    yield ctx.fact("heated-by", ctx.shown("heated_by", expected.heated_by))
    measured = None
    if zone.energize.window is not None:
        # Down to the percent: what is not measured is not hidden by rounding.
        share = math.floor(zone.energize.measured_share * 100) / 100
        measured = ctx.text("measured", share_fraction=share)
    yield ctx.fact("measured", measured)


def _readings(ctx: PaperContext, zone: ZonePlan) -> Iterator[Row]:
    """Yield looks and signed statements in the order of time."""
    entries: list[Reading | Kept] = [
        *ctx.facts.of(Reading, zone.zone),
        *ctx.facts.of(Kept, zone.zone),
    ]
    for entry in sorted(entries, key=lambda entry: (entry.at, entry.id)):
        if isinstance(entry, Kept):
            span = ctx.text("kept", start=ctx.at(entry.from_at), end=ctx.at(entry.to_at))
            least = ctx.text("at-least", least_c=entry.above_c)
            yield Row((ctx.at(entry.at), span, least, "", ctx.who(entry)))
        else:
            yield _reading(ctx, entry)


def _reading(ctx: PaperContext, entry: Reading) -> Row:
    low = None if entry.low_c is None else ctx.text("low", low_c=entry.low_c)
    where = ctx.text(f"where.{entry.place.value}")
    if entry.heating_on or entry.heating_off:
        where = ctx.text(f"where.heating-{'on' if entry.heating_on else 'off'}", where=where)
    temperature = (ctx.shown("read_c", entry.temperature_c), low)
    return Row(
        (
            ctx.at(entry.at),
            where,
            ", ".join(part for part in temperature if part),
            ctx.shown("humidity_rh", entry.humidity) or "",
            ctx.who(entry),
        )
    )


def _logger(ctx: PaperContext, series: Series) -> Row:
    """Return a logger's file in one line: a year of readings is no table to read."""
    known = [(at, value) for at, value, _ in series.points if at <= ctx.plan.as_of]
    values = [value for _, value in known if value is not None]
    span = ctx.text("span", least_c=min(values), most_c=max(values)) if values else ""
    return Row(
        (
            ctx.shown("device", series.device) or "",
            ctx.text(f"where.{series.place.value}"),
            str(len(known)),
            ctx.at(known[0][0]) if known else "",
            ctx.at(known[-1][0]) if known else "",
            span,
        )
    )
