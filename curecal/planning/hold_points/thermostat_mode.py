"""What a word for a thermostat's mode says: whether it controls the floor by its own sensor."""

from __future__ import annotations

import re

from curecal.planning.site_log.said import listed, plain

_FLOOR = listed(
    "floor underfloor infloor boden fussboden bodenfuhler sol plancher suelo piso pavimento vloer "
    "golv gulv"
)
_BESIDE = listed(
    "sensor sensors probe sonde fuhler only seul mode control controlled controls controlling "
    "regulation sensing temperature temp by the its on to set in from of de du del au nach uber "
    "external remote ntc k kohm k\u03c9 ohm ohms programmable"
)
_LIMIT = listed(
    "limit limited limiter maximum max high upper floor a its the to at of set c f deg degrees"
)
_SAYS_LIMIT = listed("limit limited maximum max")
_AIR = listed("air ambient room space luft raum ambiance ambiant piece aire aria lucht rum")
# Words that begin so are of the room's air as well: a sensor, a temperature, a regulation of it.
_AIR_STEMS = ("luft", "raum", "rums", "roomstat", "ambi", "lucht")
_DENIED = listed("not no without ohne nicht kein keine sans")
_OFF = listed("off disabled deactivated unused")
_BESIDE_AIR = listed(
    "sensor sensors probe mode control controlled regulation sensing temperature temp by the on is "
    "its"
)
_PROGRAM = listed(
    "schedule schedules scheduled program programme programmed programmable timer manual"
)
_BESIDE_PROGRAM = listed("mode on off no hold is set the")
_KIND = listed("ntc k kohm k\u03c9 ohm ohms sensor probe external remote")
_ELSE = (
    _DENIED
    | _OFF
    | listed(
        "missing regulator duty bypass bypassed broken faulty defective failed fault error "
        "disconnected unplugged"
    )
)
# "Floor (sensor)" says what goes with the floor, and nothing beside it.
_SENSOR = r"\(((?:sensor|probe|mode|control)(?: (?:sensor|probe|mode|control))?)\)"
_CLAUSES = r"\bwith\b|\band\b|[,;+&()/]|(?=\b(?:not|without|ohne|nicht|sans)\b)"


def controls_floor(mode: str) -> bool | None:
    """Return whether a mode controls the floor, by words that say nothing else.

    A mode that goes by the air and only limits the floor is another: it heats a floor as long as
    the room is cold. What is said beside it may be a limit, that the air is not what it goes by,
    whether it has a schedule, what its sensor is.

    Rule: R24.

    Args:
        mode: the mode as written: "floor", "floor sensor with limit 29 °C", "floor (not air)".

    Returns:
        True or False; None where the words are not known.
    """
    said = re.sub(_SENSOR, r" \1 ", plain(mode))
    parts = [re.findall(r"[^\W\d_]+", part) for part in re.split(_CLAUSES, said)]
    clauses = [part for part in parts if part]
    floor = [part for part in clauses if _is_floor(set(part))]
    if floor and all(_is_beside(part) for part in clauses if part not in floor):
        return True
    words = [word for part in clauses for word in part]
    return False if any(word in _ELSE or _is_air(word) for word in words) else None


def _is_air(word: str) -> bool:
    return word in _AIR or word.startswith(_AIR_STEMS)


def _is_floor(words: set[str]) -> bool:
    return bool(words & _FLOOR) and words <= _FLOOR | _BESIDE


def _is_beside(part: list[str]) -> bool:
    """Return whether a clause leaves the floor in control, whatever else it says."""
    words = set(part)
    limits = bool(words & _SAYS_LIMIT) and words <= _LIMIT
    programs = bool(words & _PROGRAM) and words <= _PROGRAM | _BESIDE_PROGRAM
    kind = bool(words & (_KIND - {"sensor", "probe"})) and words <= _KIND
    return limits or programs or kind or _denies_air(part)


def _denies_air(part: list[str]) -> bool:
    """Return whether a clause says that the air is not what it goes by: once, not twice."""
    air = [word for word in part if word in _AIR]
    rest = [word for word in part if word not in _AIR and word not in _BESIDE_AIR]
    said = rest == part[:1] and set(rest) <= _DENIED
    off = rest == part[-1:] and set(rest) <= _OFF
    return bool(air) and bool(rest) and (said or off)
