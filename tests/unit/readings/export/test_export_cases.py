"""What happens to loggers' files in the field: no reading, hours twice, vans, broken lines."""

from __future__ import annotations

import codecs
from datetime import timedelta, timezone
from pathlib import Path

import pytest
from logger_samples import HALIFAX, Wave, laid, read, simple, utc, values

from curecal.errors import SourceError
from curecal.readings.table.export_types import QuestionError


def codes(export) -> list[str]:
    return [finding.code for finding in export.findings]


def test_signs_for_no_reading_are_events_and_no_temperatures() -> None:
    export = read("no_reading.csv")
    (channel,) = export.channels
    assert (len(channel), export.events, export.bad.count) == (55, 5, 0)
    assert max(channel.temperature_c) < 21.0
    at_25 = utc("2026-11-13T20:00:00") + timedelta(minutes=250)
    assert {at: damp for at, _, damp in values(channel)}[at_25] is None


def test_an_hour_that_comes_twice_is_told_apart_by_its_rows() -> None:
    export = read("autumn.csv", zone=HALIFAX)
    (channel,) = export.channels
    wave = Wave(utc("2026-11-01T01:00:00"), 60, 600)
    assert [at for at, _, _ in values(channel)] == [at for at, _, _ in wave.points()]
    assert channel.temperature_c[18] == 18.18
    assert codes(export) == []


def test_the_same_told_apart_from_the_last_row_up(tmp_path: Path) -> None:
    forward = read("autumn.csv", zone=HALIFAX)
    source = Path(forward.name).read_text(encoding="utf-8").splitlines()
    turned = laid(tmp_path, "\n".join([source[0], *reversed(source[1:])]) + "\n")
    assert values(read(turned, zone=HALIFAX).channels[0]) == values(forward.channels[0])


def test_an_hour_that_comes_twice_and_stands_once_does_not_count() -> None:
    export = read("autumn_not_changed.csv", zone=HALIFAX)
    (channel,) = export.channels
    assert (len(channel), codes(export)) == (54, ["readings-hour-twice"])
    assert [round((gap.end - gap.start).total_seconds()) for gap in channel.gaps()] == [7800]
    whole = read("autumn_not_changed.csv", zone=timezone(timedelta(hours=-3)))
    assert (len(whole.channels[0]), codes(whole)) == (60, [])


def test_a_clock_that_is_not_changed_in_spring_is_another() -> None:
    with pytest.raises(QuestionError) as refused:
        read("spring_not_changed.csv", zone=HALIFAX)
    assert (refused.value.code, refused.value.asks) == ("readings-hour-skipped", "timezone")
    assert refused.value.params["row_count"] == 6
    assert len(read("spring_not_changed.csv", zone=timezone(timedelta(hours=-4))).channels[0]) == 40


def test_a_single_row_in_a_skipped_hour_is_a_bad_line(tmp_path: Path) -> None:
    text = simple(start="2026-03-07T20:00:00", count=30, head="Time,Temperature (°C),Humidity (%)")
    path = laid(tmp_path, text + "2026-03-08 02:30:00,19.0,50.0\n")
    export = read(path, zone=HALIFAX)
    assert export.bad.lines == ((32, "bad-skipped"),)
    assert len(export.channels[0]) == 30


def test_fahrenheit_called_celsius_is_asked() -> None:
    with pytest.raises(QuestionError) as refused:
        read("fahrenheit_called_celsius.csv")
    assert (refused.value.code, refused.value.asks) == ("readings-too-hot", "unit")
    # Somebody who insists on it is asked again: a warning would let a cold floor count as cured.
    with pytest.raises(QuestionError, match="readings-too-hot"):
        read("fahrenheit_called_celsius.csv", unit="C")
    told = read("fahrenheit_called_celsius.csv", unit="F")
    assert told.channels[0].temperature_c[0] == pytest.approx(19.0, abs=0.01)
    assert (told.unit.by, told.unit.words) == ("option", "°C")


def test_celsius_called_fahrenheit_is_asked(tmp_path: Path) -> None:
    path = laid(tmp_path, simple(head="Time (UTC),Temperature (°F),Humidity (%)"))
    with pytest.raises(QuestionError) as refused:
        read(path)
    assert (refused.value.params["other"], refused.value.params["own"]) == ("C", "F")
    assert read(path, unit="F").channels[0].temperature_c[0] < 0.0
    assert read(path, unit="C").channels[0].temperature_c[0] == 19.0


