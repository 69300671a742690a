"""The parts of reading a logger's file, each by itself: figures, units, offsets, jumps, gaps."""

from __future__ import annotations

import math
from array import array
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from pathlib import Path

import pytest
from logger_samples import HALIFAX, laid, read, simple, utc

from curecal.errors import ValueRefused
from curecal.readings.clock.clock import zone_named
from curecal.readings.clock.offsets import offset_in
from curecal.readings.export.edge_outliers import find_edge_outliers
from curecal.readings.export.read_export import read_export
from curecal.readings.table.cell_values import figure, temperature_units, unit_in_cell
from curecal.readings.table.export_types import Answers, LoggerChannel, interval_of, median_of
from curecal.readings.table.text import text_file
from curecal.readings.table.timestamps import Dates, Times, form_of


def channel(readings: list[tuple[float, float]]) -> LoggerChannel:
    """Return readings of (minute, °C)."""
    at_s = array("q", [int(minute * 60) for minute, _ in readings])
    warm = array("d", [value for _, value in readings])
    return LoggerChannel("x", at_s, warm, array("d", [math.nan] * len(warm)))


@pytest.mark.parametrize(
    ("text", "value"),
    [("21.5", 21.5), ("21,5", 21.5), ("-3", -3.0), ("+4.0 °C", 4.0), (" 55 % ", 55.0)],
)
def test_figures(text: str, value: float) -> None:
    assert figure(text) == value


@pytest.mark.parametrize(
    "text", ["", "--", "-999", "9999", "-999.9", "N/A", "NaN", "error", "null"]
)
def test_signs_for_no_reading(text: str) -> None:
    assert math.isnan(figure(text))


@pytest.mark.parametrize("text", ["1e3", "1_0", "21.5.1", "inf", "warm", "2 1.5", "٢١", "0x10"])
def test_what_is_no_figure(text: str) -> None:
    with pytest.raises(ValueError, match=r".*"):
        figure(text)


def test_a_figure_with_another_unit_than_its_column_is_refused() -> None:
    with pytest.raises(ValueError, match=r"21\.5 °F"):
        figure("21.5 °F", "C")


@pytest.mark.parametrize(
    ("text", "units"),
    [
        ("Temp, °F (SN: 1, LBL: C)", "F"),
        ("Temperature [°C]", "C"),
        ("Temperature (°C (mean))", "C"),
        ("1 Hall temperature �C", "C"),
        ("Temp ?C", "C"),
        ("deg. F", "F"),
        ("Temperature in Celsius", "C"),
        ("Temperature (C)", "C"),
        ("Temperature, F", "F"),
        ("Temperature °C / °F", "CF"),
        ("Temperature", ""),
        ("Channel C temperature", ""),
    ],
)
def test_units_in_headers(text: str, units: str) -> None:
    assert temperature_units(text) == frozenset(units)


@pytest.mark.parametrize(
    ("text", "unit"),
    [("°C", "C"), ("C", "C"), ("fahrenheit", "F"), ("%RH", "%"), ("%", "%"), ("K", ""), ("", "")],
)
def test_units_in_cells(text: str, unit: str) -> None:
    assert unit_in_cell(text) == unit


@pytest.mark.parametrize(
    ("text", "hours"),
    [
        ("Date Time, GMT-05:00", -5.0),
        ("Date Time, GMT-0330", -3.5),
        ("Time (UTC+1)", 1.0),
        ("UTC \u2212 3:30", -3.5),
        ("Time (UTC)", 0.0),
    ],
)
def test_offsets_in_headers(text: str, hours: float) -> None:
    assert offset_in(text) == timezone(timedelta(hours=hours))


@pytest.mark.parametrize("text", ["Time", "EST", "Eastern Daylight Time", "UTCX", "GMT+99:00"])
def test_what_is_no_offset(text: str) -> None:
    assert offset_in(text) is None


@pytest.mark.parametrize(
    ("text", "zone"),
    [
        ("-04:00", timezone(timedelta(hours=-4))),
        ("UTC+5:30", timezone(timedelta(hours=5, minutes=30))),
        ("UTC", UTC),
        ("America/Halifax", HALIFAX),
    ],
)
def test_zones_a_person_names(text: str, zone: tzinfo) -> None:
    assert zone_named(text) == zone


@pytest.mark.parametrize("text", ["EDT", "Halifax time", "", "+25:00"])
def test_zones_there_are_not(text: str) -> None:
    with pytest.raises(ValueRefused):
        zone_named(text)


@pytest.mark.parametrize(
    ("row", "stamp"),
    [
        (["1", "11/29/26 10:00:00 PM", "66"], (1,)),
        (["2026-11-29T22:00:00+01:00", "19"], (0,)),
        (["29/11/2026", "22:00", "19"], (0, 1)),
        (["22:00:00", "29.11.2026", "19"], (1, 0)),
        (["29.11.26,22:00:00", "19"], (0,)),
        (["Nov 29, 2026 10:00 pm", "66"], (0,)),
    ],
)
def test_where_an_instant_stands(row: list[str], stamp: tuple[int, ...]) -> None:
    found = form_of(row)
    assert found is not None
    assert found[0] == stamp


