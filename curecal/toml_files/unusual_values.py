"""Which values can be and hardly ever are: they are asked about, and count as they stand."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator, Mapping
from types import MappingProxyType
from typing import Any

from curecal import units
from curecal.records import Record, record
from curecal.toml_files import spans
from curecal.toml_files.shown import shorten
from curecal.trade.site_log import Method

_HAIR = 1e-9
_FAHRENHEIT = re.compile(r"(?P<figure>-?\d+(?:\.\d+)?) ?°? ?[Ff](?:ahrenheit)?", re.ASCII)

_BY_MASS = re.compile(r"(?P<figure>\d+(?:\.\d+)?) ?(?P<unit>CM-?%|%)", re.ASCII)


@record
class Unusual(Record):
    """What is usual instead of a value, as people read it, and what was likely meant, if anything.

    `text` is the part of the value it is about.
    """

    text: str
    usual: str
    meant: str = ""


def find_unusual(reads: str, found: object, value: object) -> Iterator[Unusual]:
    """Yield what is unusual in a value that was read, by the reader its key names."""
    look = _LOOKS.get(reads)
    if look is not None:
        yield from look(found, value)


def _tolerance(found: units.Tolerance, value: object) -> Iterator[Unusual]:
    if max(found.below, found.above) > spans.MOST_TOLERANCE + _HAIR:
        yield Unusual(shorten(value), "±20 % at most")


def _minimum(found: float, value: object) -> Iterator[Unusual]:
    if found < spans.LEAST_MINIMUM_C:
        mistaken = _FAHRENHEIT.fullmatch(str(value).strip())
        likely = f"{mistaken['figure']} °C" if mistaken else ""
        is_likely = likely and units.temperature(likely) >= spans.LEAST_MINIMUM_C
        yield Unusual(shorten(value), "0 °C (32 °F) or more", likely if is_likely else "")


def _breaker(found: float, value: object) -> Iterator[Unusual]:
    least_a, most_a = spans.BREAKER_A
    if not least_a <= found <= most_a:
        likely = spans.meant(value, units.current, least_a, most_a)
        yield Unusual(shorten(value), f"{least_a:g} to {most_a:g} A", likely)


def _drying(found: tuple[tuple[float | None, float], ...], value: object) -> Iterator[Unusual]:
    fastest_s_per_m = 1.0 / spans.MOST_DRYING_M_PER_S
    if any(s_per_m < fastest_s_per_m * (1.0 - _HAIR) for _, s_per_m in found):
        yield Unusual(shorten(value), "3 mm/day at most")
    if any(to_m is not None and to_m > spans.DEEPEST_M for to_m, _ in found):
        yield Unusual(shorten(value), "a break within 300 mm")


def _moisture(found: Mapping[str, units.Moisture], value: object) -> Iterator[Unusual]:
    for method, told in found.items():
        most, shown = spans.MOST_MOISTURE[method]
        figure = told.fraction if told.evaporated_kgm2s is None else told.evaporated_kgm2s
        if figure is not None and figure > most * (1.0 + _HAIR):
            text = value.get(method, value) if isinstance(value, dict) else value
            yield Unusual(shorten(text), f"{shown} at most", _a_tenth(text, method, most))


def _a_tenth(text: object, method: str, most: float) -> str:
    """Return a limit by mass with its decimal point moved, where that is usual."""
    match = _BY_MASS.fullmatch(str(text).strip()) if method == Method.CARBIDE else None
    tenth = float(match["figure"]) / 10.0 if match else math.inf
    return f"{tenth:g} {match['unit']}" if match and tenth <= most * 100.0 else ""


def _size(found: tuple[float, float], value: object) -> Iterator[Unusual]:
    if min(found) < spans.LEAST_TILE_M - _HAIR:
        text = shorten(value)
        likely = f"{text[:-2].rstrip()} in" if text.endswith("mm") else ""
        yield Unusual(text, "edges of 15 mm (5/8 in) or more", likely)


# What a key reads decides which type it gives.
_LOOKS: Mapping[str, Callable[[Any, object], Iterator[Unusual]]] = MappingProxyType(
    {
        "tolerance": _tolerance,
        "least": _minimum,
        "current": _breaker,
        "drying": _drying,
        "moisture_limits": _moisture,
        "size": _size,
    }
)
