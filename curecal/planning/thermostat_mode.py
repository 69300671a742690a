"""What a word for a thermostat's mode says: whether it controls the floor by its own sensor."""

from __future__ import annotations

import re

from curecal.planning.said import plain

_FLOOR = frozenset(
    [
        "floor",
        "boden",
        "fussboden",
        "bodenfuhler",
        "sol",
        "plancher",
        "suelo",
        "piso",
        "pavimento",
        "vloer",
        "golv",
        "gulv",
    ]
)
_BESIDE = frozenset(
    [
        "sensor",
        "sensors",
        "probe",
        "sonde",
        "fuhler",
        "only",
        "mode",
        "control",
        "controlled",
        "controls",
        "controlling",
        "regulation",
        "sensing",
        "temperature",
        "temp",
        "by",
        "the",
        "its",
        "on",
        "to",
        "set",
        "in",
        "from",
        "of",
        "de",
        "du",
        "del",
        "nach",
        "uber",
    ]
)
_LIMIT = frozenset(
    [
        "limit",
        "maximum",
        "max",
        "high",
        "floor",
        "a",
        "its",
        "the",
        "to",
        "at",
        "of",
        "set",
        "c",
        "f",
        "deg",
        "degrees",
    ]
)
_ELSE = frozenset(
    [
        "air",
        "ambient",
        "room",
        "space",
        "luft",
        "raum",
        "ambiance",
        "ambiant",
        "piece",
        "aire",
        "aria",
        "lucht",
        "rum",
        "off",
        "no",
        "not",
        "without",
        "disabled",
        "missing",
    ]
)
_CLAUSES = re.compile(r"\bwith\b|\band\b|[,;+&]")


def controls_floor(mode: str) -> bool | None:
    """Return whether a mode controls the floor, by words that say nothing else.

    A mode that goes by the air and only limits the floor is another: it heats a floor as long as
    the room is cold.

    Rule: R24.

    Args:
        mode: the mode as written: "floor", "floor sensor with limit 29 °C".

    Returns:
        True or False; None where the words are not known.
    """
    clauses = [re.findall(r"[^\W\d_]+", part) for part in _CLAUSES.split(plain(mode))]
    first, *others = clauses
    words = set(first)
    if words & _FLOOR and words <= _FLOOR | _BESIDE and all(map(_is_limit, others)):
        return True
    return False if any(word in _ELSE for part in clauses for word in part) else None


def _is_limit(words: list[str]) -> bool:
    return not words or ("limit" in words and set(words) <= _LIMIT)
