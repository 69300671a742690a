"""Every golden job gives its expected answer, and the answers worked out by hand."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
import tomli
from golden import HERE, answer, dates, expected_path, folders, write

ANSWERS = tomli.loads((HERE / "answers.toml").read_text(encoding="utf-8"))


def expected(folder: Path) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(expected_path(folder).read_text(encoding="utf-8"))
    return found


@pytest.mark.parametrize("folder", folders(), ids=lambda folder: folder.name)
def test_the_plan_is_as_expected(folder: Path) -> None:
    wanted = expected(folder)
    assert answer(folder, wanted["asked_at"], wanted.get("asked_with", ())) == wanted


def found_at(said: Any, place: str) -> Any:
    """What stands at a place: names with dots; a list's item by its id, name, code or kind."""
    here = said
    for step in place.split("."):
        if isinstance(here, list) and step == "length":
            here = len(here)
        elif isinstance(here, list):
            keys = ("id", "name", "code", "kind")
            here = next(
                item
                for item in here
                if isinstance(item, dict) and any(item.get(key) == step for key in keys)
            )
        else:
            here = here[step]
    return here


CASES = [
    (name, place, wanted)
    for name, places in ANSWERS["job"].items()
    for place, wanted in places.items()
]


@pytest.mark.parametrize(("name", "place", "wanted"), CASES)
def test_the_answer_worked_out_by_hand(name: str, place: str, wanted: Any) -> None:
    """The hand-made answers stand apart from the generated files: neither carries the other."""
    assert found_at(expected(HERE / name), place) == wanted


def test_every_golden_job_is_explained_and_answered_by_hand() -> None:
    own = {path.parent.name for path in HERE.glob("*/job.toml")}
    assert own == set(ANSWERS["job"])
    for name in own:
        assert (HERE / name / "why.md").read_text(encoding="utf-8").strip()


def test_there_are_six_whole_examples() -> None:
    assert len([folder for folder in folders() if folder.parent.name == "examples"]) >= 6


def test_writing_anew_refuses_an_earlier_date(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = HERE / "08-second-pour"
    wanted = expected(folder)
    later = json.loads(json.dumps(wanted).replace("2027-03-29T", "2027-04-29T"))
    path = tmp_path / "expected.json"
    path.write_text(json.dumps(later), encoding="utf-8")
    monkeypatch.setattr("golden.expected_path", lambda _: path)
    with pytest.raises(SystemExit, match="earlier than before"):
        write(folder, wanted["asked_at"], earlier=False)
    write(folder, wanted["asked_at"], earlier=True)
    assert dict(dates(json.loads(path.read_text(encoding="utf-8")))) == dict(dates(wanted))
