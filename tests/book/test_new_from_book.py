"""`new --from ID`: a job of the book gives what a file would, its company's file taken in."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import tomli
from freezegun import freeze_time

from curecal.cli.main import code_of_run

if TYPE_CHECKING:
    import pytest

ROOT = Path(__file__).parents[2]
SOURCE = ROOT / "examples" / "bathroom" / "job.toml"
ANSWERS = """
[job]
name = "Alder Lane, hall bath"
[expected]
air = "66 °F"
below = "heated room"
[[zone]]
layer = [{ material = "leveler", thickness = "10 mm" }]
"""


@freeze_time("2026-11-30T15:00:00Z")
def test_a_job_of_the_book_gives_its_company_and_keeps_its_id(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("CURECAL_BOOK", str(tmp_path / "book.sqlite3"))
    monkeypatch.delenv("CURECAL_COMPANY", raising=False)
    (tmp_path / "answers").write_text(ANSWERS, encoding="utf-8")
    (tmp_path / "shop").mkdir()
    company = tmp_path / "shop" / "company.toml"
    company.write_text(
        '[people.tester]\nname = "Kim"\n[people.owner]\nname = "Nobody"\n'
        '[material."deep fill"]\nkind = "leveler"\ndata_sheet = "p. 2"\n',
        encoding="utf-8",
    )
    assert code_of_run(["book", "add", str(SOURCE), "--company", str(company)]) == 0
    company.unlink()
    asked = ["new", "--from", "alder-lane-hall-bath", "--answers", "answers"]
    assert code_of_run(asked) == 0, capsys.readouterr().out
    capsys.readouterr()
    new = tomli.loads((tmp_path / "alder-lane-hall-bath-2.toml").read_text(encoding="utf-8"))
    # Calendars of two jobs with one id would overwrite each other.
    assert new["job"]["id"] == "alder-lane-hall-bath-2"
    assert "company" not in new["job"]
    assert new["people"].keys() == {"crew_lead", "electrician", "inspector", "tester"}
    assert new["material"].keys() == {"deep fill", "thinset on site"}
    assert "log" not in new
    assert code_of_run(["plan", "alder-lane-hall-bath-2.toml", "--require", "date"]) == 0
