"""Chiselling in a repair: the instants from which readings and releases count again."""

from __future__ import annotations

from datetime import datetime

from curecal.instants import add
from curecal.planning.first_heat.bare_screed import says_on
from curecal.planning.repair import chiselled
from curecal.planning.zone_context import ZoneContext
from curecal.trade.findings import Finding, Severity
from curecal.trade.job import Layer


def repaired_from(ctx: ZoneContext) -> datetime | None:
    """Return from when a repair is in the floor: what was released before it proves nothing.

    Rule: R18.

    Returns:
        When the first repair layer was done, now where none is; None in a zone without one.
    """
    repairs = [layer.done_at for layer in ctx.zone.layers if layer.repair]
    if not repairs:
        return None
    return min((at for at in repairs if at is not None), default=ctx.facts.as_of)


def find_repaired_warm(ctx: ZoneContext) -> tuple[Finding, ...]:
    """Return a warning for each repair in a floor that was not off for a day before it.

    Rule: R18.
    """
    off_s = ctx.rules.repair.off_s
    found = []
    for laid_at in [_closed_at(ctx, layer) for layer in chiselled(ctx.zone.layers)]:
        since = add(laid_at, -off_s)
        on = [
            entry
            for entry in ctx.facts.entries
            if entry.zone in {None, ctx.zone.id} and says_on(entry) and since < entry.at <= laid_at
        ]
        if on:
            params = {"on_at": on[-1].at, "laid_at": laid_at, "off_s": off_s}
            found.append(ctx.finding(Severity.WARNING, "repaired-warm", on[-1].path, params))
    return tuple(found)


def chiselled_from(ctx: ZoneContext) -> datetime:
    """Return from when a reading can be one after the last chiselling.

    After the first, shortly before its mortar. After one more only its own work tells that it is
    not the reading after the chiselling before.

    Rule: R18.
    """
    repairs = chiselled(ctx.zone.layers)
    last = max(repairs, key=lambda layer: _closed_at(ctx, layer))
    reach_s = ctx.rules.repair.chisel_s if len(repairs) == 1 else last.duration_s or 0.0
    return add(_closed_at(ctx, last), -reach_s)


def _closed_at(ctx: ZoneContext, layer: Layer) -> datetime:
    """Return when what was chiselled open was closed: now where it is not yet."""
    return layer.done_at or ctx.facts.as_of
