"""Frost before a layer hardened, and cold while it was laid: where its clocks start after it.

Only what was measured moves a start; an assumed climate only gives no credit.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime

from curecal.instants import Window, add
from curecal.planning.climate.pieces import merge_spans
from curecal.planning.climate.zone_climate import ColdReading, End
from curecal.planning.curing.clocks import Clocks
from curecal.planning.curing.layer_inspections import (
    find_counting_inspections,
    inspected_hold,
    is_good,
)
from curecal.planning.curing.rate_laws import choose_rate
from curecal.planning.plan import Hold, Step
from curecal.planning.site_log.last_word import lifts, newest
from curecal.planning.site_log.log_at_instant import Facts
from curecal.planning.tolerances import HAIR_S
from curecal.records import Record, record
from curecal.trade.data_sheets import FixedWait, Hardening, Wait
from curecal.trade.findings import Finding, Message, Params, Severity
from curecal.trade.hold_codes import HoldCode
from curecal.trade.job import Layer, Zone
from curecal.trade.site_log import Inspection, Result

LatestEnd = Callable[[Window], datetime | None]
"""From a start of a layer's clocks, the latest end of some of its waits; None for no end."""


@record
class ClockStart(Record):
    """Where a done layer's clocks run from, after what the site did to it.

    `window` is None while a person has to decide; `blocked` says what.
    """

    window: Window | None
    blocked: Message | None = None
    steps: tuple[Step, ...] = ()
    findings: tuple[Finding, ...] = ()
    holds: tuple[Hold, ...] = ()


@record
class _Layer(Record):
    """A done layer with what it is asked against: clocks, inspections that count, the job."""

    zone: Zone
    layer: Layer
    done_at: datetime
    clocks: Clocks
    inspections: tuple[Inspection, ...]
    last_end: LatestEnd
    cover_end: LatestEnd

    def finding(self, severity: Severity, code: str, params: Params) -> Finding:
        """Return a finding about this layer."""
        return Finding(severity, code, self.layer.path, params, self.zone.id, self.layer.id)


def find_clock_start(
    zone: Zone,
    layer: Layer,
    done_at: datetime,
    clocks: Clocks,
    facts: Facts,
    *,
    last_end: LatestEnd,
    cover_end: LatestEnd,
) -> ClockStart:
    """Return where a layer's clocks start, once frost and cold are reckoned with.

    Frost on a vulnerable layer leaves no date until an inspection names the layer: `sound`
    restarts its clock at the thaw; anything else waits for a new layer. Who looked before the last
    of the frost was read did not know of it. A good word counts with a name, but not the owner's;
    a layer that failed an inspection has no date either until the crew lead, the electrician or
    who found that finds it sound.

    Rule: R16, R17.

    Args:
        done_at: when the layer was finished.
        last_end: of all the layer's milestones.
        cover_end: of what lets it be covered.
    """
    counting = find_counting_inspections(facts, zone, layer)
    since = [inspection for inspection in counting if inspection.at >= done_at]
    replaced = next((look for look in since if look.result is Result.REPLACE), None)
    if replaced is not None:
        # Given up for good: no good word brings that layer back, only a new one does.
        message = Message("replace-layer", {"layer": layer.name, "seen_at": replaced.at})
        return ClockStart(None, message)
    here = _Layer(zone, layer, done_at, clocks, counting, last_end, cover_end)
    # Cold while it was laid is told of a layer that failed, too: it may be why.
    holds, cold = _cold_at_application(here)
    failed = _standing_failure(since)
    if failed is not None:
        params = {"layer": layer.name, "seen_at": failed.at, "by": failed.by or ""}
        found = Finding(Severity.STOP, "layer-failed", failed.path, params, zone.id, layer.id)
        message = Message("layer-failed", params)
        return ClockStart(None, message, findings=(found, *cold), holds=holds)
    thawed = _start_after_frosts(here)
    if thawed.window is None or not (holds or cold):
        # The frost decides alone: nobody asks the maker about a layer that may come out.
        return thawed
    return replace(thawed, findings=(*thawed.findings, *cold), holds=holds)


