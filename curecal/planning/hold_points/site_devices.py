"""Hold points that rest on somebody's words: protection, thermostat, connection.

What is written in words that nobody knows is asked about, and proves nothing: neither that a hold
point is met nor that what met it before is over. Words that may mean a failure are taken as one
more reason to stop.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from enum import StrEnum
from itertools import groupby
from operator import attrgetter
from typing import TypeVar

from curecal.planning.first_heat.first_heat import floor_limit
from curecal.planning.hold_points.protection import read_protection
from curecal.planning.hold_points.thermostat_mode import controls_floor
from curecal.planning.hold_points.trip_test import Tripped, read_trip
from curecal.planning.plan import Hold, HoldState
from curecal.planning.site_log.said import is_licence, listed, may_say, plain, says_no
from curecal.planning.zone_context import Noted as ZoneContext
from curecal.trade.findings import Message, Severity
from curecal.trade.job import Role
from curecal.trade.rules import HoldPoint
from curecal.trade.site_log import Connected, Entry, Protection, ThermostatSet

E = TypeVar("E", bound=Entry)

_NOT_ELECTRICIANS = frozenset({Role.OWNER, Role.CREW_LEAD})
# Unit conversion may leave a last bit: 84.2 °F is 29 °C.
_HAIR_K = 1e-6
# What only asks how something was meant: the last entry that was understood counts on.
_ASKS = frozenset(
    {
        "protection-words",
        "protection-sensitivity",
        "protection-trip-words",
        "protection-again",
        "thermostat-words",
        "connection-leads-words",
    }
)


class Leads(StrEnum):
    """Where the heating leads are, by somebody's words. `DOUBTFUL` may be landed."""

    OFF = "off"
    LANDED = "landed"
    DOUBTFUL = "doubtful"
    UNKNOWN = "unknown"


_LEADS_OFF = (
    r"\b(?:not (?:yet )?(?:landed|connected|terminated)|un(?:landed|connected|terminated)|"
    r"disconnected|capped(?: off)?|wire[- ]?nutted)\b"
)
_ALL_OFF = frozenset({"off"})
_BESIDE_LEADS = listed(
    "on at in the to of from thermostat box breaker off and both all heating leads lead wires are "
    "is still yet taped insulated isolated marked labeled labelled tagged coiled"
)
_ON = r"\b(?:on|landed|connected|terminated|live|energi[sz]ed|wired|joined)\b"


def made_hold(
    point: HoldPoint, state: HoldState, reason: Message, entry: Entry | None = None
) -> Hold:
    """Return a hold point's state with its reason, and the entry it rests on.

    Rule: R24.

    Args:
        point: the hold point.
        state: its state.
        reason: why.
        entry: the entry, if any.

    Returns:
        The hold point as the log leaves it.
    """
    return Hold(
        point.code,
        point.gates,
        point.by,
        state,
        evidence=entry.id if entry else None,
        evidence_at=entry.at if entry else None,
        reason=reason,
    )


def worst(holds: Sequence[Hold], none: Hold) -> Hold:
    """Return the worst of what the entries of one instant say, or the hold point without one.

    Rule: R24.

    Args:
        holds: what each entry makes of the hold point.
        none: what it is without entries.

    Returns:
        One of them.
    """
    order = (HoldState.FAILED, HoldState.UNMET, HoldState.MET)
    return min(holds, key=lambda hold: order.index(hold.state), default=none)


def _last_understood(
    ctx: ZoneContext, entries: Sequence[E], judge: Callable[[E], Hold], none: Hold
) -> Hold:
    """Return what the last entry says whose words are known; note those after it that are not."""
    asked: list[tuple[E, Hold]] = []
    for _, group in groupby(reversed(entries), key=attrgetter("at")):
        judged = [(entry, judge(entry)) for entry in group]
        asked += [pair for pair in judged if _asks(pair[1])]
        understood = [hold for _, hold in judged if not _asks(hold)]
        if understood:
            hold = worst(understood, none)
            if asked and hold.state is HoldState.UNMET:
                break
            _note(ctx, asked)
            return hold
    return asked[0][1] if asked else none


