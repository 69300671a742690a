"""`curecal readings`: what it says, asks, refuses and adds, as a person meets it."""

from __future__ import annotations

import json
import os
import pty
import select
import shutil
import subprocess
import sys
import time
from pathlib import Path
from typing import NamedTuple

import pytest
from logger_samples import FOLDER, laid, simple

from curecal.cli import main
from curecal.words.layout import columns

EXAMPLES = Path(__file__).parents[4] / "examples"
PROGRAM = (
    "from curecal.cli import main\n"
    'main.COMMANDS.setdefault("readings", ("curecal.cli.readings.readings", ""))\nmain.run()\n'
)
# A person would have gone home; the machine may be busy.
PATIENCE_S = 300.0


class Said(NamedTuple):
    """How a command ended, and what it said."""

    code: int
    out: str
    err: str


@pytest.fixture
def job(tmp_path: Path) -> Path:
    path = tmp_path / "site" / "job.toml"
    path.parent.mkdir()
    shutil.copy(EXAMPLES / "bathroom" / "job.toml", path)
    return path


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch):
    """Give what runs the command in this process, through the program's own door."""
    monkeypatch.setitem(dict_of(main.COMMANDS), "readings", ("curecal.cli.readings.readings", ""))
    monkeypatch.delenv("CURECAL_COMPANY", raising=False)

    def go(*arguments: object) -> Said:
        capsys.readouterr()
        code = main.code_of_run(["readings", *map(str, arguments)])
        return Said(code, *capsys.readouterr())

    return go


def dict_of(table: object) -> dict[str, tuple[str, str]]:
    assert isinstance(table, dict)
    return table


def test_it_says_in_plain_words_what_it_understood(run) -> None:
    said = run(FOLDER / "shape_1.csv")
    assert (said.code, said.err) == (0, "")
    assert said.out.splitlines()[:5] == [
        "shape_1.csv: 9900417, 60 readings",
        "  Span         Sun 29 Nov 2026, 22:00 to Mon 30 Nov 2026, 12:45, every 15 min",
        "  Temperature  63.5 °F to 68.9 °F",
        "  Humidity     48 % to 56 %",
        "  Gaps         none longer than two intervals",
    ]
    assert '  Dates        M/D/Y ("11/29/26" can be nothing else)' in said.out
    assert said.out.endswith("Nothing was added to a job; use --into JOB for that.\n")


@pytest.mark.parametrize("width", [40, 80, 120])
@pytest.mark.parametrize("name", ["shape_1.csv", "warm_van.csv", "bad_lines.csv"])
def test_no_line_is_wider_than_the_terminal(run, name: str, width: int) -> None:
    said = run(FOLDER / name, "--width", width)
    assert said.code == 0
    assert max(columns(line) for line in said.out.splitlines()) <= width


def test_machines_get_the_same(run) -> None:
    said = run(FOLDER / "bad_lines.csv", FOLDER / "warm_van.csv", "--json")
    first, second = json.loads(said.out)["files"]
    assert first["unit"] == {"is": "C", "from": "header", "words": "Temperature (°C)"}
    assert first["lines_not_read"]["count"] == 6
    assert first["devices"][0]["first"] == "2026-11-13T20:00:00Z"
    assert first["devices"][0]["interval_s"] == 600.0
    assert [each["code"] for each in second["findings"]] == ["readings-jump-start"]
    assert (first["added"], second["added"]) == ([], [])


def test_an_interval_of_seconds_is_told_in_seconds(run, tmp_path: Path) -> None:
    assert "every 90 s\n" in run(laid(tmp_path, simple(step_s=90))).out
    assert "every 1 h\n" in run(laid(tmp_path, simple(step_s=3600))).out


def test_gaps_are_told(run, tmp_path: Path) -> None:
    rows = simple().splitlines()
    said = run(laid(tmp_path, "\n".join([*rows[:20], *rows[30:]]) + "\n"))
    assert "Gaps         1 longer than two intervals: Fri 13 Nov 2026, 23:00 to" in said.out