def _start_after_frosts(here: _Layer) -> ClockStart:
    """Return where the clocks start after each frost in turn, or the first nobody answered."""
    start = here.done_at
    findings: list[Finding] = []
    steps: list[Step] = []
    climate, rules = here.clocks.climate, here.clocks.rules
    for frost_s in climate.frost:
        # The stretch may begin before anything was laid.
        frozen_at, thawed_at = (climate.instant(max(edge_s, 0.0)) for edge_s in frost_s)
        # One cold reading at the very finish is a stretch without length, and counts.
        is_at_start = frozen_at == thawed_at == start
        if thawed_at <= start and not is_at_start:
            continue
        begun = max(frozen_at, start)
        read = [
            cold
            for cold in climate.cold_readings
            if cold.freezing and _within(cold, frost_s) and climate.instant(cold.at_s) >= begun
        ]
        params = {"layer": here.layer.name, "frozen_at": begun}
        if read:
            # What was read is told, at its own instant: the stretch begins at the reading before.
            params |= {"frozen_at": climate.instant(read[0].at_s), "read_c": read[0].read_c}
        until = _vulnerable_until(here, start)
        if until is not None and frozen_at >= until:
            findings.append(here.finding(Severity.WARNING, "frost-after-hardening", params))
            continue
        known_at = climate.instant(read[-1].at_s) if read else begun
        informed = newest([look for look in here.inspections if look.at >= max(known_at, begun)])
        if not informed or not all(is_good(look) for look in informed):
            findings.append(here.finding(Severity.STOP, "frost", params))
            return ClockStart(None, Message("frost", params), tuple(steps), tuple(findings))
        # A frost that was still on when somebody looked has thawed by that look at the latest.
        start = max(start, min(thawed_at, informed[-1].at))
        restart = {
            "layer": here.layer.name,
            "frozen_at": params["frozen_at"],
            "thawed_at": start,
        }
        steps.append(Step("frost-restart", "R16", rules.source("R16"), restart))
    return ClockStart(Window(start, start), None, tuple(steps), tuple(findings))


def _standing_failure(inspections: Sequence[Inspection]) -> Inspection | None:
    """Return the last inspection a layer failed, until somebody whose word counts lifts it."""
    failed = [look for look in inspections if look.result is Result.FAILED]
    if not failed:
        return None
    lifted = any(lifts(look, failed[-1]) for look in inspections)
    return None if lifted else failed[-1]


def _within(cold: ColdReading, span_s: tuple[float, float]) -> bool:
    """Return whether a reading lies in a stretch; one that ends it may miss it by a last bit."""
    return span_s[0] - HAIR_S <= cold.at_s <= span_s[1] + HAIR_S


def _vulnerable_until(here: _Layer, start: datetime) -> datetime | None:
    """Return until when frost harms a layer; None for as long as the climate reaches."""
    sheet, rules = here.layer.sheet, here.clocks.rules
    match sheet.hardens_by:
        case Hardening.CEMENT:
            wait = Wait(
                FixedWait(sheet.frost_age_s),
                rules.source("R16"),
                sheet.rated_c,
                sheet.rated_rh,
                Hardening.CEMENT,
            )
            rate, age_s = choose_rate(wait, sheet, sheet.frost_age_s)
            # Where nobody measured it may have hardened slowly: its age at the coldest counts.
            return here.clocks.of(rate).reach(End.LATEST, start, age_s)
        case Hardening.DRYING:
            # Water that is still in it can freeze until the last of it may be out.
            return here.last_end(Window(start, start))
        case _:
            # A resin loses credit only; what is hard at once has nothing to lose.
            return start


def _cold_at_application(here: _Layer) -> tuple[tuple[Hold, ...], tuple[Finding, ...]]:
    """Return the hold and the warning for a measured temperature below the minimum."""
    layer, climate = here.layer, here.clocks.climate
    minimum_c = layer.sheet.minimum_c
    # Cold spoils no board, and a joint that it spoils keeps no floor off.
    if layer.sheet.hardens_by is Hardening.AT_ONCE or not layer.sheet.puts_off_heat:
        return (), ()
    if not any(piece.lowest < minimum_c for piece in climate.bed):
        return (), ()
    begun_s = climate.seconds(add(here.done_at, -(layer.duration_s or 0.0)))
    covered_at = here.cover_end(Window(here.done_at, here.done_at))
    until_s = float("inf") if covered_at is None else climate.seconds(covered_at)
    found = [piece.find_dip(minimum_c, begun_s, until_s) for piece in climate.bed]
    dips = [dip for dip in found if dip is not None]
    if not dips:
        return (), ()
    spans = merge_spans(span for dip in dips for span in dip.spans)
    read_at = [
        climate.instant(max(cold.at_s, 0.0))
        for cold in climate.cold_readings
        if cold.bed_c < minimum_c and any(_within(cold, span) for span in spans)
    ]
    first_at = climate.instant(max(spans[0][0], begun_s, 0.0))
    params = {
        "layer": layer.name,
        "bed_c": min(dip.lowest for dip in dips),
        "minimum_c": minimum_c,
        # The stretch begins at the reading before; what was read is told at its own instant.
        "cold_at": max(first_at, min(read_at, default=first_at)),
    }
    # Somebody who answered before it was last read so cold did not know all of it.
    last_at = max([first_at, climate.instant(dips[-1].last_s), *read_at])
    reason = Message("cold-at-application", params)
    hold = inspected_hold(HoldCode.ASK_THE_MAKER, layer, here.inspections, last_at, reason)
    return (hold,), (here.finding(Severity.WARNING, "cold-at-application", params),)
