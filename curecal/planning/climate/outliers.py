"""Readings no room makes: a thermometer that came out of a warm van, or one wrong value.

A room does not change by more than a few kelvin in a quarter of an hour. Where readings do, one
side of the jump was taken elsewhere, and nobody knows which: the colder counts for as long as a
single reading would cover, and a person is asked.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from itertools import pairwise

from curecal.records import Record, record
from curecal.trade.rules import Rules

Points = Sequence[tuple[float, float]]


@record
class Outlier(Record):
    """Readings that cannot all be of this room: at `at_s` they left what came before or after."""

    at_s: float
    from_c: float
    to_c: float
    alone: bool = False


def find_outliers(points: Points, rules: Rules) -> list[Outlier]:
    """Return where readings jump as no room does, and single ones far from both neighbors.

    Rule: R5.

    Args:
        points: (instant [s], value [°C]) in order.
    """
    if not points:
        return []
    spots = rules.spot_readings
    most_k, within_s, near_s = spots.jump_k, spots.jump_s, spots.lone_s
    found = [
        Outlier(after_s, before_c, after_c)
        for (before_s, before_c), (after_s, after_c) in pairwise(points)
        if 0.0 < after_s - before_s <= within_s and abs(after_c - before_c) > most_k
    ]
    for (first_s, first_c), (at_s, at_c), (last_s, last_c) in _threes(points):
        # A night lies between two readings a day apart: only what is close by speaks against one.
        near = last_s - at_s <= near_s and at_s - first_s <= near_s
        below, above = min(first_c, last_c) - at_c, at_c - max(first_c, last_c)
        if near and max(below, above) > most_k:
            beside_c = min(first_c, last_c) if above > below else max(first_c, last_c)
            found.append(Outlier(at_s, beside_c, at_c, alone=True))
    return sorted(found, key=lambda doubt: (doubt.at_s, doubt.alone))


def _threes(points: Points) -> list[tuple[tuple[float, float], ...]]:
    return list(zip(points, points[1:], points[2:], strict=False))


def lower_outliers(points: Points, rules: Rules) -> list[tuple[float, float]]:
    """Return readings with the warm side of every jump as cold as the cold one.

    From a jump on, as long as a single reading covers; a single warm value, as the colder of its
    neighbors. What is too cold stays: it counts until somebody corrects it.

    Rule: R5.

    Args:
        points: (instant [s], value [°C]) in any order.

    Returns:
        Points in order, none warmer than before.
    """
    ordered = sorted(points)
    level = [value_c for _, value_c in ordered]
    instants = [at_s for at_s, _ in ordered]
    for doubt in find_outliers(ordered, rules):
        first, last, cold_c = level_of(doubt, instants, rules)
        level[first:last] = [min(value_c, cold_c) for value_c in level[first:last]]
    return [(at_s, value_c) for (at_s, _), value_c in zip(ordered, level, strict=True)]


def level_of(doubt: Outlier, instants_s: Sequence[float], rules: Rules) -> tuple[int, int, float]:
    """Return which readings are no warmer than the cold side of a jump, and how cold that is.

    Rule: R5.

    Args:
        doubt: the jump, or the single reading.
        instants_s: the instants of the readings in order [s].

    Returns:
        The place of the first of them and that behind the last, and the cold side [°C].
    """
    reach_s = rules.spot_readings.lone_s
    cold_c = min(doubt.from_c, doubt.to_c)
    first = bisect_left(instants_s, doubt.at_s)
    last = first + 1 if doubt.alone else bisect_right(instants_s, doubt.at_s + reach_s)
    if doubt.to_c <= doubt.from_c:
        # The warm side came before; a single cold value has none.
        last = first
        first = first if doubt.alone else bisect_left(instants_s, doubt.at_s - reach_s)
    return first, last, cold_c