def test_a_warm_van_is_found_and_counts_until_somebody_says_from_when() -> None:
    export = read("warm_van.csv")
    (finding,) = export.findings
    assert finding.code == "readings-jump-start"
    assert finding.params["first_at"] == utc("2026-11-13T08:40:00")
    assert finding.params["later_at"] == utc("2026-11-13T08:45:00")
    assert len(export.channels[0]) == 90


def test_unsorted_rows_are_put_in_order_and_each_instant_counts_once() -> None:
    export = read("unsorted.csv")
    (channel,) = export.channels
    assert list(channel.at_s) == sorted(set(channel.at_s))
    assert len(channel) == 60
    assert "readings-same-instant" in codes(export)
    # Of 20.34 °C and 12 °C the colder, of 54.4 % and 80 % the damper.
    assert (channel.temperature_c[10], channel.humidity[10]) == (12.0, 0.8)


def test_bad_lines_are_listed_by_number_and_left_out() -> None:
    export = read("bad_lines.csv")
    assert export.bad.lines == (
        (7, "bad-instant"),
        (9, "bad-figure"),
        (11, "bad-fields"),
        (13, "bad-range"),
        (15, "bad-instant"),
        (32, "bad-instant"),
    )
    assert len(export.channels[0]) == 25


def test_more_bad_lines_than_good_ones_are_refused(tmp_path: Path) -> None:
    with pytest.raises(SourceError, match="readings-mostly-bad"):
        read(laid(tmp_path, simple(count=5) + "nothing\n" * 6))


def test_another_header_further_down_is_refused(tmp_path: Path) -> None:
    second = simple(start="2026-11-15T20:00:00", head="Time (UTC),Humidity (%),Temperature (°C)")
    with pytest.raises(SourceError, match="readings-several-blocks") as refused:
        read(laid(tmp_path, simple() + second))
    assert refused.value.params["line"] == 62


def test_the_same_header_again_goes_on(tmp_path: Path) -> None:
    second = simple(start="2026-11-15T20:00:00")
    assert len(read(laid(tmp_path, simple() + second)).channels[0]) == 120
    with pytest.raises(SourceError, match="readings-several-blocks"):
        read(laid(tmp_path, simple() + "Logger B\n" + second))


def test_a_clock_of_twelve_hours_without_am_and_pm_is_refused(tmp_path: Path) -> None:
    text = simple(count=140, form="%Y-%m-%d %I:%M:%S")
    with pytest.raises(SourceError, match="readings-twelve-hours"):
        read(laid(tmp_path, text))


def test_readings_far_apart_say_nothing_of_what_was_between(tmp_path: Path) -> None:
    with pytest.raises(SourceError, match="readings-too-sparse"):
        read(laid(tmp_path, simple(step_s=86_400)))


@pytest.mark.parametrize(
    ("content", "code"),
    [
        (b"", "file-empty"),
        (b"  \n \n", "file-empty"),
        (b"nothing here\n" * 9, "readings-no-rows"),
        (b"a,b\n\0\0\0", "readings-not-text"),
        (b"\xd0\xcf\x11\xe0 old workbook", "readings-old-workbook"),
        (b"PK\x03\x04 no archive", "readings-workbook-broken"),
        (simple(head="Time (UTC),Pressure,Voltage").encode(), "readings-no-temperature"),
        (codecs.BOM_UTF16_LE + b"\x00", "readings-no-rows"),
    ],
)
def test_what_is_no_file_of_readings_is_refused(tmp_path: Path, content: bytes, code: str) -> None:
    with pytest.raises(SourceError, match=code):
        read(laid(tmp_path, content))


def test_a_file_that_is_not_there_and_a_folder_are_refused(tmp_path: Path) -> None:
    with pytest.raises(SourceError, match="file-missing"):
        read(tmp_path / "none.csv")
    with pytest.raises(SourceError, match="file-is-folder"):
        read(tmp_path)


