"""Whether the log shows how warm a floor is: its own steps and readings, and no other floor's."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from curecal.planning.zone.floor_known import is_floor_known
from curecal.trade.site_log import Energized, Entry, HeatStep, Place, Reading

NOON = datetime(2026, 12, 8, 12, tzinfo=UTC)
DAY = timedelta(days=1)
STEP_ON = date(2026, 12, 8)


def step(at: datetime, zone: str | None = "hall") -> HeatStep:
    return HeatStep(id="e-1", at=at, recorded=at, zone=zone, to_c=24.0)


def reading(at: datetime, place: Place) -> Reading:
    return Reading(id="e-1", at=at, recorded=at, zone="hall", place=place, temperature_c=22.0)


@pytest.mark.parametrize(
    ("entry", "known"),
    [
        (step(NOON), True),
        (step(NOON, None), True),
        (step(NOON, "kitchen"), False),
        (step(NOON - DAY), False),
        (Energized(id="e-1", at=NOON, recorded=NOON, zone="hall"), True),
        (reading(NOON - DAY, Place.FLOOR), True),
        (reading(NOON - DAY - timedelta(seconds=1), Place.FLOOR), False),
        (reading(NOON, Place.AIR), False),
    ],
)
def test_only_the_floor_itself_shows_it(entry: Entry, *, known: bool) -> None:
    assert is_floor_known([entry], "hall", STEP_ON, NOON, UTC) is known
