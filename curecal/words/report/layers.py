"""The layers of a zone as the crew reads them: what is done, what each allows, what comes next."""

from __future__ import annotations

from datetime import date

from curecal.instants import Window, local_day
from curecal.planning.plan import LayerPlan, MilestonePlan, Plan, ZonePlan
from curecal.trade.data_sheets import Milestone
from curecal.words.layout import Line, paragraph, table
from curecal.words.sentences import Words
from curecal.words.values import clean, is_far, short_day

_NEXT = (Milestone.GROUT, Milestone.COVER, Milestone.SEAL)
_USE = (Milestone.WET, Milestone.LOAD)
_ESTIMATE = "~"
_HEAT = (Milestone.BARE_HEAT, Milestone.HEAT)


def layer_table(zone: ZonePlan, plan: Plan, words: Words, width: int) -> list[Line]:
    """Return a zone's layers as they lie, the top one first: finished, what each allows, when."""
    near = local_day(plan.as_of, plan.job.tz)
    head = [words.text(f"report.column-{key}") for key in ("top", "done", "walk", "next", "heat")]
    rows = []
    for index, layer in reversed(list(enumerate(zone.layers))):
        above = [item for item in zone.layers[index + 1 :] if _share_ground(item, layer)]
        # What was estimated is history once the next layer lies on it.
        is_open = all(item.planned or item.finish is None for item in above)
        cells = [
            [clean(layer.layer.title)],
            [_finished(layer, plan, words, near)],
            _allows(layer, (Milestone.WALK,), plan, words, near),
            # Nothing follows on the top layer.
            _allows(layer, (*_NEXT, *_USE) if above else _USE, plan, words, near, marked=is_open),
            _allows(layer, _HEAT, plan, words, near),
        ]
        rows.append(cells)
    if not rows:
        return []
    lines = table(head, rows, width)
    lines += paragraph(words.text("report.table-bottom"), width, indent=2, style="dim")
    if any(_ESTIMATE in text for row in rows for cell in row for text in cell):
        lines += paragraph(words.text("report.estimate-note"), width, indent=2, style="dim")
    return lines


def _share_ground(one: LayerPlan, other: LayerPlan) -> bool:
    """Return whether two layers lie in the same part of a zone, at least one of them in all."""
    return None in {one.layer.part, other.layer.part} or one.layer.part == other.layer.part


def next_steps(zone: ZonePlan, plan: Plan, words: Words, *, every: bool = True) -> list[str]:
    """Return what is to be done next: each planned layer with when it can and must start.

    Args:
        zone: the zone.
        plan: its plan.
        words: language and units.
        every: all planned layers; else the first of each part.
    """
    steps = []
    parts: set[str | None] = set()
    for layer in zone.layers:
        if not layer.planned or layer.layer.existing:
            continue
        if every or layer.layer.part not in parts:
            steps.append(_next_step(layer, plan, words))
        parts.add(layer.layer.part)
    return steps


def _next_step(layer: LayerPlan, plan: Plan, words: Words) -> str:
    params: dict[str, object] = {"layer": clean(layer.layer.title)}
    if layer.start is None:
        return words.text("report.next-undated", params)
    earliest, latest = layer.start.earliest, layer.start.latest
    # What can be done at once starts now, at no minute that anybody chose.
    params["earliest_at"] = words.text("report.now") if earliest <= plan.as_of else earliest
    # One that is over already can no longer be kept.
    late = layer.latest_start_at
    params["latest_start_at"] = late if late and late >= earliest else None
    if latest is None:
        params["latest_at"] = words.text("report.latest-none")
        return words.text("report.next-open", params)
    if latest == earliest:
        is_last = late == earliest > plan.as_of
        return words.text("report.next-then" if is_last else "report.next-at", params)
    params["latest_at"] = latest
    return words.text("report.next-between", params)


def days(window: Window, plan: Plan, words: Words, near: date) -> str:
    """Return a window as days, short: "4 Jan", "4-8 Jan", "28 Dec-4 Jan", "from 4 Jan"."""
    first = local_day(window.earliest, plan.job.tz)
    if window.latest is None:
        return words.text("report.days-from", {"day": _short(first, words, near)})
    last = local_day(window.latest, plan.job.tz)
    if first == last:
        return _short(first, words, near)
    if (first.year, first.month) == (last.year, last.month):
        return f"{first.day}-{_short(last, words, near)}"
    # The year stands at the end only where both days share it.
    lead = short_day(first, words.catalogue)
    if first.year != last.year and is_far(last, near):
        lead = f"{lead} {first.year}"
    return f"{lead}-{_short(last, words, near)}"


def _short(day: date, words: Words, near: date) -> str:
    text = short_day(day, words.catalogue)
    return f"{text} {day.year}" if is_far(day, near) else text


def _finished(layer: LayerPlan, plan: Plan, words: Words, near: date) -> str:
    if layer.layer.existing:
        return words.text("report.existing")
    if layer.finish is None:
        return words.text("report.undated")
    when = days(layer.finish, plan, words, near)
    if layer.planned:
        return words.text("report.planned", {"when": when})
    local = layer.finish.earliest.astimezone(plan.job.tz)
    return f"{when}, {local:%H:%M}"


def _allows(
    layer: LayerPlan,
    milestones: tuple[Milestone, ...],
    plan: Plan,
    words: Words,
    near: date,
    *,
    marked: bool = True,
) -> list[str]:
    found = [(name, layer.milestones[name]) for name in milestones if name in layer.milestones]
    if len(milestones) == 1 or milestones is _HEAT:
        named = {Milestone.BARE_HEAT}
    else:
        named = set(milestones)
    return [
        f"{words.name('short', name.value)} {text}"
        if name in named and len(milestones) > 1
        else text
        for name, milestone in found
        for text in [_cell(milestone, plan, words, near, marked=marked)]
    ]


def _cell(milestone: MilestonePlan, plan: Plan, words: Words, near: date, *, marked: bool) -> str:
    if milestone.window is None:
        return words.text("report.undated")
    mark = _ESTIMATE if milestone.estimate and marked else ""
    return f"{mark}{days(milestone.window, plan, words, near)}"
