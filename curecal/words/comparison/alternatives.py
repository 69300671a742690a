"""What if, on a terminal: the days side by side, then what changes nothing, then what to mind."""

from __future__ import annotations

from collections.abc import Sequence

from curecal.planning.comparison.alternatives import AlternativeOutcome, WhatIf, ZoneDays
from curecal.planning.plan import RELEASED_STATES, LayerPlan, Plan, State
from curecal.words.layout import NARROWEST, Line, bullet, paragraph, table
from curecal.words.sentences import Words, whole
from curecal.words.values import clean

_COLUMNS = ("change", "start", "owner", "gain")


def what_if_lines(
    found: WhatIf, plan: Plan, *, words: Words, width: int, notes: Sequence[str] = ()
) -> list[Line]:
    """Return what each change does to each zone, the one that gains most first.

    Args:
        found: the comparison.
        plan: the plan as it is.
        words: language, units.
        width: columns, at least 40.
        notes: codes of what there is to say of the changes themselves.
    """
    width = max(width, NARROWEST)
    title = words.text("compare.title", {"job": plan.job.name, "as_of_at": plan.as_of})
    lines = paragraph(title, width, style="head")
    moving = [outcome for outcome in found.outcomes if outcome.moves]
    shown = [*moving, *([found.together] if found.together and moving else [])]
    for index, zone in enumerate(found.now):
        lines.append(())
        if len(found.now) > 1:
            lines += paragraph(clean(zone.name), width, style="head")
        lines += _zone_table(zone, [(one, one.zones[index]) for one in shown], words, width)
    still = [outcome.said for outcome in found.outcomes if not outcome.moves]
    told = [*notes, *_of_all(found)]
    if still:
        lines += [(), *paragraph(words.text("compare.still"), width)]
        lines += [line for said in still for line in bullet(said, width)]
    for note in told:
        lines += [(), *paragraph(words.text(f"compare.{note}"), width)]
    lines += _left_to_people(plan, words, width)
    return lines + _findings(shown, words, width)


def compared_notes(found: WhatIf, words: Words, notes: Sequence[str]) -> list[str]:
    """Return what there is to say below the days.

    Args:
        found: The comparison.
        words: The language.
        notes: Codes of what there is to say of the changes themselves.
    """
    return [words.text(f"compare.{note}") for note in (*notes, *_of_all(found))]


def _of_all(found: WhatIf) -> list[str]:
    told = []
    if any(zone.state in RELEASED_STATES for zone in found.now):
        told.append("released")
    every = (*found.outcomes, *([found.together] if found.together else []))
    if not any(outcome.helps for outcome in every):
        told.append("nothing-helps")
    return told


def _left_to_people(plan: Plan, words: Words, width: int) -> list[Line]:
    """Return what no change of the plan brings, but somebody's reading or test."""
    lines: list[Line] = []
    for zone in plan.zones:
        named = clean(zone.zone.name) if len(plan.zones) > 1 else None
        if zone.state is State.ON_HOLD:
            what = [words.hold(hold) for hold in zone.holds if hold.is_outstanding]
            text = words.text("compare.held", {"zone": named, "what": what})
            lines += [(), *paragraph(text, width)]
        tested = [item.layer.title for item in zone.layers if _wants_test(item, plan)]
        for layer in tested:
            lines += [(), *paragraph(words.text("compare.test", {"layer": layer}), width)]
    return lines


def _wants_test(item: LayerPlan, plan: Plan) -> bool:
    """Return whether a layer that lies waits for a moisture test, its date only an estimate."""
    return not item.planned and any(
        dated.estimate and (dated.window is None or dated.window.earliest > plan.as_of)
        for dated in item.milestones.values()
    )


def _zone_table(
    now: ZoneDays, rows: Sequence[tuple[AlternativeOutcome, ZoneDays]], words: Words, width: int
) -> list[Line]:
    return table(compared_head(words), compared_rows(now, rows, words), width)


def compared_head(words: Words) -> list[str]:
    """Return the head of the table of a zone's days."""
    return [words.text(f"compare.column-{name}") for name in _COLUMNS]


def compared_rows(
    now: ZoneDays, rows: Sequence[tuple[AlternativeOutcome, ZoneDays]], words: Words
) -> list[list[list[str]]]:
    """Return a zone's days as they are and after each change, each cell in lines.

    Args:
        now: The days as they are.
        rows: Each change, with the zone's days after it.
        words: Language and units.
    """
    cells = [[[words.text("compare.now")], *_days(now, words), []]]
    for outcome, zone in rows:
        cells.append([[outcome.said], *_days(zone, words), _gain(now, zone, words)])
    return cells


def _days(zone: ZoneDays, words: Words) -> list[list[str]]:
    none = words.text("report.undated")
    return [[none if day is None else words.day(day)] for day in (zone.start_on, zone.owner_on)]


def _gain(now: ZoneDays, zone: ZoneDays, words: Words) -> list[str]:
    """Return what a change gains one zone: of both days, where they differ."""
    if now.start_on is None or zone.start_on is None:
        if now.start_on == zone.start_on:
            return [words.text("compare.gain-none")]
        return [words.text("compare.gain-date" if now.start_on is None else "compare.lost-date")]
    gains = [("start", zone.start_gain), ("owner", zone.owner_gain)]
    if zone.start_gain == zone.owner_gain:
        gains = [("both", zone.start_gain)]
    found = [
        words.text(f"compare.{'earlier' if gain > 0 else 'later'}-{which}", {"count": abs(gain)})
        for which, gain in gains
        if gain
    ]
    if (now.owner_on is None) != (zone.owner_on is None):
        found.append(
            words.text("compare.gain-promise" if now.owner_on is None else "compare.lost-promise")
        )
    return found or [words.text("compare.gain-none")]


def _findings(shown: Sequence[AlternativeOutcome], words: Words, width: int) -> list[Line]:
    """Return what each change brings with it, said once."""
    told: set[str] = set()
    lines: list[Line] = []
    for outcome in shown:
        for finding in outcome.findings:
            said, do = words.finding(finding)
            if said in told:
                continue
            told.add(said)
            params = {"change": outcome.said, "what": f"{whole(said)} {do}".strip()}
            lines += bullet(words.text("compare.also", params), width, style="warn")
    return (
        [(), *paragraph(words.text("compare.mind"), width, style="head"), *lines] if lines else []
    )
