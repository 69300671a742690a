"""One value of a file: what its key wants, read into SI, an instant, a name, or a choice."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from datetime import date, datetime, time, tzinfo
from types import MappingProxyType

from curecal import units
from curecal.errors import InstantRefused, QuantityRefused, ValueRefused
from curecal.instants import instant_of, parse_instant
from curecal.toml_files import spans
from curecal.toml_files.meter_values import (
    insulation_of_label,
    insulation_of_meter,
    moisture_limits_of_sheet,
    moisture_of_meter,
)
from curecal.toml_files.schema import REACH, Key
from curecal.toml_files.shown import nearest, shorten
from curecal.toml_files.weekdays import weekdays_of
from curecal.trade.job import Role
from curecal.trade.names import names_nothing

_DAY_S = 86_400.0
# Ten years: past it a unit slipped.
LONGEST_WAIT_S = 3650 * _DAY_S
# Longer than any slab that is made; the longest known to us are 3.2 m (from memory).
_LARGEST_TILE_M = 5.0
# Above any count of cables, shots or pieces on a site.
_MOST_COUNT = 1_000_000
# Two months: more was written in another unit.
_MOST_DAYS = 60
# Nearer to saturation no sheet rates a drying time: it is misread.
_DAMPEST_RATED = 0.95
_FIRST_YEAR, _LAST_YEAR = 2000, 2100
_SET = "temperature-not-set"

_ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,119}", re.ASCII)
_HOURS = re.compile(r"(\d\d?):(\d\d) ?[-\u2013] ?(\d\d?):(\d\d)", re.ASCII)
_DAY_MIN = 24 * 60
_LONGEST_NIGHT_MIN = 12 * 60
_EMAIL = re.compile(r"[^\s@,;<>]+@[^\s@,;<>.]+(?:\.[^\s@,;<>.]+)+")
_PHONE = re.compile(r"(?=.*\d{3})\+?[\d ()./-]{5,30}", re.ASCII)
_FLOW = re.compile(r"(?P<to>.*\S) (?:for|over) (?P<days>\S.*)", re.ASCII)


def wrong_type(value: object, wanted: str, example: str) -> ValueRefused:
    """Return the refusal of a value of another type than its place wants."""
    return ValueRefused("type-wrong", text=shorten(value), wanted=wanted, example=example)


def text_of(value: object, key: Key) -> str:
    """Return a text that says something, without white space around it."""
    if not isinstance(value, str):
        raise wrong_type(value, "text", key.example)
    if not value.strip():
        spare = "" if key.required else key.name
        raise ValueRefused("text-empty", key=key.name, example=key.example, spare=spare)
    return value.strip()


def source_of(value: object, key: Key) -> str:
    """Return which data sheet a text names; one that says there is none is no source.

    Rule: R10.
    """
    text = text_of(value, key)
    if names_nothing(text):
        raise ValueRefused("source-names-none", text=shorten(text), example=key.example)
    return text


def choice(value: object, key: Key) -> str:
    """Return one of the words a key may hold."""
    text = text_of(value, key)
    for known in key.choices:
        if known.casefold() == text.casefold():
            return known
    raise ValueRefused(
        "choice-unknown",
        text=shorten(text),
        known=", ".join(key.choices),
        nearest=nearest(text, key.choices),
    )


def true_or_false(value: object, key: Key) -> bool:
    """Return true or false."""
    if not isinstance(value, bool):
        raise wrong_type(value, "true-or-false", key.example)
    return value


def count(value: object, key: Key) -> int:
    """Return a whole number, one or more."""
    if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= _MOST_COUNT:
        raise wrong_type(value, "count", key.example)
    return value


def identity(value: object, key: Key) -> str:
    """Return an identity: letters, digits, points and dashes."""
    text = text_of(value, key)
    if not _ID.fullmatch(text):
        raise ValueRefused("id-form", text=shorten(text), example=key.example)
    return text


def instant(value: object, zone: tzinfo) -> datetime:
    """Return an instant in UTC, of a TOML date, a local or an aware time, or a text."""
    if not isinstance(value, date | str):
        raise InstantRefused("instant-unreadable", text=shorten(value), example="2026-12-02 20:00")
    at = instant_of(value, zone) if isinstance(value, date) else parse_instant(value, zone)
    if not _FIRST_YEAR <= at.year <= _LAST_YEAR:
        raise ValueRefused(
            "instant-implausible", text=shorten(value), first=_FIRST_YEAR, last=_LAST_YEAR
        )
    return at


def inside(
    value: float, text: object, *, least: float, most: float, shown: tuple[str, str]
) -> float:
    """Return a value, or raise `ValueRefused` for one outside what a site can have."""
    if not least <= value <= most:
        raise QuantityRefused(
            "quantity-out-of-range", text=shorten(text), least=shown[0], most=shown[1]
        )
    return value


# A rating is the upper end of its range, and what stands before a "±"; a minimum is the upper end
# of all of it.
_TEMPERATURES: Mapping[str, Callable[[object], float]] = {
    "rated": units.rated_temperature,
    "least": lambda value: units.temperature_range(value).high,
}


def _temperature(
    least_c: float, most_c: float, code: str = "temperature-no-room-has"
) -> Callable[[object, Key], float]:
    """Return a reader of temperatures that a place can have; of a range what counts there."""

    def read(value: object, key: Key) -> float:
        value_c = _TEMPERATURES.get(key.reads, units.temperature)(value)
        if least_c <= value_c <= most_c:
            return value_c
        raise spans.not_in_span(code, value, least_c, most_c)

    return read


def _positive(
    reads: Callable[[object], float], *, most: float, shown: str, least: float = 0.0
) -> Callable[[object, Key], float]:
    """Return a reader of quantities above zero, up to what a place can have."""

    def read(value: object, key: Key) -> float:
        found = reads(value)
        if not found > 0:
            raise QuantityRefused("quantity-zero", text=shorten(value), example=key.example)
        return inside(found, value, least=least, most=most, shown=("0", shown))

    return read


def _likely(
    reads: Callable[[object], float], span: tuple[float, float], shown: tuple[str, str]
) -> Callable[[object, Key], float]:
    """Return a reader of quantities that a site can have, with what was meant in a refusal."""

    def read(value: object, key: Key) -> float:
        found = reads(value)
        if found == 0.0:
            raise QuantityRefused("quantity-zero", text=shorten(value), example=key.example)
        if span[0] <= found <= span[1]:
            return found
        text, likely, (least, most) = shorten(value), spans.meant(value, reads, *span), shown
        raise QuantityRefused("quantity-unlikely", text=text, least=least, most=most, meant=likely)

    return read


def _longest(value: object) -> float:
    return units.duration_range(value).high


def _soonest(value: object) -> float:
    span = units.duration_range(value)
    return span.low if span.low > 0 else span.high


def _deepest(value: object) -> float:
    return units.length_range(value).high


def _nearest(value: object) -> float:
    return units.length_range(value).low


def _heat_step(value: object) -> float:
    """Return a rise in a day; a plain difference is one in a day."""
    try:
        return units.temperature_rate(value)
    except QuantityRefused:
        return units.temperature_step(value)


humidity = _likely(units.humidity, spans.HUMIDITY, ("5 %", "100 %"))


def _rated_humidity(value: object, _key: Key) -> float:
    """Return a humidity that times can hold at: in saturated air nothing dries."""
    return inside(
        humidity(value, _key), value, least=0.0, most=_DAMPEST_RATED, shown=("0 %", "95 %")
    )


wait_s = _likely(_longest, spans.WAIT_S, ("1 min", "365 d"))
plain_temperature = _temperature(-20.0, 60.0)


def _whole_days(value: object, _key: Key) -> int:
    days = units.duration(value) / _DAY_S
    if not 1 <= days <= _MOST_DAYS or days != int(days):
        raise ValueRefused("whole-days-wanted", text=shorten(value))
    return int(days)


def _flow(value: object, key: Key) -> tuple[tuple[float, int], ...]:
    rows = []
    for item in _list(value, key):
        match = _FLOW.fullmatch(item) if isinstance(item, str) else None
        if match is None:
            raise ValueRefused("flow-unreadable", text=shorten(item), example=key.example)
        rows.append((_flow_c(match["to"], key), _whole_days(match["days"], key)))
    return tuple(rows)


_flow_c = _temperature(0.0, 90.0)


def _size(value: object, _key: Key) -> tuple[float, float]:
    edges = units.tile_size(value)
    for edge_m in edges:
        inside(edge_m, value, least=0.001, most=_LARGEST_TILE_M, shown=("1 mm", "5 m"))
    return edges


def _list(value: object, key: Key) -> list[object]:
    if not isinstance(value, list):
        raise wrong_type(value, "list", key.example)
    return value


def _dates(value: object, key: Key) -> tuple[date, ...]:
    days = []
    for item in _list(value, key):
        found = item
        if isinstance(item, str):
            try:
                found = date.fromisoformat(item)
            except ValueError:
                raise wrong_type(item, "date", key.example) from None
        if not isinstance(found, date) or isinstance(found, datetime):
            raise wrong_type(item, "date", key.example)
        days.append(found)
    return tuple(days)


def _weekdays(value: object, key: Key) -> frozenset[int]:
    """Return weekdays of "Mon-Fri", "Monday to Thursday, Sat" or a list; Monday is 0."""
    parts = value if isinstance(value, list) else [value]
    return weekdays_of([text_of(item, key) for item in parts], key.example)


def _hours(value: object, key: Key) -> tuple[time, time]:
    match = _HOURS.fullmatch(text_of(value, key))
    try:
        figures = [int(figure) for figure in match.groups()] if match else [0, 0, 0, 0]
        start, end = time(figures[0], figures[1]), time(figures[2], figures[3])
    except ValueError:
        start = end = time()
    # "8:00-5:00" is meant for five in the afternoon: no shift runs through the night that long.
    night_min = (end.hour - start.hour) * 60 + end.minute - start.minute + _DAY_MIN
    if start == end or (end < start and night_min > _LONGEST_NIGHT_MIN):
        raise ValueRefused("hours-unreadable", text=shorten(value), example=key.example)
    return start, end


def _matching(pattern: re.Pattern[str], code: str) -> Callable[[object, Key], str]:
    def read(value: object, key: Key) -> str:
        text = text_of(value, key)
        if not pattern.fullmatch(text):
            raise ValueRefused(code, text=shorten(text), example=key.example)
        return text

    return read


def _reach(value: object, key: Key) -> tuple[str, ...]:
    inner = Key(key.name, "choice", key.example, key.means, choices=REACH)
    return tuple(choice(item, inner) for item in _list(value, key))


def _roles(value: object, key: Key) -> tuple[Role, ...]:
    inner = Key(key.name, "choice", key.example, key.means, choices=key.choices)
    return tuple(Role(choice(item, inner).replace(" ", "_")) for item in _list(value, key))


def _coefficients(value: object, key: Key) -> tuple[float, float, float]:
    rows = _list(value, key)
    three = 3
    numbers = [float(row) for row in rows if type(row) is int or type(row) is float]
    if len(rows) != three or len(numbers) != three:
        raise wrong_type(value, "three-numbers", key.example)
    a, b, c = numbers
    if not (-1.0 < a < 1.0 and 0.0 < b < 1.0 and 0.0 < c < 1.0):
        raise ValueRefused("coefficients-not-possible", example=key.example)
    return a, b, c


def _drying(value: object, _key: Key) -> tuple[tuple[float | None, float], ...]:
    return tuple((part.to_m, part.s_per_m) for part in units.drying_rule(value))


def _plain_reader(reads: Callable[[object], object]) -> Callable[[object, Key], object]:
    return lambda value, _key: reads(value)


READERS: Mapping[str, Callable[[object, Key], object]] = MappingProxyType(
    {
        "text": text_of,
        "source": source_of,
        "name": text_of,
        "note": text_of,
        "id": identity,
        "choice": choice,
        "bool": true_or_false,
        "count": count,
        "unheated": _temperature(*spans.UNHEATED_C),
        "heated": _temperature(*spans.HEATED_C),
        "floor": _temperature(5.0, 45.0, _SET),
        # What was really set may be far over any limit, and has to be told.
        "set_point": _temperature(5.0, spans.HEATED_C[1], _SET),
        "rated": plain_temperature,
        "least": plain_temperature,
        "step": _likely(units.temperature_step, spans.DOUBLING_K, ("2 K", "40 K")),
        "heat_step": _likely(_heat_step, spans.STEP_K, ("0.25 K", "50 K")),
        "humidity": humidity,
        "rated_humidity": _rated_humidity,
        "wait": wait_s,
        "no_later": _likely(_soonest, spans.NO_LATER_S, ("10 min", "90 d")),
        "off_for": _positive(_soonest, most=LONGEST_WAIT_S, shown="3650 d", least=1.0),
        "hold": _whole_days,
        "flow": _flow,
        "depth": _likely(_deepest, (0.0, spans.DEEPEST_M), ("0", "300 mm")),
        "area": _likely(units.area, spans.AREA_M2, ("0.1 m²", "500 m²")),
        "spacing": _likely(_nearest, spans.SPACING_M, ("5 mm", "600 mm")),
        "clearance": _likely(_nearest, spans.CLEARANCE_M, ("5 mm", "5 m")),
        "strapping": _likely(_deepest, spans.STRAPPING_M, ("20 mm", "3 m")),
        "size": _size,
        "voltage": _positive(units.voltage, most=1000.0, shown="1000 V", least=1.0),
        "power": _positive(units.power, most=100_000.0, shown="100 kW", least=1.0),
        "current": _positive(units.current, most=1000.0, shown="1000 A", least=0.01),
        "residual": _positive(units.current, most=1.0, shown="1 A", least=0.001),
        "trip_time": _positive(units.duration, most=60.0, shown="60 s", least=0.001),
        "resistance": _positive(units.resistance, most=1e6, shown="1 MΩ", least=0.01),
        "reading": _plain_reader(units.resistance_reading),
        "insulated": insulation_of_meter,
        "insulation": insulation_of_label,
        "tolerance": _plain_reader(units.tolerance),
        "moisture": moisture_of_meter,
        "moisture_limits": moisture_limits_of_sheet,
        "drying": _drying,
        "dates": _dates,
        "weekdays": _weekdays,
        "hours": _hours,
        "email": _matching(_EMAIL, "email-form"),
        "phone": _matching(_PHONE, "phone-form"),
        "reach": _reach,
        "roles": _roles,
        "coefficients": _coefficients,
    }
)
