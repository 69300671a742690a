"""Readings in the one form they are kept in beside a job, so that their hash says they are whole.

UTF-8, LF, the header `at,temperature_c,humidity`, one line a reading: the instant in UTC to the
second, the temperature in °C, the humidity as a fraction; a cell is empty without a reading. After
the readings, a line with a question mark for each instant at which the logger wrote what nobody
could read, and what may be frost; and last, a line with `12?` where the logger's clock may have
twelve hours, at the instant of the first reading.
"""

from __future__ import annotations

import hashlib
from array import array
from datetime import datetime
from math import isnan

from curecal.readings.table.export_types import (
    COLDEST_C,
    HOTTEST_C,
    NO_READING,
    LoggerChannel,
    in_order,
    instant,
)

HEADER = "at,temperature_c,humidity"
_HIDDEN = "?,"
_HALF = "12?,"
# A hundredth of what any sensor resolves, so that a float's last digits do not change a hash.
_DIGITS = 6


def encode_channel(channel: LoggerChannel) -> bytes:
    """Return a channel's readings in the form they are kept in."""
    rows = zip(channel.at_s, channel.temperature_c, channel.humidity, strict=True)
    lines = [f"{_stamp(at_s)},{_figure(warm)},{_figure(damp)}\n" for at_s, warm, damp in rows]
    lines += [f"{_stamp(at_s)},{_HIDDEN}\n" for at_s in channel.hidden]
    lines += [f"{_stamp(at_s)},{_HALF}\n" for at_s in channel.at_s[:1] if channel.half]
    return "".join([HEADER, "\n", *lines]).encode("ascii")


def decode_channel(data: bytes, device: str) -> LoggerChannel:
    """Return the readings of stored bytes.

    Raises:
        ValueError: The bytes are not in the form, or not in order.
    """
    header, *lines = data.decode("ascii").split("\n")
    if header != HEADER or not lines or lines.pop():
        raise ValueError(header)
    at_s, warm, damp = array("q"), array("d"), array("d")
    hidden, halves = array("q"), array("q")
    days: dict[str, int] = {}
    for line in lines:
        stamp, temperature, humidity = line.split(",")
        day = stamp[:10]
        if day not in days:
            days[day] = int(datetime.fromisoformat(f"{day}T00:00:00+00:00").timestamp())
        if len(stamp) != len("2026-11-30T16:00:00Z") or stamp[10] != "T" or stamp[19] != "Z":
            raise ValueError(line)
        clock = datetime.fromisoformat(f"1970-01-01T{stamp[11:19]}+00:00")
        when = days[day] + int(clock.timestamp())
        mark = f"{temperature},{humidity}"
        if halves or (hidden and mark not in {_HIDDEN, _HALF}):
            raise ValueError(line)
        if mark in {_HIDDEN, _HALF}:
            (hidden if mark == _HIDDEN else halves).append(when)
            continue
        at_s.append(when)
        warm.append(_reading(temperature, least=COLDEST_C, most=HOTTEST_C))
        damp.append(_reading(humidity, least=0.0, most=1.0))
    if (
        not at_s
        or not in_order(at_s)
        or not in_order(hidden)
        or halves not in (halves[:0], at_s[:1])
    ):
        raise ValueError(header)
    return LoggerChannel(device, at_s, warm, damp, tuple(hidden), bool(halves))


def _reading(text: str, *, least: float, most: float) -> float:
    if not text:
        return NO_READING
    value = float(text)
    if not least <= value <= most:
        raise ValueError(text)
    return value


def digest(data: bytes) -> str:
    """Return the SHA-256 of bytes in hexadecimal."""
    return hashlib.sha256(data).hexdigest()


def _stamp(at_s: int) -> str:
    return instant(at_s).strftime("%Y-%m-%dT%H:%M:%SZ")


def _figure(value: float) -> str:
    if isnan(value):
        return ""
    # No minus sign of a zero: the same reading is the same text.
    return repr(round(value, _DIGITS) + 0.0)
