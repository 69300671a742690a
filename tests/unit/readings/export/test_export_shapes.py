"""The shapes of loggers' files, each recognized by its structure and read to the last reading.

The shapes were taken from public files of many makers; the files here are look-alikes with
invented readings.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone

import pytest
from logger_samples import HALIFAX, NEW_YORK, Wave, read, utc, values

from curecal.errors import SourceError
from curecal.readings.table.export_types import LoggerExport, QuestionError

QUARTER, TEN, HALF = 900, 600, 1800


def same(export: LoggerExport, wave: Wave, *, step_c: float, step_percent: float | None) -> None:
    """Hold a file's only channel to the wave it was made of."""
    (channel,) = export.channels
    found = values(channel)
    assert [at for at, _, _ in found] == [at.astimezone(UTC) for at, _, _ in wave.points()]
    for (_, warm, damp), (_, want_c, want_percent) in zip(found, wave.points(), strict=True):
        # Half of the last decimal printed, and the rounding of `values`.
        assert warm == pytest.approx(want_c, abs=0.5 * step_c + 0.006)
        if step_percent is None:
            assert damp is None
        else:
            assert damp == pytest.approx(want_percent / 100, abs=0.005 * step_percent + 0.0006)


def test_shape_1_title_offset_in_the_header_and_event_rows() -> None:
    export = read("shape_1.csv")
    five = timezone(timedelta(hours=-5))
    wave = Wave(datetime(2026, 11, 29, 22, tzinfo=five), 60, QUARTER)
    same(export, wave, step_c=0.001, step_percent=0.001)
    assert (export.encoding, export.data_line, export.events) == ("UTF-8", 3, 3)
    assert export.channels[0].device == "9900417"
    assert (export.unit.value, export.unit.by) == ("F", "header")
    assert (export.order.value, export.order.by) == ("M/D/Y", "over 12")
    assert (export.zone.value, export.zone.by) == ("UTC-05:00", "header")
    assert export.bad.count == 0
    roles = dict(export.columns)
    assert roles["#"] == "unused"
    assert roles["Date Time, GMT-05:00"] == "instant"


def test_shape_2_day_first_proven_by_a_month_spelled_above() -> None:
    export = read("shape_2.txt", zone=NEW_YORK)
    wave = Wave(datetime(2012, 10, 11, 8, tzinfo=NEW_YORK), 41, QUARTER, mean_c=18.0)
    same(export, wave, step_c=0.1, step_percent=None)
    assert (export.encoding, export.data_line) == ("Latin-1", 16)
    assert (export.order.value, export.order.by) == ("D/M/Y", "preamble")
    assert (export.unit.value, export.unit.by) == ("C", "row")
    assert export.zone.words == "Time Zone: Eastern Daylight Time"
    assert export.channels[0].device == "QX-20417"


def test_shape_2_a_zone_in_words_is_no_offset() -> None:
    with pytest.raises(QuestionError) as refused:
        read("shape_2.txt")
    assert (refused.value.code, refused.value.asks) == ("readings-timezone-unknown", "timezone")
    assert refused.value.params["words"] == "Time Zone: Eastern Daylight Time"


def test_shape_3_humidity_first_and_thresholds_that_look_like_data() -> None:
    export = read("shape_3.csv", zone=HALIFAX)
    wave = Wave(datetime(2026, 10, 25, 22, tzinfo=HALIFAX), 90, TEN, 17.0, 61.0)
    same(export, wave, step_c=1.0, step_percent=1.0)
    assert export.data_line == 9
    assert (export.order.value, export.order.by) == ("D/M/Y", "over 12")
    assert export.channels[0].device == "7003-22"
    assert [role for _, role in export.columns] == ["instant", "instant", "humidity", "temperature"]


