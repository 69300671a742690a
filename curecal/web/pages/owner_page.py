"""The owner's page: one sentence, why, what may be done now, and what to do if something is wrong.

A permission is of this minute: it names its instant, and covers itself where the page was not
loaded again.
"""

from __future__ import annotations

import secrets
from typing import TYPE_CHECKING

from curecal.errors import BookError, ErrorCode
from curecal.instants import local_day
from curecal.papers.blocks import Block, Fact, PaperContext
from curecal.papers.owner_sheet import (
    owner_cables,
    owner_sentences,
    owner_set_points,
    owner_uses,
    when_to_call,
)
from curecal.pictures.section import make_section
from curecal.pictures.section_svg import section_svg
from curecal.planning.plan import HeatUpPurpose, State, ZonePlan
from curecal.planning.zone.floor_known import is_floor_known
from curecal.records import Record, record
from curecal.trade.job import Person, Role
from curecal.trade.site_log import Cause
from curecal.web.entries import (
    ENTRY_ID,
    PageEntry,
    PageEntryRefusedError,
    with_own_id,
    write_entries,
)
from curecal.web.rendering import drawn, render
from curecal.words.report.headline import todays_setting
from curecal.words.values import clean

if TYPE_CHECKING:
    from collections.abc import Iterator

    from flask import Response
    from markupsafe import Markup

    from curecal.web.page_request import PageRequest

_PHONE_WIDTH = 340.0
_CAUSES = (Cause.SMELL_OR_HEAT, Cause.TRIPPED, Cause.CRACK, Cause.SWITCHED_ON_EARLY, Cause.OTHER)
"""What an owner can see of a floor that is wrong."""
_TYPED = ("cause", "zone", "reason")


@record(kw_only=True)
class OwnerZone(Record):
    """One floor as its owner sees it.

    `order` is the one sentence. `is_permission` where it lets anybody switch or set anything: then
    it holds for the minute it was made in.
    """

    name: str
    order: str
    further: tuple[str, ...]
    is_permission: bool
    uses: tuple[Fact, ...]
    set_points: tuple[Block, ...]
    section: Markup


def show(page: PageRequest) -> Response:
    """Answer with the owner's page."""
    ctx = paper_context(page)
    return render(
        page,
        "owner.html",
        zones=[_zone(page, ctx, zone, number) for number, zone in enumerate(ctx.plan.zones)],
        job_name=clean(page.job.name),
        contact=contact_of(page),
        is_waiting=not all(zone.is_released for zone in ctx.plan.zones),
        cables=tuple(owner_cables(ctx)),
        when_to_call=when_to_call(ctx),
        why=ctx.text("owner.why"),
        never=(ctx.text("owner.never"), ctx.text("owner.never-text")),
    )


def ask_what_is_wrong(page: PageRequest) -> Response:
    """Answer with what to do at once, and the form that tells the crew."""
    return _wrong(page, entry_id=f"o-{secrets.token_hex(16)}")


def something_wrong(page: PageRequest) -> Response:
    """Log a stop in the owner's name, and say once more what to do."""
    form = page.request.form
    entry_id, said = form.get("entry_id", ""), form.get("cause", "")
    cause = next((cause for cause in _CAUSES if cause.value == said), None)
    if not ENTRY_ID.fullmatch(entry_id):
        entry_id = f"o-{secrets.token_hex(16)}"
    if cause is None:
        return _wrong(page, entry_id=entry_id, is_unclear=True, status=422)
    values: dict[str, object] = {"cause": cause.value}
    if reason := clean(form.get("reason", ""))[:500].strip():
        values["reason"] = reason
    zone = form.get("zone", "")
    if zone in {one.id for one in page.job.zones}:
        values["zone"] = zone
    entry = PageEntry(entry_id=entry_id, kind="stopped", by=page.link.person, values=values)
    try:
        write_entries(page, [with_own_id(page, entry)])
    except PageEntryRefusedError:
        return _wrong(page, entry_id=entry_id, is_unclear=True, status=422)
    except BookError as error:
        # Sent twice at once: the first one is in the log.
        if error.code != ErrorCode.BOOK_ENTRY_CONTRADICTS:
            raise
    return _wrong(page, entry_id=entry_id, is_told=True)


