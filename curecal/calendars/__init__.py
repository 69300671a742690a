"""Plan to events to bytes: the crew's, the electrician's and the owner's calendar.

Opens no file. `feeds` gives events as values, `build` their files, `faults` what a file must not
be. The only room that imports `icalendar`.
"""

from __future__ import annotations

from curecal.calendars.build import build, feeds
from curecal.calendars.form import JOB_PROPERTY, render
from curecal.calendars.model import (
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
from curecal.calendars.reread import job_of
from curecal.calendars.validate import Fault, faults

__all__ = [
    "JOB_PROPERTY",
    "Alarm",
    "Audience",
    "Days",
    "Event",
    "EventKey",
    "Fault",
    "Feed",
    "Follows",
    "Stamp",
    "Status",
    "Timed",
    "build",
    "faults",
    "feeds",
    "job_of",
    "render",
]
