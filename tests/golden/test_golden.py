"""Every golden job gives its expected answer, and the answers worked out by hand."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
import tomli
from golden import EXAMPLES, HERE, answer, dates, expected_path, folders, loosened, texts, write

from curecal.cli.main import code_of_run
from curecal.words.json.plan_json import read_plan
from curecal.words.json.record_json import encode

ANSWERS = tomli.loads((HERE / "answers.toml").read_text(encoding="utf-8"))


def expected(folder: Path) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(expected_path(folder).read_text(encoding="utf-8"))
    return found


@pytest.mark.parametrize("folder", folders(), ids=lambda folder: folder.name)
def test_the_plan_is_as_expected(folder: Path) -> None:
    wanted = expected(folder)
    assert answer(folder, wanted["asked_at"], wanted.get("asked_with", ())) == wanted


@pytest.mark.parametrize("folder", folders(), ids=lambda folder: folder.name)
def test_the_machine_output_holds_those_facts_and_reads_back(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    asked_at = expected(folder)["asked_at"]
    wanted = answer(folder, asked_at)
    ended = code_of_run(["plan", str(folder / "job.toml"), "--json", "--as-of", asked_at])
    said = json.loads(capsys.readouterr().out)
    assert ended == wanted["exit_code"]
    if "as_of" in wanted:
        facts = loosened(encode(read_plan(said, folder.name)), folder)
        assert facts == {name: wanted[name] for name in facts}
    else:
        codes = [finding["code"] for finding in said["findings"]]
        assert codes == [finding["code"] for finding in wanted["findings"]]


EXAMPLE_FOLDERS = [folder for folder in folders() if folder.parent == EXAMPLES]


@pytest.mark.parametrize("folder", EXAMPLE_FOLDERS, ids=lambda folder: folder.name)
def test_people_read_of_an_example_what_was_read_before(folder: Path) -> None:
    """Changed on purpose, all are written anew by one command: `golden.py --texts`."""
    path = expected_path(folder)
    said = dict(texts(folder, expected(folder)["asked_at"]))
    assert said.keys() == {kept.name for kept in path.parent.glob("*.txt")}
    for name, text in said.items():
        assert text == path.with_name(name).read_text(encoding="utf-8")


def test_a_plan_of_one_room_fits_a_screen() -> None:
    lines = (HERE / "examples" / "bathroom" / "plan.txt").read_text(encoding="utf-8").splitlines()
    assert len(lines) <= 40
    assert max(map(len, lines)) <= 80


def found_at(said: Any, place: str) -> Any:
    """What stands at a place: names with dots; a list's item by its id, name, code, layer, day."""
    here = said
    for step in place.split("."):
        if isinstance(here, list) and step == "length":
            here = len(here)
        elif isinstance(here, list):
            keys = ("id", "name", "code", "kind", "layer_id", "purpose", "on")
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
