"""The electrician's page: the visits, what is needed there, and one visit in its order."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curecal.web.pages.owner_page import contact_of
from curecal.web.pages.site.recent_log import recent_log
from curecal.web.pages.site.visit_cards import event_context, floor_figures, visit_cards
from curecal.web.pages.site.work_links import form_links, is_stopped, other_links
from curecal.web.rendering import render
from curecal.web.site_work import floor_answer
from curecal.words.values import clean

if TYPE_CHECKING:
    from flask import Response

    from curecal.web.page_request import PageRequest

_DAILY = ("test", "protection", "thermostat", "connected", "switched-on", "photo", "stop")
_ORDER = (
    "leads-off",
    "power",
    "sensor",
    "mode",
    "button",
    "breaker-off",
    "locked",
    "tagged",
)


def show_electrician(page: PageRequest) -> Response:
    """Answer with the visits, and what an electrician logs there."""
    plan = page.here.plan
    ctx = event_context(page)
    several = len(plan.zones) > 1
    return render(
        page,
        "electrician.html",
        job_name=clean(page.job.name),
        address=clean(page.job.address or ""),
        contact=contact_of(page),
        zones=[
            (clean(zone.zone.name) if several else "", floor_answer(page, plan, zone))
            for zone in plan.zones
        ],
        visits=visit_cards(page),
        floors=floor_figures(page),
        must_be_off=ctx.say("visit.off", {}),
        order=[page.text(f"work.order.{step}") for step in _ORDER],
        urgent=form_links(page, ["lift"] if any(map(is_stopped, plan.zones)) else []),
        daily=form_links(page, _DAILY),
        others_links=other_links(page, [*_DAILY, "lift"]),
        logged=recent_log(page),
    )
