"""The calendar part of a mail about a visit: what is published of it, invited or called off.

Publishing happens in the plan's own transaction, so that a mail never tells of a revision that
nobody kept.
"""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, NamedTuple

from curecal.calendars import Audience, EventKey, feeds, goes, issue
from curecal.calendars.ical.ical_writer import document, least_head
from curecal.calendars.ical.mail_message import party, sending
from curecal.calendars.purpose import Purpose, PurposeKind
from curecal.errors import SourceError
from curecal.reminders.messages.send_context import InTransaction, PlannedNow, SendContext
from curecal.reminders.reminder_types import VISITS, Channel, MessageKind, Reminder

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection


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
    if reminder.kind not in VISITS or reminder.channel is not Channel.EMAIL:
        return None
    plan = planned.plan
    found = feeds(plan, rules=context.rules, day_off=planned.calendar.day_off, log=planned.log)
    ledger = InTransaction(connection)
    how_gone = goes(plan, rules=context.rules)
    try:
        issue(found, ledger, now=now, goes=how_gone, log=planned.log)
    except SourceError:
        # What was published rested on entries that the book has not got: the words alone go out.
        return None
    feed = next(one for one in found if one.audience is Audience.ELECTRICIAN)
    purpose = Purpose(PurposeKind.VISIT, reminder.subject)
    key = EventKey(Audience.ELECTRICIAN, reminder.zone_id, "", purpose.text)
    revision = ledger.history(plan.job.id).revisions.get(feed.uid(key))
    if revision is None or revision.cancelled != (reminder.kind == MessageKind.VISIT_OFF):
        # The calendar still shows another day than the message tells: the words alone go out.
        return None
    person = planned.people.get(reminder.recipient)
    try:
        organizer = party(context.sender, context.sender_name)
        reader = party(reminder.address, person.name if person else "")
    except SourceError:
        return None
    how = sending(revision, organizer=organizer, reader=reader)
    return Invitation(document(least_head(plan.job.id), (revision,), sending=how), how.method.value)
