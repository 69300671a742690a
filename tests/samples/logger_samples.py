"""Look-alikes of loggers' files, what was written into them, and small files made on the spot."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta, tzinfo
from pathlib import Path
from typing import NamedTuple
from zoneinfo import ZoneInfo

from curecal.readings.columns.by_hand import columns_named
from curecal.readings.export.read_export import read_export
from curecal.readings.table.export_types import Answers, LoggerChannel, LoggerExport, Order

FOLDER = Path(__file__).parents[1] / "files_of_loggers"
HALIFAX = ZoneInfo("America/Halifax")
NEW_YORK = ZoneInfo("America/New_York")

Point = tuple[datetime, float | None, float | None]


class Wave(NamedTuple):
    """What the readings of a look-alike were made of: a slow wave around two means."""

    start: datetime
    count: int
    step_s: int
    mean_c: float = 19.0
    mean_percent: float = 52.0

    def points(self) -> list[tuple[datetime, float, float]]:
        """Return instants, °C and percent, not rounded."""
        return [
            (
                self.start + timedelta(seconds=self.step_s * i),
                self.mean_c + 1.5 * math.sin(i / 9),
                self.mean_percent + 4 * math.cos(i / 11),
            )
            for i in range(self.count)
        ]


def utc(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


def read(
    name: str | Path,
    *,
    unit: str | None = None,
    order: str | None = None,
    zone: tzinfo | None = None,
    columns: str = "",
) -> LoggerExport:
    """Return a look-alike as it is understood."""
    asked = Answers(
        unit=unit,
        columns=columns_named(columns) if columns else (),
        order=None if order is None else Order(order),
        zone=zone,
    )
    return read_export(FOLDER / name, asked)


def values(channel: LoggerChannel) -> list[Point]:
    """Return a channel's readings, figures to a hundredth of a degree and a thousandth."""
    return [
        (at, None if warm is None else round(warm, 2), None if damp is None else round(damp, 3))
        for at, warm, damp in channel.points()
    ]


def simple(
    *,
    start: str = "2026-11-13T20:00:00",
    count: int = 60,
    step_s: int = 600,
    form: str = "%Y-%m-%d %H:%M:%S",
    head: str = "Time (UTC),Temperature (°C),Humidity (%)",
) -> str:
    """Return a plain file of readings with one header."""
    wave = Wave(datetime.fromisoformat(start), count, step_s)
    rows = [f"{at:{form}},{warm:.2f},{damp:.1f}" for at, warm, damp in wave.points()]
    return "\n".join([head, *rows]) + "\n"


def laid(folder: Path, text: str | bytes, name: str = "logger.csv") -> Path:
    """Write a file and return its path."""
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path
