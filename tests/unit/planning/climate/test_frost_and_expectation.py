"""Frost is what was read and said; what somebody expects of a room neither makes nor ends it."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from paper_samples import paper_context

from curecal.planning.plan import State

JOB = """
[job]
id = "frost"
name = "Frost"
timezone = "UTC"
[expected]
air = "{expected} °C"
coldest = "{expected} °C"
below = "heated room"
[[zone]]
name = "hall"
covering = "ceramic tile"
[[zone.layer]]
name = "thinset"
material = "thinset"
done = 2027-03-01T12:00:00Z
[[zone.layer]]
name = "grout"
material = "cement grout"
[[log]]
at = 2027-03-01T12:00:00Z
recorded = 2027-03-01T12:00:00Z
kind = "air"
air = "0 °C"
[[log]]
at = 2027-03-01T12:00:00Z
recorded = 2027-03-01T12:00:00Z
kind = "surface"
surface = "1 °C"
[[log]]
at = 2027-03-01T16:00:00Z
recorded = 2027-03-01T16:00:00Z
kind = "kept"
above = "10 °C"
from = 2027-03-01T12:00:00Z
to = 2027-03-01T16:00:00Z
"""


@pytest.mark.parametrize("expected", [5, 10, 11, 17])
def test_a_statement_that_a_reading_contradicts_is_as_cold_whatever_is_expected(
    expected: int,
) -> None:
    """Nobody signed "above 10 °C"; the air was at 0 °C meanwhile, and the thinset is fresh."""
    now = datetime(2027, 3, 1, 16, tzinfo=UTC)
    (hall,) = paper_context(JOB.format(expected=expected), now).plan.zones
    assert hall.state is State.NO_DATE
    assert hall.energize.window is None