def _wrong(
    page: PageRequest,
    *,
    entry_id: str,
    is_told: bool = False,
    is_unclear: bool = False,
    status: int = 200,
) -> Response:
    return render(
        page,
        "owner_wrong.html",
        status=status,
        job_name=clean(page.job.name),
        contact=contact_of(page),
        entry_id=entry_id,
        causes=[(cause.value, page.text(f"owner.cause.{cause.value}")) for cause in _CAUSES],
        zones=[(zone.id, clean(zone.name)) for zone in page.job.zones],
        # What was typed stays on a page that comes back.
        typed={key: clean(page.request.form.get(key, ""))[:500] for key in _TYPED},
        is_told=is_told,
        is_unclear=is_unclear,
    )


def contact_of(page: PageRequest) -> Person | None:
    """Return whom an owner calls: the crew lead, else somebody of the office."""
    for role in (Role.CREW_LEAD, Role.OFFICE):
        found = page.job.people_as(role, page.now)
        if found:
            return found[0]
    return None


def paper_context(page: PageRequest) -> PaperContext:
    """Return the page's plan as the papers take it: what they say, the page says alike."""
    here = page.here
    return PaperContext(here.plan, here.read.log, here.facts, page.words, here.calendar)


def _zone(page: PageRequest, ctx: PaperContext, zone: ZonePlan, number: int) -> OwnerZone:
    order, *further = _sentences(page, ctx, zone)
    is_told = zone.is_released and page.clock_doubt is None
    section = make_section(ctx.plan, zone, page.words, is_for_owner=True)
    return OwnerZone(
        name=clean(zone.zone.name) if len(ctx.plan.zones) > 1 else "",
        order=order,
        further=tuple(further),
        # A day ahead is a permission too: a stop takes it back.
        is_permission=is_told or (zone.may_energize and page.clock_doubt is None),
        # By a clock in doubt nothing is let.
        uses=() if page.clock_doubt else tuple(owner_uses(ctx, zone)),
        set_points=tuple(owner_set_points(ctx, zone)) if is_told else (),
        section=drawn(section_svg(section, width=_PHONE_WIDTH, name=f"floor{number}")),
    )


def _sentences(page: PageRequest, ctx: PaperContext, zone: ZonePlan) -> Iterator[str]:
    """Yield what an owner is told now: of a floor in its first heat, today's number."""
    if page.clock_doubt and zone.is_released:
        # What it cannot see yet may be a stop.
        yield page.text("owner.clock")
        yield page.clock_doubt
        return
    if page.clock_doubt:
        yield from (*owner_sentences(ctx, zone), page.clock_doubt)
        return
    if zone.state is not State.HEATING_UP:
        yield from owner_sentences(ctx, zone)
        return
    setting = todays_setting(zone, ctx.plan, page.words)
    if setting is None or not _is_number_known(page, zone):
        yield page.text("owner.unknown")
        yield page.text("owner.unknown-why")
        return
    yield page.text("owner.today", setting=setting)
    yield page.text("owner.no-faster")


def _is_number_known(page: PageRequest, zone: ZonePlan) -> bool:
    """Return whether the log shows that the floor is where today's number wants it to be."""
    today = local_day(page.here.as_of, page.job.tz)
    for heat_up in zone.heat_ups:
        if heat_up.purpose is HeatUpPurpose.BARE_SCREED:
            continue
        begun = [step for step in heat_up.steps if step.on <= today]
        # The first number needs no step before it.
        if len(begun) > 1 and not is_floor_known(
            page.here.read.log, zone.zone.id, begun[-2].on, page.here.as_of, page.job.tz
        ):
            return False
    return True
