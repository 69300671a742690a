"""Tables of databases, of houses and of time series: each read to the last reading, or asked.

Look-alikes with invented readings of the layouts that such programs export.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta, timezone
from pathlib import Path

import pytest
from logger_samples import FOLDER, HALIFAX, Wave, laid, read, simple, utc, values

from curecal.errors import SourceError, ValueRefused
from curecal.readings.columns.by_hand import columns_named
from curecal.readings.export.read_export import read_export
from curecal.readings.table.export_types import Answers, LoggerExport, QuestionError

IN_UTC = Wave(utc("2026-11-13T20:00:00"), 60, 600)
HERE = Wave(datetime(2026, 11, 13, 20, tzinfo=HALIFAX), 60, 600)


def hold(export: LoggerExport, wave: Wave, *, step_c: float = 0.01) -> None:
    """Hold a file's only channel to the wave it was made of: instants, °C, humidity."""
    (channel,) = export.channels
    found = values(channel)
    assert [at for at, _, _ in found] == [at.astimezone(UTC) for at, _, _ in wave.points()]
    for (_, warm, damp), (_, want_c, want_percent) in zip(found, wave.points(), strict=True):
        assert warm == pytest.approx(want_c, abs=0.5 * step_c + 0.006)
        assert damp == pytest.approx(want_percent / 100, abs=0.0011)
    assert export.bad.count == 0


def asked(name: str | Path, **said: object) -> QuestionError:
    """Return what is asked of a file."""
    with pytest.raises(QuestionError) as refused:
        read(name, **said)
    return refused.value


def test_the_instant_in_the_last_column() -> None:
    question = asked("database_dump.csv")
    assert (question.asks, question.code) == ("unit", "readings-unit-unknown")
    export = read("database_dump.csv", unit="C")
    hold(export, IN_UTC)
    assert dict(export.columns)["id"] == "unused"
    assert (export.zone.by, export.order.by) == ("row", "year first")


def test_the_instant_between_the_readings() -> None:
    hold(read("instant_in_the_middle.csv"), IN_UTC)


def test_series_with_annotations_and_nanoseconds() -> None:
    export = read("annotated_series.csv")
    hold(export, IN_UTC)
    roles = dict(export.columns)
    # Start and end of the query are the same in every row.
    assert [name for name, role in export.columns if role == "instant"] == ["_time"]
    assert (roles["_value"], roles["_field"], roles["table"]) == ("value", "name", "unused")
    assert (roles["room"], export.channels[0].device) == ("device", "hall")
    assert (export.unit.value, export.unit.by) == ("C", "header")


def test_a_row_for_each_entity_named_by_what_it_is() -> None:
    assert asked("entities.csv").asks == "unit"
    export = read("entities.csv", unit="C")
    hold(export, IN_UTC)
    assert export.channels[0].device == "sensor.hall"
    # Three rows of the battery, and one in which there was no reading.
    assert export.events == 4


def test_humidities_a_second_after_the_temperatures_are_no_shorter_interval(
    tmp_path: Path,
) -> None:
    text = long_rows({"temperature_C": "15.0"}) + "".join(
        f"2026-11-13 20:{minute:02d}:01,humidity,48.0\n" for minute in range(30)
    )
    (channel,) = read(laid(tmp_path, text)).channels
    assert (len(channel), channel.interval_s, channel.gaps()) == (60, 60.0, [])
    damp = long_rows({"humidity": "48.0"})
    (channel,) = read(laid(tmp_path, damp), unit="C").channels
    assert (channel.interval_s, channel.humidity[0]) == (60.0, 0.48)


def long_rows(names: dict[str, str], head: str = "time (UTC),name,value") -> str:
    rows = [
        f"2026-11-13 20:{minute:02d}:00,{name},{figure}"
        for minute in range(30)
        for name, figure in names.items()
    ]
    return "\n".join([head, *rows]) + "\n"


def test_entities_of_two_rooms_are_two_devices_and_made_up_ones_none(tmp_path: Path) -> None:
    text = long_rows(
        {
            "hall_temperature_F": "59.0",
            "loft_temperature_C": "21.0",
            "hall_humidity": "48.0",
            "loft_dew_point_C": "3.0",
            "hall_temperature_max_C": "30.0",
            "battery": "97",
        }
    )
    hall, loft = sorted(read(laid(tmp_path, text)).channels, key=lambda channel: channel.device)
    assert (hall.device, loft.device) == ("hall", "loft")
    assert (round(hall.temperature_c[0], 6), hall.humidity[0]) == (15.0, 0.48)
    assert set(loft.temperature_c) == {21.0}


