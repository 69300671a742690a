"""Inspections of one layer: which count, and what the newest of them say of a hold point."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from curecal.planning.plan import Hold, HoldState
from curecal.planning.site_log.last_word import newest
from curecal.planning.site_log.log_at_instant import Facts
from curecal.trade.findings import Message
from curecal.trade.hold_codes import Gate, HoldCode
from curecal.trade.job import Layer, Role, Zone
from curecal.trade.site_log import Inspection, Result


def is_good(inspection: Inspection) -> bool:
    """Return whether an inspection says that a layer may stay.

    Rule: R16.
    """
    return inspection.result in {Result.SOUND, Result.PASSED}


def find_counting_inspections(facts: Facts, zone: Zone, layer: Layer) -> tuple[Inspection, ...]:
    """Return the inspections of a layer that count: bad news from anybody, good from who may say.

    That no moisture test is required says nothing of a layer's soundness.

    Rule: R16, R24.
    """
    return tuple(
        inspection
        for inspection in facts.of(Inspection, zone)
        if inspection.layer == layer.id
        and inspection.result is not Result.NOT_REQUIRED
        and facts.counts(inspection)
    )


def inspected_hold(
    code: HoldCode,
    layer: Layer,
    inspections: Sequence[Inspection],
    since: datetime,
    reason: Message,
) -> Hold:
    """Return a hold point on a layer that a person decides: its newest inspections meet or fail it.

    Rule: R15, R17.

    Args:
        inspections: those that count, in order of time.
        since: who looked before that did not know all of it.
    """
    informed = newest([inspection for inspection in inspections if inspection.at >= since])
    state = HoldState.UNMET
    if informed:
        state = HoldState.MET if all(map(is_good, informed)) else HoldState.FAILED
    last = informed[-1] if informed else None
    return Hold(
        code,
        Gate.ENERGIZE,
        Role.CREW_LEAD,
        state,
        layer_id=layer.id,
        evidence=last.id if last else None,
        evidence_at=last.at if last else None,
        reason=reason,
    )
