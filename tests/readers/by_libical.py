"""Reading with libical, the C library of many desktops, through ctypes.

Kinds are asked for by their names: their numbers are the library's own business and have changed.
"""

from __future__ import annotations

import ctypes
from collections.abc import Iterator
from datetime import UTC, date, datetime
from functools import cache

from reading import MisreadError, Moment, Reading, Seen, failed, instant_read, reading, text_read


class _Time(ctypes.Structure):
    """`struct icaltimetype` of libical 3."""

    _fields_ = (
        *((name, ctypes.c_int) for name in ("year", "month", "day", "hour", "minute", "second")),
        ("is_date", ctypes.c_int),
        ("is_daylight", ctypes.c_int),
        ("zone", ctypes.c_void_p),
    )


class _Duration(ctypes.Structure):
    """`struct icaldurationtype`."""

    _fields_ = (
        ("is_neg", ctypes.c_int),
        *((name, ctypes.c_uint) for name in ("days", "weeks", "hours", "minutes", "seconds")),
    )


class _Trigger(ctypes.Structure):
    """`struct icaltriggertype`: one of the two is null."""

    _fields_ = (("time", _Time), ("duration", _Duration))


_POINTER, _INT, _TEXT = ctypes.c_void_p, ctypes.c_int, ctypes.c_char_p
_SIGNATURES = {
    "icalparser_parse_string": (_POINTER, [_TEXT]),
    "icalcomponent_free": (None, [_POINTER]),
    "icalcomponent_count_errors": (_INT, [_POINTER]),
    "icalrestriction_check": (_INT, [_POINTER]),
    "icalcomponent_string_to_kind": (_INT, [_TEXT]),
    "icalproperty_string_to_kind": (_INT, [_TEXT]),
    "icalcomponent_isa": (_INT, [_POINTER]),
    "icalcomponent_get_first_component": (_POINTER, [_POINTER, _INT]),
    "icalcomponent_get_next_component": (_POINTER, [_POINTER, _INT]),
    "icalcomponent_get_first_property": (_POINTER, [_POINTER, _INT]),
    "icalcomponent_get_uid": (_TEXT, [_POINTER]),
    "icalcomponent_get_sequence": (_INT, [_POINTER]),
    "icalcomponent_get_summary": (_TEXT, [_POINTER]),
    "icalcomponent_get_description": (_TEXT, [_POINTER]),
    "icalcomponent_get_location": (_TEXT, [_POINTER]),
    "icalcomponent_get_dtstart": (_Time, [_POINTER]),
    "icalcomponent_get_dtend": (_Time, [_POINTER]),
    "icalproperty_get_value_as_string": (_TEXT, [_POINTER]),
    "icalproperty_get_trigger": (_Trigger, [_POINTER]),
    "icaltime_is_utc": (_INT, [_Time]),
    "icaltime_is_null_time": (_INT, [_Time]),
    "icalerror_set_errors_are_fatal": (None, [_INT]),
}


@cache
def _load(path: str) -> ctypes.CDLL:
    library = ctypes.CDLL(path)
    for name, (result, arguments) in _SIGNATURES.items():
        function = getattr(library, name)
        function.restype, function.argtypes = result, arguments
    library.icalerror_set_errors_are_fatal(0)
    return library


class LibIcal:
    """The library found at a place."""

    def __init__(self, path: str) -> None:
        """Load it; `path` is its file or the name the loader knows it by."""
        self._library = _load(path)

    def read(self, data: bytes) -> Reading:
        """A calendar as libical sees it, checked by its own rules.

        Args:
            data: The file; nothing behind a zero octet is looked at.

        Returns:
            What it sees, or what it complains of.
        """
        root = self._library.icalparser_parse_string(data)
        if not root:
            return Reading(errors=("no component",))
        try:
            return self._read(root)
        except ValueError as error:
            return failed(error)
        finally:
            self._library.icalcomponent_free(root)

    def _read(self, root: int) -> Reading:
        library = self._library
        # The check leaves its complaints in the component, so count before it and after.
        errors = []
        if count := library.icalcomponent_count_errors(root):
            errors.append(f"{count} errors in parsing")
        if library.icalcomponent_isa(root) != library.icalcomponent_string_to_kind(b"VCALENDAR"):
            errors.append("no calendar")
        if not library.icalrestriction_check(root):
            errors.append("restrictions not kept")
        if errors:
            return Reading(errors=tuple(errors))
        events = [self._seen(event) for event in self._components(root, b"VEVENT")]
        return reading(events, self._value(root, b"METHOD"))

    def _components(self, parent: int, name: bytes) -> Iterator[int]:
        kind = self._library.icalcomponent_string_to_kind(name)
        found = self._library.icalcomponent_get_first_component(parent, kind)
        while found:
            yield found
            found = self._library.icalcomponent_get_next_component(parent, kind)

    def _property(self, component: int, name: bytes) -> int | None:
        kind = self._library.icalproperty_string_to_kind(name)
        found: int | None = self._library.icalcomponent_get_first_property(component, kind)
        return found

    def _value(self, component: int, name: bytes) -> str | None:
        found = self._property(component, name)
        return self._library.icalproperty_get_value_as_string(found).decode() if found else None

    def _seen(self, event: int) -> Seen:
        library = self._library
        location = library.icalcomponent_get_location(event)
        return Seen(
            _text(library.icalcomponent_get_uid(event)),
            library.icalcomponent_get_sequence(event),
            self._moment(library.icalcomponent_get_dtstart(event)),
            self._moment(library.icalcomponent_get_dtend(event)),
            _text(library.icalcomponent_get_summary(event)),
            _text(library.icalcomponent_get_description(event)),
            _text(location) if location is not None else "",
            text_read(self._value(event, b"STATUS")),
            tuple(sorted(self._alarm(alarm) for alarm in self._components(event, b"VALARM"))),
            self._value(event, b"ORGANIZER") or "",
        )

    def _alarm(self, alarm: int) -> datetime:
        trigger = self._property(alarm, b"TRIGGER")
        if trigger is None:
            message = "an alarm without a trigger"
            raise MisreadError(message)
        return instant_read(self._moment(self._library.icalproperty_get_trigger(trigger).time))

    def _moment(self, time: _Time) -> Moment:
        if self._library.icaltime_is_null_time(time):
            message = "no time"
            raise MisreadError(message)
        if time.is_date:
            return date(time.year, time.month, time.day)
        if not self._library.icaltime_is_utc(time):
            message = "a time without a zone"
            raise MisreadError(message)
        return datetime(
            time.year, time.month, time.day, time.hour, time.minute, time.second, tzinfo=UTC
        )


def _text(value: bytes | None) -> str:
    return text_read(value and value.decode())
