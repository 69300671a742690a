"""The commissioning record: everything that was told of a floor, on paper.

It is not complete before the floor is in service, and says so at its head. It replaces neither
the maker's own form nor the electrical certificate.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from dataclasses import replace

from curecal.papers.blocks import (
    Block,
    Fact,
    FactList,
    Lines,
    Paper,
    PaperContext,
    Presence,
    Row,
    Section,
    Signatures,
)
from curecal.papers.record_climate import climate_section
from curecal.papers.record_deviations import (
    corrections_section,
    deviations_section,
    photos_section,
)
from curecal.papers.record_evidence import evidence_section, holds_section
from curecal.papers.record_heat_up import heat_up_section
from curecal.papers.record_heating import heating_section
from curecal.papers.record_layers import layers_section
from curecal.planning.plan import HoldState, State, ZonePlan
from curecal.trade.hold_codes import HoldCode
from curecal.trade.job import Code, Person, Role
from curecal.words.json.record_json import encode
from curecal.words.report.cautions import caution_texts
from curecal.words.report.headline import headline
from curecal.words.values import clean

_PEOPLE = (("role", 1.6), ("name", 2.2), ("license", 1.4), ("until", 1.6))
PRINTED_DIGITS = 16
"""How much of a record's hash is printed: short enough to compare by eye."""
_SIGNERS = (Role.CREW_LEAD, Role.ELECTRICIAN, Role.INSPECTOR, Role.OWNER)


def commissioning_record(ctx: PaperContext, *, draft: bool = False) -> Paper:
    """Return the commissioning record of a job.

    Args:
        ctx: The plan and what it is shown with.
        draft: Whether every page is marked as a draft.
    """
    sections = [_job(ctx), _people(ctx)]
    for zone in ctx.plan.zones:
        sections += _zone(ctx, zone)
    for further in (corrections_section(ctx), photos_section(ctx)):
        if further is not None:
            sections.append(further)
    sections.append(_handover(ctx))
    paper = Paper(
        kind="record",
        language=ctx.words.catalogue.language,
        title=ctx.text("record.title"),
        subtitle=clean(ctx.plan.job.name),
        status=_status(ctx),
        lead=(
            headline(ctx.plan, ctx.words),
            ctx.text("record.replaces"),
            ctx.text("record.legend"),
            *caution_texts(ctx.plan, ctx.words),
        ),
        sections=tuple(sections),
        foot="",
        page=ctx.text("record.page"),
        stamp_at=ctx.stamp_at,
        draft=ctx.text("draft") if draft else "",
    )
    mark = record_hash(paper)[:PRINTED_DIGITS]
    return replace(paper, foot=ctx.text("record.hash", job=ctx.plan.job.name, mark=mark))


def record_hash(paper: Paper) -> str:
    """Return the hash (SHA-256) of all that a record tells, whose first part is at its foot."""
    told = json.dumps(encode(replace(paper, foot="")), sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(told.encode()).hexdigest()


def _is_complete(ctx: PaperContext) -> bool:
    zones = ctx.plan.zones
    return bool(zones) and all(zone.state is State.IN_SERVICE for zone in zones)


def _status(ctx: PaperContext) -> str:
    if _is_complete(ctx):
        return ctx.text("record.complete")
    return ctx.text(f"record.{'heating' if ctx.plan.is_released else 'not-complete'}")


def _job(ctx: PaperContext) -> Section:
    job = ctx.plan.job
    facts = (
        ctx.fact("job", clean(job.name)),
        ctx.fact("address", clean(job.address or "")),
        ctx.fact("code", None if job.code is Code.OTHER else job.code.value),
        ctx.fact("log-until", ctx.at(ctx.stamp_at)),
        ctx.fact("timezone", job.timezone),
        # In service nothing changes any more: the record is the same on any day.
        *([] if _is_complete(ctx) else [ctx.fact("as-of", ctx.at(ctx.plan.as_of))]),
    )
    return Section(ctx.text("section.job"), (FactList(facts),))


def _people(ctx: PaperContext) -> Section:
    """Return the people with their licenses; missing is who must sign, and is not named."""
    people = ctx.plan.job.people
    rows = [_person(ctx, person) for person in people]
    named = {role for person in people for role in person.every_role}
    wanted = {hold.by for zone in ctx.plan.zones for hold in zone.holds if hold.is_outstanding}
    rows += [
        ctx.unrecorded(len(_PEOPLE), ctx.role(role), Presence.MISSING)
        for role in Role
        if role in wanted - named
    ]
    return Section(ctx.text("section.people"), (ctx.table(_PEOPLE, rows),))


def _person(ctx: PaperContext, person: Person) -> Row:
    roles = [person.role, *(role for role in person.roles if role is not person.role)]
    unlicensed = (
        Role.ELECTRICIAN in person.every_role and not person.license and _wants_connection(ctx)
    )
    license_text = clean(person.license or "")
    if unlicensed:
        license_text = ctx.text("told.missing")
    return Row(
        (
            ", ".join(ctx.role(role) for role in roles),
            clean(person.name),
            license_text,
            ctx.at(person.until_at),
        ),
        told=Presence.MISSING if unlicensed else Presence.TOLD,
        told_at=2,
    )


def _wants_connection(ctx: PaperContext) -> bool:
    """Return whether a connection is still wanted: no connection counts without a license."""
    return any(
        hold.code is HoldCode.CONNECTION and hold.state is not HoldState.NOT_NEEDED
        for zone in ctx.plan.zones
        for hold in zone.holds
    )


def _zone(ctx: PaperContext, zone: ZonePlan) -> Iterator[Section]:
    parts = [
        _answer(ctx, zone),
        holds_section(ctx, zone),
        heating_section(ctx, zone),
        layers_section(ctx, zone),
        climate_section(ctx, zone),
        evidence_section(ctx, zone),
        heat_up_section(ctx, zone),
        deviations_section(ctx, zone),
    ]
    several = len(ctx.plan.zones) > 1
    for part in parts:
        title = f"{ctx.zone_title(zone)}: {part.title}" if several else part.title
        yield replace(part, title=title)


def _answer(ctx: PaperContext, zone: ZonePlan) -> Section:
    energize = zone.energize
    governed = energize.governed_by
    released = ctx.at(zone.released_at) if zone.is_released else ""
    cured = None
    if energize.window is not None:
        earliest, latest = energize.window.earliest, energize.window.latest
        last = ctx.words.at(latest) if latest else None
        first = ctx.words.at(earliest)
        cured = (
            ctx.text("from", first=first)
            if last is None
            else first
            if first == last
            else ctx.text("between", first=first, last=last)
        )
    facts: tuple[Fact, ...] = (
        ctx.fact("zone", clean(zone.zone.name)),
        ctx.fact("state", ctx.words.state(zone.state)),
        ctx.fact("room", ctx.shown("room", zone.zone.room)),
        ctx.fact("cured", cured, needed=True),
        ctx.fact("governs", clean(governed.layer_name) if governed else None),
        ctx.fact("released", released, needed=True),
    )
    return Section(ctx.text("section.answer"), (FactList(facts),))


def _handover(ctx: PaperContext) -> Section:
    signers = tuple(
        (ctx.role(role), clean(person.name) if (person := ctx.person(role)) else "")
        for role in _SIGNERS
    )
    blocks: tuple[Block, ...] = (
        FactList((ctx.fact("handover", None), ctx.fact("papers", None))),
        Lines((ctx.text("record.sign"),)),
        Signatures(signers, ctx.text("signature"), ctx.text("day")),
    )
    return Section(ctx.text("section.handover"), blocks)
