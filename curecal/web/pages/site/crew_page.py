"""The page of the crew: what comes next on each floor, what must be done first, what to log."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curecal.planning.plan import State, ZonePlan
from curecal.records import Record, record
from curecal.trade.hold_codes import HoldCode
from curecal.trade.job import Role
from curecal.web.forms.form_choices import places_of
from curecal.web.forms.form_table import FORMS
from curecal.web.pages.site.recent_log import recent_log
from curecal.web.pages.site.visit_cards import visit_cards
from curecal.web.pages.site.work_links import (
    FormLink,
    ToDo,
    form_links,
    is_stopped,
    other_links,
    to_do,
)
from curecal.web.rendering import render
from curecal.web.site_work import first_steps, floor_answer, holds_of_next
from curecal.words.values import clean

if TYPE_CHECKING:
    from flask import Response

    from curecal.web.page_request import PageRequest

_DAILY = ("done", "air", "test", "photo", "inspection", "stop")
_TESTERS = ("moisture", "points", "sound", "air", "photo", "stop")
_INSPECTORS = ("inspection", "photo", "air", "stop")
_AFTER_ALL = frozenset({HoldCode.CURE, HoldCode.RELEASE})


@record(kw_only=True)
class CrewZone(Record):
    """One floor as its crew sees it.

    `first` must be done before the next step, `later` before it is switched on.
    """

    name: str
    answer: str
    steps: tuple[str, ...]
    first: tuple[ToDo, ...]
    later: tuple[ToDo, ...]
    urgent: tuple[FormLink, ...]


def show_crew(page: PageRequest) -> Response:
    """Answer with the page of whoever works on the site."""
    plan = page.here.plan
    daily = _daily(page)
    urgent = {"lift", "release"}
    return render(
        page,
        "crew.html",
        job_name=clean(page.job.name),
        address=clean(page.job.address or ""),
        zones=[_zone(page, zone) for zone in plan.zones],
        daily=form_links(page, daily, _next_layer(page)),
        others_links=other_links(page, [*daily, *urgent]),
        visits=visit_cards(page) if _books(page) else [],
        logged=recent_log(page),
    )


def _daily(page: PageRequest) -> tuple[str, ...]:
    """Return the forms that a person's day on site needs."""
    if not page.roles.isdisjoint({Role.CREW, Role.CREW_LEAD, Role.OFFICE}):
        return _DAILY
    return _TESTERS if Role.TESTER in page.roles else _INSPECTORS


def _books(page: PageRequest) -> bool:
    return not page.roles.isdisjoint({Role.CREW, Role.CREW_LEAD, Role.OFFICE, Role.INSPECTOR})


def _next_layer(page: PageRequest) -> dict[str, str]:
    """Return the layer that comes next, where there is one floor: it is chosen already."""
    form = FORMS["done"]
    field = form.field_of("layer")
    if field is None or len(page.job.zones) > 1:
        return {}
    places = places_of(page, form, field)
    return {"layer": places[0].value} if places else {}


def _zone(page: PageRequest, zone: ZonePlan) -> CrewZone:
    waiting = [hold for hold in zone.holds if hold.is_outstanding]
    first = holds_of_next(zone)
    later = [hold for hold in waiting if hold not in first and hold.code not in _AFTER_ALL]
    urgent = ["lift"] if is_stopped(zone) else []
    if zone.state is State.CLEAR:
        urgent.append("release")
    several = len(page.job.zones) > 1
    return CrewZone(
        name=clean(zone.zone.name) if several else "",
        answer=floor_answer(page, page.here.plan, zone),
        steps=() if is_stopped(zone) else tuple(first_steps(page, zone)),
        first=tuple(to_do(page, zone, first)),
        later=tuple(to_do(page, zone, later)),
        urgent=tuple(form_links(page, urgent, {"zone": zone.zone.id} if several else {})),
    )
