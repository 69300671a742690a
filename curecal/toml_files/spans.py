"""Which values a site can have: beyond them figure, unit or decimal point is wrong.

One table of spans for job file, log entries and loggers: 51 °F read as 51 °C would count a cold
floor as cured, 4 mm of screed for 4 cm would dry in days. The figures are our own choice.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from types import MappingProxyType

from curecal import units
from curecal.errors import QuantityRefused, SourceError, ValueRefused
from curecal.toml_files.shown import shorten
from curecal.trade.data_sheets import Kind

UNHEATED_C = (-40.0, 45.0)
"""Room air, and every surface and floor with its heating off [°C]."""
HEATED_C = (-40.0, 60.0)
"""A floor whose heating may be on [°C]."""
DAY_S = 86_400.0
WAIT_S = (60.0, 365 * DAY_S)
"""What a maker's wait can be [s]."""
USUAL_WAIT_S = 120 * DAY_S
"""A longer wait is asked about [s]."""
NO_LATER_S = (600.0, 90 * DAY_S)
"""How long a coat can bear to lie open before what follows [s]."""
DOUBLING_K = (2.0, 40.0)
"""What drop in temperature can double a wait [K]."""
STEP_K = (0.25, 50.0)
"""What a floor can be wished to rise in a day [K]."""
SHORT_HEAT_S = 3 * DAY_S
RAPID_HEAT_S = DAY_S
MAKERS_HEAT_S = 7 * DAY_S
"""A shorter wait before heat is asked about [s]: of a product, a rapid one, the heating's maker."""
SHORT_S: Mapping[tuple[Kind, str], float] = MappingProxyType(
    {
        (Kind.CONCRETE, "cover"): DAY_S,
        (Kind.SCREED, "cover"): DAY_S,
        (Kind.MORTAR_BED, "cover"): DAY_S,
        (Kind.LEVELER, "cover"): 4 * 3600.0,
        (Kind.THINSET, "grout"): 8 * 3600.0,
        (Kind.THINSET, "walk"): 2 * 3600.0,
        (Kind.THINSET, "load"): 12 * 3600.0,
        (Kind.THINSET, "wet"): DAY_S,
        (Kind.GROUT, "walk"): 2 * 3600.0,
        (Kind.GROUT, "seal"): 12 * 3600.0,
        (Kind.GROUT, "load"): 12 * 3600.0,
        (Kind.GROUT, "wet"): DAY_S,
    }
)
"""A shorter wait of a product that is not rapid is asked about [s]."""
SHORT_FROST_S = DAY_S
SHORT_SEALED_S = 14 * DAY_S
SHORT_UNDER_COVER_S = DAY_S
"""Shorter is asked about [s]: frost age, heat of shut-in mortar (from 14 days in print), cover."""
MOST_TOLERANCE = 0.2
"""A label's wider tolerance is asked about, as a fraction: with it hardly any reading fails."""
LEAST_MINIMUM_C = 0.0
"""A product that cures in colder than this is asked about [°C]."""
BREAKER_A = (1.0, 125.0)
"""Another breaker of a floor's circuit is asked about [A]."""
MOST_DRYING_M_PER_S = 0.003 / DAY_S
"""A base that dries faster is asked about [m/s]."""
MOST_MOISTURE: Mapping[str, tuple[float, str]] = MappingProxyType(
    {
        "carbide": (0.03, "3 CM-%"),
        "humidity": (0.9, "90 % RH"),
        "probe": (0.9, "90 % RH"),
        "hood": (0.9, "90 % RH"),
        "wood meter": (0.18, "18 %"),
        "calcium chloride": (0.039 / DAY_S, "39 g/m² a day (8 lb/1000 ft²)"),
    }
)
"""A wetter base is asked about, by method: fractions, of calcium chloride [kg/(m²·s)]; as shown."""
LEAST_TILE_M = 0.015
"""A smaller edge of a tile is asked about [m]."""
AREA_M2 = (0.1, 500.0)
"""What one thermostat can heat [m²]."""
SPACING_M = (0.005, 0.6)
"""From one run of a heating cable to the next [m]."""
CLEARANCE_M = (0.005, 5.0)
"""From a heating cable to a wall or a drain [m]."""
STRAPPING_M = (0.02, 3.0)
"""From one strap of a heating cable to the next [m]."""
HUMIDITY = (0.05, 1.0)
"""Air a person works in, as a fraction."""
FASTEST_M2_PER_S: Mapping[Kind, float] = MappingProxyType(
    {Kind.THINSET: 12 / 3600.0, Kind.GROUT: 25 / 3600.0}
)
"""Work that is meant to go faster is asked about [m²/s]: 12 m² of tile, 25 m² of joints an hour."""
# The thickest layer below.
DEEPEST_M = 0.3
THICKNESS_M: Mapping[Kind, tuple[float, float]] = MappingProxyType(
    {
        Kind.CONCRETE: (0.02, 0.3),
        Kind.SCREED: (0.01, 0.3),
        Kind.MORTAR_BED: (0.01, 0.15),
        Kind.LEVELER: (0.001, 0.06),
        Kind.GYPSUM_LEVELER: (0.002, 0.06),
        Kind.THINSET: (0.001, 0.025),
        Kind.GROUT: (0.001, 0.03),
        Kind.UNCOUPLING_SHEET: (0.0, 0.03),
        Kind.MEMBRANE: (0.0, 0.006),
        Kind.PRIMER: (0.0, 0.003),
        Kind.BARRIER: (0.0, 0.006),
        Kind.SEALER: (0.0, 0.003),
        Kind.ADHESIVE: (0.0, 0.02),
        Kind.BACKER_BOARD: (0.003, 0.1),
        Kind.CEMENT_BOARD: (0.003, 0.1),
        Kind.GYPSUM_FIBER_BOARD: (0.003, 0.1),
        Kind.FOAM_CORE_BOARD: (0.003, 0.2),
        Kind.INSULATION_BOARD: (0.003, 0.3),
        Kind.WATERPROOFING_SHEET: (0.0, 0.006),
        Kind.DRY_SCREED: (0.01, 0.1),
        Kind.POURED_ASPHALT: (0.015, 0.06),
        Kind.POURED_FINISH: (0.0005, 0.05),
        Kind.PLYWOOD: (0.003, 0.06),
        Kind.MASTIC: (0.0, 0.02),
        Kind.SILICONE: (0.0, 0.03),
        Kind.PERIMETER_STRIP: (0.0, 0.05),
    }
)
"""How thick a layer of a kind lies [m].

Thinner is refused, as it would dry too early; thicker is asked about.
"""
# For a unit, those it is mistaken for, the likeliest first.
_MISTAKEN: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "mm": ("cm",),
        "cm": ("mm",),
        "in": ("mm",),
        "m": ("mm", "cm"),
        "m²": ("ft²",),
        "m2": ("ft2",),
        "s": ("min", "h"),
        "min": ("h",),
        "h": ("d",),
        "d": ("h",),
        "day": ("h",),
        "days": ("h",),
        "weeks": ("days",),
        "week": ("days",),
        "w": ("d",),
        "wk": ("d",),
        "years": ("days",),
        "mA": ("A",),
    }
)
_FIGURE = re.compile(r"(?P<figure>\d+(?:\.\d+)?) ?(?P<unit>[^\W\d]+[²2]?|%)")
_DEGREES = re.compile(
    r"(?P<figure>-?\d+(?:\.\d+)?) ?°? ?(?P<unit>[CcFf])(?:elsius|ahrenheit)?", re.ASCII
)
_SCALES = (0.01, 0.1, 10.0, 100.0)
# A million readings say no more of a room's usual warmth than ten thousand.
_JUDGED = 10_000


