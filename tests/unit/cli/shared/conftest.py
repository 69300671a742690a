"""A book with the example in it, named by the environment."""

from __future__ import annotations

from pathlib import Path

import pytest

from curecal.cli.main import code_of_run

EXAMPLE = Path(__file__).parents[4] / "examples" / "bathroom" / "job.toml"


@pytest.fixture
def book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys) -> Path:
    place = tmp_path / "book.sqlite"
    monkeypatch.setenv("CURECAL_BOOK", str(place))
    monkeypatch.chdir(tmp_path)
    assert code_of_run(["book", "add", str(EXAMPLE)]) == 0
    capsys.readouterr()
    return place
