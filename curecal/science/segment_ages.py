"""Equivalent age of one segment, and the instant in it at which an age has been added.

A segment is cut wherever the rate jumps or bends, and each smooth piece is integrated by
Gauss-Legendre quadrature that halves the piece until two orders agree. A segment over which
nothing moves costs one call.
"""

from __future__ import annotations

import math
from itertools import pairwise

from curecal.science.history import Segment
from curecal.science.rate import Rate

SLACK_S = 1e-6
"""An age this close counts as reached: sums of a thousand hours miss a round number by 1e-9 s,
and what is missing must not wait for the end of a frosty night."""

AGREE = 1e-6
"""How far the second and third order may differ, relative. The third, which is used, is then
nearer by orders of magnitude: its error falls with the sixth power of a piece, theirs with the
fourth."""

_CLOSE_S = 1e-8
"""How near Newton's method comes to an age: far below the slack, far above rounding."""

DEEPEST = 24
"""Halvings of a piece before a rate that still jumps is taken as it is: a week to 40 ms."""

NODE_2 = 0.5773502691896257  # 1/√3
NODE_3 = 0.7745966692414834  # √(3/5)
_FINEST = 1e-14
"""The smallest part of a segment that binary fractions still tell apart with two digits spare."""


def _rate_at(segment: Segment, rate: Rate, part: float) -> float:
    return rate.at(
        temperature_c=segment.start_c + (segment.end_c - segment.start_c) * part,
        humidity=segment.start_rh + (segment.end_rh - segment.start_rh) * part,
    )


def _pieces(segment: Segment, rate: Rate) -> list[tuple[float, float]]:
    """Return the stretches of a segment between two breaks, as fractions of the way."""
    cuts = list(rate.bends(segment))
    for start, end, breaks in (
        (segment.start_c, segment.end_c, rate.breaks_c),
        (segment.start_rh, segment.end_rh, rate.breaks_rh),
    ):
        low, high = min(start, end), max(start, end)
        cuts.extend((place - start) / (end - start) for place in breaks if low < place < high)
    if not cuts:
        return [(0.0, 1.0)]
    edges = [0.0, *sorted(cut for cut in set(cuts) if 0.0 < cut < 1.0), 1.0]
    return list(pairwise(edges))


def segment_age(segment: Segment, rate: Rate) -> float:
    """Return the age that a segment adds [s].

    Validity:
        Any segment; what the rate is not held for, the rate refuses.

    Source:
        Definition: the integral of the rate over time, by Gauss-Legendre quadrature.
    """
    if segment.is_constant:
        return segment.span_s * _rate_at(segment, rate, 0.0)
    return sum(_piece_age(segment, rate, low, high) for low, high in _pieces(segment, rate))


def age_until(segment: Segment, rate: Rate, part: float) -> float:
    """Return the age that a segment adds on a part of its way [s].

    Args:
        part: How much of the way, from 0 to 1 [1].

    Validity:
        Any segment; what the rate is not held for, the rate refuses.

    Source:
        Definition: the integral of the rate over time, by Gauss-Legendre quadrature.
    """
    if segment.is_constant:
        return segment.span_s * part * _rate_at(segment, rate, 0.0)
    return sum(
        _piece_age(segment, rate, low, min(high, part))
        for low, high in _pieces(segment, rate)
        if low < part
    )


def _samples(segment: Segment, rate: Rate, low: float, high: float) -> tuple[float, ...]:
    """Return the rate at the nodes of both quadratures, in order [1]."""
    middle, half = (low + high) / 2.0, (high - low) / 2.0
    return (
        _rate_at(segment, rate, middle - half * NODE_3),
        _rate_at(segment, rate, middle - half * NODE_2),
        _rate_at(segment, rate, middle),
        _rate_at(segment, rate, middle + half * NODE_2),
        _rate_at(segment, rate, middle + half * NODE_3),
    )