@pytest.mark.parametrize(
    ("name", "options", "code", "text"),
    [
        ("shape_5.csv", ["--timezone", "UTC"], 3, "Add it: --unit C or --unit F."),
        ("ambiguous_order.csv", [], 3, "Say which, such as: --order D/M/Y."),
        ("shape_3.csv", [], 3, "--timezone America/Halifax"),
        ("fahrenheit_called_celsius.csv", [], 3, "If they are °F, add --unit F."),
        ("fahrenheit_called_celsius.csv", ["--unit", "C"], 3, "°F, add --unit F."),
        ("no_header.csv", [], 3, "--columns time,temperature,humidity"),
        ("no_header.csv", ["--columns", "time,temp"], 2, '"time,temp" does not name columns'),
        ("no_header.csv", ["--columns", "time,temperature"], 3, "3 fields in a row, but"),
        ("shape_3.csv", ["--timezone", "Nova Scotia"], 2, "no time zone"),
        ("shape_1.csv", ["--surface"], 2, "--surface needs a job"),
        ("shape_1.csv", ["--from", "2026-11-30"], 2, "--from needs a job"),
        ("none.csv", [], 3, "There is no file"),
    ],
)
def test_what_is_open_is_refused_into_a_pipe(
    run, name: str, options: list[str], code: int, text: str
) -> None:
    said = run(FOLDER / name, *options)
    assert (said.code, said.out) == (code, "")
    assert text in said.err


def test_everything_open_is_told_at_once(run, tmp_path: Path) -> None:
    rows = [f"0{n // 24 + 3}/04/2026 {n % 24:02d}:00,19.{n % 10}" for n in range(30)]
    path = laid(tmp_path, "\n".join(["Time,Temperature", *rows]) + "\n")
    said = run(path)
    assert (said.code, said.out) == (3, "")
    asked = said.err.splitlines()
    assert len(asked) == 2
    assert "--unit C or --unit F" in asked[0]
    assert "--timezone" in asked[1]
    ambiguous = laid(tmp_path, "\n".join(["Time,Temperature", *rows[:24]]) + "\n")
    asked = run(ambiguous).err.splitlines()
    assert [line.split("--")[1].split()[0] for line in asked] == ["unit", "order", "timezone"]
    assert run(ambiguous, "--unit", "C", "--order", "D/M/Y", "--timezone", "UTC").code == 0


def test_what_no_answer_can_be_assumed_for_is_told_alone(run) -> None:
    (asked,) = run(FOLDER / "start_and_end.csv").err.splitlines()
    assert "--columns" in asked


def test_readings_in_fahrenheit_leave_nothing_else_unasked(run, tmp_path: Path) -> None:
    rows = [f"2026-11-13 {n:02d}:00,66.{n % 10}" for n in range(24)]
    asked = run(laid(tmp_path, "\n".join(["Time,Temperature", *rows]) + "\n")).err.splitlines()
    assert [line.split("--")[1].split()[0] for line in asked] == ["unit", "timezone"]


def test_devices_and_zones_are_asked_with_the_rest(run, tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    shutil.copy(EXAMPLES / "kitchen-two-zones" / "job.toml", path)
    rows = [f"2026-11-13 20:{n:02d}:00,{name},19.0" for n in range(9) for name in ("A1", "B2")]
    file = laid(tmp_path, "\n".join(["Time,Device,Temperature", *rows]) + "\n")
    asked = run(file, "--into", path).err.splitlines()
    assert [line.split("--")[1].split()[0] for line in asked] == ["unit", "zone", "device"]
    assert not (tmp_path / "job.readings").exists()


def test_columns_named_by_hand_go_into_a_job(run, job: Path) -> None:
    said = run(
        *(FOLDER / "no_header.csv", "--columns", "time,temperature,humidity", "--unit", "C"),
        *("--into", job),
    )
    assert said.code == 0
    assert "60 readings of logger, as entry e-" in " ".join(said.out.split())


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("entities.csv", "what the value is"),
        ("seconds_since_1970.csv", "from the start of 1970"),
    ],
)
def test_tables_of_programs_are_told_in_plain_words(run, name: str, words: str) -> None:
    said = run(FOLDER / name, "--unit", "C")
    assert said.code == 0
    assert "Fri 13 Nov 2026, 20:00 to Sat 14 Nov 2026, 05:50" in said.out
    assert words in " ".join(said.out.split())


def test_a_name_that_is_not_in_the_job_adds_nothing(run, job: Path) -> None:
    before = job.read_bytes()
    said = run(FOLDER / "shape_1.csv", "--into", job, "--by", "Robin Mistrl")
    assert said.code == 2
    assert "Did you mean Robin Mistral?" in said.err
    assert job.read_bytes() == before
    assert [path.name for path in job.parent.iterdir()] == ["job.toml"]