def test_two_units_in_one_header_are_none(tmp_path: Path) -> None:
    path = laid(tmp_path, simple(head="Time (UTC),Temperature (°C / °F),Humidity (%)"))
    with pytest.raises(QuestionError, match="readings-unit-unknown"):
        read(path)


def test_the_unit_above_the_header_counts(tmp_path: Path) -> None:
    head = "Temperature unit: °C\nTime (UTC),Temperature,Humidity (%)"
    export = read(laid(tmp_path, simple(head=head)))
    assert (export.unit.value, export.unit.by) == ("C", "preamble")


def test_a_unit_beside_every_figure_counts(tmp_path: Path) -> None:
    text = "Time (UTC),Temperature\n" + "".join(
        f"2026-11-13 20:{minute:02d}:00,{65 + minute / 100:.2f} °F\n" for minute in range(30)
    )
    export = read(laid(tmp_path, text))
    assert (export.unit.value, export.unit.by) == ("F", "row")
    assert export.channels[0].temperature_c[0] == pytest.approx(18.3333, abs=1e-3)
    mixed = text.replace("65.10 °F", "18.4 °C")
    assert read(laid(tmp_path, mixed), unit="F").bad.count == 1


def test_humidities_that_are_fractions_are_refused(tmp_path: Path) -> None:
    rows = [f"2026-11-13 20:{minute:02d}:00,19.0,0.55" for minute in range(30)]
    text = "\n".join(["Time (UTC),Temperature (°C),Humidity", *rows]) + "\n"
    with pytest.raises(SourceError, match="readings-humidity-doubtful"):
        read(laid(tmp_path, text))


def test_a_number_for_every_row_is_no_device(tmp_path: Path) -> None:
    lines = simple().splitlines()
    rows = [f"{number},{line}" for number, line in enumerate(lines[1:], start=1)]
    export = read(laid(tmp_path, "\n".join([f"ID,{lines[0]}", *rows]) + "\n"))
    assert [len(channel) for channel in export.channels] == [60]


def test_more_devices_than_a_site_has_are_refused(tmp_path: Path) -> None:
    head = "Time (UTC),Device,Temperature (°C)"
    rows = [
        f"2026-11-13 20:{minute:02d}:00,D{number},19.0"
        for minute in range(4)
        for number in range(70)
    ]
    with pytest.raises(SourceError, match="readings-many-devices"):
        read(laid(tmp_path, "\n".join([head, *rows]) + "\n"))


def test_a_devices_name_is_one_line_without_signs_nobody_sees(tmp_path: Path) -> None:
    text = "Logger name: hall\u202e\u0007 east\n" + simple()
    assert read(laid(tmp_path, text)).channels[0].device == "hall east"


@pytest.mark.parametrize("mean_c", [-1.0, 0.5, 12.0, 24.0])
def test_a_room_in_fahrenheit_called_celsius_is_asked_however_cold(
    tmp_path: Path, mean_c: float
) -> None:
    rows = [
        f"{at:%Y-%m-%d %H:%M:%S},{warm * 9 / 5 + 32:.2f}"
        for at, warm, _ in Wave(utc("2026-11-13T20:00:00"), 60, 600, mean_c).points()
    ]
    text = "\n".join(["Time (UTC),Temperature (°C)", *rows]) + "\n"
    with pytest.raises(QuestionError, match=r"readings-unit-doubtful|readings-too-hot"):
        read(laid(tmp_path, text))


def test_a_few_readings_hotter_than_a_room_are_bad_lines(tmp_path: Path) -> None:
    lines = simple().splitlines()
    lines[10] = lines[10].replace(lines[10].split(",")[1], "61.0")
    export = read(laid(tmp_path, "\n".join(lines) + "\n"))
    assert export.bad.lines == ((11, "bad-range"),)


def test_many_readings_hotter_than_a_room_are_asked_of(tmp_path: Path) -> None:
    head, *rows = simple().splitlines()
    hot = [f"{row.split(',')[0]},61.0,50.0" if n % 9 == 0 else row for n, row in enumerate(rows)]
    with pytest.raises(QuestionError, match="readings-too-hot") as refused:
        read(laid(tmp_path, "\n".join([head, *hot]) + "\n"))
    assert (refused.value.params["row_count"], refused.value.params["figure"]) == (7, "61.0")
