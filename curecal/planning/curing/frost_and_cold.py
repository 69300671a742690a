"""What the site did to a fresh layer: frost before it hardened, cold while it was laid.

Only measured facts do harm; an assumed climate only gives no credit.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime

from curecal.instants import Window, add
from curecal.planning.climate.intervals import merged
from curecal.planning.climate.zone_climate import Cold, End
from curecal.planning.curing.clocks import Clocks
from curecal.planning.curing.rate_laws import rate_of
from curecal.planning.plan import Hold, HoldState, Step
from curecal.planning.site_log.authority import lifts, newest
from curecal.planning.site_log.log_at_instant import Facts
from curecal.records import Record, record
from curecal.trade.data_sheets import FixedWait, Hardening, Wait
from curecal.trade.findings import Finding, Message, Severity
from curecal.trade.hold_codes import Gate, HoldCode
from curecal.trade.job import Layer, Zone
from curecal.trade.rules import Rules
from curecal.trade.site_log import Inspection, Result

LastDue = Callable[[Window], datetime | None]
# A stretch that a reading ends may miss it by a float's last bit.
_HAIR_S = 1e-3


@record
class Start(Record):
    """Where a done layer's clocks run from, after what the site did to it.

    `window` is None while a person has to decide; `blocked` says what.
    """

    window: Window | None
    blocked: Message | None = None
    steps: tuple[Step, ...] = ()
    findings: tuple[Finding, ...] = ()
    holds: tuple[Hold, ...] = ()


def start_after_harm(
    zone: Zone,
    layer: Layer,
    done_at: datetime,
    clocks: Clocks,
    facts: Facts,
    *,
    last_due: LastDue,
    cover_due: LastDue,
) -> Start:
    """Return where a layer's clocks start, once frost and cold are reckoned with.

    Frost on a vulnerable layer leaves no date until an inspection names the layer: `sound`
    restarts its clock at the thaw; anything else waits for a new layer. Who looked before the last
    of the frost was read did not know of it. A good word counts with a name, but not the owner's;
    a layer that failed an inspection has no date either until the crew lead, the electrician or
    who found that finds it sound.

    Rule: R16, R17.

    Args:
        zone: the layer's zone.
        layer: the layer, done.
        done_at: when it was done.
        clocks: the zone's clocks.
        facts: the log as it stood.
        last_due: from a start, the latest end of the layer's last milestone, or None.
        cover_due: from a start, the latest end of its cover milestone, or None.

    Returns:
        The start, with findings, holds and steps.
    """
    looks = [
        look for look in facts.of(Inspection, zone) if look.layer == layer.id and facts.counts(look)
    ]
    since = [look for look in looks if look.at >= done_at]
    replaced = next((look for look in since if look.result is Result.REPLACE), None)
    if replaced is not None:
        message = Message("replace-layer", {"layer": layer.name, "seen_at": replaced.at})
        return Start(None, message)
    holds, cold = _cold(zone, layer, done_at, clocks, looks, cover_due)
    failed = _failed(since)
    if failed is not None:
        params = {"layer": layer.name, "seen_at": failed.at, "by": failed.by or ""}
        found = Finding(Severity.STOP, "layer-failed", failed.path, params, zone.id, layer.id)
        return Start(None, Message("layer-failed", params), findings=(found, *cold), holds=holds)
    start = done_at
    findings: list[Finding] = []
    steps: list[Step] = []
    rules = clocks.rules
    for frost_s in clocks.climate.frost:
        frozen_at, thawed_at = (clocks.climate.instant(max(edge, 0.0)) for edge in frost_s)
        if thawed_at <= start and not frozen_at == thawed_at == start:
            continue
        begun = max(frozen_at, start)
        late = [
            read
            for read in clocks.climate.seen
            if read.freezing
            and _within(read, frost_s)
            and clocks.climate.instant(read.at_s) >= begun
        ]
        params = {"layer": layer.name, "frozen_at": begun}
        if late:
            # What was read is told, at its own instant: the stretch begins at the look before.
            params |= {
                "frozen_at": clocks.climate.instant(late[0].at_s),
                "read_c": late[0].read_c,
            }
        until = _vulnerable_until(layer, start, clocks, rules, last_due)
        if until is not None and frozen_at >= until:
            code = "frost-after-hardening"
            findings.append(Finding(Severity.WARNING, code, layer.path, params, zone.id, layer.id))
            continue
        known_at = clocks.climate.instant(late[-1].at_s) if late else begun
        knew = newest([look for look in looks if look.at >= max(known_at, begun)])
        if not knew or not all(_is_good(look) for look in knew):
            findings.append(Finding(Severity.STOP, "frost", layer.path, params, zone.id, layer.id))
            return Start(None, Message("frost", params), tuple(steps), tuple(findings))
        look = knew[-1]
        # A frost that was still on when somebody looked has thawed by that look at the latest.
        start = max(start, min(thawed_at, look.at))
        restart = {"layer": layer.name, "frozen_at": params["frozen_at"], "thawed_at": start}
        steps.append(Step("frost-restart", "R16", rules.source("R16"), restart))
    return Start(Window(start, start), None, tuple(steps), (*findings, *cold), holds)


def _failed(looks: Sequence[Inspection]) -> Inspection | None:
    """Return the last inspection a layer failed, until somebody whose word counts lifts it."""
    failed = [look for look in looks if look.result is Result.FAILED]
    if not failed:
        return None
    lifted = any(lifts(look, failed[-1]) for look in looks)
    return None if lifted else failed[-1]


def _is_good(look: Inspection) -> bool:
    return look.result in {Result.SOUND, Result.PASSED}


def _within(cold: Cold, span_s: tuple[float, float]) -> bool:
    return span_s[0] - _HAIR_S <= cold.at_s <= span_s[1] + _HAIR_S


def _vulnerable_until(
    layer: Layer, start: datetime, clocks: Clocks, rules: Rules, last_due: LastDue
) -> datetime | None:
    """Return until when frost harms a layer; None for as long as the climate reaches."""
    sheet = layer.sheet
    match sheet.hardens_by:
        case Hardening.CEMENT:
            wait = Wait(
                FixedWait(sheet.frost_age_s),
                rules.source("R16"),
                sheet.rated_c,
                sheet.rated_rh,
                Hardening.CEMENT,
            )
            rate, age_s = rate_of(wait, sheet, sheet.frost_age_s)
            return clocks.reach(rate, End.LATEST, start, age_s)
        case Hardening.DRYING:
            return last_due(Window(start, start))
        case _:
            # A resin loses credit only; what is hard at once has nothing to lose.
            return start


def _cold(
    zone: Zone,
    layer: Layer,
    done_at: datetime,
    clocks: Clocks,
    looks: Sequence[Inspection],
    cover_due: LastDue,
) -> tuple[tuple[Hold, ...], tuple[Finding, ...]]:
    """Return the hold and the warning for a measured temperature below the minimum."""
    sheet = layer.sheet
    if sheet.hardens_by is Hardening.AT_ONCE:
        return (), ()
    begun_s = clocks.climate.seconds(add(done_at, -(layer.duration_s or 0.0)))
    early = cover_due(Window(done_at, done_at))
    until_s = float("inf") if early is None else clocks.climate.seconds(early)
    dips = [
        piece
        for piece in clocks.climate.bed
        if piece.start_s <= until_s
        and piece.end_s >= begun_s
        and min(piece.start, piece.end) < sheet.minimum_c
    ]
    if not dips:
        return (), ()
    coldest = min(dips, key=lambda piece: min(piece.start, piece.end))
    spans = merged((piece.start_s, piece.end_s) for piece in dips)
    read_at = [
        clocks.climate.instant(max(cold.at_s, 0.0))
        for cold in clocks.climate.seen
        if cold.bed_c < sheet.minimum_c and any(_within(cold, span) for span in spans)
    ]
    first_at = clocks.climate.instant(max(dips[0].start_s, begun_s, 0.0))
    params = {
        "layer": layer.name,
        "bed_c": min(coldest.start, coldest.end),
        "minimum_c": sheet.minimum_c,
        # The stretch begins at the look before; what was read is told at its own instant.
        "cold_at": max(first_at, min(read_at, default=first_at)),
    }
    # Somebody who answered before it was last read so cold did not know all of it.
    last_at = max([first_at, clocks.climate.instant(dips[-1].start_s), *read_at])
    knew = newest([look for look in looks if look.at >= last_at])
    state = HoldState.UNMET
    if knew:
        good = all(_is_good(look) for look in knew)
        state = HoldState.MET if good else HoldState.FAILED
    look = knew[-1] if knew else None
    hold = Hold(
        HoldCode.ASK_THE_MAKER,
        Gate.ENERGIZE,
        "crew_lead",
        state,
        layer_id=layer.id,
        evidence=look.id if look else None,
        evidence_at=look.at if look else None,
        reason=Message("cold-at-application", params),
    )
    finding = Finding(
        Severity.WARNING, "cold-at-application", layer.path, params, zone.id, layer.id
    )
    return (hold,), (finding,)
