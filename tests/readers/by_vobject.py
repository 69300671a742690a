"""Reading with the library vobject, which several calendar servers rest on."""

from __future__ import annotations

import importlib
from typing import Any

from reading import Reading, Seen, failed, instant_read, moment_read, reading, text_read


def read(data: bytes) -> Reading:
    """A calendar as vobject sees it, checked by its own rules.

    Args:
        data: The file.

    Returns:
        What it sees, or what it stumbled over.
    """
    library = importlib.import_module("vobject")
    # It raises its own errors, and those of whatever it calls on a value it cannot take.
    try:
        calendar = library.readOne(data.decode())
        calendar.validate(raiseException=True)
        method = calendar.method.value if "method" in calendar.contents else None
        return reading((_seen(event) for event in calendar.contents.get("vevent", ())), method)
    except Exception as error:  # noqa: BLE001 - whatever stops a reader is what we want to know
        return failed(error)


def _seen(event: Any) -> Seen:
    return Seen(
        text_read(event.uid.value),
        int(event.sequence.value),
        moment_read(event.dtstart.value),
        moment_read(event.dtend.value),
        text_read(event.summary.value),
        text_read(event.description.value),
        event.location.value if "location" in event.contents else "",
        text_read(event.status.value),
        tuple(
            sorted(instant_read(alarm.trigger.value) for alarm in event.contents.get("valarm", ()))
        ),
        event.organizer.value if "organizer" in event.contents else "",
    )
