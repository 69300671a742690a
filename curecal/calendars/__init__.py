"""Plan to events to revisions to bytes: the crew's, the electrician's and the owner's calendar.

Opens no file. `feeds` gives events as values, `drafts` their lines, `revise` the revisions to
publish, `issue` puts them into a `Ledger` and then shows them in its outputs, `document` makes
bytes of them, `faults` says what a file must not be. The only room that imports `icalendar`.
"""

from __future__ import annotations

from curecal.calendars.build_calendars import build, feeds, goes
from curecal.calendars.event import (
    Alarm,
    Audience,
    Days,
    Event,
    EventKey,
    Feed,
    Follows,
    Stamp,
    Status,
    Timed,
)
from curecal.calendars.ical.components import Fault
from curecal.calendars.ical.ical_writer import (
    JOB_PROPERTY,
    STANDS_PROPERTY,
    CalendarMethod,
    Party,
    Sending,
    document,
    drafts,
    head,
    least_head,
    render,
    stamped,
)
from curecal.calendars.ical.validate import faults
from curecal.calendars.revision import Draft, History, Ledger, LogMark, Mailed, Revision
from curecal.calendars.revisions.publish import issue
from curecal.calendars.revisions.revise import Goes, Revised, RevisionChange, revise

__all__ = [
    "JOB_PROPERTY",
    "STANDS_PROPERTY",
    "Alarm",
    "Audience",
    "CalendarMethod",
    "Days",
    "Draft",
    "Event",
    "EventKey",
    "Fault",
    "Feed",
    "Follows",
    "Goes",
    "History",
    "Ledger",
    "LogMark",
    "Mailed",
    "Party",
    "Revised",
    "Revision",
    "RevisionChange",
    "Sending",
    "Stamp",
    "Status",
    "Timed",
    "build",
    "document",
    "drafts",
    "faults",
    "feeds",
    "goes",
    "head",
    "issue",
    "least_head",
    "render",
    "revise",
    "stamped",
]
