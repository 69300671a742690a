"""Reading with the library ics: strict about lines, and it knows no SEQUENCE of its own."""

from __future__ import annotations

import importlib
import warnings
from typing import Any

from reading import (
    MisreadError,
    Reading,
    Seen,
    failed,
    instant_read,
    moment_read,
    reading,
    text_read,
)


def read(data: bytes) -> Reading:
    """A calendar as ics sees it.

    Args:
        data: The file.

    Returns:
        What it sees, or what it stumbled over.
    """
    library = importlib.import_module("ics")
    # Its errors have no common root: its grammar's, its own, those of the library under it.
    try:
        with warnings.catch_warnings():
            # How it calls Python is its own affair.
            warnings.simplefilter("ignore", DeprecationWarning)
            calendar = library.Calendar(data.decode())
        return reading((_seen(event) for event in calendar.events), calendar.method)
    except Exception as error:  # noqa: BLE001 - whatever stops a reader is what we want to know
        return failed(error)


def _seen(event: Any) -> Seen:
    ends = event.begin.datetime, event.end.datetime
    start, end = (end.date() for end in ends) if event.all_day else ends
    sequences = [line.value for line in event.extra if line.name == "SEQUENCE"]
    if len(sequences) != 1:
        message = f"SEQUENCE {len(sequences)} times"
        raise MisreadError(message)
    return Seen(
        text_read(event.uid),
        int(sequences[0]),
        moment_read(start),
        moment_read(end),
        text_read(event.name),
        text_read(event.description),
        event.location or "",
        text_read(event.status),
        tuple(sorted(_alarm(alarm) for alarm in event.alarms)),
        f"mailto:{event.organizer.email}" if event.organizer else "",
    )


def _alarm(alarm: Any) -> Any:
    return instant_read(getattr(alarm.trigger, "datetime", alarm.trigger))
