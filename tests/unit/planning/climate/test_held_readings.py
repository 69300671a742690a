"""What is held between two looks is weaker than a reading: nights that noon looks do not hide."""

from __future__ import annotations

import math
from datetime import timedelta

import pytest
from planning_samples import (
    DAY,
    START,
    codes,
    daily,
    expected,
    item,
    job,
    layer,
    plan,
    reading,
    sheet,
    zone,
)

from curecal.planning.plan import Plan
from curecal.trade.data_sheets import Milestone
from curecal.trade.site_log import Entry, Place, Series

HOUR = timedelta(hours=1)
AS_OF = START + 10 * DAY


def told(*log: Entry) -> Plan:
    """Return the plan of a week's mortar under its grout, laid at noon in a room of 20 °C."""
    floor = zone(layer(sheet("thinset", 7.0), START, "mortar"))
    return plan(job(floor, climate=expected(20.0)), log, AS_OF)


def heat(made: Plan) -> object:
    """Return when the mortar may be heated."""
    return item(made, "mortar").milestones[Milestone.HEAT].window


def nights(night_c: float, day_c: float = 18.0) -> Entry:
    """Return an hourly logger on the wall: cold from 22:00 to 06:00 of every night."""
    values_c = [
        night_c if (12 + hour) % 24 >= 22 or (12 + hour) % 24 <= 6 else day_c for hour in range(240)
    ]
    points = tuple((START + HOUR * hour, value_c, None) for hour, value_c in enumerate(values_c))
    return Series(
        id="wall",
        at=points[-1][0],
        recorded=points[-1][0],
        place=Place.AIR,
        device="wall",
        interval_s=3600.0,
        points=points,
    )


def frosty_night() -> list[Entry]:
    """Return looks at the air in the first night."""
    return [
        reading(START + HOUR * hour, value_c, Place.AIR)
        for hour, value_c in ((8, 5.0), (12, -4.0), (16, -4.0), (19, 2.5))
    ]


@pytest.mark.parametrize("place", [Place.SURFACE, Place.FLOOR])
def test_a_frost_in_the_night_is_not_hidden_by_looks_at_noon(place: Place) -> None:
    noon = daily(START, 9, 18.0, place=place)
    made = told(*noon, *frosty_night())
    assert "frost" in codes(told(*frosty_night()))
    assert "frost" in codes(made)
    assert heat(made) is None


def test_a_surface_that_was_read_within_three_hours_speaks_against_frost_in_the_air() -> None:
    beside = [reading(START + HOUR * hour, 6.0) for hour in (11, 13, 15, 17, 19)]
    assert "frost" not in codes(told(*daily(START, 9, 18.0), *frosty_night()[:-1], *beside))
    late = reading(START + HOUR * 8, 6.0)
    assert "frost" in codes(told(*daily(START, 9, 18.0), *frosty_night(), late))


@pytest.mark.parametrize(
    ("air", "place", "noon_c"),
    [
        # Nights under the minimum, days as warm as the noon looks say.
        (nights(6.0), Place.SURFACE, 18.0),
        # Sun on the floor at noon, and a sensor somebody read as "heating off".
        (nights(12.0, 12.0), Place.SURFACE, 24.0),
        (nights(12.0, 12.0), Place.FLOOR, 28.0),
    ],
)
def test_cold_nights_are_not_hidden_by_looks_at_noon(
    air: Entry, place: Place, noon_c: float
) -> None:
    by_air, by_both = heat(told(air)), heat(told(air, *daily(START, 9, noon_c, place=place)))
    # The warm looks count for three hours before and after each noon, and for no more.
    allowed = timedelta(hours=6) * 10
    if by_air.latest is None:
        # Nights read so cold become the coldest, and under it nothing cures.
        assert by_both.latest is None
    else:
        assert by_air.latest - by_both.latest < allowed
    assert by_both.earliest > START + 7 * DAY + HOUR * 12  # type: ignore[attr-defined]


def test_looks_at_the_air_count_too_where_the_surface_is_only_held() -> None:
    looks = [reading(START + HOUR * hour, 12.0, Place.AIR) for hour in range(0, 220, 12)]
    by_air = heat(told(*looks))
    by_both = heat(told(*looks, *daily(START, 9, 24.0)))
    assert by_air.latest - by_both.latest < timedelta(hours=60)  # type: ignore[attr-defined]


def test_a_gap_between_looks_counts_as_expected_early_and_at_the_coldest_late() -> None:
    """Grouted two days after tiling; looks of 20 °C at 0.5, 16 and 49.5 hours: 33.5 hours apart.

    From 19 h to 46.5 h nobody knows: 20 °C for the early end, so 48 hours stay 48. For the late end
    17 °C, where cement goes at K(17) = exp(37 910 / 8.314 · (1/293.15 - 1/290.15)) = 0.85145 of its
    rate (Freiesleben Hansen & Pedersen 1977, constants from memory): 27.5 h · 0.14855 = 4.085 h
    more.
    """
    floor = zone(layer("thinset", START, "mortar"), layer("cement grout", None, "grout"))
    looks = [reading(START + HOUR * hours, 20.0, Place.AIR) for hours in (0.5, 16.0, 49.5)]
    climate = expected(20.0, coldest_c=17.0)
    window = (
        item(plan(job(floor, climate=climate), looks, AS_OF), "mortar")
        .milestones[Milestone.GROUT]
        .window
    )
    assert window is not None
    assert window.earliest == START + HOUR * 48
    assert window.latest is not None
    late_h = (window.latest - START) / HOUR
    rate = math.exp(37_910.0 / 8.314 * (1.0 / 293.15 - 1.0 / 290.15))
    assert late_h == pytest.approx(48.0 + 27.5 * (1.0 - rate), abs=1e-3)
