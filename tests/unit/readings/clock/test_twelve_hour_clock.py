"""A clock of twelve hours without AM and PM: what it can only be is refused, the rest is noted."""

from __future__ import annotations

import json
from array import array
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from logger_samples import laid, read
from test_hidden_readings import JOB

from curecal.cli.main import code_of_run
from curecal.errors import SourceError
from curecal.readings.clock.twelve_hour_clock import find_twelve_hour_clock
from curecal.readings.series.stored_readings import decode_channel, encode_channel
from curecal.readings.table.timestamps import form_of


def text_of(start: str, minutes: int, form: str = "%Y-%m-%d %I:%M:%S", *, turned: bool = False):
    """Return a file of a reading every ten minutes."""
    begin = datetime.fromisoformat(start)
    stamps = [begin + timedelta(minutes=each) for each in range(0, minutes + 1, 10)]
    rows = [f"{at:{form}},{15 + number % 7 / 10:.1f}" for number, at in enumerate(stamps)]
    return "\n".join(["Time (UTC),Temp (°C)", *(reversed(rows) if turned else rows)]) + "\n"


@pytest.mark.parametrize("turned", [False, True])
def test_an_afternoon_behind_its_morning_is_refused(tmp_path: Path, *, turned: bool) -> None:
    # From 9:00 to 15:30: past noon the rows go back to one o'clock.
    with pytest.raises(SourceError, match="readings-twelve-hours"):
        read(laid(tmp_path, text_of("2026-11-10 09:00", 390, turned=turned)))


def test_mornings_alone_are_noted(tmp_path: Path) -> None:
    rows = [
        f"2026-11-{day} {hour:02d}:{m:02d}:00,15.0"
        for day, hour in ((10, 1), (11, 5))
        for m in range(0, 60, 5)
    ]
    export = read(laid(tmp_path, "\n".join(["Time (UTC),Temp (°C)", *rows]) + "\n"))
    assert [each.code for each in export.findings] == ["readings-half-day"]


def test_an_afternoon_alone_looks_like_a_night_and_is_noted(tmp_path: Path) -> None:
    export = read(laid(tmp_path, text_of("2026-11-10 13:00", 610)))
    assert [(each.code, each.severity.value) for each in export.findings] == [
        ("readings-half-day", "warning")
    ]


@pytest.mark.parametrize("form", ["%Y-%m-%d %I:%M:%S %p", "%Y-%m-%d %H:%M:%S"])
def test_clocks_that_say_the_half_of_the_day_are_read(tmp_path: Path, form: str) -> None:
    export = read(laid(tmp_path, text_of("2026-11-10 09:00", 390, form)))
    assert (len(export.channels[0]), export.findings) == (40, ())


def test_rows_with_their_own_offset() -> None:
    own = form_of(["2026-11-29T10:00:00+01:00", "19"])
    plain = form_of(["2026-11-29 10:00:00", "19"])
    assert own is not None
    assert plain is not None
    run = array("q", [36_000, 3_600])
    assert find_twelve_hour_clock(own[1], [36_000], [run], "x") == []
    assert [
        each.code for each in find_twelve_hour_clock(plain[1], [36_000], [array("q")], "x")
    ] == ["readings-half-day"]


def test_what_is_in_doubt_stays_so_with_the_readings(tmp_path: Path) -> None:
    text = text_of("2026-11-10 13:00", 610)
    (channel,) = read(laid(tmp_path, text)).channels
    data = encode_channel(channel)
    assert data.endswith(b"\n2026-11-10T01:00:00Z,12?,\n")
    assert encode_channel(decode_channel(data, channel.device)) == data
    assert channel.between(channel.first, channel.last).half
    for more in (b"2026-11-10T01:00:00Z,12?,\n", b"2026-11-10T02:00:00Z,15.0,\n"):
        with pytest.raises(ValueError, match=r".*"):
            decode_channel(data + more, "x")
    with pytest.raises(ValueError, match=r".*"):
        decode_channel(data.replace(b"T01:00:00Z,12?", b"T02:00:00Z,12?"), "x")


def test_every_plan_says_that_nights_may_be_afternoons(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = laid(tmp_path, JOB, "job.toml")

    def codes(*paths: Path) -> list[str]:
        for path in paths:
            assert code_of_run(["readings", str(path), "--into", str(job)]) == 0
        capsys.readouterr()
        code_of_run(["plan", str(job), "--json", "--as-of", "2026-11-20T00:00:00Z"])
        findings = json.loads(capsys.readouterr().out)["findings"]
        return [each["code"] for each in findings if each["code"].startswith("readings-half")]

    rows = text_of("2026-11-10 13:00", 610)
    assert codes(laid(tmp_path, rows, "a.csv")) == ["readings-half-day-kept"]
    # A later export of the same readings that goes past noon shows that its clock has 24 hours.
    longer = text_of("2026-11-10 01:00", 900, "%Y-%m-%d %H:%M:%S")
    assert codes(laid(tmp_path, longer, "b.csv")) == []
