"""What the words over a logger's column name, and what they say is no reading of a room."""

from __future__ import annotations

import pytest
from logger_samples import laid, read

from curecal.errors import SourceError
from curecal.readings.columns.headings import is_no_reading, is_other, names_reading, quantity
from curecal.readings.table.cell_values import temperature_units


@pytest.mark.parametrize(
    "head",
    [
        "Temp, °F (SN: 9900417, LBL: bath)",
        "Temperature (°C (mean))",
        "Hall temperature",
        "Température (°C)",
        "Lufttemperatur °C",
        "Temperatuur",
        "TempC",
        "temp_f",
        "tF",
        "T1",
        "T_air",
        "Hall (°C)",
        "Temp (℃)",
        "Temp/RH (°C)",
        "Level 2 temperature (°C)",
    ],
)
def test_temperatures(head: str) -> None:
    assert (quantity(head), is_no_reading(head)) == ("temperature", False)


@pytest.mark.parametrize(
    "head",
    [
        "RH, % (SN: 9900417)",
        "Relative humidity (% (RH))",
        "Humedad (%)",
        "Humidité relative (%)",
        "HR (%)",
        "rF [%]",
        "Luftfeuchtigkeit (%)",
        "Vochtigheid (%)",
        "Hum (%)",
        "Temp/RH, %",
    ],
)
def test_humidities(head: str) -> None:
    assert (quantity(head), is_no_reading(head)) == ("humidity", False)


@pytest.mark.parametrize(
    "head", ["Level %", "%", "HR", "Runtime", "Humidity (°C)", "Temp (%)", "Attempt", "", "Fan [%]"]
)
def test_what_names_neither(head: str) -> None:
    assert quantity(head) == ""


@pytest.mark.parametrize(
    "head",
    [
        "Taupunkt (°C)",
        "Sollwert Temp (°C)",
        "Target temp (°C)",
        "SP (°C)",
        "Hi (°C)",
        "Lo (°C)",
        "Avg Temp (°C)",
        "TempMin",
        "MaxTemp",
        "DP (°C)",
        "Temp Delta (°C)",
        "MKT (°C)",
        "Point de rosée (°C)",
        "Feuchtkugeltemperatur (°C)",
        "Abs. Humidity (g/m³)",
        "Humidity (g/m^3)",
        "Humidity Ratio (g/kg)",
        "Target RH (%)",
        "RH accuracy (%)",
        "Materialfeuchte (%)",
        "Temperature (K)",
        "Humidity (V)",
        "Vapour pressure (kPa)",
        "Temp ±",
    ],
)
def test_what_is_no_reading_of_a_room(head: str) -> None:
    assert is_no_reading(head)
    assert is_other(head)


def test_what_a_logger_shows_beside_the_rooms_climate() -> None:
    assert is_other("CO2")
    assert not is_other("Logged")


def test_a_header_that_names_a_reading() -> None:
    assert names_reading("TempC")
    assert names_reading("Feuchte")
    assert not names_reading("Datum")


@pytest.mark.parametrize(
    ("text", "units"),
    [
        ("TempC", "C"),
        ("temp_f", "F"),
        ("tF", "F"),
        ("Temp (℃)", "C"),
        ("Temp ℉", "F"),
        ("Temp C1", ""),
        ("Template", ""),
    ],
)
def test_units_behind_the_word(text: str, units: str) -> None:
    assert temperature_units(text) == frozenset(units)


ROWS = "".join(f"2026-11-13 20:{minute:02d}:00,15.0\n" for minute in range(30))


@pytest.mark.parametrize("head", ["Taupunkt (°C)", "Target (°C)", "DP (°C)", "Temp Delta (°C)"])
def test_a_file_of_nothing_else_has_no_temperature(tmp_path, head: str) -> None:
    with pytest.raises(SourceError, match="readings-no-temperature"):
        read(laid(tmp_path, f"Time (UTC),{head}\n{ROWS}"))


@pytest.mark.parametrize("head", ["temp_c", "Temp ℃", "TempC", "tC"])
def test_units_as_loggers_write_them_are_not_asked(tmp_path, head: str) -> None:
    export = read(laid(tmp_path, f"Time (UTC),{head}\n{ROWS}"))
    assert (export.unit.value, export.channels[0].temperature_c[0]) == ("C", 15.0)
