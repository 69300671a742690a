"""Plan to events to revisions to bytes: the crew's, the electrician's and the owner's calendar.

Opens no file. `feeds` gives events as values, `drafts` their lines, `revise` the revisions to
publish, `issue` puts them into a store behind the port `Published`, `document` makes bytes of
them, `faults` says what a file must not be. The only room that imports `icalendar`.
"""

from __future__ import annotations

from curecal.calendars.build_calendars import build, feeds, goes, issue
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
    FIRST_PROPERTY,
    JOB_PROPERTY,
    MARKS,
    STANDS_PROPERTY,
    Method,
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
from curecal.calendars.revision import Draft, History, Published, Revision
from curecal.calendars.revisions.read_history import first_of, job_of, read_history, salvage
from curecal.calendars.revisions.revise import Change, Goes, Revised, revise

__all__ = [
    "FIRST_PROPERTY",
    "JOB_PROPERTY",
    "MARKS",
    "STANDS_PROPERTY",
    "Alarm",
    "Audience",
    "Change",
    "Days",
    "Draft",
    "Event",
    "EventKey",
    "Fault",
    "Feed",
    "Follows",
    "Goes",
    "History",
    "Method",
    "Party",
    "Published",
    "Revised",
    "Revision",
    "Sending",
    "Stamp",
    "Status",
    "Timed",
    "build",
    "document",
    "drafts",
    "faults",
    "feeds",
    "first_of",
    "goes",
    "head",
    "issue",
    "job_of",
    "least_head",
    "read_history",
    "render",
    "revise",
    "salvage",
    "stamped",
]
