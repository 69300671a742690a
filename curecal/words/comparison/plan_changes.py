"""What moved, in words: the new date first, then because of what, then what moves with it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from curecal.instants import add
from curecal.planning.comparison.attribution import ShiftCause
from curecal.planning.comparison.date_shifts import LEAST_S, Shift
from curecal.planning.comparison.plan_comparison import (
    HoldChange,
    PlanComparison,
    VisitShift,
    ZoneComparison,
)
from curecal.planning.comparison.plan_snapshot import Decider, Ends
from curecal.trade.findings import Message
from curecal.units import show_duration
from curecal.words.layout import NARROWEST, Line, TextRun, bullet, paragraph
from curecal.words.sentences import Words
from curecal.words.values import clean

_MOST_CAUSES = 5
_MOST_LAYERS = 5
_MOST_HOLDS = 5
_DAY_S, _IN_HOURS_BELOW_S = 86400.0, 172800.0
_MINUTE = timedelta(minutes=1)


def with_moved(
    lines: Sequence[Line], moved: PlanComparison, words: Words, width: int
) -> list[Line]:
    """Return a report with what moved right after its answer, the first paragraph."""
    answer = list(lines).index(()) if () in lines else len(lines)
    return [*lines[:answer], (), *moved_lines(moved, words, width), *lines[answer:]]


def moved_lines(moved: PlanComparison, words: Words, width: int) -> list[Line]:
    """Return what moved in lines no wider than `width`.

    Args:
        moved: what moved.
        words: language and units.
        width: columns, at least 40.

    Returns:
        Lines of styled segments.
    """
    width = max(width, NARROWEST)
    zones = [zone for zone in moved.zones if zone.has_changed]
    since = {"since_at": moved.since}
    unseen = paragraph(words.text("moved.by-log"), width, style="dim") if moved.by_log else []
    if not (zones or moved.new_zones or moved.gone_zones or moved.visits):
        return [*paragraph(words.text("moved.nothing", since), width, style="dim"), *unseen]
    lines: list[Line] = [(TextRun(words.text("moved.title", since), "head"),)]
    for zone in zones:
        lines += _zone(zone, words, width)
    for key, those in (("new", moved.new_zones), ("gone", moved.gone_zones)):
        for told in those:
            text = words.text(f"moved.zone-{key}", {"zone": told.name})
            lines += paragraph(text, width, indent=2)
    for visit in moved.visits:
        lines += bullet(_visit(visit, words), width)
    return [*lines, *unseen]


def _zone(zone: ZoneComparison, words: Words, width: int) -> list[Line]:
    lines = paragraph(_date(zone, words), width, indent=2, style=_style(zone.energize))
    for text in _told(zone, words):
        lines += paragraph(text, width, indent=4)
    lines += _causes(_adding_up(zone), words, width)
    for text in (*_layers(zone, words), *_holds(zone, words)):
        lines += bullet(text, width, indent=4)
    return lines


def _causes(causes: Sequence[ShiftCause], words: Words, width: int) -> list[Line]:
    """Return the causes that moved the zone's date most, in the order they came in.

    Why a date may come nearer is said once of all that it is said of.
    """
    told = sorted(causes, key=_weight, reverse=True)[:_MOST_CAUSES]
    if any(_weight(cause) > 0.0 for cause in told):
        told = [cause for cause in told if _weight(cause) > 0.0]
    lines: list[Line] = []
    said: list[Message] = []
    for cause in causes:
        if cause not in told:
            continue
        params = {"what": moved_what(cause, words), "share": _share(cause, words)}
        lines += bullet(words.text("moved.because", params), width, indent=4)
        if cause.may is not None and cause.may not in said:
            said.append(cause.may)
            text = words.text("moved.may", {"why": cause.may})
            lines += bullet(text, width, indent=6, mark="> ")
    if len(causes) > len(told):
        text = words.text("moved.causes-more", {"count": len(causes) - len(told)})
        lines += bullet(text, width, indent=4)
    return lines


def _adding_up(zone: ZoneComparison) -> list[ShiftCause]:
    """Return a zone's causes one behind the other, so that what is shown of them adds up.

    Each is shown to the full minute. Laid end to end from the date then to the date now, the
    minutes are those of the whole move; what is too small to be told goes to the last.
    """
    causes = list(zone.causes)
    moving = [index for index, cause in enumerate(causes) if cause.energize is not None]
    if zone.energize is None or not moving:
        return causes
    shifts = [cause.energize for cause in causes if cause.energize is not None]
    early = _end_to_end(
        [(shift.before.earliest, shift.after.earliest) for shift in shifts],
        (zone.energize.before.earliest, zone.energize.after.earliest),
    )
    late = _end_to_end(
        [(shift.before.latest, shift.after.latest) for shift in shifts],
        (zone.energize.before.latest, zone.energize.after.latest),
    )
    for index, was, first, last in zip(moving, shifts, early, late, strict=True):
        before, after = Ends(first[0], last[0]), Ends(first[1], last[1])
        causes[index] = replace(causes[index], energize=Shift(was.what, before, after))
    return causes


_Pair = tuple[datetime | None, datetime | None]


def _end_to_end(parts: Sequence[_Pair], whole: _Pair) -> list[_Pair]:
    """Return moves of one end of a date, each beginning where the one before it ended."""
    found: list[_Pair] = []
    at = whole[0]
    for before, after in parts:
        if at is None or before is None or after is None:
            found.append((before, after))
        else:
            found.append((at, add(at, (after - before).total_seconds())))
        at = found[-1][1]
    before, _ = found[-1]
    if at is not None and whole[1] is not None and before is not None:
        rest_s = (whole[1] - at).total_seconds()
        # A cause that does not reach as far has another one behind it that nobody found.
        if abs(rest_s) < LEAST_S * (len(parts) + 1):
            found[-1] = (before, whole[1])
    return found


def _weight(cause: ShiftCause) -> float:
    """Return how much a cause moved the zone itself: a change of state more than any date."""
    if cause.states is not None:
        return float("inf")
    return 0.0 if cause.energize is None else _size_s(cause.energize)


def _style(date: Shift | None) -> str:
    return "" if date is None else "warn"


def moved_what(cause: ShiftCause, words: Words) -> str:
    """Return what a cause is, to stand in a sentence."""
    return words.message(cause.what).rstrip(". ")


def _date(zone: ZoneComparison, words: Words) -> str:
    name = {"zone": zone.after.name}
    if zone.energize is None:
        return words.text("moved.other", name)
    code, params = _end(zone.energize.before.earliest, zone.energize.after.earliest, words)
    return words.text(f"moved.{code}", {**name, **params})


def _end(
    before: datetime | None, after: datetime | None, words: Words
) -> tuple[str, dict[str, object]]:
    """Return how one end of a date went, and what there is to say of it."""
    params: dict[str, object] = {"before_at": before, "after_at": after}
    if before is None or after is None:
        code = "none" if before is after else "found" if before is None else "lost"
        return code, params
    # Between the two instants as they are shown, so that a reader finds the same.
    shift_s = (_minute(after) - _minute(before)).total_seconds()
    params["shift"] = _duration(abs(shift_s), words)
    if abs(shift_s) < LEAST_S:
        return "stays", params
    return ("later" if shift_s > 0.0 else "earlier"), params


def _minute(at: datetime) -> datetime:
    whole = at.replace(second=0, microsecond=0)
    return whole if whole == at else whole + _MINUTE


def _duration(duration_s: float, words: Words) -> str:
    """Return a whole number of minutes, none lost: "38 h 59 min", from 48 h "2 days 4 h"."""
    days, rest_s = divmod(duration_s, _DAY_S)
    if duration_s < _IN_HOURS_BELOW_S:
        return show_duration(duration_s)
    whole = f"{days:.0f} {words.text('value.days')}"
    return f"{whole} {show_duration(rest_s)}" if rest_s else whole


def moved_dates(zone: ZoneComparison, words: Words) -> list[str]:
    """Return where a zone's own date went: its early end, and its late end where that moved."""
    return [_date(zone, words), *_late(zone, words)]


