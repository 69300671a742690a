"""`plan --since` and `plan --against`: what they print, and what they refuse."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from curecal.cli.main import code_of_run

GOLDEN = Path(__file__).parents[3] / "golden"
ADDED = GOLDEN / "14-moved"
BEFORE = GOLDEN / "14-before" / "expected.json"
BY_ENTRY = GOLDEN / "14-moved-by-entry"
NOW = "2027-03-05T08:00:00Z"
THEN = "2027-03-02T08:00:00Z"


def run(capsys: pytest.CaptureFixture[str], *arguments: str | Path) -> tuple[int, str, str]:
    code = code_of_run(["plan", *(str(argument) for argument in arguments), "--as-of", NOW])
    said = capsys.readouterr()
    return code, said.out, said.err


def test_the_added_leveler_is_named_right_after_the_answer(
    capsys: pytest.CaptureFixture[str],
) -> None:
    code, out, _ = run(capsys, ADDED / "job.toml", "--against", BEFORE)
    assert code == 0
    lines = out.splitlines()
    assert lines[:4] == [
        "No: not before Fri 2 Apr. The leveler on the ridge is still curing.",
        "",
        "What moved since Tue 2 Mar, 08:00",
        "  studio: 3 days later, Thu 1 Apr, 12:00 instead of Mon 29 Mar, 12:00.",
    ]
    assert "    - Because of the leveler on the ridge, new in the job: 2 days 5 h later." in lines
    assert max(len(line) for line in lines) <= 80
    # The whole of it fits on a screen; the plan itself follows.
    assert lines.index("studio: curing") < 22


def test_the_entry_that_moved_the_date_is_named_by_its_id(
    capsys: pytest.CaptureFixture[str],
) -> None:
    code, out, _ = run(capsys, BY_ENTRY / "job.toml", "--since", "2027-03-02 08:00")
    assert code == 0
    assert "by Toni Example (log entry ridge-poured): 19 h later." in " ".join(out.split())


def test_in_machine_output_it_stands_under_a_key_of_its_own(
    capsys: pytest.CaptureFixture[str],
) -> None:
    _, out, _ = run(capsys, BY_ENTRY / "job.toml", "--since", THEN, "--json")
    moved = json.loads(out)["moved"]
    assert (moved["since"], moved["until"]) == (THEN, NOW)
    _, out, _ = run(capsys, BY_ENTRY / "job.toml", "--json")
    assert "moved" not in json.loads(out)


def test_a_plan_kept_a_moment_ago_has_not_moved(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    _, out, _ = run(capsys, ADDED / "job.toml", "--json")
    kept = tmp_path / "kept.json"
    kept.write_text(out, encoding="utf-8")
    code, out, _ = run(capsys, ADDED / "job.toml", "--against", kept)
    assert code == 0
    assert "\nNothing moved since Fri 5 Mar, 08:00.\n" in out


def test_both_at_once_are_refused(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = run(capsys, ADDED / "job.toml", "--against", BEFORE, "--since", THEN)
    assert (code, out) == (2, "")
    assert "--since and --against" in err


def test_another_jobs_plan_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = run(capsys, BY_ENTRY / "job.toml", "--against", BEFORE)
    assert (code, out) == (2, "")
    assert '"golden-14-moved"' in err
    assert '"golden-14-entry"' in err


@pytest.mark.parametrize(
    ("since", "why"),
    [
        ("2027-03-05 09:00", "Fri 5 Mar 2027, 09:00 is not before"),
        ("soon", '"soon" is not a date and time I can read'),
    ],
)
def test_an_instant_later_or_unreadable_is_refused(
    capsys: pytest.CaptureFixture[str], since: str, why: str
) -> None:
    code, out, err = run(capsys, BY_ENTRY / "job.toml", "--since", since)
    assert (code, out) == (2, "")
    assert why in " ".join(err.split())


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"{", "JSON"),
        (b"\xff\xfe", "JSON"),
        (b"[" * 100_000, "JSON"),
        (b"{}", "schema"),
        (b'{"schema": 9}', "schema 9"),
        (b'{"schema": 1, "findings": []}', "job_id"),
        (b" " * ((16 << 20) + 1), "16 MiB"),
    ],
)
def test_a_file_that_is_no_kept_plan_is_refused(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, content: bytes, said: str
) -> None:
    kept = tmp_path / "kept.json"
    kept.write_bytes(content)
    code, out, err = run(capsys, ADDED / "job.toml", "--against", kept)
    assert (code, out) == (3, "")
    assert "kept.json" in err
    assert said in err
    assert "Traceback" not in err


def test_a_file_that_is_not_there_or_a_folder_is_refused(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    for kept in (tmp_path / "none.json", tmp_path):
        code, out, err = run(capsys, ADDED / "job.toml", "--against", kept)
        assert (code, out) == (3, "")
        assert str(kept) in err


def test_what_is_refused_writes_no_calendar(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    folder = tmp_path / "calendars"
    arguments = ("--calendars", folder, "--against", tmp_path / "none.json")
    assert run(capsys, ADDED / "job.toml", *arguments)[0] == 3
    assert not folder.exists()


def test_a_layer_written_into_the_job_file_is_not_called_sooner_work(
    capsys: pytest.CaptureFixture[str],
) -> None:
    code, out, _ = run(capsys, ADDED / "job.toml", "--since", THEN)
    said = " ".join(out.split())
    assert code == 0
    assert "Changes to the job file are not seen" in said
    assert "compare with --against" in said
    assert "nearer: the work was finished sooner" not in said
    _, out, _ = run(capsys, ADDED / "job.toml", "--since", THEN, "--json")
    assert json.loads(out)["moved"]["by_log"] is True
    _, out, _ = run(capsys, ADDED / "job.toml", "--against", BEFORE)
    assert "is not seen" not in " ".join(out.split())
