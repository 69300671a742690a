"""Which column of a logger's file is which reading, in which unit; what nothing shows is asked."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from logger_samples import laid, read

from curecal.errors import SourceError
from curecal.readings.table.export_types import LoggerChannel, QuestionError


def file(folder: Path, head: str, *cells: str, count: int = 30) -> Path:
    """Write a file of like rows, one a minute; `{n}` in a cell is the row's number."""
    row = ",".join(cells)
    rows = [f"2026-11-13 20:{n:02d}:00,{row.replace('{n}', str(n))}" for n in range(count)]
    return laid(folder, "\n".join([f"Time (UTC),{head}", *rows]) + "\n")


def first(channel: LoggerChannel) -> tuple[float, float | None]:
    """Return a channel's first reading."""
    damp = channel.humidity[0]
    return channel.temperature_c[0], None if math.isnan(damp) else round(damp, 4)


@pytest.mark.parametrize(
    ("head", "cells"),
    [
        ("Temp (°C),Abs. Humidity (g/m³),RH (%)", ("15.0", "10.3", "80.4")),
        ("Temp (°C),Humidity Ratio (g/kg),RH (%)", ("15.0", "8.5", "80.4")),
        ("Temp (°C),Target RH (%),RH (%)", ("15.0", "45.0", "80.4")),
        ("Temp (°C),RH accuracy (%),RH (%)", ("15.0", "2.5", "80.4")),
        ("Temp (°C),Level %,RH %", ("15.0", "97.5", "80.4")),
        ("Temp (°C),Charge,RH (%)", ("15.0", "9%", "80.4")),
        ("Temp (°C),Soll %,Humidity %", ("15.0", "45.5", "80.4")),
        ("Temp (°C),Outside humidity (%),Humidity (%)", ("15.0", "45.5", "80.4")),
        # The unit in a column of its own belongs to the figure on its left.
        ("Temperature (°C),Humidity,Unit", ("15.0", "80.4", "%RH")),
        ("Temperature,Unit,Humidity,Unit", ("15.0", "C", "80.4", "%")),
        ("Temperature (°C),Unit,Humidity (%)", ("15.0", "°C", "80.4")),
        ("Unit,Temperature,Unit,Humidity", ("C", "15.0", "%", "80.4")),
        ("Battery,Unit,Temperature (°C),Humidity (%)", ("97", "%", "15.0", "80.4")),
        ("Temp (°C),Probe", ("15.0", "80.4 %RH")),
    ],
)
def test_a_rooms_humidity_among_other_columns(
    tmp_path: Path, head: str, cells: tuple[str, ...]
) -> None:
    (channel,) = read(file(tmp_path, head, *cells)).channels
    assert (len(channel), first(channel)) == (30, (15.0, 0.804))


@pytest.mark.parametrize(
    "head",
    ["Humidity (g/m³)", "RH Sollwert (%)", "Materialfeuchte (%)", "Charge", "Value %", "Level (%)"],
)
def test_what_is_no_humidity_of_a_room_is_none(tmp_path: Path, head: str) -> None:
    (channel,) = read(file(tmp_path, f"Temp (°C),{head}", "15.0", "10.3")).channels
    assert first(channel) == (15.0, None)


@pytest.mark.parametrize("head", ["RH 1 (%),RH 2 (%)", "RH (%),Humidity (%)"])
def test_several_humidities_of_one_temperature_are_refused(tmp_path: Path, head: str) -> None:
    with pytest.raises(SourceError, match="readings-several-humidities") as refused:
        read(file(tmp_path, f"Temp (°C),{head}", "15.0", "40.3", "80.4"))
    assert refused.value.params["columns"] == ", ".join(f'"{each}"' for each in head.split(","))


def test_sensors_pair_by_name_else_in_turn(tmp_path: Path) -> None:
    head = "Hall temp (°C),Loft temp (°C),Loft RH (%),Hall RH (%)"
    hall, loft = read(file(tmp_path, head, "15.0", "16.0", "60.0", "50.0")).channels
    assert (first(hall), first(loft)) == ((15.0, 0.5), (16.0, 0.6))
    turn = "Temp 1 (°C),Temp 2 (°C),Feuchte links (%),Feuchte rechts (%)"
    one, two = read(file(tmp_path, turn, "15.0", "16.0", "60.0", "50.0")).channels
    assert (first(one), first(two)) == ((15.0, 0.6), (16.0, 0.5))
    # Two temperatures and one humidity that no name pairs: it is only unknown.
    less = "Hall temp (°C),Loft temp (°C),RH (%)"
    found = read(file(tmp_path, less, "15.0", "16.0", "60.0")).channels
    assert [first(each) for each in found] == [(15.0, None), (16.0, None)]
    more = "Hall temp (°C),Loft temp (°C),RH a (%),RH b (%),RH c (%)"
    with pytest.raises(SourceError, match="readings-several-humidities"):
        read(file(tmp_path, more, "15.0", "16.0", "60.0", "61.0", "62.0"))


def test_a_mean_beside_its_reading_is_no_other_sensor(tmp_path: Path) -> None:
    path = file(tmp_path, "Temp (°C),Temp mean (°C)", "15.0", "18.0")
    (channel,) = read(path).channels
    assert first(channel) == (15.0, None)


def test_a_temperature_without_a_unit_beside_one_with_is_asked(tmp_path: Path) -> None:
    path = file(tmp_path, "T1,T2,Unit", "18.0", "8.0", "C")
    with pytest.raises(QuestionError, match="readings-unit-unknown"):
        read(path)
    assert [each.temperature_c[0] for each in read(path, unit="C").channels] == [18.0, 8.0]


