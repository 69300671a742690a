"""Workbooks: read only, the first sheet with rows, no larger than they say."""

from __future__ import annotations

import io
import sys
import tracemalloc
import zipfile
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from logger_samples import Wave, laid, read, utc, values

from curecal.errors import SourceError
from curecal.readings.table import workbook as workbooks


@pytest.fixture(autouse=True)
def _workbooks(needs: Callable[[str], str]) -> None:
    """Every test here makes or reads a workbook."""
    needs("openpyxl")


def new_book() -> Any:
    import openpyxl  # noqa: PLC0415 - an extra, which a plain set-up lacks

    return openpyxl.Workbook()


def workbook(path: Path, *, head: tuple[str, ...] = ("Time (UTC)", "Temp °C", "RH %")) -> Path:
    book = new_book()
    sheet = book.active
    sheet.append(["Hall bath"])
    sheet.append([])
    sheet.append(head)
    for at, warm, damp in Wave(datetime(2026, 4, 3, 8), 40, 600).points():  # noqa: DTZ001 - a sheet's
        sheet.append([at, round(warm, 2), round(damp, 1)])
    book.save(path)
    return path


def test_a_workbook_is_read_with_its_own_dates(tmp_path: Path) -> None:
    export = read(workbook(tmp_path / "logger.xlsx"))
    assert (export.encoding, export.order.by, export.data_line) == ("workbook", "year first", 4)
    (channel,) = export.channels
    assert [at for at, _, _ in values(channel)] == [
        at for at, _, _ in Wave(utc("2026-04-03T08:00:00"), 40, 600).points()
    ]
    assert channel.temperature_c[0] == 19.0
    assert channel.humidity[0] == 0.56


def test_a_workbook_without_readings_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "empty.xlsx"
    new_book().save(path)
    with pytest.raises(SourceError, match="readings-no-rows"):
        read(path)


def test_without_the_extra_the_refusal_names_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = workbook(tmp_path / "logger.xlsx")
    monkeypatch.setitem(sys.modules, "openpyxl", None)
    with pytest.raises(SourceError, match="readings-workbook-extra"):
        read(path)


def test_an_archive_that_unpacks_to_more_than_a_sheet_is_refused(tmp_path: Path) -> None:
    content = io.BytesIO()
    with zipfile.ZipFile(content, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("[Content_Types].xml", "<Types/>")
        with archive.open("xl/worksheets/sheet1.xml", "w", force_zip64=True) as sheet:
            for _ in range((workbooks.LARGEST_UNPACKED >> 24) + 1):
                sheet.write(bytes(1 << 24))
    assert len(content.getvalue()) < 2 << 20
    with pytest.raises(SourceError, match="file-too-large"):
        read(laid(tmp_path, content.getvalue(), "bomb.xlsx"))


def test_texts_that_would_be_held_whole_are_bounded(tmp_path: Path) -> None:
    # 1 of 17 bytes of such a part becomes a text in memory: 64 MB of them took 400 MB.
    path = workbook(tmp_path / "logger.xlsx")
    with zipfile.ZipFile(path, "a", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(
            "xl/sharedStrings.xml", b"<si><t>x</t></si>" * (workbooks.LARGEST_BESIDE_SHEETS // 17)
        )
    assert path.stat().st_size < 1 << 20
    with pytest.raises(SourceError, match="file-too-large") as refusal:
        read(path)
    assert "texts" in str(refusal.value.params["limit"])


def test_a_part_listed_twice_is_no_workbook(tmp_path: Path) -> None:
    path = workbook(tmp_path / "logger.xlsx")
    with zipfile.ZipFile(path, "a") as archive, pytest.warns(UserWarning, match="Duplicate name"):
        archive.writestr("[Content_Types].xml", "<Types/>")
    with pytest.raises(SourceError, match="readings-workbook-broken"):
        read(path)


@pytest.mark.parametrize("kept", [40, 400, 2000, 4000])
def test_a_workbook_cut_short_is_refused(tmp_path: Path, kept: int) -> None:
    whole = workbook(tmp_path / "logger.xlsx").read_bytes()
    with pytest.raises(SourceError, match="readings-workbook-broken"):
        read(laid(tmp_path, whole[:kept], "cut.xlsx"))


def test_another_archive_is_no_workbook(tmp_path: Path) -> None:
    path = tmp_path / "other.zip"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("readings.csv", "a,b\n")
    with pytest.raises(SourceError, match="readings-workbook-broken"):
        read(path)


def test_a_sheet_that_is_broken_inside_is_refused(tmp_path: Path) -> None:
    whole = workbook(tmp_path / "logger.xlsx")
    broken = tmp_path / "broken.xlsx"
    with zipfile.ZipFile(whole) as source, zipfile.ZipFile(broken, "w") as target:
        for entry in source.infolist():
            data = source.read(entry)
            target.writestr(entry, data[: len(data) // 2] if "sheet1" in entry.filename else data)
    with pytest.raises(SourceError, match="readings-workbook-broken"):
        read(broken)


def test_a_day_that_is_a_fraction_is_its_nearest_second(tmp_path: Path) -> None:
    book = new_book()
    sheet = book.active
    sheet.append(["Time (UTC)", "Temp °C", "at"])
    for minute in range(30):
        at = datetime(2026, 3, 8, 2, minute, 59, 999_600)  # noqa: DTZ001 - a sheet's
        sheet.append([at, 19, at.time()])
    book.save(tmp_path / "logger.xlsx")
    (channel,) = read(tmp_path / "logger.xlsx").channels
    assert channel.first == utc("2026-03-08T02:01:00")
    assert (len(channel), channel.interval_s) == (30, 60.0)


def with_sheet(path: Path, sheet: bytes) -> Path:
    """Put other octets in a workbook's sheet."""
    made = path.with_name("other.xlsx")
    with (
        zipfile.ZipFile(path) as source,
        zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as target,
    ):
        for entry in source.infolist():
            is_sheet = "sheet1" in entry.filename
            target.writestr(entry.filename, sheet if is_sheet else source.read(entry))
    return made


def test_entities_that_unfold_without_end_are_refused(tmp_path: Path) -> None:
    entities = "".join(
        f'<!ENTITY e{number} "{f"&e{number - 1};" * 16}">' for number in range(1, 12)
    )
    space = 'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"'
    sheet = (
        f'<!DOCTYPE worksheet [<!ENTITY e0 "{"x" * 64}">{entities}]>'
        f'<worksheet {space}><sheetData><row r="1"><c r="A1" t="inlineStr"><is><t>&e11;</t></is>'
        "</c></row></sheetData></worksheet>"
    )
    path = with_sheet(workbook(tmp_path / "logger.xlsx"), sheet.encode())
    tracemalloc.start()
    with pytest.raises(SourceError):
        read(path)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 64 << 20


def test_an_archive_that_lies_about_its_size_is_read_no_further_than_it_says(
    tmp_path: Path,
) -> None:
    path = with_sheet(workbook(tmp_path / "logger.xlsx"), b" " * (256 << 20))
    data = bytearray(path.read_bytes())
    with zipfile.ZipFile(path) as archive:
        [entry] = [part for part in archive.infolist() if "sheet1" in part.filename]
    # Its size stands before its octets, and again in the list at the end.
    while (place := data.find((256 << 20).to_bytes(4, "little"))) >= 0:
        data[place : place + 4] = (1000).to_bytes(4, "little")
    assert entry.file_size == 256 << 20
    lying = laid(tmp_path, bytes(data), "lying.xlsx")
    tracemalloc.start()
    with pytest.raises(SourceError, match="readings-workbook-broken"):
        read(lying)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 64 << 20
