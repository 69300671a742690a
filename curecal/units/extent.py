"""Durations, lengths, tile sizes and areas, as people write them."""

from __future__ import annotations

import re

from curecal.units.grammar import written
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
    """The elapsed time a text states ("2 1/2 h", "7 days", "1 d 12 h"); a day is 24 hours.

    Args:
        text: Figures with s, min, h, d or weeks, the larger unit first.

    Returns:
        The duration, zero or more [s].

    Raises:
        QuantityRefused: no such text, or a negative one. A month has no fixed length.

    Validity:
        Any length a float holds.
    """
    read = written(text, DURATION)
    return read.rounded(read.not_negative(read.plain().value))


def duration_range(text: object) -> Range:
    """The span of durations a text states ("24-48 h", "at most 3 hours", "at least 7 days").

    Args:
        text: One duration, two with a dash or "to" between, or a bound in words or signs.

    Returns:
        Both ends [s]. An upper bound starts at zero; a lower bound has both ends at the bound,
        because nothing longer is stated.

    Raises:
        QuantityRefused: no such text, ends in the wrong order, or a negative one.

    Validity:
        Any length a float holds.
    """
    read = written(text, DURATION_RANGE)
    bound = read.bound()
    if bound is None:
        low, high = read.span()
        return read.range(read.not_negative(low), high)
    side, amount = bound
    high = read.not_negative(amount.value)
    return read.range(high if side == "at least" else high * 0, high)


def length(text: object) -> float:
    """The length a text states ("3/8 in", "12mm", "1 ft 6 in").

    Args:
        text: Figures with mm, cm, m, in or ft, the larger unit first.

    Returns:
        The length, zero or more [m].

    Raises:
        QuantityRefused: no such text, or a negative one.

    Validity:
        Any length a float holds.
    """
    read = written(text, LENGTH)
    return read.rounded(read.not_negative(read.plain().value))


def length_range(text: object) -> Range:
    """The span of lengths a text states ("1/4 to 3/8 in", "6-10 mm", "up to 10 mm").

    Args:
        text: One length, two with a dash or "to" between, or an upper bound.

    Returns:
        Both ends [m]; an upper bound starts at zero.

    Raises:
        QuantityRefused: no such text, ends in the wrong order, a negative one, or a lower bound
            alone: the deepest spot governs, and "at least 6 mm" does not say it.

    Validity:
        Any length a float holds.
    """
    read = written(text, LENGTH_RANGE)
    bound = read.bound()
    if bound is None:
        low, high = read.span()
        return read.range(read.not_negative(low), high)
    side, amount = bound
    if side == "at least":
        raise read.refused("quantity-no-upper-end")
    high = read.not_negative(amount.value)
    return read.range(high * 0, high)


def tile_size(text: object) -> tuple[float, float]:
    """The two edges of a tile ("12 x 24 in", "300 x 600 mm"), in the order written.

    Args:
        text: Two lengths with "x", the multiplication sign or "by" between.

    Returns:
        Both edges, above zero [m].

    Raises:
        QuantityRefused: no such text, a negative edge or one of zero.

    Validity:
        Any length a float holds.
    """
    read = written(text, TILE_SIZE)
    edges = read.pair(_BY)
    if edges is None:
        raise read.unreadable()
    first, second = (read.rounded(read.positive(edge.value)) for edge in edges)
    return first, second


def area(text: object) -> float:
    """The area a text states ("54 ft²", "5 m2", "54 sq ft").

    Args:
        text: A figure with m², cm², ft² or in², in any of their spellings.

    Returns:
        The area, zero or more [m²].

    Raises:
        QuantityRefused: no such text, or a negative one.

    Validity:
        Any area a float holds.
    """
    read = written(text, AREA)
    return read.rounded(read.not_negative(read.plain().value))