def test_rooms_in_a_column_beside_the_names_are_told_apart(tmp_path: Path) -> None:
    head = "time (UTC),name,value,room,floor,quality"
    rows = [
        f"2026-11-13 20:{n:02d}:{second},temperature_C,{warm},{tags},"
        for n in range(30)
        for second, warm, tags in (("00", "8.0", "hall,4"), ("30", "21.0", "loft,4"))
    ]
    hall, loft = read(laid(tmp_path, "\n".join([head, *rows]) + "\n")).channels
    assert (hall.device, set(hall.temperature_c)) == ("hall 4", {8.0})
    assert (loft.device, set(loft.temperature_c)) == ("loft 4", {21.0})


def test_the_unit_of_an_entity_in_a_column_of_its_own(tmp_path: Path) -> None:
    text = long_rows({"temperature": "59.0,°F", "humidity": "48.0,%"}, "time (UTC),name,value,unit")
    export = read(laid(tmp_path, text))
    (channel,) = export.channels
    assert (round(channel.temperature_c[0], 6), channel.humidity[0]) == (15.0, 0.48)
    assert (export.unit.value, export.unit.by) == ("F", "row")
    wrong = text.replace("humidity,48.0,%", "humidity,48.0,°F")
    with pytest.raises(SourceError, match="readings-mostly-bad"):
        read(laid(tmp_path, wrong))


def test_a_name_whose_unit_is_another_than_beside_it_is_no_reading(tmp_path: Path) -> None:
    text = long_rows({"temperature_C": "15.0,°F"}, "time (UTC),name,value,unit")
    with pytest.raises(SourceError, match="readings-none"):
        read(laid(tmp_path, text))


def test_a_unit_in_a_line_above_counts_for_entities(tmp_path: Path) -> None:
    text = "Temperature unit: °F\n" + long_rows({"temperature": "59.0", "humidity": "48.0"})
    (channel,) = read(laid(tmp_path, text)).channels
    assert (round(channel.temperature_c[0], 6), channel.humidity[0]) == (15.0, 0.48)


def test_a_reading_that_was_corrected_is_one() -> None:
    hold(read("calibrated.csv"), IN_UTC)


def test_a_marker_and_a_blank_line_between_header_and_rows() -> None:
    export = read("marker_line.txt", zone=HALIFAX)
    hold(export, HERE)
    assert (export.unit.by, export.unit.words) == ("preamble", "Temperature = °C")
    assert export.columns[0] == ("Date", "instant")
    assert asked("marker_line.txt").asks == "timezone"


def test_a_header_shifted_by_a_cell_counts_for_nothing() -> None:
    question = asked("shifted_header.csv", zone=HALIFAX)
    assert (question.asks, question.code) == ("columns", "readings-header-shifted")
    assert question.params["row"] == "2026-11-13,20:00:00,19.00,56.0,"
    names = "date,time,temperature,humidity"
    # Its unit stands over another column.
    assert asked("shifted_header.csv", zone=HALIFAX, columns=names).asks == "unit"
    hold(read("shifted_header.csv", zone=HALIFAX, columns=names, unit="C"), HERE)


def test_a_humidity_under_both_units() -> None:
    hold(read("both_units.csv", zone=HALIFAX), HERE)


def test_seconds_since_1970_are_utc() -> None:
    export = read("seconds_since_1970.csv")
    hold(export, IN_UTC)
    assert (export.zone.by, export.order.by) == ("counted", "counted")
    assert str(export.tz) == "UTC"


def test_milliseconds_since_1970_are_utc() -> None:
    hold(read("milliseconds_since_1970.csv"), IN_UTC)


def test_a_number_of_ten_digits_is_an_instant_only_under_its_name(tmp_path: Path) -> None:
    text = Path(FOLDER / "seconds_since_1970.csv").read_text(encoding="utf-8")
    question = asked(laid(tmp_path, text.replace("timestamp", "serial", 1)))
    assert (question.asks, question.code) == ("columns", "readings-no-time-column")
    path = laid(tmp_path, text.replace("timestamp", "serial", 1))
    hold(read(path, columns="time,temperature,humidity"), IN_UTC)


def test_packed_dates_and_times() -> None:
    wave = Wave(datetime(2017, 4, 8, 18, 11, tzinfo=HALIFAX), 60, 600)
    hold(read("packed_instants.csv", zone=HALIFAX), wave)


