"""A logger's readings in columns say what their tuples said."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curecal.trade.logged_points import LoggedPoint, LoggedPoints, microseconds
from curecal.trade.site_log import Place, Series

AT = datetime(2026, 11, 5, 6, 30, 0, 123456, tzinfo=UTC)
POINTS: tuple[LoggedPoint, ...] = (
    (AT, 20.5, 0.5),
    (AT + timedelta(minutes=1), None, 0.55),
    (AT + timedelta(minutes=2), -3.25, None),
)

instants = st.datetimes(
    min_value=datetime(1970, 1, 1),  # noqa: DTZ001 - a strategy's bounds are naive
    max_value=datetime(2200, 1, 1),  # noqa: DTZ001
    timezones=st.sampled_from([UTC, timezone(timedelta(hours=-3, minutes=-30))]),
)
figures = st.none() | st.floats(min_value=-40.0, max_value=60.0)


@given(st.lists(st.tuples(instants, figures, figures), max_size=20))
def test_columns_give_back_what_they_were_made_of(told: list[LoggedPoint]) -> None:
    points = LoggedPoints.of(told)
    assert list(points) == told
    assert [points[index] for index in range(len(points))] == told
    assert len(points) == len(told)


def test_the_same_readings_are_equal_and_have_one_hash() -> None:
    one, other = LoggedPoints.of(POINTS), LoggedPoints.of(list(POINTS))
    assert one == other
    assert hash(one) == hash(other)
    assert one != LoggedPoints.of(POINTS[:2])
    assert one != POINTS
    assert LoggedPoints.of(one) is one
    zero = LoggedPoints.of([(AT, 0.0, None)])
    assert zero == LoggedPoints.of([(AT, -0.0, None)])
    assert repr(one) == f"LoggedPoints.of({POINTS!r})"


def test_a_part_and_what_comes_behind_it_are_the_whole() -> None:
    points = LoggedPoints.of(POINTS)
    assert points[:1] + points[1:] == points
    assert points[-1] == POINTS[-1]
    with pytest.raises(IndexError):
        points[3]


def test_rows_tell_alike_from_other_also_where_nothing_was_read() -> None:
    one, other = LoggedPoints.of(POINTS), LoggedPoints.of(POINTS[1:])
    assert set(one.rows()) > set(other.rows())
    assert [at_us for at_us, _, _ in one.rows()] == [microseconds(at) for at, _, _ in POINTS]


def test_columns_cannot_be_written_to() -> None:
    with pytest.raises(TypeError):
        LoggedPoints.of(POINTS).temperature_c[0] = 1.0


def test_a_series_keeps_its_readings_in_columns() -> None:
    made = Series(
        id="s", at=AT, recorded=AT, place=Place.AIR, device="d", interval_s=60.0, points=POINTS
    )
    assert isinstance(made.points, LoggedPoints)
    assert tuple(made.points) == POINTS


def test_what_is_made_of_readings_is_made_once_and_only_a_little_of_it_is_kept() -> None:
    points, made = LoggedPoints.of(POINTS), []

    def count() -> int:
        made.append(len(points))
        return len(points)

    assert [points.derived(("count", 0), count) for _ in range(3)] == [3, 3, 3]
    assert made == [3]
    for asked in range(1, 20):
        assert points.derived(("count", asked), count) == 3
    assert len(made) == 20
    # Nothing of it is part of what the readings are.
    assert points == LoggedPoints.of(POINTS)
    assert hash(points) == hash(LoggedPoints.of(POINTS))