def _late(zone: ZoneComparison, words: Words) -> list[str]:
    if zone.energize is None:
        return []
    went, params = _end(zone.energize.before.latest, zone.energize.after.latest, words)
    if went in {"none", "stays"} or _is_one(zone.energize):
        return []
    return [words.text(f"moved.latest-{went}", params)]


def _told(zone: ZoneComparison, words: Words) -> list[str]:
    """Return what else people hear: the late end, the owner's day, the state, what decides."""
    texts = _late(zone, words)
    if "owner_date" in zone.days:
        before, after = zone.days["owner_date"]
        code = "owner" if before and after else "owner-found" if after else "owner-lost"
        texts.append(words.text(f"moved.{code}", {"before_on": before, "after_on": after}))
    if zone.before.state != zone.after.state:
        texts.append(words.text("moved.state", _states(zone.before.state, zone.after.state, words)))
    deciders = zone.deciders
    if deciders is not None:
        before_told, after_told = (_decider(decider, words) for decider in deciders)
        params = {"before": before_told, "after": after_told}
        texts.append(words.text("moved.decides", params))
    texts += [
        words.text(f"moved.layer-{change.change.value}", {"layer": change.layer})
        for change in zone.changes
    ]
    return texts


def _is_one(shift: Shift) -> bool:
    """Return whether both ends were one instant then, and are one now."""
    return all(ends.earliest == ends.latest for ends in (shift.before, shift.after))


def _states(before: str, after: str, words: Words) -> dict[str, object]:
    return {"before": _name("state", before, words), "after": _name("state", after, words)}