def test_letters_of_a_time_zone_tell_the_hour_that_comes_twice_apart() -> None:
    wave = Wave(utc("2026-11-01T01:00:00"), 60, 600)
    export = read("zone_letters.csv", zone=HALIFAX)
    hold(export, wave)
    assert (export.zone.by, export.zone.words) == ("letters", "ADT, AST")
    assert export.findings == ()
    question = asked("zone_letters.csv")
    assert (question.asks, question.params["words"]) == ("timezone", "ADT, AST")


@pytest.mark.parametrize("zone", [timezone(timedelta(hours=-4)), timezone(timedelta(hours=1)), UTC])
def test_letters_that_are_not_the_zones_of_that_day_are_asked(zone: timezone) -> None:
    question = asked("zone_letters.csv", zone=zone)
    assert (question.asks, question.code) == ("timezone", "readings-zone-name-differs")


def test_letters_of_summer_in_winter_are_asked(tmp_path: Path) -> None:
    rows = [line.replace(",", " ADT,", 1) for line in simple().splitlines()[1:]]
    path = laid(tmp_path, "\n".join(["Time,Temp (°C),RH (%)", *rows]) + "\n")
    assert asked(path, zone=HALIFAX).params["day"] == date(2026, 11, 13)


def test_utc_behind_the_times_needs_no_zone(tmp_path: Path) -> None:
    rows = [line.replace(",", " UTC,", 1) for line in simple().splitlines()[1:]]
    path = laid(tmp_path, "\n".join(["Time,Temp (°C),RH (%)", *rows]) + "\n")
    hold(read(path), IN_UTC)
    hold(read(path, zone=HALIFAX), IN_UTC)


def test_the_time_before_the_date() -> None:
    export = read("time_first.csv", zone=HALIFAX)
    hold(export, HERE)
    assert export.order.value == "D/M/Y"


def test_year_month_day_and_hour_in_columns_of_their_own() -> None:
    wave = Wave(datetime(2026, 11, 14, tzinfo=UTC), 60, 3600)
    hold(read("parts_of_the_instant.csv", zone=HALIFAX), wave)


def test_parts_down_to_the_second(tmp_path: Path) -> None:
    rows = [
        f"{warm:.2f},{at:%Y},{at.month},{at.day},{at.hour},{at.minute},{at.second},{damp:.1f}"
        for at, warm, damp in IN_UTC.points()
    ]
    head = "Temp (°C),Year,Month,Day,Hour,Minute,Second,RH (%)"
    hold(read(laid(tmp_path, "\n".join([head, *rows]) + "\n"), zone=UTC), IN_UTC)
    bare = laid(tmp_path, "\n".join(rows) + "\n")
    names = "temperature,year,month,day,hour,minute,second,humidity"
    hold(read(bare, zone=UTC, unit="C", columns=names), IN_UTC)


def test_date_and_time_beside_an_instant_with_its_offset() -> None:
    export = read("instant_twice.csv")
    hold(export, IN_UTC)
    assert (export.zone.by, dict(export.columns)["Date"]) == ("row", "unused")


def test_two_instants_of_which_either_may_be_the_readings_are_asked() -> None:
    question = asked("start_and_end.csv", zone=HALIFAX)
    assert (question.asks, question.code) == ("columns", "readings-several-instants")
    begun = "time,-,temperature,humidity"
    hold(read("start_and_end.csv", zone=HALIFAX, columns=begun), HERE)
    later = HERE._replace(start=HERE.start + timedelta(minutes=10))
    ended = "-,time,temperature,humidity"
    hold(read("start_and_end.csv", zone=HALIFAX, columns=ended), later)


@pytest.mark.parametrize(("later", "is_asked"), [(0, False), (60, True)])
def test_instants_of_one_offset_an_hour_apart_are_asked(
    tmp_path: Path, later: int, *, is_asked: bool
) -> None:
    rows = [
        f"{15 + n % 3}.0,{at:%Y-%m-%dT%H:%M:%SZ},{at + timedelta(minutes=later):%Y-%m-%dT%H:%M:%SZ}"
        for n, (at, _, _) in enumerate(IN_UTC.points())
    ]
    path = laid(tmp_path, "\n".join(["temp_c,created_at,updated_at", *rows]) + "\n")
    if is_asked:
        assert asked(path).code == "readings-several-instants"
    else:
        assert read(path).channels[0].first == IN_UTC.start


