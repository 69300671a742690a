"""A floor under repair: which zone is one, and from when what is recorded counts."""

from __future__ import annotations

from datetime import datetime

from curecal.instants import add
from curecal.planning.first_heat.bare_screed import says_on
from curecal.planning.zone_context import Desk
from curecal.trade.findings import Severity


def is_repair(desk: Desk) -> bool:
    """Return whether a zone is a finished floor under repair.

    A repair in a floor that is still being built is not, nor is one in a floor of which nothing
    was there before: all its own hold points stand.

    Rule: R18.

    Args:
        desk: the zone on the desk.

    Returns:
        True where every new layer is a repair, there is one, and something was there before.
    """
    fresh = [layer.repair for layer in desk.zone.layers if not layer.existing]
    was_there = len(fresh) < len(desk.zone.layers)
    return was_there and bool(fresh) and all(fresh)


def repaired_from(desk: Desk) -> datetime | None:
    """Return from when a repair is in the floor: what was recorded before it proves nothing.

    Rule: R18.

    Args:
        desk: the zone on the desk.

    Returns:
        When the first repair layer was done, now where none is; None in a zone without one.
    """
    repairs = [layer.done_at for layer in desk.zone.layers if layer.repair and not layer.existing]
    if not repairs:
        return None
    return min((at for at in repairs if at is not None), default=desk.facts.as_of)


def repaired_warm(desk: Desk) -> None:
    """Note a repair in a floor that was not off for a day before it.

    Rule: R18.

    Args:
        desk: the zone on the desk; the finding is noted on it.
    """
    first = repaired_from(desk)
    if first is None:
        return
    off_s = desk.rules.number("R18", "off_s")
    since = add(first, -off_s)
    on = [
        entry
        for entry in desk.facts.entries
        if entry.zone in {None, desk.zone.id} and says_on(entry) and since < entry.at <= first
    ]
    if not on:
        return
    params = {"on_at": on[-1].at, "laid_at": first, "off_s": off_s}
    desk.find(Severity.WARNING, "repaired-warm", on[-1].path, params)


def chiselled_from(desk: Desk) -> datetime:
    """Return from when a reading can be one after the chiselling: shortly before the mortar.

    Rule: R18.

    Args:
        desk: the zone on the desk.

    Returns:
        An instant.
    """
    first = repaired_from(desk) or desk.facts.as_of
    return add(first, -desk.rules.number("R18", "chisel_s"))
