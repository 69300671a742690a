"""Every output carries the cautions: text, machine output, and each entry of each calendar."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import icalendar
import pytest

from curecal.cli.main import code_of_run

ROOT = Path(__file__).resolve().parents[2]
AS_OF = "2026-11-25T12:00:00Z"
NOT_A_DRYER = "Do not use the floor heating to dry the floor."


@pytest.mark.parametrize(
    ("command", "form"),
    [
        ("plan", ["--full"]),
        ("plan", ["--json"]),
        ("explain", []),
        ("explain", ["--json"]),
    ],
)
def test_text_and_machine_output(
    command: str, form: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    job = str(ROOT / "examples" / "bathroom" / "job.toml")
    assert code_of_run([command, job, "--as-of", AS_OF, *form]) == 0
    said = capsys.readouterr().out
    assert NOT_A_DRYER in said
    if "--json" in form:
        assert len(json.loads(said)["cautions"]) == 4


@pytest.mark.parametrize("example", ["bathroom", "screed-before-tiling", "one-tile-repaired"])
def test_each_entry_of_each_calendar(example: str, tmp_path: Path) -> None:
    # A copy: what is published is recorded beside the job file.
    shutil.copytree(ROOT / "examples", tmp_path / "examples")
    job = str(tmp_path / "examples" / example / "job.toml")
    assert code_of_run(["plan", job, "--as-of", AS_OF, "--calendars", str(tmp_path)]) == 0
    for name in ("crew", "electrician", "owner"):
        calendar = icalendar.Calendar.from_ical((tmp_path / f"{name}.ics").read_bytes())
        events = calendar.walk("VEVENT")
        assert events
        for event in events:
            assert "come before this calendar." in str(event["DESCRIPTION"])