@pytest.mark.parametrize(
    ("name", "encoding"),
    [
        ("shape_4_quoted.csv", "Latin-1"),
        ("shape_4_bare.csv", "Latin-1"),
        ("shape_4_lost_degree.csv", "UTF-8"),
    ],
)
def test_shape_4_three_header_rows_and_six_channels(name: str, encoding: str) -> None:
    export = read(name, zone=HALIFAX)
    assert export.encoding == encoding
    assert (export.unit.value, export.order.by) == ("C", "year first")
    assert [channel.device.split()[-1] for channel in export.channels] == ["Hall", "Loft", "Bath"]
    wave = Wave(datetime(2026, 11, 2, tzinfo=HALIFAX), 50, HALF, 18.0, 55.0)
    for channel, more_c, more_percent in zip(
        export.channels, (0.0, 3.0, 6.0), (0.0, 2.0, 5.0), strict=True
    ):
        found = values(channel)
        assert len(found) == 50
        for (at, warm, damp), (want_at, want_c, want_percent) in zip(
            found, wave.points(), strict=True
        ):
            assert at == want_at
            assert warm == pytest.approx(want_c + more_c, abs=0.056)
            assert damp == pytest.approx((want_percent + more_percent) / 100, abs=0.0011)


def test_shape_5_without_any_unit_is_refused_until_the_unit_is_said() -> None:
    with pytest.raises(QuestionError) as refused:
        read("shape_5.csv", zone=HALIFAX)
    assert (refused.value.code, refused.value.asks) == ("readings-unit-unknown", "unit")
    export = read("shape_5.csv", zone=HALIFAX, unit="C")
    (channel,) = export.channels
    assert (len(channel), channel.first) == (80, utc("2026-04-29T00:00:00"))
    assert channel.temperature_c[0] == 16.0
    # Nine minutes and ten in turn: no step of either is a gap.
    assert (channel.interval_s, channel.gaps()) == (540.0, [])
    assert (export.unit.by, export.order.value) == ("option", "D/M/Y")


def test_shape_6_a_comma_inside_the_instant_and_alarm_columns() -> None:
    export = read("shape_6.csv", zone=HALIFAX)
    wave = Wave(datetime(2026, 9, 29, 20, tzinfo=HALIFAX), 100, QUARTER, 20.0, 48.0)
    same(export, wave, step_c=0.1, step_percent=0.1)
    assert export.separator == ";"
    roles = dict(export.columns)
    assert (roles["Set point [%]"], roles["Alarm [%]"]) == ("unused", "unused")


def test_shape_7_a_blank_line_first_and_rows_that_end_in_a_comma() -> None:
    export = read("shape_7.csv", zone=HALIFAX)
    wave = Wave(datetime(2026, 11, 9, 22, tzinfo=HALIFAX), 88, TEN, 14.0, 66.0)
    same(export, wave, step_c=0.01, step_percent=0.01)
    assert export.channels[0].device == "K-448812"
    assert export.order.by == "spelled"


def test_decimal_commas_with_semicolons() -> None:
    export = read("decimal_comma.csv", zone=HALIFAX)
    wave = Wave(datetime(2026, 11, 13, 20, tzinfo=HALIFAX), 60, TEN)
    same(export, wave, step_c=0.01, step_percent=0.1)


def test_utf_16_with_tabs() -> None:
    export = read("utf16_tabs.txt", zone=HALIFAX)
    wave = Wave(datetime(2026, 11, 13, 20, tzinfo=HALIFAX), 60, TEN)
    same(export, wave, step_c=0.01, step_percent=0.1)
    assert (export.encoding, export.separator) == ("UTF-16", "\t")


def test_the_unit_in_every_row_with_humidity_in_rows_of_its_own() -> None:
    export = read("unit_by_row.csv")
    wave = Wave(utc("2026-11-13T20:00:00"), 30, TEN)
    same(export, wave, step_c=0.01, step_percent=0.1)
    assert (export.unit.value, export.channels[0].device) == ("F", "R-5")


def test_commas_that_are_decimal_and_separate_too_are_refused() -> None:
    with pytest.raises(SourceError, match="readings-columns-differ"):
        read("comma_twice.csv")


def test_several_devices_in_one_file_are_kept_apart() -> None:
    export = read("several_devices.csv")
    first, second = export.channels
    assert (first.device, second.device) == ("A-17", "B-22")
    assert (len(first), len(second)) == (40, 40)
    assert first.temperature_c[0] == 19.0
    assert second.temperature_c[0] == 23.0
