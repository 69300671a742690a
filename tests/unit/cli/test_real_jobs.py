"""Commands on real job files: the steps as numbers, folders without a name."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from curecal.cli.main import code_of_run

ROOT = Path(__file__).resolve().parents[3]
BATHROOM = str(ROOT / "examples" / "bathroom" / "job.toml")
AS_OF = "2026-11-10T12:00:00Z"


def test_every_steps_numbers_stand_beside_its_sentence(capsys: pytest.CaptureFixture[str]) -> None:
    assert code_of_run(["explain", BATHROOM, "grout", "--json", "--as-of", AS_OF]) == 0
    said = json.loads(capsys.readouterr().out)
    assert [layer["name"] for layer in said["layers"]] == ["grout"]
    heat = said["layers"][0]["milestones"]["heat"]
    steps = {step["code"]: step for step in heat["steps"]}
    assert steps["done"]["inputs"]["done_at"] == "2026-11-02T19:00:00Z"
    assert steps["wait"]["inputs"]["wait_s"] == 28 * 86400
    assert steps["rate-expected"]["inputs"]["rate_ratio"] == pytest.approx(0.9466, abs=5e-5)
    assert steps["reached"]["inputs"]["earliest_at"] == heat["earliest"]
    for step in heat["steps"]:
        assert step["says"]
        assert step["rule"]
        assert step["source"]


def test_all_layers_come_without_one_named(capsys: pytest.CaptureFixture[str]) -> None:
    assert code_of_run(["explain", BATHROOM, "--json", "--as-of", AS_OF]) == 0
    said = json.loads(capsys.readouterr().out)
    assert len(said["layers"]) == 6
    assert {gain["code"] for gain in said["sooner"]} <= {"warm-room", "rapid-products"}


def test_a_job_not_understood_says_so_in_both_forms(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    broken = tmp_path / "job.toml"
    broken.write_text("[job]\nname = 1\n", encoding="utf-8")
    assert code_of_run(["explain", str(broken), "--json"]) == 1
    assert json.loads(capsys.readouterr().out)["findings"]
    assert code_of_run(["explain", str(broken)]) == 1
    assert "The job file has mistakes" in capsys.readouterr().out


def test_a_stop_is_the_answer_of_a_plan_and_no_failure_to_write(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = ROOT / "tests" / "golden" / "17-early-switch-on"
    job = tmp_path / "job.toml"
    job.write_bytes((folder / "job.toml").read_bytes())
    as_of = json.loads((folder / "expected.json").read_text(encoding="utf-8"))["as_of"]
    asked = ["--as-of", as_of]
    for command in (["plan"], ["explain"]):
        assert code_of_run([*command, str(job), *asked]) == 1
    for command, into in (
        (["picture"], []),
        (["calendars", "write"], [str(tmp_path / "calendars")]),
        (["calendars", "mail"], [str(tmp_path / "mail"), "--sender", "ada@site.example"]),
    ):
        assert code_of_run([*command, str(job), *into, *asked]) == 0, capsys.readouterr()
    assert list((tmp_path / "calendars").iterdir())


def test_messages_and_days_in_a_step_are_texts(capsys: pytest.CaptureFixture[str]) -> None:
    job = str(ROOT / "tests" / "golden" / "03-screed-heated-bare" / "job.toml")
    assert code_of_run(["explain", job, "--json", "--as-of", "2027-03-23T06:30:00Z"]) == 0
    said = json.loads(capsys.readouterr().out)
    steps = [
        step
        for layer in said["layers"]
        for milestone in layer["milestones"].values()
        for step in milestone["steps"]
    ]
    bare = next(step for step in steps if step["code"] == "bare-heat-up")
    assert bare["inputs"]["ends_on"] == "2027-04-03"


def test_calendars_into_a_folder_without_a_name_are_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert code_of_run(["plan", BATHROOM, "--calendars", "", "--as-of", AS_OF]) == 2
    assert "needs a folder" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []
