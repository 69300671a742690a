"""A line that nobody could read and that may be frost goes into the job, and is found there."""

from __future__ import annotations

import json
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from logger_samples import laid, read, utc

from curecal.cli.main import code_of_run
from curecal.readings.series.stored_readings import decode_channel, encode_channel
from curecal.readings.table.export_types import LoggerChannel, instant

JOB = """
[job]
id = "ash-lane-hall"
name = "Ash Lane hall"
timezone = "UTC"

[expected]
below = "heated room"
air = "15 °C"
humidity = "50 %"

[[zone]]
name = "hall"

[[zone.layer]]
name = "thinset"
material = "thinset"
done = 2026-11-13T08:00:00
"""


def text_of(*odd: tuple[int, str], count: int = 120, head: str = "Temp (°C),RH (%)") -> str:
    """Return a plain file, a row every ten minutes, with some rows of another kind."""
    begin = datetime(2026, 11, 13, 10)  # noqa: DTZ001
    rows = [
        f"{begin + timedelta(minutes=10 * n):%Y-%m-%d %H:%M:%S},15.0,55.0" for n in range(count)
    ]
    for place, cells in odd:
        rows[place] = f"{rows[place][:19]},{cells}"
    return "\n".join([f"Time (UTC),{head}", *rows]) + "\n"


def only(folder: Path, text: str) -> LoggerChannel:
    """Return the only channel of a file."""
    (channel,) = read(laid(folder, text)).channels
    return channel


def hidden(channel: LoggerChannel) -> list[int]:
    """Return the minutes from ten o'clock at which something was hidden."""
    return [(at_s - int(utc("2026-11-13T10:00:00").timestamp())) // 60 for at_s in channel.hidden]


def test_a_line_that_may_be_frost_keeps_its_instant(tmp_path: Path) -> None:
    channel = only(tmp_path, text_of((60, "minus 4,55.0"), (3, "-41.0,55.0"), (30, "15x,55.0")))
    assert (len(channel), hidden(channel)) == (117, [30, 600])
    later = channel.between(utc("2026-11-13T12:00:00"), None)
    assert (hidden(later), channel.between(None, None)) == ([600], channel)


def test_a_line_without_an_instant_has_none(tmp_path: Path) -> None:
    text = text_of().replace("2026-11-13 10:30:00,15.0", "2026-13-45 10:30:00,-15.0")
    export = read(laid(tmp_path, text))
    assert [finding.code for finding in export.findings] == ["readings-unread-cold"]
    assert export.channels[0].hidden == ()


@pytest.mark.parametrize(
    ("cells", "found"),
    [
        ("A,minus 4,55.0", [[30], []]),
        # Of a row that nobody can say whose it is, every device's readings are in doubt.
        ("-4.0", [[30], [30]]),
    ],
)
def test_whose_line_it_was(tmp_path: Path, cells: str, found: list[list[int]]) -> None:
    text = text_of((3, cells), head="Device,Temp (°C),RH (%)").replace(",15.0", ",A,15.0")
    other = [line.replace(",A,15.0", ",B,16.0") for line in text.splitlines()[60:]]
    both = "\n".join([*text.splitlines()[:60], *other]) + "\n"
    head, first, *rest = both.splitlines()
    ordered = "\n".join([head, rest[-1], first, *rest[:-1]]) + "\n"
    channels = read(laid(tmp_path, ordered)).channels
    assert {each.device: hidden(each) for each in channels} == dict(
        zip(("B", "A"), reversed(found), strict=True)
    )


def test_what_is_hidden_is_kept_with_the_readings(tmp_path: Path) -> None:
    channel = only(tmp_path, text_of((3, "minus 4,55.0"), (4, "-3.0x,55.0")))
    data = encode_channel(channel)
    assert data.endswith(b"Z,15.0,0.55\n2026-11-13T10:30:00Z,?,\n2026-11-13T10:40:00Z,?,\n")
    assert decode_channel(data, channel.device) == channel


@pytest.mark.parametrize(
    "tail",
    [
        "2026-11-13T10:30:00Z,?,\n2026-11-14T10:30:00Z,15.0,0.55\n",
        "2026-11-13T10:30:00Z,?,\n2026-11-13T10:30:00Z,?,\n",
        "2026-11-13T10:30:00Z,?,0.5\n",
        "2026-11-13T24:00:00Z,15.0,0.55\n",
    ],
)
def test_hidden_lines_in_another_form_are_refused(tail: str) -> None:
    text = "at,temperature_c,humidity\n2026-11-13T10:00:00Z,15.0,0.55\n"
    assert len(decode_channel(text.encode(), "x")) == 1
    with pytest.raises(ValueError, match=r".*"):
        decode_channel((text + tail).encode(), "x")
    with pytest.raises(ValueError, match=r".*"):
        decode_channel(b"at,temperature_c,humidity\n2026-11-13T10:30:00Z,?,\n", "x")


def test_the_plan_says_what_was_hidden(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job = laid(tmp_path, JOB, "job.toml")
    odd = [(place, "-41.0,55.0") for place in (30, 31)]
    path = laid(tmp_path, text_of(*odd))
    assert code_of_run(["readings", str(path), "--into", str(job), "--json"]) == 0
    (file,) = json.loads(capsys.readouterr().out)["files"]
    assert [each["code"] for each in file["findings"]] == ["readings-unread-cold"]
    code_of_run(["plan", str(job), "--json", "--as-of", "2026-11-20T00:00:00Z"])
    findings = json.loads(capsys.readouterr().out)["findings"]
    (found,) = [each for each in findings if each["code"] == "readings-hidden"]
    assert found["severity"] == "warning"
    assert found["message"] == (
        "2 lines of logger could not be read and may hide frost, the first is Fri 13 Nov, 15:00."
    )
    # Again, nothing is new; what is hidden stays found once.
    assert code_of_run(["readings", str(path), "--into", str(job), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["files"][0]["added"][0]["new"] == 0


def test_frost_that_nobody_can_read_in_a_row_of_an_entity_is_found(tmp_path: Path) -> None:
    rows = [f"2026-11-13 20:{n:02d}:00,hall_temperature_C,4.{n % 10}" for n in range(40)]
    rows[20] = rows[20].replace(",4.0", ",-3..5")
    rows[25] = rows[25].replace("temperature_C,4.5", "humidity,-3..5")
    export = read(laid(tmp_path, "\n".join(["time (UTC),name,value", *rows]) + "\n"))
    (channel,) = export.channels
    assert [finding.code for finding in export.findings] == ["readings-unread-cold"]
    assert export.findings[0].params["row_count"] == 1
    assert [instant(at_s) for at_s in channel.hidden] == [utc("2026-11-13T20:20:00")]