@pytest.mark.parametrize(
    "row", [["19.0", "55"], ["22:00", "19"], ["2026-11-29", "19"], ["1:2:3:4", "5"], []]
)
def test_what_is_no_instant(row: list[str]) -> None:
    assert form_of(row) is None


@pytest.mark.parametrize("text", ["24:00", "12:60:00", "13:00 PM", "0:30 AM", "7:00", "7:00 AM Z"])
def test_times_of_another_form_or_of_none(text: str) -> None:
    found = form_of(["11/29/26 10:00:00 PM", "66"])
    assert found is not None
    with pytest.raises(ValueError, match=r".*"):
        Times(found[1])[text]


@pytest.mark.parametrize("text", ["29-11-26", "2026/11/29", "29/Nov/26", "1/2", ""])
def test_dates_of_another_form(text: str) -> None:
    found = form_of(["11/29/26 10:00:00 PM", "66"])
    assert found is not None
    with pytest.raises(ValueError, match=r".*"):
        Dates(found[1])[text]


def test_noon_and_midnight() -> None:
    found = form_of(["11/29/26 10:00:00 PM", "66"])
    assert found is not None
    times = Times(found[1])
    assert [times["12:00:00 AM"], times["12:00:00 PM"], times["11:59 p.m."]] == [0, 43200, 86340]


def test_intervals_and_gaps() -> None:
    assert interval_of(array("q", [0, 600, 1200, 1800, 9000])) == 600.0
    assert interval_of(array("q", [5])) == 0.0
    with pytest.raises(ValueError, match="no median"):
        median_of({})
    gaps = channel([(0, 20), (10, 20), (30, 20), (51, 20), (61, 20), (71, 20), (81, 20)]).gaps()
    assert [(gap.start.minute, gap.end.minute) for gap in gaps] == [(30, 51)]


@pytest.mark.parametrize(
    ("readings", "codes"),
    [
        ([(m, 20.0) for m in range(0, 600, 5)], []),
        ([(0, 26.0), *((m, 20.0) for m in range(5, 600, 5))], ["readings-jump-start"]),
        ([*((m, 20.0) for m in range(0, 600, 5)), (600, 26.0)], ["readings-jump-end"]),
        # Five kelvin in an hour are a heater; ten in an hour are not.
        ([(0, 26.0), *((m, 20.0) for m in range(60, 1200, 60))], []),
        ([(0, 31.0), *((m, 20.0) for m in range(60, 1200, 60))], ["readings-jump-start"]),
        # In the middle of a night somebody may open a window.
        ([(m, 20.0 if m != 600 else 12.0) for m in range(0, 1200, 5)], []),
        # Across a gap nothing is said.
        ([(0, 31.0), (5, 31.0), *((m, 20.0) for m in range(120, 600, 5))], []),
        ([], []),
    ],
)
def test_jumps_that_no_room_makes(readings: list[tuple[float, float]], codes: list[str]) -> None:
    assert [finding.code for finding in find_edge_outliers(channel(readings), "log.0")] == codes


def test_readings_of_a_time_to_come_are_found(tmp_path: Path) -> None:
    path = laid(tmp_path, simple())
    now = utc("2026-11-14T05:00:00")
    (finding,) = read_export(path, Answers(now=now)).findings
    assert (finding.code, finding.params["row_count"]) == ("readings-ahead", 4)
    assert read_export(path, Answers(now=datetime(2027, 1, 1, tzinfo=UTC))).findings == ()


@pytest.mark.parametrize(
    ("data", "encoding"),
    [
        ("a°".encode("utf-8-sig"), "UTF-8"),
        ("a°".encode(), "UTF-8"),
        ("a°".encode("latin-1"), "Latin-1"),
        ("a°".encode("utf-16"), "UTF-16"),
        (b"\xfe\xff" + "a°".encode("utf-16-be"), "UTF-16"),
        (b"a" * (1 << 20) + "°".encode("latin-1"), "Latin-1"),
        (b"a" * ((1 << 20) - 1) + "°".encode(), "UTF-8"),
    ],
)
def test_encodings(tmp_path: Path, data: bytes, encoding: str) -> None:
    assert text_file(laid(tmp_path, data)).encoding == encoding


def test_a_chunk_of_plain_rows_and_rows_one_by_one_say_the_same(tmp_path: Path) -> None:
    text = simple(count=3000, step_s=60)
    plain = read(laid(tmp_path, text, "plain.csv")).channels[0]
    # An event in every chunk sends all of its rows the slow way.
    lines = text.splitlines()
    lines[1::500] = [f"{line}\n{line[:19]},," for line in lines[1::500]]
    slow = read(laid(tmp_path, "\n".join(lines) + "\n", "slow.csv"))
    assert slow.events == 6
    assert (slow.channels[0].at_s, slow.channels[0].humidity) == (plain.at_s, plain.humidity)
    assert slow.channels[0].temperature_c == plain.temperature_c