@pytest.mark.parametrize("head", ["room", "zone", "mac address", "channel"])
def test_rooms_of_a_table_are_told_apart(tmp_path: Path, head: str) -> None:
    rows = [f"2026-11-13 20:{n:02d}:00,{'A' if n % 2 else 'B'},{15 + n % 2}.0" for n in range(30)]
    text = "\n".join([f"Time (UTC),{head},Temp (°C)", *rows]) + "\n"
    cold, warm = read(laid(tmp_path, text)).channels
    assert (set(cold.temperature_c), set(warm.temperature_c)) == ({15.0}, {16.0})


def test_an_instant_that_goes_its_own_way_is_a_rival(tmp_path: Path) -> None:
    lines = simple(count=30).splitlines()
    rows = [f"{line},2026-11-14 {minute:02d}:{minute:02d}" for minute, line in enumerate(lines[1:])]
    question = asked(laid(tmp_path, "\n".join([f"{lines[0]},Uploaded", *rows[:20]]) + "\n"))
    assert question.code == "readings-several-instants"


def test_a_file_without_a_header_is_read_by_the_names_said() -> None:
    question = asked("no_header.csv", zone=HALIFAX)
    assert (question.asks, question.code) == ("columns", "readings-no-temperature")
    assert question.params["row"] == "2026-11-13 20:00:00,19.00,56.0"
    names = "time,temperature,humidity"
    assert asked("no_header.csv", zone=HALIFAX, columns=names).asks == "unit"
    hold(read("no_header.csv", zone=HALIFAX, columns=names, unit="C"), HERE)
    (channel,) = read(
        "no_header.csv", zone=HALIFAX, columns="time,temperature,-", unit="C"
    ).channels
    assert all(damp is None for _, _, damp in values(channel))


def test_names_said_count_against_a_wrong_header(tmp_path: Path) -> None:
    text = simple(head="Time (UTC),Humidity (%),Temperature (°C)")
    names = "time,temperature,humidity"
    assert asked(laid(tmp_path, text), columns=names).asks == "unit"
    export = read(laid(tmp_path, text), columns=names, unit="C")
    hold(export, IN_UTC)
    (finding,) = export.findings
    assert finding.code == "readings-columns-overruled"
    assert finding.params["words"] == '"Humidity (%)", "Temperature (°C)"'


def test_a_header_that_calls_a_column_the_same_says_its_unit(tmp_path: Path) -> None:
    export = read(laid(tmp_path, simple()), columns="time,temperature,-")
    assert (export.unit.value, export.unit.by) == ("C", "header")


@pytest.mark.parametrize("names", ["time,temperature", "time,temperature,humidity,-"])
def test_names_for_more_or_fewer_columns_are_asked_again(names: str) -> None:
    question = asked("no_header.csv", zone=HALIFAX, columns=names)
    assert (question.asks, question.code) == ("columns", "readings-columns-count")
    assert question.params["field_count"] == 3


def test_an_instant_named_where_none_is_is_asked_again() -> None:
    question = asked("no_header.csv", zone=HALIFAX, columns="temperature,time,humidity")
    assert question.code == "readings-columns-no-instant"


def test_names_of_decimal_commas_are_refused_too(tmp_path: Path) -> None:
    rows = [f"2026-11-13 20:{minute:02d},19,{minute % 10},56,0" for minute in range(30)]
    with pytest.raises(SourceError, match="readings-columns-differ"):
        read(laid(tmp_path, "\n".join(rows)), columns="time,temperature,-,humidity,-", unit="C")


@pytest.mark.parametrize(
    "text",
    [
        "",
        "time,humidity",
        "temperature,humidity",
        "date,temperature",
        "time,temp",
        "time,time,temperature",
        "time,year,month,day,hour,temperature",
        "year,month,day,temperature",
        "time,device,device,temperature",
    ],
)
def test_what_does_not_name_columns_is_refused(text: str) -> None:
    with pytest.raises(ValueRefused, match="readings-columns-unreadable"):
        columns_named(text)


def test_columns_of_two_sensors_and_their_devices_by_hand(tmp_path: Path) -> None:
    rows = [f"2026-11-13 20:{n:02d}:00,{d},15.0,16.0" for n in range(9) for d in ("A1", "B2")]
    said = Answers(unit="C", columns=columns_named("time,device,temperature,temperature"), zone=UTC)
    export = read_export(laid(tmp_path, "\n".join(rows)), said)
    assert [channel.device for channel in export.channels] == [
        "A1 column 3",
        "A1 column 4",
        "B2 column 3",
        "B2 column 4",
    ]
