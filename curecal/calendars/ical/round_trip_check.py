"""What a reader makes of our bytes: read back by a library, and compared with what was meant."""

from __future__ import annotations

from datetime import date, datetime

from icalendar import Calendar, Component

from curecal.calendars.content_lines import unescape, unfold
from curecal.calendars.event import Days, Event, Feed
from curecal.calendars.ical.ical_writer import JOB_PROPERTY
from curecal.calendars.ical.validate import faults
from curecal.errors import CurecalError


def refuse_unfaithful(feed: Feed, data: bytes, *, gone: frozenset[str] = frozenset()) -> None:
    """Refuse bytes that do not say what the calendar says.

    Args:
        feed: What was meant.
        data: What was written.
        gone: The UIDs of events that are in it beside those of the feed: cancelled, or left
            standing.

    Raises:
        CurecalError: a fault of form (`calendar-form`), or an event that reads otherwise than it
            was meant (`calendar-unfaithful`). Both are our own faults, and nothing is written.
    """
    refuse_faults(data)
    read = {str(part["UID"]): part for part in Calendar.from_ical(data).walk("VEVENT")}
    wanted = {feed.uid(event.key): event for event in feed.events}
    if read.keys() != wanted.keys() | gone:
        raise CurecalError("calendar-unfaithful", what="count", uid="")
    texts = _texts(data)
    for uid, event in wanted.items():
        differs = _difference(event, read[uid], texts[uid])
        if differs:
            raise CurecalError("calendar-unfaithful", what=differs, uid=uid)
    if texts[""].get(JOB_PROPERTY) != feed.job_id:
        raise CurecalError("calendar-unfaithful", what=JOB_PROPERTY, uid="")


def refuse_faults(data: bytes) -> None:
    """Refuse bytes that do not keep the form we write.

    Args:
        data: A calendar.

    Raises:
        CurecalError: `calendar-form`, with the first fault; our own fault.
    """
    found = faults(data)
    if found:
        first = found[0]
        raise CurecalError("calendar-form", fault=first.code, line_count=first.line_count)


def _difference(event: Event, part: Component, texts: dict[str, str]) -> str | None:
    """Return what of an event reads otherwise, if anything."""
    when = event.when
    if isinstance(when, Days):
        meant: tuple[date, date] = (when.start_on, when.end_on)
    else:
        meant = (when.start_at, when.end_at)
    ends = (part.decoded("DTSTART"), part.decoded("DTEND"))
    # A date and a midnight are not equal, but a datetime is a date: compare the kinds as well.
    if ends != meant or {isinstance(end, datetime) for end in ends} != {not isinstance(when, Days)}:
        return "times"
    alarms = sorted(alarm.decoded("TRIGGER") for alarm in part.walk("VALARM"))
    if alarms != sorted(alarm.at for alarm in event.alarms):
        return "alarms"
    if str(part["STATUS"]) != event.status.value:
        return "status"
    if texts["SUMMARY"] != event.summary or texts.get("DESCRIPTION", "") != event.description:
        return "texts"
    # The library's own reading of escapes is right wherever no backslash stands.
    if "\\" not in event.summary and str(part["SUMMARY"]) != event.summary:
        return "summary"
    return None


def _texts(data: bytes) -> dict[str, dict[str, str]]:
    """The texts of the calendar (under no name) and of each event (under its UID)."""
    found: dict[str, dict[str, str]] = {"": {}}
    here = found[""]
    inside: list[str] = []
    for line in unfold(data):
        name, _, value = line.partition(":")
        if name == "BEGIN":
            inside.append(value)
        elif name == "END":
            inside.pop()
        elif name == "UID" and inside[-1] == "VEVENT":
            here = found[value] = {}
        elif inside[-1] != "VALARM":
            here[name] = unescape(value)
    return found
