"""A command without the name of a job finds the one there is, or asks."""

from __future__ import annotations

from pathlib import Path

import pytest

from curecal.cli.main import code_of_run

JOB = (
    '[job]\nid = "{name}"\nname = "{name}"\ntimezone = "Europe/Berlin"\n[expected]\nair = "20 °C"\n'
)
ZONE = '[[zone]]\nname = "hall"\n[[zone.layer]]\nmaterial = "thinset"\n'


def put(folder: Path, *names: str) -> None:
    for name in names:
        text = JOB.format(name=name) + ZONE
        (folder / f"{name}.toml").write_text(text, encoding="utf-8")


@pytest.mark.parametrize(
    ("names", "found"),
    [(["kitchen"], "kitchen"), (["job", "kitchen"], "job"), (["job"], "job")],
)
def test_the_job_there_is_is_found(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    names: list[str],
    found: str,
) -> None:
    put(tmp_path, *names)
    (tmp_path / "company.toml").write_text('[material."x"]\n', encoding="utf-8")
    (tmp_path / "odd.toml").write_bytes(b"\xff\xfe")
    monkeypatch.chdir(tmp_path)
    assert code_of_run(["plan", "--json", "--as-of", "2026-10-05 12:00"]) == 0
    assert f'"{found}"' in capsys.readouterr().out


@pytest.mark.parametrize("names", [[], ["hall", "kitchen"]])
def test_none_or_several_are_asked_about(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    names: list[str],
) -> None:
    put(tmp_path, *names)
    monkeypatch.chdir(tmp_path)
    assert code_of_run(["plan"]) == 2
    said = capsys.readouterr().err
    assert "Which job?" in said
    assert all(f"{name}.toml" in said for name in names)
