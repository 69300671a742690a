"""What there is to say of a zone's date: why, since when, until when, who is told what."""

from __future__ import annotations

import math

from curecal.instants import Window
from curecal.planning.plan import Governing, Plan, State, ZonePlan
from curecal.trade.findings import Message
from curecal.trade.rules import RuleId
from curecal.trade.sources import Basis
from curecal.units import show_temperature
from curecal.words.report.headline import headline, is_overdue, todays_setting
from curecal.words.report.visit_lines import switch_on_at
from curecal.words.sentences import Words

# Its title says no more than the wait beside it.
FactLine = tuple[str, str, str]
"""A label's key, what stands beside it, and its style."""


def zone_facts(zone: ZonePlan, plan: Plan, words: Words, shown: set[str] | None) -> list[FactLine]:
    """Return what there is to say of a zone's date.

    Args:
        zone: the zone.
        plan: its plan.
        words: language and units.
        shown: the sources already shown for other zones; None for the short form, which leaves
            out sources, what the two ends rest on, and how much was measured.
    """
    facts: list[FactLine] = []
    # The first line tells it of one zone only.
    if zone.state is State.HEATING_UP and len(plan.zones) > 1:
        params = {"setting": todays_setting(zone, plan, words)}
        facts.append(("today", words.text("report.today-at-most", params), ""))
    if zone.why.code != zone.state.own_reason and not _is_in_headline(zone.why, plan, words):
        facts.append(("why", words.sentence(zone.why), ""))
    if is_overdue(zone, plan):
        facts.append(("do", words.text("report.log-steps"), ""))
    if remedy := words.remedy(zone.why):
        facts.append(("do", remedy, ""))
    blocked = zone.energize.blocked
    if blocked is not None and blocked != zone.why:
        if not _is_in_headline(blocked, plan, words):
            facts.append(("blocked", words.sentence(blocked), "bad"))
        if remedy := words.remedy(blocked):
            facts.append(("do", remedy, ""))
    facts += _waiting_for(zone, words, shown)
    facts += _dates(zone, plan, words, full=shown is not None)
    if zone.room_order is not None:
        order = zone.room_order
        temperature = show_temperature(order.at_least_c, words.reader.units.value)
        room = {"least": temperature, "until_at": order.until, "heated_by": order.heated_by}
        facts.append(("room", words.text("report.room-order", room), ""))
    return facts


def remedies_shown(zone: ZonePlan, words: Words) -> set[str]:
    """Return what a zone's facts say is to be done about what keeps it off."""
    reasons = (zone.why, zone.energize.blocked)
    return {words.remedy(reason) for reason in reasons if reason is not None}


def _is_in_headline(reason: Message, plan: Plan, words: Words) -> bool:
    """Return whether the first line, which is about the only zone, gives this reason."""
    said = words.message(reason).rstrip(". ")
    return len(plan.zones) == 1 and said in headline(plan, words)


def _waiting_for(zone: ZonePlan, words: Words, shown: set[str] | None) -> list[FactLine]:
    """Return which layer a zone waits for, how long, and where that number comes from."""
    energize = zone.energize
    governed = energize.governed_by
    if governed is None or zone.is_released:
        return []
    fallback = energize.source is not None and energize.source.basis is Basis.FALLBACK
    wait_s = _wait_s(zone, governed)
    params = {
        "layer": governed.layer_name,
        "rule": None if governed.rule == RuleId.OWN_WAITS else words.rule(governed.rule),
        "wait_s": wait_s,
    }
    text = words.text(f"report.waiting{'-fallback' if fallback else ''}", params)
    facts = [("governs", text, "")]
    if energize.source is not None and not fallback and shown is not None:
        source = words.source(energize.source)
        if source not in shown:
            facts.append(("source", source, "dim"))
        shown.add(source)
    return facts


def _wait_s(zone: ZonePlan, governed: Governing) -> float | None:
    """Return the rated wait behind a zone's date [s]; None where it is no plain wait."""
    waits = [
        wait_s
        for layer in zone.layers
        if layer.layer.id == governed.layer_id and governed.milestone in layer.milestones
        for step in layer.milestones[governed.milestone].steps
        if isinstance(wait_s := step.params.get("wait_s"), float)
    ]
    return waits[0] if len(waits) == 1 else None


def _dates(zone: ZonePlan, plan: Plan, words: Words, *, full: bool) -> list[FactLine]:
    energize = zone.energize
    window = energize.window
    facts: list[FactLine] = []
    if zone.state in {State.IN_SERVICE, State.HEATING_UP}:
        return facts
    if window is not None:
        facts += _ends(window, plan, words, full=full)
    if energize.start_on is not None and zone.state is not State.STOPPED:
        key = "start-released" if zone.is_released else "start"
        start = {
            "start_at": switch_on_at(zone, plan, energize.start_on),
            "by": words.person(zone.first_switched_on_by.value),
        }
        facts.append(("start", words.text(f"report.{key}-on", start), ""))
    if zone.state is not State.RELEASED:
        dated = energize.owner_date is not None and zone.state is not State.STOPPED
        key = "owner-date" if dated else "owner-none"
        told = words.text(f"report.{key}", {"owner_on": energize.owner_date})
        facts.append(("owner", told, ""))
    if full and window is not None and not zone.is_released:
        past = window.latest is not None and window.latest <= plan.as_of
        key = "measured" if not energize.provisional else "assumed" if past else "provisional"
        # Down to the percent: what is not measured is never hidden by rounding.
        share = {"measured_fraction": math.floor(energize.measured_share * 100) / 100}
        facts.append(("measured-label", words.text(f"report.{key}", share), ""))
    return facts


def _ends(window: Window, plan: Plan, words: Words, *, full: bool) -> list[FactLine]:
    """Return the two ends of a date: what is past has cured, what is ahead has not."""
    air_c = plan.job.expected.air_c
    params = {"air_c": air_c, "earliest_at": window.earliest, "latest_at": window.latest}
    latest_at = window.latest
    if latest_at is not None and latest_at <= plan.as_of:
        same = latest_at == window.earliest
        text = words.at(latest_at) if same else words.text("report.cured-by", params)
        return [("cured", text, "")]
    if latest_at == window.earliest:
        return [("earliest", words.text("report.earliest-both", params), "")]
    if not full:
        text = words.text(f"report.ends-{'two' if latest_at else 'one'}", params)
        return [("cured", text, "" if latest_at else "warn")]
    key = "earliest-past" if window.earliest <= plan.as_of else "earliest-at"
    latest = words.text(f"report.latest-{'at' if latest_at else 'none'}", params)
    return [
        ("earliest", words.text(f"report.{key}", params), ""),
        ("latest", latest, "" if latest_at else "warn"),
    ]
