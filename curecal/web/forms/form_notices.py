"""What must be read before a form is sent: whom a stop tells, what a release rests on."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

from curecal.calendars.event_context import EventContext
from curecal.calendars.events.appointments import agreed_text
from curecal.planning.plan import HoldState
from curecal.records import Record, record
from curecal.reminders.recipients import is_out_of_reach, recipients
from curecal.reminders.reminder_types import Recipient
from curecal.trade.findings import FindingCode
from curecal.trade.hold_codes import HoldCode
from curecal.trade.job import Role
from curecal.trade.names import comparable_name
from curecal.trade.site_log import Connected, Energized, HeatStep
from curecal.web.forms.form_offers import OF_A_VISIT
from curecal.words.sentences import whole
from curecal.words.values import clean

if TYPE_CHECKING:
    from collections.abc import Mapping

    from curecal.trade.findings import Finding
    from curecal.web.forms.form_types import EntryForm
    from curecal.web.page_request import PageRequest


@record
class FormNotice(Record):
    """Some lines above a form, under a heading or without one."""

    heading: str
    lines: tuple[str, ...]


def form_notices(
    page: PageRequest, form: EntryForm, typed: Mapping[str, str]
) -> tuple[FormNotice, ...]:
    """Return what stands above a form.

    Args:
        page: The request.
        form: The form.
        typed: What is chosen already.
    """
    match form.name:
        case "stop":
            return (FormNotice("", (_told_now(page),)),)
        case "lift":
            stops = [whole(page.words.finding(found)[0]) for found in _stops(page)]
            return (FormNotice(page.text("forms.stops"), tuple(dict.fromkeys(stops))),)
        case "release":
            return _hold_points(page, typed.get("zone", ""))
        case "connected":
            return (FormNotice("", (page.text("forms.dead-yourself"),)),)
    if form.name in OF_A_VISIT:
        return _appointment(page, typed.get("visit", ""))
    return ()


def seen_mark(page: PageRequest, form: EntryForm, typed: Mapping[str, str]) -> str:
    """Return a mark of what a form was shown for: a stop lifted, or a day confirmed, was read.

    Args:
        page: The request.
        form: The form.
        typed: What is chosen already.

    Returns:
        Another one where another stop came in or the day moved; empty where nothing is to be read.
    """
    if form.name == "lift":
        seen = [f"{found.code} {found.path} {found.zone_id}" for found in _stops(page)]
    elif form.name == "visit-confirm":
        wanted = typed.get("visit", "")
        visits = page.here.plan.appointments
        seen = [f"{one.start_at} {one.stands}" for one in visits if one.id == wanted]
    else:
        return ""
    return hashlib.sha256("\n".join(sorted(seen)).encode()).hexdigest()[:16]


def _stops(page: PageRequest) -> list[Finding]:
    codes = {FindingCode.STOPPED, FindingCode.EARLY_SWITCH_ON}
    return [found for found in page.here.plan.findings if found.code in codes]


def _told_now(page: PageRequest) -> str:
    """Return who hears of a stop at once, and whom somebody has to call."""
    own = comparable_name(page.link.person)
    people = [
        person
        for person in recipients(page.job.people, page.now)
        if comparable_name(person.name) != own and _concerns(page, person)
    ]
    told = [clean(person.name) for person in people if not is_out_of_reach(person)]
    call = ", ".join(clean(person.name) for person in people if is_out_of_reach(person)) or None
    if told:
        return page.text("forms.tells-now", names=", ".join(told), call=call)
    return page.text("forms.tells-nobody", call=call)


def _concerns(page: PageRequest, person: Recipient) -> bool:
    """Return whether a stop is told to somebody: not to an owner before anything is connected."""
    if person.roles[:1] != (Role.OWNER,):
        return True
    if any(zone.is_released for zone in page.here.plan.zones):
        return True
    return any(
        isinstance(entry, Connected | Energized | HeatStep) for entry in page.here.facts.entries
    )


def _appointment(page: PageRequest, visit_id: str) -> tuple[FormNotice, ...]:
    """Return which appointment it is about: what for, when, who comes."""
    for one in page.here.plan.appointments:
        if one.id == visit_id and one.stands:
            ctx = EventContext(page.here.plan, page.words, page.here.calendar)
            what = page.words.name("visit_for", one.purpose)
            lines = tuple(agreed_text(ctx, one).splitlines())
            return (FormNotice(what[:1].upper() + what[1:], lines),)
    return ()


def _hold_points(page: PageRequest, zone_id: str) -> tuple[FormNotice, ...]:
    """Return every hold point of the floors with how it stands: what a release rests on."""
    notices = []
    for zone in page.here.plan.zones:
        if zone_id and zone.zone.id != zone_id:
            continue
        lines = [
            page.text(
                "forms.hold-point",
                what=page.words.hold(hold),
                state=page.words.hold_state(hold.state),
                tested_at=hold.evidence_at if hold.state is HoldState.MET else None,
            )
            for hold in zone.holds
            if hold.state is not HoldState.NOT_NEEDED and hold.code is not HoldCode.RELEASE
        ]
        heading = page.text("forms.rests-on", zone=clean(zone.zone.name))
        notices.append(FormNotice(heading, tuple(lines)))
    return tuple(notices)
