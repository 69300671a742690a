"""Days and months that a spreadsheet swapped are refused; dates that are right are not."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, time, timedelta
from pathlib import Path
from typing import Any

import pytest
from logger_samples import laid, read, simple, utc

from curecal.errors import SourceError
from curecal.readings.table.export_types import QuestionError

HEAD = ("Time (UTC)", "Temp °C")


def swapped(text: str) -> str:
    """A plain file whose days and months stand in each other's place."""
    head, *rows = text.splitlines()
    turned = [f"{row[:5]}{row[8:10]}-{row[5:7]}{row[10:]}" for row in rows]
    return "\n".join([head, *turned]) + "\n"


@pytest.mark.parametrize("days", [2, 7])
def test_a_week_that_reads_as_half_a_year_is_refused(tmp_path: Path, days: int) -> None:
    text = simple(start="2026-11-05T00:00:00", count=24 * days, step_s=3600)
    path = laid(tmp_path, swapped(text))
    with pytest.raises(QuestionError) as refused:
        read(path)
    assert (refused.value.code, refused.value.asks) == ("readings-order-swapped", "order")
    assert refused.value.params["text"] == "2026-05-11"
    with pytest.raises(QuestionError):
        read(path, order="D/M/Y")
    # Somebody who logs a day a month says so.
    assert read(path, order="Y/M/D").channels[0].first == utc("2026-05-11T00:00:00")


@pytest.mark.parametrize("start", ["2026-11-05T00:00:00", "2026-10-28T00:00:00"])
def test_a_week_as_it_was_is_read(tmp_path: Path, start: str) -> None:
    path = laid(tmp_path, simple(start=start, count=24 * 7, step_s=3600))
    assert read(path).order.by == "year first"


def test_days_with_gaps_between_them_are_read(tmp_path: Path) -> None:
    parts = [
        simple(start=f"2026-{month:02}-05T11:00:00", count=20, step_s=600).splitlines()
        for month in (9, 10, 11)
    ]
    rows = [parts[0][0], *(row for part in parts for row in part[1:])]
    assert len(read(laid(tmp_path, "\n".join(rows) + "\n")).channels[0]) == 60


@pytest.fixture
def sheets(needs: Callable[[str], str]) -> Any:
    """A new workbook."""
    needs("openpyxl")
    import openpyxl  # noqa: PLC0415 - an extra, which a plain set-up lacks

    return openpyxl.Workbook()


def hours(start: datetime, count: int) -> list[datetime]:
    return [start + timedelta(hours=hour) for hour in range(count)]


FIRST = datetime(2026, 11, 5)  # noqa: DTZ001 - a sheet's


@pytest.mark.parametrize("start", [FIRST, FIRST + timedelta(days=20)])
def test_dates_partly_text_are_refused(sheets: Any, tmp_path: Path, start: datetime) -> None:
    sheet = sheets.active
    sheet.append(HEAD)
    for at in hours(start, 24 * 14):
        known = datetime(at.year, at.day, at.month, at.hour) if at.day <= 12 else None  # noqa: DTZ001 - a sheet's
        sheet.append([known or f"{at:%d/%m/%Y %H:%M}", 15.0])
    sheets.save(tmp_path / "logger.xlsx")
    with pytest.raises(SourceError, match=r"readings-(dates-mixed|order-swapped)"):
        read(tmp_path / "logger.xlsx")


def test_a_day_as_text_above_the_readings_is_none_of_them(sheets: Any, tmp_path: Path) -> None:
    sheet = sheets.active
    for name in ("Start", "Stop", "Export"):
        sheet.append([name, "05/11/2026 00:00"])
    sheet.append([])
    sheet.append(["No.", *HEAD])
    for number, at in enumerate(hours(FIRST, 60)):
        sheet.append([number, at, 15.0 + number % 3])
    sheets.save(tmp_path / "logger.xlsx")
    assert len(read(tmp_path / "logger.xlsx").channels[0]) == 60


@pytest.mark.parametrize("kind", ["time", "text", "length"])
def test_date_and_time_in_cells_of_their_own(sheets: Any, tmp_path: Path, kind: str) -> None:
    sheet = sheets.active
    sheet.append(["Date", "Time (UTC)", "Temp °C"])
    for number, at in enumerate(hours(FIRST, 60)):
        cell = {
            "time": at.time(),
            "text": f"{at:%H:%M:%S}",
            "length": timedelta(hours=at.hour),
        }[kind]
        sheet.append([datetime.combine(at.date(), time()), cell, 15.0 + number % 3])
    sheets.save(tmp_path / "logger.xlsx")
    (channel,) = read(tmp_path / "logger.xlsx").channels
    assert (len(channel), channel.interval_s) == (60, 3600.0)
    assert (channel.first, channel.last) == (utc("2026-11-05T00:00:00"), utc("2026-11-07T11:00:00"))


def test_a_time_that_is_a_fraction_is_its_nearest_second(sheets: Any, tmp_path: Path) -> None:
    sheet = sheets.active
    sheet.append(["Date", "Time (UTC)", "Temp °C"])
    for minute in range(30):
        sheet.append([FIRST, time(8, minute, 59, 999_600), 15.0 + minute % 3])
    sheets.save(tmp_path / "logger.xlsx")
    (channel,) = read(tmp_path / "logger.xlsx").channels
    assert channel.first == utc("2026-11-05T08:01:00")
    assert channel.interval_s == 60.0


def test_of_several_sheets_the_one_with_readings_is_read(sheets: Any, tmp_path: Path) -> None:
    sheets.active.title = "Info"
    sheets.active.append(["Device", "K-7"])
    sheets.create_sheet("Empty")
    data = sheets.create_sheet("Data")
    data.append(HEAD)
    for at in hours(FIRST, 60):
        data.append([at, 15.0 + at.hour % 3])
    sheets.save(tmp_path / "logger.xlsx")
    assert len(read(tmp_path / "logger.xlsx").channels[0]) == 60


def test_readings_in_several_sheets_are_refused_by_name(sheets: Any, tmp_path: Path) -> None:
    sheets.active.title = "air"
    for sheet, warm in ((sheets.active, 15.0), (sheets.create_sheet("surface"), -2.0)):
        sheet.append(HEAD)
        for at in hours(FIRST, 60):
            sheet.append([at, warm])
    sheets.save(tmp_path / "logger.xlsx")
    with pytest.raises(SourceError, match="readings-several-sheets") as refused:
        read(tmp_path / "logger.xlsx")
    assert refused.value.params["sheets"] == '"air", "surface"'