def _note(ctx: ZoneContext, asked: Sequence[tuple[Entry, Hold]]) -> None:
    """Note each question once, however often the hold point is looked at."""
    noted = {(found.code, found.path) for found in ctx.findings}
    questions = [(entry.path, hold.reason) for entry, hold in asked if hold.reason is not None]
    for path, reason in [(path, why) for path, why in questions if (why.code, path) not in noted]:
        ctx.find(Severity.WARNING, reason.code, path, reason.params)


def _asks(hold: Hold) -> bool:
    return hold.reason is not None and hold.reason.code in _ASKS


def protection_hold(ctx: ZoneContext, point: HoldPoint) -> Hold:
    """Return the protection of the circuit: a device, its sensitivity, its trip test.

    Rule: R24, R25.

    Args:
        ctx: the zone; findings are noted on it.
        point: the hold point.

    Returns:
        The hold point as the log leaves it.
    """
    entries = ctx.facts.of(Protection, ctx.zone)
    none = made_hold(point, HoldState.UNMET, Message("protection-none"))
    return _last_understood(ctx, entries, lambda entry: _protected(ctx, point, entry), none)


def _protected(ctx: ZoneContext, point: HoldPoint, entry: Protection) -> Hold:
    """Return what one entry says of the protection."""
    most_a = ctx.rules.electrical.trip_milliampere_count / 1000.0
    most_s = ctx.rules.electrical.trip_s
    trip = read_trip(entry.trip_test, most_a=most_a, most_s=most_s)
    state, code = HoldState.UNMET, _device_fault(entry.type, most_a)
    if trip is Tripped.NO:
        state, code = HoldState.FAILED, "protection-failed"
    elif trip is Tripped.DOUBTFUL and code not in {"protection-which", "protection-coarse"}:
        code = "protection-trip-doubtful"
    elif code is None and not entry.trip_test:
        code = "protection-again" if _was_tested(ctx, entry) else "protection-untested"
    elif code is None and trip is Tripped.UNKNOWN:
        code = "protection-trip-words"
    elif code is None:
        state, code = HoldState.MET, "protection-trips"
    params = {
        "type": entry.type,
        "tested_at": entry.at,
        "most_a": most_a,
        "written": entry.trip_test or "",
    }
    return made_hold(point, state, Message(code, params), entry)


def _device_fault(kind: str, most_a: float) -> str | None:
    """Return why a device is not known to protect people, or None where it is."""
    read = read_protection(kind)
    if not read.known:
        return "protection-which" if read.none else "protection-words"
    if read.trips_a is None:
        return None if read.by_class else "protection-sensitivity"
    return None if 0.0 < read.trips_a <= most_a + 1e-12 else "protection-coarse"


def _was_tested(ctx: ZoneContext, entry: Protection) -> bool:
    """Return whether the same device was logged before with a trip test."""
    before = [each for each in ctx.facts.of(Protection, ctx.zone) if each.at < entry.at]
    return any(plain(each.type) == plain(entry.type) for each in before if each.trip_test)


def thermostat_hold(ctx: ZoneContext, point: HoldPoint) -> Hold:
    """Return the thermostat: the floor's own mode, and its limit.

    Rule: R24.

    Args:
        ctx: the zone; findings are noted on it.
        point: the hold point.

    Returns:
        The hold point as the log leaves it.
    """
    entries = ctx.facts.of(ThermostatSet, ctx.zone)
    none = made_hold(point, HoldState.UNMET, Message("thermostat-none"))
    return _last_understood(ctx, entries, lambda entry: _as_set(ctx, point, entry), none)


