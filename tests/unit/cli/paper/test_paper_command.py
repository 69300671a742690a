"""`curecal paper`: files, hashes, and what is said where there is no card."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from pathlib import Path

import pytest
from honest_jobs import FOLDER

from curecal.cli.main import code_of_run

ROOT = Path(__file__).parents[4]
BATH = str(ROOT / "examples" / "bathroom" / "job.toml")
AS_OF = ("--as-of", "2026-11-30T12:00:00Z")
NAMES = ("hold-card", "owner-sheet", "commissioning-record")


@pytest.fixture(autouse=True)
def _typst(needs: Callable[[str], str]) -> None:
    needs("typst")


def test_three_papers_are_written_and_their_hashes_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "new" / "papers"
    assert code_of_run(["paper", BATH, str(folder), *AS_OF]) == 0
    said = capsys.readouterr().out
    made = {path.name: path for path in folder.iterdir()}
    assert set(made) == {f"alder-lane-hall-bath-{name}.pdf" for name in NAMES}
    for path in made.values():
        octets = path.read_bytes()
        assert octets.startswith(b"%PDF-")
        assert hashlib.sha256(octets).hexdigest() in said


def test_one_paper_alone_as_json(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert code_of_run(["paper", BATH, str(tmp_path), "--only", "record", "--json", *AS_OF]) == 0
    (paper,) = json.loads(capsys.readouterr().out)["papers"]
    (path,) = tmp_path.iterdir()
    assert paper == {
        "paper": "record",
        "file": str(path),
        "sha256": hashlib.sha256(path.read_bytes()).hexdigest(),
    }


def test_a_draft_has_another_hash(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    hashes = []
    for more in ((), ("--draft",)):
        arguments = ["paper", BATH, str(tmp_path), "--only", "owner", "--json", *AS_OF, *more]
        assert code_of_run(arguments) == 0
        hashes.append(json.loads(capsys.readouterr().out)["papers"][0]["sha256"])
    assert hashes[0] != hashes[1]


def test_a_floor_in_service_has_no_card(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job = str(FOLDER / "upstairs-bath-in-service.toml")
    arguments = ["paper", job, str(tmp_path), "--as-of", "2027-01-05T15:00Z"]
    assert code_of_run(arguments) == 0
    assert "no hold card" in capsys.readouterr().out
    assert [path.name for path in tmp_path.iterdir() if "card" in path.name] == []


def test_a_folder_that_cannot_be_is_named(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "file").write_text("x", encoding="utf-8")
    assert code_of_run(["paper", BATH, str(tmp_path / "file"), *AS_OF]) == 3
    assert "cannot be written" in capsys.readouterr().err


def test_a_job_that_is_not_understood_writes_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = tmp_path / "job.toml"
    job.write_text("[job]\nname = 3\n", encoding="utf-8")
    assert code_of_run(["paper", str(job), str(tmp_path / "out")]) == 1
    assert "mistake" in capsys.readouterr().out
    assert not (tmp_path / "out").exists()