def _name(group: str, code: str, words: Words) -> str:
    """Return the name of a code; of one a kept plan has from elsewhere, the code."""
    return words.name(group, code) if f"name.{group}.{code}" in words.catalogue else clean(code)


def _decider(decider: Decider | None, words: Words) -> str:
    if decider is None:
        return words.text("moved.decides-none")
    params = {"layer": decider.layer, "milestone": _name("milestone", decider.milestone, words)}
    return words.text("moved.decider", params)


def _share(cause: ShiftCause, words: Words) -> str:
    """Return what a cause did: to the zone's date, to its state, else to the dates it moved."""
    said = []
    if cause.energize is not None:
        said.append(_shares(cause.energize, words))
    if cause.states is not None:
        said.append(words.text("moved.share-state", _states(*cause.states, words)))
    if not said:
        (_, first), *others = sorted(cause.dates, key=lambda pair: -_size_s(pair[1]))
        said.append(f"{_what(first.what, words)} {_shares(first, words)}")
        if others:
            said.append(words.text("moved.more-shares", {"count": len(others)}))
    return ", ".join(said)


def _size_s(shift: Shift) -> float:
    parts_s = (shift.earliest_s, shift.latest_s)
    pairs = zip(parts_s, _pairs(shift), strict=True)
    return max(
        float("inf") if part_s is None and then is not now else abs(part_s or 0.0)
        for part_s, (then, now) in pairs
    )


def _pairs(shift: Shift) -> tuple[tuple[datetime | None, datetime | None], ...]:
    before, after = shift.before, shift.after
    return (before.earliest, after.earliest), (before.latest, after.latest)


def _shares(shift: Shift, words: Words) -> str:
    """Return how a date went, in two or three words an end; alike at both ends, once."""
    early, params = _end(shift.before.earliest, shift.after.earliest, words)
    late, more = _end(shift.before.latest, shift.after.latest, words)
    said = [words.text(f"moved.share-{early}", params)] if early not in {"none", "stays"} else []
    alike = early == late and params.get("shift") == more.get("shift")
    if late not in {"none", "stays"} and not alike:
        share = words.text(f"moved.share-{late}", more)
        said.append(words.text("moved.share-latest", {"share": share}))
    return ", ".join(said)


def _what(what: str, words: Words) -> str:
    group = "moved" if f"name.moved.{what}" in words.catalogue else "milestone"
    return _name(group, what, words)


def _layers(zone: ZoneComparison, words: Words) -> list[str]:
    """Return where planned work went, each by its most important date, then how many more."""
    texts: list[str] = []
    more = 0
    for layer in zone.layers:
        first, *others = layer.shifts
        more += len(others)
        # What is done is a cause already, or moved with one.
        if len(texts) == _MOST_LAYERS or not layer.planned:
            more += 1
            continue
        params = {
            "layer": layer.layer,
            "what": _what(first.what, words),
            "share": _shares(first, words),
            "after_at": first.after.earliest,
        }
        key = "layer" if first.after.earliest is not None else "layer-undated"
        texts.append(words.text(f"moved.{key}", params))
    if more:
        texts.append(words.text("moved.layers-more", {"count": more}))
    return texts


def _holds(zone: ZoneComparison, words: Words) -> list[str]:
    texts = [moved_hold(hold, words) for hold in zone.holds[:_MOST_HOLDS]]
    more = len(zone.holds) - len(texts)
    if more > 0:
        texts.append(words.text("moved.holds-more", {"count": more}))
    return texts


def moved_hold(hold: HoldChange, words: Words) -> str:
    """Return what became of a hold point."""
    what = _name("hold", hold.code, words)
    key = "hold" if hold.before and hold.after else "hold-new" if hold.after else "hold-gone"
    params = {
        "what": f"{what}, {clean(hold.cable)}" if hold.cable else what,
        "before": _name("holdstate", hold.before, words) if hold.before else "",
        "after": _name("holdstate", hold.after, words) if hold.after else "",
        "evidence": hold.evidence,
    }
    return words.text(f"moved.{key}", params)


def _visit(visit: VisitShift, words: Words) -> str:
    name = _name("visit", visit.kind, words)
    if visit.after is None:
        return words.text("moved.visit-gone", {"visit": name})
    params: dict[str, object] = {"visit": name, "when": _when(visit.after, words)}
    if visit.before is None:
        return words.text("moved.visit-new", params)
    return words.text("moved.visit-moved", {**params, "before": _when(visit.before, words)})


def _when(ends: Ends, words: Words) -> str:
    if ends.earliest is None:
        return words.text("moved.visit-undated")
    if ends.latest is None:
        return words.text("report.visit-from", {"earliest_at": ends.earliest})
    if ends.latest == ends.earliest:
        return words.at(ends.earliest)
    return words.hours(ends.earliest, ends.latest)
