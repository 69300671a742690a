"""Visits as those who come and those who wait see them: the hours, and what can be said of them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curecal.calendars.event_context import EventContext
from curecal.calendars.events.appointments import agreed_text, is_ahead
from curecal.calendars.events.electrician import zone_figures
from curecal.calendars.stable_dates.stable_dates import visit_window, zones_of
from curecal.planning.plan import Appointment, Visit, VisitKind
from curecal.planning.zone.appointments import KINDS
from curecal.records import Record, record
from curecal.trade.site_log import Booking, Connected
from curecal.web.forms.form_offers import is_offered
from curecal.web.forms.form_table import FORMS
from curecal.web.pages.site.work_links import FormLink, form_link
from curecal.words.values import clean

if TYPE_CHECKING:
    from collections.abc import Mapping

    from curecal.planning.plan import ZonePlan
    from curecal.web.page_request import PageRequest

_PURPOSES = {kind: purpose for purpose, kind in KINDS.items()}


@record(kw_only=True)
class VisitCard(Record):
    """One visit: what for, where, when it fits, what was agreed, and what to say of it."""

    title: str
    when: tuple[str, ...]
    agreed: tuple[str, ...]
    links: tuple[FormLink, ...]


@record
class FloorFigures(Record):
    """What an electrician wants to know of a floor: cables, tests so far, whose lock is on."""

    name: str
    figures: tuple[str, ...]
    locks: tuple[str, ...]


def event_context(page: PageRequest) -> EventContext:
    """Return the plan as calendars take it: what they say of a visit, the page says alike."""
    here = page.here
    facts = {entry.id: entry for entry in here.facts.entries}
    return EventContext(here.plan, page.words, here.calendar, facts)


def floor_figures(page: PageRequest) -> list[FloorFigures]:
    """Return the figures of each floor, as the electrician's calendar has them.

    Args:
        page: The request.
    """
    ctx = event_context(page)
    found = []
    for zone in ctx.plan.zones:
        name, *figures = zone_figures(ctx, zone)
        plain = tuple(_capital(line.removeprefix("- ")) for line in figures)
        found.append(FloorFigures(name, plain, tuple(_lock(page, zone))))
    return found


def visit_cards(page: PageRequest) -> list[VisitCard]:
    """Return the visits of a job: those the floor still needs, and what else was agreed.

    Args:
        page: The request.
    """
    ctx = event_context(page)
    cards = [_card(page, ctx, visit) for visit in page.here.plan.visits]
    shown = {visit.appointment.id for visit in page.here.plan.visits if visit.appointment}
    # One whose hour is over stands until somebody says that it took place, or that nobody came.
    others = [
        one
        for one in page.here.plan.appointments
        if one.stands and (one.id not in shown or not is_ahead(ctx, one))
    ]
    return cards + [_other(page, ctx, one) for one in others]


def _card(page: PageRequest, ctx: EventContext, visit: Visit) -> VisitCard:
    zones = zones_of(ctx.plan, visit)
    agreed = visit.appointment if is_ahead(ctx, visit.appointment) else None
    title = page.words.name("visit", visit.kind)
    names = ", ".join(clean(zone.zone.name) for zone in zones)
    several = len(page.job.zones) > 1
    return VisitCard(
        title=page.text("work.visit", what=_capital(title), zones=names if several else None),
        when=tuple(_when(page, ctx, visit)),
        agreed=() if agreed is None else tuple(agreed_text(ctx, agreed).splitlines()),
        links=tuple(_links(page, visit, agreed)),
    )


def _other(page: PageRequest, ctx: EventContext, one: Appointment) -> VisitCard:
    title = page.words.name("visit_for", one.purpose)
    return VisitCard(
        title=_capital(title),
        when=(),
        agreed=tuple(agreed_text(ctx, one).splitlines()),
        links=tuple(_answers(page, one)),
    )


def _when(page: PageRequest, ctx: EventContext, visit: Visit) -> list[str]:
    """Return the window of a visit, as its calendar tells it."""
    if page.clock_doubt and visit.kind is VisitKind.ENERGIZE:
        # By a clock in doubt nobody is sent to switch on.
        return [ctx.say("visit.no-date", {}), page.text("work.only-released")]
    window = visit_window(ctx.plan, visit, ctx.calendar)
    if window is None:
        return [ctx.say("visit.no-date", {})]
    params = {"earliest_at": window.earliest, "latest_at": window.latest}
    if visit.kind is not VisitKind.ENERGIZE and window.latest is not None:
        return [ctx.say("visit.between", params)]
    return [ctx.say("visit.window", params), *_latest(ctx, visit, params)]


def _latest(ctx: EventContext, visit: Visit, params: Mapping[str, object]) -> list[str]:
    if visit.kind is not VisitKind.ENERGIZE:
        return [ctx.say("visit.no-latest", params)]
    if all(zone.is_released for zone in zones_of(ctx.plan, visit)):
        return [ctx.say("visit-energize.released", params)]
    which = "latest" if params["latest_at"] is not None else "no-latest"
    return [ctx.say(f"visit.{which}", params), ctx.words.text("page.work.only-released")]


def _links(page: PageRequest, visit: Visit, agreed: Appointment | None) -> list[FormLink]:
    if agreed is not None:
        return _answers(page, agreed)
    form = FORMS["visit"]
    if not is_offered(page, form) or visit.window is None:
        return []
    chosen = {"for": _PURPOSES[VisitKind(visit.kind)].value, "zone": visit.zone_ids[0]}
    link = form_link(page, form, chosen)
    return [FormLink(link.href, page.text("work.name-a-day"))]


def _answers(page: PageRequest, agreed: Appointment) -> list[FormLink]:
    """Return what can be said of an appointment: yes, another day, no."""
    names = ["visit-move", "visit-decline"]
    if agreed.start_at <= page.now:
        names = ["visit-done", *names]
    elif agreed.state is not Booking.CONFIRMED:
        names = ["visit-confirm", *names]
    return [
        FormLink(form_link(page, FORMS[name], {"visit": agreed.id}).href, page.text(f"work.{name}"))
        for name in names
        if is_offered(page, FORMS[name])
    ]


def _lock(page: PageRequest, zone: ZonePlan) -> list[str]:
    """Return whose lock is on the breaker, as logged; what is not logged is live."""
    told = [entry for entry in page.here.facts.of(Connected, zone.zone) if entry.locked is not None]
    if not told or not told[-1].locked:
        return [page.text("work.lock-unknown")]
    by = clean(told[-1].by or "")
    held = page.text("work.lock-held", by=by, connected_at=told[-1].at)
    return [held, page.text("work.lock-whose")]


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
