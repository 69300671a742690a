"""The owner's sheet: one page with what may be done when, and what must wait.

Set-points stand on it only after the release: before that a number would be taken for leave.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from curecal.papers.blocks import (
    Block,
    Fact,
    FactList,
    Lines,
    Paper,
    PaperContext,
    Row,
    Section,
)
from curecal.planning.curing.build_up import BuildUp
from curecal.planning.plan import HeatUpPurpose, State, ZonePlan
from curecal.planning.zone.stable_day import is_ahead, owner_day
from curecal.planning.zone.usable import usable_on, uses_of
from curecal.trade.job import HeatingKind, Role
from curecal.words.sentences import whole
from curecal.words.values import clean

_BY = {Role.OWNER: "by-owner", Role.CREW_LEAD: "by-crew"}


def owner_sheet(ctx: PaperContext, *, draft: bool = False) -> Paper:
    """Return the owner's sheet of a job.

    Args:
        ctx: The plan and what it is shown with.
        draft: Whether it is marked as a draft.
    """
    lead = ctx.person(Role.CREW_LEAD)
    contact = {"name": lead.name if lead else None, "phone": lead.phone if lead else None}
    return Paper(
        kind="owner",
        language=ctx.words.catalogue.language,
        title=ctx.text("owner.title"),
        subtitle=clean(ctx.plan.job.name),
        status="",
        lead=(),
        sections=(
            *(_zone(ctx, zone) for zone in ctx.plan.zones),
            *_waiting(ctx),
            Section(
                ctx.text("owner.never"),
                (Lines((ctx.text("owner.never-text"), *owner_cables(ctx))),),
            ),
            Section(
                ctx.text("owner.call"),
                (Lines((when_to_call(ctx), ctx.text("owner.contact", **contact))),),
            ),
        ),
        foot=ctx.text("owner.foot", day=ctx.today),
        page="",
        stamp_at=ctx.stamp_at,
        draft=ctx.text("draft") if draft else "",
    )


def _zone(ctx: PaperContext, zone: ZonePlan) -> Section:
    first, *rest = owner_sentences(ctx, zone)
    blocks: list[Block] = [Lines((first,), is_large=True), Lines(tuple(rest))]
    if zone.is_released:
        blocks += owner_set_points(ctx, zone)
    blocks.append(FactList(tuple(owner_uses(ctx, zone))))
    alone = len(ctx.plan.zones) == 1
    title = ctx.text("owner.one-zone") if alone else ctx.zone_title(zone)
    return Section(title, tuple(blocks))


def _waiting(ctx: PaperContext) -> Iterator[Section]:
    """Yield, once for all zones, why a floor must wait."""
    if all(zone.is_released or zone.state is State.STOPPED for zone in ctx.plan.zones):
        return
    lines = (ctx.text("owner.why"), ctx.text("owner.moves"))
    yield Section(ctx.text("owner.good-to-know"), (Lines(lines),))


def owner_sentences(ctx: PaperContext, zone: ZonePlan) -> Iterator[str]:
    """Yield what an owner is told of a zone, the order first.

    Args:
        ctx: The plan and what it is shown with.
        zone: The zone in it.
    """
    by = _BY.get(zone.first_switched_on_by, "by-other")
    who = ctx.words.person(zone.first_switched_on_by.value)
    day_on = owner_day(zone, ctx.plan.as_of, ctx.calendar)
    if zone.state is State.IN_SERVICE:
        yield ctx.text("owner.in-service")
        return
    if zone.state is State.HEATING_UP:
        yield ctx.text("owner.heating-up")
        return
    if zone.is_released:
        key = "owner" if zone.first_switched_on_by is Role.OWNER else "other"
        yield ctx.text(f"owner.released-{key}", day_on=_whole_day(ctx, day_on), who=who)
        return
    if zone.state is State.STOPPED:
        yield ctx.text("owner.stopped")
    elif is_ahead(day_on, ctx.plan.as_of, ctx.calendar):
        yield ctx.text("owner.off", owner_on=_whole_day(ctx, day_on))
    else:
        yield ctx.text("owner.undated")
    yield ctx.text(f"owner.{by}", who=who)


def _whole_day(ctx: PaperContext, day: date | None) -> str | None:
    """Return a day that no end of a line parts from its year."""
    return None if day is None else ctx.words.day(day).replace(" ", "\u00a0")


def owner_uses(ctx: PaperContext, zone: ZonePlan) -> Iterator[Fact]:
    """Yield what the floor may be used for, each with its day.

    Args:
        ctx: The plan and what it is shown with.
        zone: The zone in it.
    """
    for use in uses_of(zone):
        day_on = usable_on(ctx.plan, zone, use)
        text = ctx.text("owner.ask") if day_on is None else ctx.text("owner.from", day_on=day_on)
        yield Fact(ctx.text(f"owner.use.{use.value}"), text)


def when_to_call(ctx: PaperContext) -> str:
    """Return the signs at which an owner switches off and calls.

    Args:
        ctx: The plan and what it is shown with.
    """
    kinds = {zone.zone.heating.kind for zone in ctx.plan.zones}
    return ctx.text("owner.call-water" if kinds == {HeatingKind.WATER} else "owner.call-text")


def owner_cables(ctx: PaperContext) -> Iterator[str]:
    """Yield where the cable of each zone lies, as far as the job says.

    Args:
        ctx: The plan and what it is shown with.
    """
    for zone in ctx.plan.zones:
        name = zone.zone.name if len(ctx.plan.zones) > 1 else None
        heating = zone.zone.heating
        embedding = BuildUp(zone.zone).embedding
        if heating.kind is HeatingKind.WATER:
            yield whole(ctx.text("owner.pipe-text", zone=name))
            continue
        walls = [cable.laying.clearance_walls_m for cable in heating.cables]
        known = [walls_m for walls_m in walls if walls_m is not None]
        text = ctx.text(
            "owner.cable-text",
            zone=name,
            layer=embedding.name if embedding else None,
            walls_m=min(known) if known and len(known) == len(walls) else None,
        )
        yield whole(text)


def owner_set_points(ctx: PaperContext, zone: ZonePlan) -> Iterator[Block]:
    """Yield the set-points of a zone's first heat, and what comes after them.

    Args:
        ctx: The plan and what it is shown with.
        zone: The zone in it, released.
    """
    for heat_up in zone.heat_ups:
        if heat_up.purpose is HeatUpPurpose.BARE_SCREED or not heat_up.steps:
            continue
        settings = ctx.words.settings(heat_up)
        rows = [
            Row((ctx.words.day(step.on), setting, ctx.text("days", count=step.hold_days)))
            for step, setting in zip(heat_up.steps, settings, strict=True)
        ]
        columns = (("from-day", 2.0), ("set-floor", 2.0), ("for-days", 1.0))
        yield ctx.table(columns, rows, ctx.text("owner.steps"))
        yield Lines(
            (
                ctx.text(
                    "owner.afterwards",
                    ends_on=heat_up.ends_on,
                    limit_c=heat_up.limit_c,
                    step_k=heat_up.step_k,
                ),
                ctx.text("owner.care"),
            )
        )
