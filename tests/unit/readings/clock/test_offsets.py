"""What a file's words say of its clock: read where they are clear, asked where they are not."""

from __future__ import annotations

from datetime import UTC, timedelta, timezone
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from logger_samples import FOLDER, laid, read, simple, utc

from curecal.readings.clock.offsets import mentions, offset_in, offset_named
from curecal.readings.export.read_export import read_export
from curecal.readings.table.export_types import Answers, QuestionError, UnderstoodBy

TORONTO = ZoneInfo("America/Toronto")
FIVE = timezone(timedelta(hours=-5))


@pytest.mark.parametrize(
    "text",
    [
        "GMT (-05:00)",
        "UTC offset -05:00",
        "UTC-5h",
        "UTC:-5",
        "UTC=-05:00",
        "UTC  -5",
        "UTC \u22125",
        "UTC/GMT -5 hours",
        "UTC-0500",
        "Time (Etc/GMT+5)",
        "Local time (UTC-5)",
        "Date Time, GMT-05:00 (LGR S/N: 9900417)",
    ],
)
def test_an_offset_in_other_words_is_that_offset(text: str) -> None:
    assert offset_in(text) == FIVE


@pytest.mark.parametrize(
    "text",
    ["UTC time", "TimestampUTC", "utc_time", "Zeit (UTC)", "(UTC) Coordinated Universal Time"],
)
def test_utc_among_words_that_change_nothing(text: str) -> None:
    assert offset_in(text) == UTC


@pytest.mark.parametrize(
    "text",
    [
        "UTC \u2013 5",
        "local, not UTC",
        "GMT Daylight Time",
        "GMT minus 5",
        "UTC \u2013 05:00",
        "UTC, offset: -300 min",
        "Zone: not in UTC",
        "exported UTC",
        "UTC+05.5",
        "UTC-300",
        "UTC-05:00 / UTC-04:00",
        "UTC -5 (2)",
        "(UTC-05:00) Eastern Time (US & Canada)",
        "(UTC+01:00) Amsterdam, Berlin",
        "GMT+99:00",
    ],
)
def test_words_that_can_be_read_in_two_ways_settle_nothing(text: str) -> None:
    assert mentions(text)
    assert offset_in(text) is None


def test_the_names_of_the_list_count_westward_also_from_a_person() -> None:
    assert offset_named("Etc/GMT+5") == FIVE
    assert offset_named("UTC-5") == FIVE
    assert offset_named("-05:00") == FIVE
    assert offset_named("Eastern") is None


def headed(text: str) -> str:
    return simple(head=f'"{text}",Temperature (°C),Humidity (%)')


@pytest.mark.parametrize("zone_from", [UnderstoodBy.JOB, UnderstoodBy.OPTION])
def test_unclear_words_are_asked_and_the_jobs_zone_is_no_answer(
    tmp_path: Path, zone_from: UnderstoodBy
) -> None:
    path = laid(tmp_path, headed("Time, UTC \u2013 5"))
    answers = Answers(zone=TORONTO, zone_from=zone_from)
    if zone_from is UnderstoodBy.OPTION:
        export = read_export(path, answers)
        assert (export.zone.by, export.zone.words) == ("option", "Time, UTC \u2013 5")
        assert export.channels[0].first == utc("2026-11-14T01:00:00")
        return
    with pytest.raises(QuestionError) as refused:
        read_export(path, answers)
    assert (refused.value.code, refused.value.asks) == ("readings-timezone-unclear", "timezone")


def test_a_line_above_is_read_as_carefully(tmp_path: Path) -> None:
    for line in ("Time zone: UTC offset -5", "UTC offset: -05:00", "Time zone: -05:00"):
        export = read(laid(tmp_path, f"{line}\n\n{headed('Time')}"))
        assert (export.zone.by, export.tz) == ("preamble", FIVE)
    for line in ("Time zone: (UTC-05:00) Eastern Time (US & Canada)", "All times GMT minus 5"):
        path = laid(tmp_path, f"{line}\n\n{headed('Time')}")
        with pytest.raises(QuestionError, match="readings-timezone-unclear"):
            read(path)
        assert read(path, zone=TORONTO).zone.words == line


def test_the_time_of_an_export_is_not_the_loggers_clock(tmp_path: Path) -> None:
    path = laid(tmp_path, f"Download time: 2026-11-20 10:00 UTC\n\n{headed('Time')}")
    with pytest.raises(QuestionError, match="readings-timezone-unknown"):
        read(path)


def test_two_offsets_in_one_file_are_asked(tmp_path: Path) -> None:
    path = laid(tmp_path, f"Time zone: UTC-05:00\n\n{headed('Time (UTC)')}")
    with pytest.raises(QuestionError, match="readings-timezone-unclear"):
        read(path)


@pytest.mark.parametrize(
    ("zone", "codes"),
    [
        (FIVE, []),
        (TORONTO, []),
        (timezone(timedelta(hours=1)), ["readings-timezone-overruled"]),
    ],
)
def test_a_person_against_the_file_counts_and_is_found(
    tmp_path: Path, zone: timezone | ZoneInfo, codes: list[str]
) -> None:
    export = read(laid(tmp_path, headed("Time, GMT-05:00")), zone=zone)
    assert (export.zone.by, export.tz) == ("option", zone)
    assert [finding.code for finding in export.findings] == codes


def test_a_person_against_the_offset_of_every_row_changes_nothing_and_is_told(
    tmp_path: Path,
) -> None:
    path = laid(tmp_path, simple(form="%Y-%m-%dT%H:%M:%S-05:00"))
    export = read(path, zone=TORONTO)
    assert export.channels[0].first == utc("2026-11-14T01:00:00")
    assert [finding.code for finding in export.findings] == ["readings-timezone-unused"]
    assert read(path).findings == ()
    # The job's zone is no word against the file.
    assert read_export(path, Answers(zone=TORONTO, zone_from="job")).findings == ()


def test_a_unit_against_the_file_counts_and_is_found(tmp_path: Path) -> None:
    path = laid(tmp_path, simple(head="Time (UTC),Temperature (°F),Humidity (%)"))
    export = read(path, unit="C")
    assert export.channels[0].temperature_c[0] == 19.0
    assert [finding.code for finding in export.findings] == ["readings-unit-overruled"]
    assert read(FOLDER / "shape_5.csv", unit="C", zone=UTC).findings == ()
    wave = simple().splitlines()[1:]
    rows = [f"{row.rsplit(',', 1)[0]},C" for row in wave]
    path = laid(tmp_path, "\n".join(["Time (UTC),Temperature,Unit", *rows]) + "\n")
    assert [finding.code for finding in read(path, unit="F").findings] == [
        "readings-unit-overruled"
    ]
    assert read(path, unit="C").findings == ()