def test_readings_go_into_a_job_once(run, job: Path) -> None:
    before = job.read_text(encoding="utf-8")
    said = run(FOLDER / "shape_1.csv", "--into", job, "--by", "Robin Mistral")
    assert said.code == 0
    assert "60 readings of 9900417, as entry e-" in " ".join(said.out.split())
    text = job.read_text(encoding="utf-8")
    assert text.count('kind = "readings"') == 1
    assert text.count('by = "Robin Mistral"') == before.count('by = "Robin Mistral"') + 1
    assert 'zone = "hall"' in text
    again = run(FOLDER / "shape_1.csv", "--into", job, "--json")
    assert json.loads(again.out)["files"][0]["added"] == [
        {"device": "9900417", "readings": 60, "new": 0, "entry": None, "kept_in": None}
    ]
    assert job.read_text(encoding="utf-8") == text


def test_a_file_without_a_zone_gets_the_jobs(run, job: Path) -> None:
    said = run(FOLDER / "decimal_comma.csv", "--into", job, "--until", "2026-11-14 02:00")
    assert said.code == 0
    assert "Clock        America/Halifax, the job's" in said.out
    text = job.read_text(encoding="utf-8")
    assert "first = 2026-11-14T00:00:00+00:00" in text
    assert "until = 2026-11-14T06:00:00+00:00" in text


def test_of_several_devices_it_has_to_be_said_which(run, job: Path) -> None:
    said = run(FOLDER / "several_devices.csv", "--into", job)
    assert said.code == 2
    assert "--device NAME" in said.err
    near = run(FOLDER / "several_devices.csv", "--into", job, "--device", "A-18")
    assert near.code == 2
    assert '"A-17"?' in near.err
    assert "readings" not in job.read_text(encoding="utf-8")
    both = run(FOLDER / "several_devices.csv", "--into", job, "--device", "A-17")
    assert both.code == 0
    assert job.read_text(encoding="utf-8").count('kind = "readings"') == 1


def test_of_several_zones_it_has_to_be_said_which(run, tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    shutil.copy(EXAMPLES / "kitchen-two-zones" / "job.toml", path)
    said = run(FOLDER / "shape_1.csv", "--into", path)
    assert said.code == 2
    assert '--zone "kitchen"' in said.err
    assert run(FOLDER / "shape_1.csv", "--into", path, "--zone", "attic").code == 2
    assert run(FOLDER / "shape_1.csv", "--into", path, "--zone", "bay window").code == 0
    assert list((tmp_path / "job.readings").iterdir())


def test_nothing_goes_into_a_job_that_is_not_understood(run, job: Path) -> None:
    job.write_text(job.read_text(encoding="utf-8") + "\n[surprise]\n", encoding="utf-8")
    said = run(FOLDER / "shape_1.csv", "--into", job)
    assert said.code == 1
    assert "surprise" in said.out
    assert not (job.parent / "job.readings").exists()


@pytest.mark.parametrize(
    ("name", "options", "answers", "wanted"),
    [
        ("ambiguous_order.csv", (), ("D/M/Y",), "Fri 3 Apr 2026, 08:00"),
        ("shape_5.csv", (), ("C", "Nowhere", "-04:00"), "Tue 28 Apr 2026, 21:00"),
        (
            "no_header.csv",
            (),
            ("time,temp", "time,temperature,humidity", "C", "-04:00"),
            "Fri 13 Nov 2026, 20:00",
        ),
        ("several_devices.csv", ("--into", "{job}"), ("B-22",), "40 readings of B-22, as entry"),
    ],
)
def test_on_a_terminal_it_asks(
    job: Path, name: str, options: tuple[str, ...], answers: tuple[str, ...], wanted: str
) -> None:
    arguments = [option.format(job=job) for option in options]
    code, said = at_a_terminal([str(FOLDER / name), *arguments], answers)
    assert code == 0, said
    assert wanted in " ".join(said.split())


def at_a_terminal(arguments: list[str], answers: tuple[str, ...]) -> tuple[int, str]:
    """Run the program on a terminal of its own, and type each answer once it asks."""
    ours, theirs = pty.openpty()
    program = subprocess.Popen(
        [sys.executable, "-c", PROGRAM, "readings", *arguments],
        stdin=theirs,
        stdout=theirs,
        stderr=theirs,
        env={**os.environ, "NO_COLOR": "1"},
    )
    os.close(theirs)
    said, waiting = b"", list(answers)
    asked = 0
    end = time.monotonic() + PATIENCE_S
    while time.monotonic() < end:
        if not select.select([ours], [], [], 0.2)[0]:
            if program.poll() is not None:
                break
            continue
        try:
            part = os.read(ours, 4096)
        except OSError:
            break
        if not part:
            break
        said += part
        if waiting and said[asked:].rstrip(b" ").endswith(b":") and said.endswith(b" "):
            os.write(ours, waiting.pop(0).encode() + b"\n")
            asked = len(said)
    os.close(ours)
    return program.wait(timeout=PATIENCE_S), said.decode(errors="replace")
