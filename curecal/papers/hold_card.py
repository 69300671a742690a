"""The hold card for thermostat and breaker: nobody switches on, and who says when.

It bears no date: a date on a card is read as permission.
"""

from __future__ import annotations

from curecal.papers.blocks import (
    Block,
    FactList,
    Lines,
    Paper,
    PaperContext,
    Picture,
    Section,
)
from curecal.papers.qr_code import qr_svg
from curecal.planning.plan import ZonePlan
from curecal.trade.job import Role
from curecal.words.report.headline import place_of
from curecal.words.values import clean


def hold_card(ctx: PaperContext, *, page: str = "") -> Paper | None:
    """Return one card for each zone that must stay off; None where none must.

    Args:
        ctx: The plan and what it is shown with.
        page: The address of a page that says what applies today, to be scanned; empty for none.

    Raises:
        SourceError: There is an address, and what draws it is not installed.
    """
    zones = [zone for zone in ctx.plan.zones if not zone.is_released]
    if not zones:
        return None
    return Paper(
        kind="card",
        language=ctx.words.catalogue.language,
        title=ctx.text("card.title"),
        subtitle="",
        status=ctx.text("card.off"),
        lead=(),
        sections=tuple(_card(ctx, zone, page) for zone in zones),
        foot="",
        page="",
        stamp_at=ctx.stamp_at,
    )


def _card(ctx: PaperContext, zone: ZonePlan, page: str) -> Section:
    lead = ctx.person(Role.CREW_LEAD)
    name = ctx.fact("says-when", clean(lead.name) if lead else None)
    phone = ctx.fact("phone", clean(lead.phone) if lead and lead.phone else None)
    lines = (ctx.text("card.no-answer"), ctx.text("card.why"))
    blocks: tuple[Block, ...] = (FactList((name, phone)), Lines(lines))
    if page:
        # Who hears no answer can look: the page says it in the words of the day.
        blocks += (Picture(qr_svg(page), ctx.text("card.page")),)
    return Section(place_of(ctx.plan, zone), blocks)
