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
_DAY_S = 86_400


class _Days(dict[int, str]):
    """Days since 1970 as a stamp begins: each is spelled once, however many readings it has."""

    def __missing__(self, day: int) -> str:
        text = self[day] = instant(day * _DAY_S).strftime("%Y-%m-%dT")
        return text


class _Clocks(dict[int, str]):
    """Seconds of a day as a stamp ends."""

    def __missing__(self, second: int) -> str:
        text = self[second] = instant(second).strftime("%H:%M:%SZ")
        return text


class _Figures(dict[float, str]):
    """Values as they are written: a logger has few."""

    def __missing__(self, value: float) -> str:
        if isnan(value):
            return ""
        # No minus sign of a zero: the same reading is the same text.
        text = self[value] = repr(round(value, _DIGITS) + 0.0)
        return text


class _DayStarts(dict[str, int]):
    """Days as stamps begin, as seconds since 1970."""

    def __missing__(self, day: str) -> int:
        at_s = self[day] = int(datetime.fromisoformat(f"{day}T00:00:00+00:00").timestamp())
        return at_s


class _Seconds(dict[str, int]):
    """Clock times as stamps end, as seconds of the day."""

    def __missing__(self, clock: str) -> int:
        # Python 3.14 reads 24:00 as well, which no instant of ours is written as.
        is_form = len(clock) == len("T16:00:00Z") and clock[0] == "T" and clock[-1] == "Z"
        if not is_form or clock.startswith("T24"):
            raise ValueError(clock)
        at = datetime.fromisoformat(f"1970-01-01{clock[:-1]}+00:00")
        second = self[clock] = int(at.timestamp())
        return second


class _Readings(dict[str, float]):
    """Cells as values: none is outside what a sensor can show."""

    def __init__(self, *, least: float, most: float) -> None:
        super().__init__({"": NO_READING})
        self._least, self._most = least, most

    def __missing__(self, text: str) -> float:
        value = float(text)
        if not self._least <= value <= self._most:
            raise ValueError(text)
        self[text] = value
        return value


def encode_channel(channel: LoggerChannel) -> bytes:
    """Return a channel's readings in the form they are kept in."""
    days, clocks, figures = _Days(), _Clocks(), _Figures()

    def stamp(at_s: int) -> str:
        return f"{days[at_s // _DAY_S]}{clocks[at_s % _DAY_S]}"

    rows = zip(channel.at_s, channel.temperature_c, channel.humidity, strict=True)
    lines = [f"{stamp(at_s)},{figures[warm]},{figures[damp]}\n" for at_s, warm, damp in rows]
    lines += [f"{stamp(at_s)},{_HIDDEN}\n" for at_s in channel.hidden]
    lines += [f"{stamp(at_s)},{_HALF}\n" for at_s in channel.at_s[:1] if channel.half]
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
    days, seconds = _DayStarts(), _Seconds()
    temperatures = _Readings(least=COLDEST_C, most=HOTTEST_C)
    humidities = _Readings(least=0.0, most=1.0)
    marked = _first_mark(lines) if b"?" in data else len(lines)
    for line in lines[:marked]:
        stamp, temperature, humidity = line.split(",")
        at_s.append(days[stamp[:10]] + seconds[stamp[10:]])
        warm.append(temperatures[temperature])
        damp.append(humidities[humidity])
    hidden, halves = array("q"), array("q")
    for line in lines[marked:]:
        stamp, _, mark = line.partition(",")
        if halves or mark not in {_HIDDEN, _HALF}:
            raise ValueError(line)
        (hidden if mark == _HIDDEN else halves).append(days[stamp[:10]] + seconds[stamp[10:]])
    if (
        not at_s
        or not in_order(at_s)
        or not in_order(hidden)
        or halves not in (halves[:0], at_s[:1])
    ):
        raise ValueError(header)
    return LoggerChannel(device, at_s, warm, damp, tuple(hidden), bool(halves))


def _first_mark(lines: list[str]) -> int:
    """Return from which line on instants are marked, and no more readings are told."""
    return next((index for index, line in enumerate(lines) if "?" in line), len(lines))


def digest(data: bytes) -> str:
    """Return the SHA-256 of bytes in hexadecimal."""
    return hashlib.sha256(data).hexdigest()
