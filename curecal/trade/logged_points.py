"""A logger's readings in columns: one weighs 24 bytes, where a tuple of its own weighs 200."""

from __future__ import annotations

from array import array
from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from datetime import UTC, datetime, timedelta
from math import isnan, nan
from typing import TypeVar, overload

T = TypeVar("T")

LoggedPoint = tuple[datetime, float | None, float | None]
"""An instant, °C or None, humidity fraction or None."""

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_TICK = timedelta(microseconds=1)
_NO_READING = nan
_MOST_DERIVED = 6
"""What a plan makes of a series: instants, temperatures and humidities, from one origin or two."""


class LoggedPoints(Sequence[LoggedPoint]):
    """A logger's readings, frozen: read like a tuple of points, kept in three columns of bytes.

    Instants come back in UTC. Two with the same readings are equal, and have the same hash.
    """

    __slots__ = ("_at", "_damp", "_derived", "_warm")

    def __init__(
        self, at_us: Iterable[int], temperature_c: Iterable[float], humidity: Iterable[float]
    ) -> None:
        """Take the columns: microseconds since 1970, °C, fractions; NaN without a reading."""
        self._at = array("q", at_us).tobytes()
        self._warm = array("d", temperature_c).tobytes()
        self._damp = array("d", humidity).tobytes()
        self._derived: dict[Hashable, object] = {}

    @classmethod
    def of(cls, points: Iterable[LoggedPoint]) -> LoggedPoints:
        """Return points in columns."""
        if isinstance(points, cls):
            return points
        told = tuple(points)
        return cls(
            [microseconds(at) for at, _, _ in told],
            [_figure(value_c) for _, value_c, _ in told],
            [_figure(humidity) for _, _, humidity in told],
        )

    @property
    def at_us(self) -> memoryview[int]:
        """The instants in microseconds since 1970."""
        return memoryview(self._at).cast("q")

    @property
    def temperature_c(self) -> memoryview[float]:
        """The temperatures [°C], NaN where there is none."""
        return memoryview(self._warm).cast("d")

    @property
    def humidity(self) -> memoryview[float]:
        """The humidities [fraction], NaN where there is none."""
        return memoryview(self._damp).cast("d")

    def derived(self, asked: Hashable, make: Callable[[], T]) -> T:
        """Return what is made of the readings, made once: they never change.

        Args:
            asked: what it is, with all that it depends on besides.
            make: makes it.
        """
        found = self._derived.get(asked)
        if found is None:
            if len(self._derived) >= _MOST_DERIVED:
                self._derived.clear()
            found = self._derived[asked] = make()
        return found  # type: ignore[return-value] # what was asked for is what was made

    def rows(self) -> Iterator[tuple[int, int, int]]:
        """Return the readings as numbers that compare fast: alike in all three is the same one."""
        # The bits of a float: one NaN is not equal to another, its bits are.
        bits = (memoryview(column).cast("q") for column in (self._at, self._warm, self._damp))
        return zip(*bits, strict=True)

    def __len__(self) -> int:
        return len(self._at) // 8

    @overload
    def __getitem__(self, index: int) -> LoggedPoint: ...
    @overload
    def __getitem__(self, index: slice) -> LoggedPoints: ...
    def __getitem__(self, index: int | slice) -> LoggedPoint | LoggedPoints:
        if isinstance(index, slice):
            return LoggedPoints(self.at_us[index], self.temperature_c[index], self.humidity[index])
        return _point((self.at_us[index], self.temperature_c[index], self.humidity[index]))

    def __iter__(self) -> Iterator[LoggedPoint]:
        return map(_point, zip(self.at_us, self.temperature_c, self.humidity, strict=True))

    def __add__(self, later: LoggedPoints) -> LoggedPoints:
        """Return these readings and others behind them."""
        return LoggedPoints(
            [*self.at_us, *later.at_us],
            [*self.temperature_c, *later.temperature_c],
            [*self.humidity, *later.humidity],
        )

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, LoggedPoints):
            return NotImplemented
        return self._bytes() == other._bytes()

    def __hash__(self) -> int:
        return hash(self._bytes())

    def __repr__(self) -> str:
        return f"LoggedPoints.of({tuple(self)!r})"

    def _bytes(self) -> tuple[bytes, bytes, bytes]:
        return self._at, self._warm, self._damp


def microseconds(at: datetime) -> int:
    """Return an instant as whole microseconds since 1970."""
    return (at - EPOCH) // _TICK


def _point(row: tuple[int, float, float]) -> LoggedPoint:
    at_us, temperature_c, humidity = row
    return (
        EPOCH + timedelta(microseconds=at_us),
        None if isnan(temperature_c) else temperature_c,
        None if isnan(humidity) else humidity,
    )


def _figure(value: float | None) -> float:
    # No minus sign of a zero: the same reading has the same bits.
    return _NO_READING if value is None else value + 0.0
