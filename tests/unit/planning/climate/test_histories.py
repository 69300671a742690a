"""Both ends of a climate: each has its own pieces, whichever is asked for first."""

from __future__ import annotations

import random
from datetime import timedelta

import numpy as np
import pytest
from planning_samples import ADA, DAY, RULES, START, expected, zone

from curecal.planning.climate.coldest import Histories
from curecal.planning.climate.pieces import Piece
from curecal.planning.climate.polylines import Polyline
from curecal.planning.climate.zone_climate import Climate, End, make_climate
from curecal.planning.site_log.log_at_instant import facts_at
from curecal.science.segment_run import SegmentRun
from curecal.trade.site_log import Place, Series

NOW = START + DAY * 30
UNTIL_S = 7200.0


def test_each_end_has_what_is_assumed_at_it() -> None:
    # What is assumed is made anew for each end, and nobody else keeps it: the pieces of one end
    # may lie in memory where those of another lay.
    line = Polyline(np.array([0.0, 3600.0, UNTIL_S]), np.array([18.0, 19.0, 18.0]))
    ends = range(100)
    made = Histories(ends, lambda end: ([line], [Piece(0.0, UNTIL_S, end / 100.0, end / 100.0)]))
    for end in ends:
        (run,) = made[end]
        assert isinstance(run, SegmentRun)
        assert run.humidities.tolist() == [end / 100.0] * 3


def logged(seed: int) -> Series:
    """A long logger of temperatures alone, with holes."""
    draw = random.Random(seed)  # noqa: S311 - a sample that stays the same
    at, points = START, []
    for _ in range(1000):
        points.append((at, 18.0 + draw.gauss(0.0, 0.3), None))
        at += timedelta(minutes=15) * (1 if draw.random() < 0.99 else draw.choice([2, 5, 40]))
    return Series(
        id="s",
        at=at,
        recorded=at,
        by="Ada",
        place=Place.AIR,
        device="a",
        interval_s=900.0,
        points=points,
    )


def climate_of(series: Series) -> Climate:
    facts = facts_at([series], NOW, (ADA,))
    made = expected(18.0, coldest_c=14.0, dampest=0.7)
    return make_climate(zone(), made, facts, START, RULES)


def humidities(made: Climate, end: End) -> set[float]:
    found: set[float] = set()
    for part in made.histories[end]:
        run = isinstance(part, SegmentRun)
        found.update(part.humidities.tolist() if run else [part.start_rh, part.end_rh])
    return found


@pytest.mark.parametrize("seed", range(30))
def test_where_no_humidity_was_read_each_end_has_its_own(seed: int) -> None:
    for ends in (tuple(End), tuple(End)[::-1]):
        made = climate_of(logged(seed))
        assert any(isinstance(part, SegmentRun) for part in made.histories[ends[0]])
        found = {end: humidities(made, end) for end in ends}
        assert found == {End.EARLIEST: {0.5}, End.LATEST: {0.7}}