def test_a_doors_letter_is_no_unit(tmp_path: Path) -> None:
    path = file(tmp_path, "Temp (°F),Channel", "28.5", "C")
    with pytest.raises(QuestionError, match="readings-unit-doubtful"):
        read(path)
    (channel,) = read(path, unit="F").channels
    assert channel.temperature_c[0] == pytest.approx(-1.9444, abs=1e-3)
    with pytest.raises(QuestionError, match="readings-unit-unknown"):
        read(file(tmp_path, "Temp,Door", "15.0", "C"))


def test_a_column_of_units_against_the_header_is_asked(tmp_path: Path) -> None:
    path = file(tmp_path, "Temp (°F),Unit,RH (%)", "15.0", "C", "50.0")
    with pytest.raises(QuestionError, match="readings-units-differ") as refused:
        read(path)
    assert (refused.value.asks, refused.value.params["words"]) == ("unit", "°C")
    assert first(read(path, unit="C").channels[0]) == (15.0, 0.5)


def test_a_column_of_units_of_another_quantity_is_refused(tmp_path: Path) -> None:
    with pytest.raises(SourceError, match="readings-quantities-differ") as refused:
        read(file(tmp_path, "Temp,Unit,RH (%)", "15.0", "%", "50.0"))
    assert refused.value.params["words"] == "%"
    with pytest.raises(SourceError, match="readings-quantities-differ"):
        read(file(tmp_path, "Temp (°C),RH,Unit", "15.0", "50.0", "C"))


def test_a_row_in_another_unit_than_its_column_is_a_bad_line(tmp_path: Path) -> None:
    path = file(tmp_path, "Temp,Unit,RH (%)", "15.0", "C", "50.0", count=40)
    lines = path.read_text(encoding="utf-8").splitlines()
    lines += ["2026-11-13 20:50:00,59.0,F,50.0", "2026-11-13 20:51:00,15.0,,50.0"]
    # The head of the file shows one unit only; what differs comes long after it.
    filler = [f"2026-11-14 {n // 60:02d}:{n % 60:02d}:00,15.0,C,50.0" for n in range(900)]
    text = "\n".join([*lines[:41], *filler, *lines[41:]]) + "\n"
    export = read(laid(tmp_path, text))
    assert export.bad.lines == ((942, "bad-figure"),)
    assert (len(export.channels[0]), export.unit.by) == (941, "row")


@pytest.mark.parametrize(
    ("head", "cells"),
    [
        ("Temp (°C),RH (%),Started,Logged,End", ("15", "2", "80", "4", "", "")),
        ("Temp (°C),RH (%),Started,Logged,End", ("15", "2", "80", "4", "")),
        ("Temp (°C),Started,Logged,End", ("15", "2", "", "")),
    ],
)
def test_decimal_commas_under_a_padded_header_are_refused(
    tmp_path: Path, head: str, cells: tuple[str, ...]
) -> None:
    with pytest.raises(SourceError, match="readings-columns-differ"):
        read(file(tmp_path, head, *cells))


@pytest.mark.parametrize(
    ("head", "cells"),
    [
        ("Temp (°C),RH (%),Battery (%)", ("15", "80", "97")),
        ("Temp (°C),RH (%),CO2 (ppm),Light", ("15", "80", "600", "12")),
        ("Temp (°C),RH (%),Logged", ("15", "80", "1")),
    ],
)
def test_whole_numbers_beside_other_columns_are_readings(
    tmp_path: Path, head: str, cells: tuple[str, ...]
) -> None:
    (channel,) = read(file(tmp_path, head, *cells)).channels
    assert first(channel) == (15.0, 0.8)


def test_a_second_block_in_another_language_is_found(tmp_path: Path) -> None:
    rows = [f"13.11.2026 20:{n:02d};15,0;80,4" for n in range(30)]
    swapped = [f"14.11.2026 20:{n:02d};80,4;15,0" for n in range(30)]
    head = "Datum;Temperatur (°C);Feuchte (%)"
    text = "\n".join([head, *rows, "Datum;Feuchte (%);Temperatur (°C)", *swapped]) + "\n"
    with pytest.raises(SourceError, match="readings-several-blocks"):
        read(laid(tmp_path, f"Zone: UTC\n{text}"))


def test_a_header_with_its_first_name_again_stands_over_other_columns(tmp_path: Path) -> None:
    rows = [f"2026-11-13 20:{n:02d};15,0;80,4;45,0;" for n in range(30)]
    head = "Time (UTC);Temp (°C);Time (UTC);RH (%);Target (%)"
    with pytest.raises(QuestionError, match="readings-header-shifted") as refused:
        read(laid(tmp_path, "\n".join([head, *rows]) + "\n"))
    assert refused.value.asks == "columns"


def test_a_unit_slipped_into_one_cell_makes_no_temperature(tmp_path: Path) -> None:
    path = file(tmp_path, "No,Temp (°C),RH (%)", "{n}", "15.0", "80.4")
    text = path.read_text(encoding="utf-8").replace(":07:00,7,", ":07:00,7F,")
    (channel,) = read(laid(tmp_path, text)).channels
    assert first(channel) == (15.0, 0.804)
    bare = file(tmp_path, "Temp", "15.0").read_text(encoding="utf-8")
    with pytest.raises(QuestionError, match="readings-unit-unknown"):
        read(laid(tmp_path, bare.replace(":07:00,15.0", ":07:00,15.0 F")))
