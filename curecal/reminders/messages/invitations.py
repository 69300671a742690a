"""The calendar part of a mail about a visit: what is published of it, invited or called off.

Publishing happens in the plan's own transaction, so that a mail never tells of a revision that
nobody kept.
"""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, NamedTuple

from curecal.book.ledger.ledger import history_of
from curecal.calendars import Audience, EventKey
from curecal.calendars.ical.ical_writer import document, least_head
from curecal.calendars.ical.mail_message import party, sending
from curecal.calendars.purpose import Purpose, PurposeKind
from curecal.errors import SourceError
from curecal.planning.plan import Plan
from curecal.reminders.messages.published_now import publish_now
from curecal.reminders.messages.send_context import PlannedNow, SendContext
from curecal.reminders.reminder_types import (
    AGREEMENTS,
    Channel,
    MessageKind,
    Recipient,
    Reminder,
)
from curecal.trade.job import Role
from curecal.trade.site_log import VisitFor

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection


_WINDOWS = frozenset({MessageKind.VISIT_BOOKED, MessageKind.VISIT_MOVED, MessageKind.VISIT_OFF})


class Invitation(NamedTuple):
    """A calendar's octets, and what they ask of their reader."""

    data: bytes
    method: str


def invitation(
    connection: Connection,
    context: SendContext,
    planned: PlannedNow,
    reminder: Reminder,
    *,
    now: datetime,
) -> Invitation | None:
    """Return the calendar part of a reminder's mail.

    Args:
        connection: the plan's transaction.
        context: the rules, and who mail is from: always the same for a job.
        planned: the plan of now.
        reminder: the reminder.
        now: the instant.

    Returns:
        The part; None for what is no mail about a visit, or of which nothing is published.
    """
    about_visit = reminder.kind in _WINDOWS | AGREEMENTS or reminder.topic.visit is not None
    if not about_visit or reminder.channel is not Channel.EMAIL:
        return None
    plan = planned.plan
    try:
        found = publish_now(connection, context, planned, now=now)
    except SourceError:
        # What was published rested on entries that the book has not got: the words alone go out.
        return None
    known = history_of(connection, plan.job.id).revisions
    person = planned.people.get(reminder.recipient)
    keys = _entries(plan, reminder, person)
    feeds_by = {feed.audience: feed for feed in found}
    published = (known.get(feeds_by[key.audience].uid(key)) for key in keys)
    revision = next((one for one in published if one is not None), None)
    # An appointment that is off may leave the window of its visit behind.
    fits = revision is not None and (
        reminder.kind == MessageKind.VISIT_CALLED_OFF
        or revision.cancelled == (reminder.kind == MessageKind.VISIT_OFF)
    )
    if revision is None or not fits:
        # The calendar still shows another day than the message tells: the words alone go out.
        return None
    try:
        organizer = party(context.sender, context.sender_name)
        reader = party(reminder.address, person.name if person else "")
    except SourceError:
        return None
    how = sending(revision, organizer=organizer, reader=reader)
    return Invitation(document(least_head(plan.job.id), (revision,), sending=how), how.method.value)


def _entries(plan: Plan, reminder: Reminder, person: Recipient | None) -> list[EventKey]:
    """Return the keys under which a visit may stand in its reader's calendar, the likeliest first.

    The electrician's own visits are known by their kind; everything else by the appointment's id,
    its zone and what it is for, which an appointment that was withdrawn no longer says.
    """
    keys = []
    visit = reminder.topic.visit
    if visit is not None:
        text = Purpose(PurposeKind.VISIT, visit).text
        joint = [min(one.zone_ids) for one in plan.visits if reminder.zone_id in one.zone_ids]
        zone_ids = dict.fromkeys((reminder.zone_id, *joint))
        keys += [EventKey(Audience.ELECTRICIAN, zone_id, "", text) for zone_id in zone_ids]
    if reminder.kind in AGREEMENTS:
        audience = _audience(reminder, person)
        purposes = [Purpose(PurposeKind.APPOINTMENT, what).text for what in VisitFor]
        zone_ids = dict.fromkeys(("", *(zone.zone.id for zone in plan.zones)))
        keys += [
            EventKey(audience, zone_id, reminder.subject, purpose)
            for purpose in purposes
            for zone_id in zone_ids
        ]
    return keys


def _audience(reminder: Reminder, person: Recipient | None) -> Audience:
    """Return whose calendar shows an appointment to a reader."""
    roles = person.roles if person else ()
    if reminder.topic.visit is not None or Role.CREW_LEAD not in roles:
        return Audience.OWNER if roles == (Role.OWNER,) else Audience.ELECTRICIAN
    return Audience.CREW