def _piece_age(segment: Segment, rate: Rate, low: float, high: float, depth: int = 0) -> float:
    """Return the age that one smooth piece of a segment adds [s]."""
    left_3, left_2, middle, right_2, right_3 = _samples(segment, rate, low, high)
    length_s = segment.span_s * (high - low)
    if left_3 == left_2 == middle == right_2 == right_3:
        # Off or at its full rate: the length itself, so that 28 days stay 28 days to the bit.
        return length_s * middle
    second = (left_2 + right_2) / 2.0
    third = (5.0 * left_3 + 8.0 * middle + 5.0 * right_3) / 18.0
    if abs(third - second) <= AGREE * third or depth == DEEPEST:
        return length_s * third
    half = (low + high) / 2.0
    return _piece_age(segment, rate, low, half, depth + 1) + _piece_age(
        segment, rate, half, high, depth + 1
    )


def instant_in(segment: Segment, rate: Rate, missing_s: float) -> float:
    """Return the instant inside a segment at which the missing age has been added [s].

    Validity:
        Any segment; what the rate is not held for, the rate refuses.

    Source:
        Our own way: in closed form where the rate does not change, else Newton's method.
    """
    if segment.is_constant:
        return min(segment.start_s + missing_s / _rate_at(segment, rate, 0.0), segment.end_s)
    *before, last = _pieces(segment, rate)
    for piece in before:
        gain_s = _piece_age(segment, rate, *piece)
        # Twice the slack: the sum that led here had one, and rounds differently.
        if gain_s >= missing_s - 2.0 * SLACK_S:
            return _instant_in_piece(segment, rate, piece, missing_s)
        missing_s -= gain_s
    return min(_instant_in_piece(segment, rate, last, missing_s), segment.end_s)


def _instant_in_piece(
    segment: Segment, rate: Rate, piece: tuple[float, float], missing_s: float
) -> float:
    """Return the instant inside one smooth piece at which the missing age has been added [s]."""
    first, last = piece
    from_s = segment.start_s + segment.span_s * first
    middle, half = (first + last) / 2.0, (last - first) / 2.0 * NODE_3
    values = tuple(_rate_at(segment, rate, middle + part * half) for part in (-1.0, 0.0, 1.0))
    to_s = segment.start_s + segment.span_s * last
    if min(values) == max(values):
        return min(from_s + missing_s / max(values[0], _CLOSE_S), to_s)
    # Newton's method on the age, as if the rate ran straight; every fifth step halves the bracket,
    # so that it always ends.
    close_s = max(_CLOSE_S, segment.span_s * _FINEST)
    low, high, turn = first, last, 0
    slope = (values[-1] - values[0]) / (NODE_3 * (last - first))
    at_start = (values[0] + values[-1] - slope * (last - first)) / 2.0
    part = first + _straight_step(at_start, slope, missing_s / segment.span_s)
    while True:
        turn += 1
        if turn % 5 == 0 or not low < part < high:
            part = (low + high) / 2.0
        short_s = missing_s - _piece_age(segment, rate, first, part)
        if abs(short_s) <= close_s:
            return segment.start_s + segment.span_s * part
        low, high = (part, high) if short_s > 0.0 else (low, part)
        if segment.span_s * (high - low) <= close_s:
            return segment.start_s + segment.span_s * part
        step = _straight_step(_rate_at(segment, rate, part), slope, short_s / segment.span_s)
        part += step
        # A step so short is off by its cube.
        if abs(step) ** 3 * segment.span_s <= close_s and low <= part <= high:
            return segment.start_s + segment.span_s * part


def _straight_step(here: float, slope: float, missing: float) -> float:
    """Return the part of a segment in which a rate that runs straight adds a missing age [1].

    Args:
        here: The rate where the step begins [1].
        slope: How it rises over a whole segment [1].
        missing: The age that is missing, relative to the length of the segment [1].
    """
    # here · x + slope/2 · x² = missing, in the form that loses no digits where it is straight.
    root = math.sqrt(max(here * here + 2.0 * slope * missing, 0.0))
    return 2.0 * missing / max(here + root, _CLOSE_S)