def _as_set(ctx: ZoneContext, point: HoldPoint, entry: ThermostatSet) -> Hold:
    """Return what one entry says of the thermostat; a limit stands until another is set."""
    limit_c, _ = floor_limit(ctx.zone, ctx.rules)
    set_c = entry.limit_c if entry.limit_c is not None else _limit_before(ctx, entry)
    params = {"mode": entry.mode, "set_c": set_c, "limit_c": limit_c, "set_at": entry.at}
    by_floor = controls_floor(entry.mode)
    if by_floor is None:
        return made_hold(point, HoldState.UNMET, Message("thermostat-words", params), entry)
    if not by_floor:
        return made_hold(point, HoldState.FAILED, Message("thermostat-air", params), entry)
    if set_c is None:
        return made_hold(point, HoldState.UNMET, Message("thermostat-no-limit", params), entry)
    # Set-points round down in the units people read, so a limit over the floor's is one too many.
    if not set_c <= limit_c + _HAIR_K:
        return made_hold(point, HoldState.FAILED, Message("thermostat-too-high", params), entry)
    return made_hold(point, HoldState.MET, Message("thermostat-set", params), entry)


def _limit_before(ctx: ZoneContext, entry: ThermostatSet) -> float | None:
    """Return the floor's limit as it was set last; one of another mode is not the floor's."""
    told = [
        each
        for each in ctx.facts.of(ThermostatSet, ctx.zone)
        if each.limit_c is not None and each.at <= entry.at
    ]
    last = [each for each in told if each.at == told[-1].at]
    if not all(controls_floor(each.mode) for each in last):
        return None
    return max((each.limit_c for each in last if each.limit_c is not None), default=None)


def connection_hold(ctx: ZoneContext, point: HoldPoint) -> Hold:
    """Return the connection: by whom, with what license, and what is off.

    Rule: R24.

    Args:
        ctx: the zone; findings are noted on it.
        point: the hold point.

    Returns:
        The hold point as the log leaves it.
    """
    entries = ctx.facts.of(Connected, ctx.zone)
    none = made_hold(point, HoldState.UNMET, Message("connection-none"))
    return _last_understood(ctx, entries, lambda entry: _connected(ctx, point, entry), none)


def _connected(ctx: ZoneContext, point: HoldPoint, entry: Connected) -> Hold:
    """Return what one entry says of the connection."""
    leads = read_leads(entry.heating_leads)
    params = {
        "by": entry.by or "",
        "connected_at": entry.at,
        "licence": entry.licence or "",
        "leads": entry.heating_leads or "",
    }
    state = HoldState.UNMET
    if entry.locked is False or entry.tagged is False or leads is Leads.LANDED:
        state, code = HoldState.FAILED, "connection-not-locked"
    elif not may_say(ctx.job.people, entry.by, barred=_NOT_ELECTRICIANS):
        code = "connection-who"
    elif entry.licence and not is_licence(entry.licence):
        code = "connection-unlicensed"
    elif not (entry.licence and entry.locked and entry.tagged and entry.heating_leads):
        code = "connection-incomplete"
    elif leads is Leads.OFF:
        state, code = HoldState.MET, "connection-done"
    else:
        doubtful = leads is Leads.DOUBTFUL
        code = "connection-leads-doubtful" if doubtful else "connection-leads-words"
    return made_hold(point, state, Message(code, params), entry)


def read_leads(text: str | None) -> Leads:
    """Return where the heating leads are, by somebody's words.

    Rule: R24.

    Args:
        text: as written: "not landed", "capped, not landed on the thermostat".

    Returns:
        Off the thermostat, on it, or that the words do not say.
    """
    said = plain(text)
    rest, off = re.subn(_LEADS_OFF, " ", said)
    words = set(re.findall(r"[^\W_]+", rest))
    if not off and "landed" in words and words <= _BESIDE_LEADS | {"landed"}:
        return Leads.LANDED
    if said in _ALL_OFF or (off and words <= _BESIDE_LEADS and "?" not in said):
        return Leads.OFF
    return Leads.DOUBTFUL if re.search(_ON, rest) or says_no(rest) else Leads.UNKNOWN
