"""Durations, lengths, tile sizes and areas, as people write them."""

from __future__ import annotations

import re

from curecal.units.grammar import Written, plain_figure, written
from curecal.units.kinds import (
    AREA,
    DURATION,
    DURATION_RANGE,
    LENGTH,
    LENGTH_RANGE,
    TILE_SIZE,
    Range,
)

_BY = re.compile(" ?[xX\u00d7] ?| (?i:by) ", re.ASCII)


def duration(text: object) -> float:
    """Return the elapsed time a text states ("2 1/2 h", "1 d 12 h"), zero or more [s].

    A day is 24 hours; a month has no fixed length and is refused.

    Raises:
        QuantityRefused: no such text, or a negative one.
    """
    return plain_figure(text, DURATION)


def duration_range(text: object) -> Range:
    """Return both ends of the durations a text states ("24-48 h", "at most 3 hours") [s].

    An upper bound starts at zero; a lower bound has both ends at the bound, because nothing longer
    is stated.

    Raises:
        QuantityRefused: no such text, ends in the wrong order, or a negative one.
    """
    return _range(written(text, DURATION_RANGE))


def length(text: object) -> float:
    """Return the length a text states ("3/8 in", "12mm", "1 ft 6 in"), zero or more [m].

    Raises:
        QuantityRefused: no such text, or a negative one.
    """
    return plain_figure(text, LENGTH)


def length_range(text: object) -> Range:
    """Return both ends of the lengths a text states ("1/4 to 3/8 in", "up to 10 mm") [m].

    An upper bound starts at zero.

    Raises:
        QuantityRefused: no such text, ends in the wrong order, a negative one, or a lower bound
            alone: the deepest spot governs, and "at least 6 mm" does not say it.
    """
    read = written(text, LENGTH_RANGE)
    bound = read.bound()
    if bound is not None and bound[0] == "at least":
        raise read.refused("quantity-no-upper-end")
    return _range(read)


def tile_size(text: object) -> tuple[float, float]:
    """Return the two edges of a tile ("12 x 24 in"), in the order written, above zero [m].

    Raises:
        QuantityRefused: no such text, a negative edge or one of zero.
    """
    read = written(text, TILE_SIZE)
    edges = read.pair(_BY)
    if edges is None:
        raise read.unreadable()
    first, second = (read.rounded(read.positive(edge.value)) for edge in edges)
    return first, second


def area(text: object) -> float:
    """Return the area a text states ("54 ft²", "5 m2", "54 sq ft"), zero or more [m²].

    Raises:
        QuantityRefused: no such text, or a negative one.
    """
    return plain_figure(text, AREA)


def _range(read: Written) -> Range:
    """Return both ends of two figures, or of a bound in words or signs."""
    bound = read.bound()
    if bound is None:
        low, high = read.span()
        return read.range(read.not_negative(low), high)
    side, amount = bound
    high = read.not_negative(amount.value)
    return read.range(high if side == "at least" else high * 0, high)
