"""What counts in silence, against a plain reckoning of every reading at every instant."""

from __future__ import annotations

import random
from itertools import pairwise
from types import MappingProxyType

import pytest

from curecal.planning.climate.pieces import Piece, Worst
from curecal.planning.climate.silence import Assumption, fill_silence, find_near

HOUR_S = 3600.0
NEAR_S = 24.0 * HOUR_S
UNTIL_S = 400.0 * HOUR_S
AS_OF_S = 200.0 * HOUR_S
WORST = MappingProxyType({"temperature": min, "humidity": max})


def _at(
    instant_s: float, readings: list[tuple[float, float]], assumed: Assumption, worst: Worst
) -> float:
    """Return what counts at an instant of silence: no better than anything read near it."""
    value = assumed.past if instant_s < assumed.as_of_s else assumed.ahead
    for at_s, read in readings:
        if abs(instant_s - at_s) <= NEAR_S:
            value = worst(value, read)
    return value


@pytest.mark.parametrize("kind", WORST)
@pytest.mark.parametrize("seed", range(12))
def test_silence_is_no_better_than_anything_read_near_it(kind: str, seed: int) -> None:
    chance, worst = random.Random(seed), WORST[kind]  # noqa: S311 - a test's own
    hours = sorted(chance.sample(range(2, 190), chance.randint(1, 60)))
    readings = [(hour * HOUR_S, float(chance.randint(0, 9))) for hour in hours]
    # Pieces from one reading to the next where they are close.
    covered = [
        Piece(start_s, end_s, start, end)
        for (start_s, start), (end_s, end) in pairwise(readings)
        if end_s - start_s <= 3.0 * HOUR_S
    ]
    assumed = Assumption(chance.choice((3.0, 5.0)), 4.0, AS_OF_S, UNTIL_S)
    near = find_near(covered, readings, (), (), near_s=NEAR_S, until_s=UNTIL_S, worst=worst)
    found = fill_silence(covered, near, assumed, worst)
    assert found[0].start_s == 0.0
    assert found[-1].end_s == UNTIL_S
    assert all(one.end_s == other.start_s for one, other in pairwise(found))
    silent = [piece for piece in found if piece not in covered]
    assert silent
    for piece in silent:
        for part in (0.001, 0.5, 0.999):
            instant_s = piece.start_s + (piece.end_s - piece.start_s) * part
            assert piece.at(instant_s) == _at(instant_s, readings, assumed, worst)


def test_what_is_alike_in_silence_is_one_piece() -> None:
    readings = [(hour * HOUR_S, 20.0 + hour % 5) for hour in range(48)]
    near = find_near((), readings, (), (), near_s=NEAR_S, until_s=UNTIL_S, worst=min)
    found = fill_silence((), near, Assumption(14.0, 14.0, AS_OF_S, UNTIL_S), min)
    assert [(piece.start_s, piece.end_s, piece.start) for piece in found] == [
        (0.0, AS_OF_S, 14.0),
        (AS_OF_S, UNTIL_S, 14.0),
    ]


def test_a_reading_that_is_outdone_is_no_step_of_its_own() -> None:
    # The last reading is the worst: for as long as it speaks nothing before it says more.
    read_until = 48
    readings = [(hour * HOUR_S, 60.0 - hour) for hour in range(read_until)]
    covered = [
        Piece(start_s, end_s, start, end) for (start_s, start), (end_s, end) in pairwise(readings)
    ]
    near = find_near(covered, readings, (), (), near_s=NEAR_S, until_s=UNTIL_S, worst=min)
    last_s, last = readings[-1]
    assert near == [(last_s, last_s + NEAR_S, last)]