def median_c(readings_c: Sequence[float]) -> float | None:
    """Return the median of many readings [°C], the upper one of two; None without a reading."""
    values = sorted(readings_c[:: len(readings_c) // _JUDGED + 1])
    return values[len(values) // 2] if values else None


def is_unheated(temperature_c: float) -> bool:
    """Return whether a place that nothing heats can have a temperature [°C]."""
    least_c, most_c = UNHEATED_C
    return least_c <= temperature_c <= most_c


def wrong_median_c(readings_c: Sequence[float]) -> float | None:
    """Return the median [°C] of readings that no unheated place has, else None.

    Single rows out of a hot van are left to the rule for sudden changes.
    """
    usual_c = median_c(readings_c)
    return None if usual_c is None or is_unheated(usual_c) else usual_c


def meant(value: object, reads: Callable[[object], float], least: float, most: float) -> str:
    """Return a value outside a span as it was likely meant: another unit, else another scale.

    Args:
        value: What the file says.
        reads: What reads it.
        least: The least that can be, in what `reads` gives.
        most: The most that can be.

    Returns:
        The text, or none where nothing plain is inside.
    """
    match = _FIGURE.fullmatch(str(value).strip())
    if match is None:
        return ""
    texts = [f"{match['figure']} {unit}" for unit in _MISTAKEN.get(match["unit"], ())]
    # A percentage far too small is a fraction; of other figures the decimal point slipped.
    scales = (100.0,) if match["unit"] == "%" else _SCALES
    texts += [f"{float(match['figure']) * scale:g} {match['unit']}" for scale in scales]
    for text in texts:
        try:
            if least <= reads(text) <= most:
                return text
        except QuantityRefused:
            continue
    return ""


def not_in_span(code: str, value: object, least_c: float, most_c: float) -> ValueRefused:
    """Return the refusal of a temperature outside a span, with the other unit if that is in it."""
    mistaken = _DEGREES.fullmatch(str(value).strip())
    unit = "°C" if mistaken and mistaken["unit"] in "Ff" else "°F"
    other = f"{mistaken['figure']} {unit}" if mistaken else ""
    if not other or not least_c <= units.temperature(other) <= most_c:
        other = ""
    return ValueRefused(
        code,
        text=shorten(value),
        least=f"{least_c:g} °C",
        most=f"{most_c:g} °C",
        meant=other,
    )


def refuse_hot(device: str, readings_c: Sequence[float]) -> None:
    """Refuse a logger's readings that are no unheated place's.

    Args:
        device: The logger, as people know it.
        readings_c: Its readings [°C].

    Raises:
        SourceError: Their median is outside of what such a place can have.
    """
    wrong_c = wrong_median_c(readings_c)
    if wrong_c is not None:
        raise SourceError("readings-no-room", device=device, usual_c=wrong_c, most_c=UNHEATED_C[1])
