"""The record's part about evidence: hold points, moisture tests, inspections, protection, release.

What the log says of each is shown as the log shows it, entry by entry; an entry that does not
count for lack of a signature says so.
"""

from __future__ import annotations

from curecal.papers.blocks import Block, FactList, PaperContext, Presence, Row, Section
from curecal.planning.plan import Hold, HoldState, ZonePlan
from curecal.planning.site_log.authority import evidence_of, gap_message
from curecal.planning.site_log.entry_kinds import kind_of
from curecal.records import names_of
from curecal.trade.hold_codes import HoldCode
from curecal.trade.job import HeatingKind
from curecal.trade.site_log import (
    Connected,
    Continuity,
    Entry,
    Inspection,
    MarkedPoints,
    MoistureTest,
    Protection,
    Release,
    ThermostatSet,
)
from curecal.words.log_entries import parts_of
from curecal.words.sentences import whole
from curecal.words.values import clean

_ENTRIES = (("what", 1.5), ("when", 1.6), ("says", 2.9), ("by", 1.5))
_HOLDS = (("hold-point", 3.2), ("state", 0.9), ("when", 1.6), ("by", 1.5))
# In the order of the work; each with the hold point that wants it.
_KINDS: tuple[tuple[type[Entry], str, HoldCode | None], ...] = (
    (Inspection, "inspection", HoldCode.INSPECTION_BEFORE_CONCEALMENT),
    (MarkedPoints, "test_points", HoldCode.TEST_POINTS),
    (MoistureTest, "moisture", HoldCode.MOISTURE_TEST),
    (Continuity, "continuity", None),
    (Protection, "protection", HoldCode.PROTECTION),
    (ThermostatSet, "thermostat", HoldCode.THERMOSTAT),
    (Connected, "connected", HoldCode.CONNECTION),
    (Release, "release", HoldCode.RELEASE),
)


def evidence_section(ctx: PaperContext, zone: ZonePlan) -> Section:
    """Return the entries of a zone that hold points rest on, and what is still missing."""
    rows: list[Row] = []
    for kind, name, code in _KINDS:
        entries = ctx.facts.of(kind, zone.zone)
        rows += [entry_row(ctx, entry) for entry in entries]
        is_wanted = any(hold.code is code and hold.is_outstanding for hold in zone.holds)
        if is_wanted and not entries:
            what = ctx.entry_name(name)
            cells = (what, "", ctx.text("told.missing"), "")
            rows.append(Row(cells, told=Presence.MISSING, told_at=2))
    blocks: list[Block] = []
    if rows:
        blocks.append(ctx.table(_ENTRIES, rows))
    if zone.zone.heating.kind is HeatingKind.ELECTRIC:
        facts = (
            ctx.fact("certificate", None),
            ctx.fact("permit", None),
            ctx.fact("meter-calibration", None),
            ctx.fact("lock", None),
        )
        blocks.append(FactList(facts))
    return Section(ctx.text("section.evidence"), tuple(blocks))


def holds_section(ctx: PaperContext, zone: ZonePlan) -> Section:
    """Return every hold point of a zone with its state and who met it."""
    by_id = {entry.id: entry for entry in ctx.facts.entries}
    rows = [
        Row(
            (
                whole(ctx.words.hold(hold)).rstrip("."),
                ctx.words.hold_state(hold.state),
                ctx.at(hold.evidence_at),
                _met_by(ctx, hold, by_id.get(hold.evidence or "")),
            ),
            ctx.words.sentence(hold.reason) if hold.reason and hold.is_outstanding else "",
        )
        for hold in zone.holds
    ]
    return Section(ctx.text("section.holds"), (ctx.table(_HOLDS, rows),))


def _met_by(ctx: PaperContext, hold: Hold, entry: Entry | None) -> str:
    if entry is not None:
        return ctx.who(entry)
    # The clocks are nobody's evidence.
    return "" if hold.state is HoldState.NOT_NEEDED else ctx.role(hold.by)


def entry_row(ctx: PaperContext, entry: Entry) -> Row:
    """Return a log entry as a line: what, when, all it says, by whom, and whether it counts."""
    values = {name: getattr(entry, name) for name in names_of(type(entry))}
    said = ", ".join(parts_of(values, ctx.plan.job, ctx.words))
    evidence = evidence_of(entry)
    lacking = ctx.facts.gap(entry)
    below = [
        ctx.words.sentence(gap_message(lacking, entry, evidence)) if lacking and evidence else "",
        ctx.text("with", photo=entry.photo, note=entry.note),
    ]
    return Row(
        (
            ctx.entry_name(kind_of(entry)),
            ctx.at(entry.at),
            clean(said),
            ctx.who(entry),
        ),
        " ".join(text for text in below if text),
    )
