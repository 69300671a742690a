"""`curecal picture`: what it draws where, and what it asks."""

from __future__ import annotations

from pathlib import Path

import pytest

from curecal.cli.main import code_of_run

EXAMPLES = Path(__file__).parents[4] / "examples"
AS_OF = ["--as-of", "2026-11-29T12:00"]


def run(*arguments: str) -> int:
    return code_of_run(["picture", *arguments, *AS_OF])


def test_both_pictures_stand_on_the_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(str(EXAMPLES / "bathroom" / "job.toml")) == 0
    said = capsys.readouterr().out
    assert said.count("Alder Lane, hall bath\n") == 1
    assert "◆ grout" in said
    assert "top\n" in said
    assert said.index("earliest to latest") < said.index("plywood on joists")
    assert max(len(line) for line in said.splitlines()) <= 80


@pytest.mark.parametrize(
    ("only", "has", "lacks"), [("timeline", "now", "top\n"), ("section", "top\n", "│ now")]
)
def test_one_alone(only: str, has: str, lacks: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(str(EXAMPLES / "bathroom" / "job.toml"), f"--{only}") == 0
    said = capsys.readouterr().out
    assert has in said
    assert lacks not in said


@pytest.mark.parametrize("only", ["--timeline", "--section"])
def test_a_file_holds_one_picture(
    only: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "floor.svg"
    job = str(EXAMPLES / "bathroom" / "job.toml")
    assert run(job, only, "--svg", str(path), "--pixels", "320") == 0
    assert capsys.readouterr().out == f"{path} is written.\n"
    text = path.read_text(encoding="utf-8")
    assert text.startswith("<svg ")
    assert 'width="320"' in text


def test_a_picture_is_never_drawn_over_the_job(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = tmp_path / "job.toml"
    job.write_bytes((EXAMPLES / "bathroom" / "job.toml").read_bytes())
    before = job.read_bytes()
    for name in ("job.toml", "floor", "svg"):
        assert run(str(job), "--svg", str(tmp_path / name)) == 2
        assert ".svg" in capsys.readouterr().err
    assert job.read_bytes() == before
    assert [path.name for path in tmp_path.iterdir()] == ["job.toml"]


def test_of_several_zones_one_is_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job = str(EXAMPLES / "kitchen-two-zones" / "job.toml")
    path = tmp_path / "floor.svg"
    assert run(job, "--svg", str(path)) == 2
    assert "Name one with --zone: kitchen, bay window." in capsys.readouterr().err.replace(
        "\n", " "
    )
    assert not path.exists()
    assert run(job, "--svg", str(path), "--zone", "Bay Window") == 0
    assert "bay window" in path.read_text(encoding="utf-8")
    assert run(job, "--zone", "attic") == 2
    assert 'no zone "attic"' in capsys.readouterr().err


def test_a_file_that_cannot_be_written_is_said(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = str(EXAMPLES / "bathroom" / "job.toml")
    assert run(job, "--svg", str(tmp_path / "no" / "floor.svg")) == 3
    assert "cannot be written" in capsys.readouterr().err


def test_a_job_that_is_not_understood_is_not_drawn(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "job.toml"
    path.write_text("[job]\n", encoding="utf-8")
    assert run(str(path)) == 1
    assert "█" not in capsys.readouterr().out
