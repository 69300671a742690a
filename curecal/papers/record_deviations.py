"""The record's part about what went otherwise: stops, warnings, corrections; and the photos."""

from __future__ import annotations

from collections.abc import Iterator

from curecal.papers.blocks import Block, Lines, PaperContext, Presence, Row, Section
from curecal.planning.plan import ZonePlan
from curecal.planning.site_log.entry_kinds import kind_of
from curecal.planning.site_log.lifted_stops import lifted_by
from curecal.records import names_of
from curecal.trade.findings import Severity
from curecal.trade.site_log import Correction, Entry, Remark, Resumed, Stopped
from curecal.words.log_entries import changes_of, parts_of
from curecal.words.sentences import whole
from curecal.words.values import clean

_STOPS = (("stopped", 1.5), ("why", 2.2), ("ended", 3.0))
_CORRECTIONS = (("when", 1.9), ("entry", 2.2), ("correction", 2.2), ("by", 1.4))
_PHOTOS = (("file", 2.0), ("when", 1.5), ("shows", 3.0), ("by", 1.6))
_SHOWN = frozenset({Severity.ERROR, Severity.STOP, Severity.WARNING})


def deviations_section(ctx: PaperContext, zone: ZonePlan) -> Section:
    """Return a zone's stops with how they ended, and what the plan warns of."""
    stops = list(_stops(ctx, zone))
    warnings = tuple(
        f"{whole(ctx.words.name('severity', found.severity.value)).rstrip('.')}: "
        f"{whole(ctx.words.finding(found)[0])}"
        for found in ctx.plan.findings
        if found.zone_id in {None, zone.zone.id} and found.severity in _SHOWN
    )
    blocks: list[Block] = []
    if stops:
        blocks.append(ctx.table(_STOPS, stops))
    if warnings:
        blocks.append(Lines(warnings))
    if not blocks:
        blocks.append(Lines((ctx.text("no-deviations"),)))
    return Section(ctx.text("section.deviations"), tuple(blocks))


def _stops(ctx: PaperContext, zone: ZonePlan) -> Iterator[Row]:
    """Yield every stop with the entry that lifted it, then what lifted an early switch-on."""
    used: list[str] = []
    for stop in ctx.facts.of(Stopped, zone.zone):
        why = ctx.text("stopped-for", cause=stop.cause.value, reason=stop.reason)
        when = ctx.text("at-by", at=ctx.at(stop.at), who=ctx.who(stop))
        ended = lifted_by(ctx.facts, zone.zone, ctx.plan.job.tz, stop, stop.cause)
        if ended is None:
            yield Row((when, why, ctx.text("not-ended")), told=Presence.MISSING, told_at=2)
        else:
            used.append(ended.id)
            yield Row((when, why, _found(ctx, ended)))
    for lift in ctx.facts.of(Resumed, zone.zone):
        if lift.id not in used:
            yield Row(("", ctx.text("other-stop"), _found(ctx, lift)))


def _found(ctx: PaperContext, lift: Resumed) -> str:
    return ctx.text("resumed", at=ctx.at(lift.at), who=ctx.who(lift), found=lift.found)


def corrections_section(ctx: PaperContext) -> Section | None:
    """Return every correction of the log, also of what was withdrawn; None where there is none."""
    known = [entry for entry in ctx.log if max(entry.at, entry.recorded) <= ctx.plan.as_of]
    by_id = {entry.id: entry for entry in known}
    void = {found.correction.id for found in ctx.facts.corrected if not found.counts}
    rows = [
        Row(
            (
                ctx.at(entry.recorded),
                _of(ctx, by_id.get(entry.of), entry.of),
                ctx.text("withdrawn")
                if entry.withdrawn
                else changes_of(entry, ctx.plan.job, ctx.words),
                ctx.who(entry),
            ),
            ctx.text("does-not-count") if entry.id in void else "",
        )
        for entry in sorted(known, key=lambda entry: (entry.recorded, entry.id))
        if isinstance(entry, Correction)
    ]
    if not rows:
        return None
    table = ctx.table(_CORRECTIONS, rows)
    return Section(ctx.text("section.corrections"), (table,))


def _of(ctx: PaperContext, entry: Entry | None, name: str) -> str:
    """Return what a corrected entry said, as it was first written."""
    if entry is None:
        return clean(name)
    what = ctx.entry_name(kind_of(entry))
    if isinstance(entry, Correction):
        return ctx.text("entry-of", what=what, at=ctx.at(entry.at), said=None)
    values = {field: getattr(entry, field) for field in names_of(type(entry))}
    said = ", ".join(parts_of(values, ctx.plan.job, ctx.words))
    return ctx.text("entry-of", what=what, at=ctx.at(entry.at), said=said)


def photos_section(ctx: PaperContext) -> Section | None:
    """Return every photo and file that the log names; None where it names none."""
    rows = list(_photos(ctx))
    if not rows:
        return None
    return Section(ctx.text("section.photos"), (ctx.table(_PHOTOS, rows),))


def _photos(ctx: PaperContext) -> Iterator[Row]:
    for entry in ctx.facts.entries:
        shows = ctx.entry_name(kind_of(entry))
        named = [entry.photo]
        if isinstance(entry, Remark):
            named.append(entry.file)
            shows = clean(entry.text or "")
        for name in named:
            if name:
                yield Row((clean(name), ctx.at(entry.at), shows, ctx.who(entry)))
