"""Commands that write, killed at each step they take on the disk: all is as before, or done.

The same command again brings it to its end, and nothing that was there is lost.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
import sys
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import NamedTuple

import pytest

from curecal.cli.main import code_of_run

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(not hasattr(os, "fork"), reason="a process is killed in a fork"),
    # Nothing of the threads that other tests left runs on in the child.
    pytest.mark.filterwarnings("ignore:.*multi-threaded.*fork:DeprecationWarning"),
]

ROOT = Path(__file__).parents[2]
AS_OF = "2026-11-20T12:00"
# Every step in the long run; else each of so many, from another first one for each command.
# They take few steps on the disk: each is tried.
FEW_STEPS = frozenset({"book add", "restore"})
STEP = 1 if os.environ.get("CURECAL_TESTS_LONG") == "1" else 3
KILLED = 137
BOOK = ("--book", "book.sqlite3")


def folder_of(name: str) -> dict[str, bytes]:
    return {
        path.relative_to(name).as_posix(): path.read_bytes()
        for path in Path(name).rglob("*")
        if path.is_file()
    }


def entries_in_file() -> list[str]:
    text = Path("job.toml").read_text(encoding="utf-8")
    return [entry.strip() for entry in text.split("[[log]]")]


def entries_in_book() -> list[str]:
    with closing(sqlite3.connect("book.sqlite3")) as book:
        asked = "SELECT job_id, number, digest FROM log_entry ORDER BY job_id, number"
        return [str(row) for row in book.execute(asked)]


def is_between(before: object, now: object, done: object) -> bool:
    """Return whether what a killed command left is what was there, or what it was to write."""
    if isinstance(now, dict) and isinstance(done, dict):
        # A folder of several files: each of them is whole, old or new.
        return all(done[file] == data for file, data in now.items())
    if isinstance(now, list) and isinstance(before, list) and isinstance(done, list):
        # Who repeats a note that was written writes it again: one entry each time, and none lost.
        steps = (len(now) - len(before), len(done) - len(now))
        return now[: len(before)] == before and done[: len(now)] == now and set(steps) <= {0, 1}
    return now in (before, done)


def book_is_whole() -> None:
    assert code_of_run(["book", "check", *BOOK]) == 0


def nothing_more() -> None:
    return


class Case(NamedTuple):
    """A command that writes, what prepares it, what it changes, and what must hold ever after."""

    command: tuple[str, ...]
    prepare: tuple[tuple[str, ...], ...]
    changed: Callable[[], object]
    holds: Callable[[], None]


CASES = {
    "note": Case(
        ("note", "job.toml", "air", "air=64 °F", "at=2026-11-20T08:00"),
        (),
        entries_in_file,
        nothing_more,
    ),
    "calendars": Case(
        ("calendars", "write", "job.toml", "calendars", "--as-of", AS_OF),
        (),
        lambda: {
            name: data for name, data in folder_of("calendars").items() if name.endswith(".ics")
        },
        nothing_more,
    ),
    "book add": Case(
        ("book", "add", "job.toml", *BOOK),
        (("book", "add", "other.toml", *BOOK),),
        lambda: code_of_run(["book", "show", "alder-lane-hall-bath", *BOOK]),
        book_is_whole,
    ),
    "note into the book": Case(
        ("note", "alder-lane-hall-bath", "air", "air=64 °F", "at=2026-11-20T08:00", *BOOK),
        (("book", "add", "job.toml", *BOOK),),
        entries_in_book,
        book_is_whole,
    ),
    "restore": Case(
        ("book", "restore", "export", *BOOK),
        (
            ("book", "add", "job.toml", "--book", "first.sqlite3"),
            ("book", "export", "alder-lane-hall-bath", "export", "--book", "first.sqlite3"),
            ("book", "add", "other.toml", *BOOK),
        ),
        lambda: code_of_run(["book", "show", "alder-lane-hall-bath", *BOOK]),
        book_is_whole,
    ),
}


def killed_at(step: int, command: tuple[str, ...]) -> int:
    """Run a command in a process that dies at its so many-th step on the disk; return its code."""
    number = os.fork()
    if number == 0:
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
        os.dup2(1, 2)
        left = [step]

        def count(event: str, given: tuple[object, ...]) -> None:
            writes = event == "open" and isinstance(given[2], int) and given[2] & os.O_ACCMODE
            if writes or event in {"os.rename", "os.remove", "os.mkdir", "os.chmod", "fsync"}:
                left[0] -= 1
                if left[0] < 0:
                    os._exit(KILLED)

        fsync = os.fsync

        def counted(opened: int) -> None:
            count("fsync", ())
            fsync(opened)

        os.fsync = counted
        sys.addaudithook(count)
        os._exit(code_of_run(list(command)))
    return os.waitstatus_to_exitcode(os.waitpid(number, 0)[1])


@pytest.mark.parametrize("name", CASES)
def test_killed_at_each_step_all_is_as_before_or_done(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    case = CASES[name]
    whole = tmp_path / "whole"
    shutil.copytree(ROOT / "examples" / "bathroom", whole)
    other = (whole / "job.toml").read_text(encoding="utf-8")
    (whole / "other.toml").write_text(
        other.replace("alder-lane-hall-bath", "other-lane"), encoding="utf-8"
    )
    monkeypatch.chdir(whole)
    for command in case.prepare:
        assert code_of_run(list(command)) == 0, command
    before = case.changed()
    after = None
    deaths = 0
    apart = 1 if name in FEW_STEPS else STEP
    for step in range(len(name) % apart, 2000, apart):
        folder = tmp_path / str(step)
        shutil.copytree(whole, folder)
        monkeypatch.chdir(folder)
        code = killed_at(step, case.command)
        now = case.changed()
        case.holds()
        if code == 0:
            # It took fewer steps than that.
            after = now
            break
        assert code == KILLED, (name, step, code)
        deaths += 1
        again = code_of_run(list(case.command))
        # Done, or found done: who repeats a note hears that the entry is there.
        assert again in {0, 1, 3, 6}, (name, step)
        done = case.changed()
        case.holds()
        assert code_of_run(["plan", "job.toml", "--as-of", AS_OF]) in {0, 1}
        assert is_between(before, now, done), (name, step)
        assert not [path for path in folder.rglob("*") if path.suffix == ".curecal-new"]
        shutil.rmtree(folder)
    assert after is not None, "it never came to its end"
    assert deaths >= 2, "it was never killed"
