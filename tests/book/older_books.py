"""Books as older programs left them, a zip file each in `tests/book/older`, and how to make one.

    PYTHONPATH=TREE python tests/book/older_books.py NAME

plays examples of TREE through the program that lies there, at instants of its own, and keeps what
is left: the book, an export, a lone job file with its ledger, what the program said of each zone.
Make one of the form that is about to change: every form but the newest wants its book here.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import shutil
import sys
import tempfile
import zipfile
from pathlib import Path
from typing import Any

from freezegun import freeze_time

import curecal

OLDER = Path(__file__).parent / "older"
HALL, KITCHEN = "alder-lane-hall-bath", "kelpwharf-kitchen"
LEFT_AT = "2026-12-09T19:00:00Z"
LEAD = ("--zone", "hall", "--by", "Robin Mistral")
PLAYED: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("2026-12-08T12:00:00Z", ("calendars", "write", "lone/job.toml", "lone/calendars")),
    ("2026-12-08T12:05:00Z", ("book", "add", "bathroom/job.toml")),
    ("2026-12-08T12:06:00Z", ("book", "add", "kitchen-two-zones/job.toml")),
    ("2026-12-08T12:10:00Z", ("remind", "send", "--instead", "file:mails")),
    ("2026-12-08T12:20:00Z", ("calendars", "write", HALL, "calendars")),
    ("2026-12-08T12:21:00Z", ("calendars", "write", KITCHEN, "calendars-kitchen")),
    ("2026-12-08T18:30:00Z", ("note", HALL, "air", "air=64 °F", "humidity=58 %", *LEAD)),
    # The clock that runs in sleep did not go on for that long: sending waits for a person.
    ("2026-12-09T16:29:00Z", ("remind", "resume")),
    ("2026-12-09T16:30:00Z", ("remind", "send", "--instead", "file:mails")),
    ("2026-12-09T17:30:00Z", ("note", HALL, "stopped", "cause=crack or loose tile", *LEAD)),
    ("2026-12-09T17:30:40Z", ("remind", "resume")),
    ("2026-12-09T17:31:00Z", ("remind", "send", "--instead", "file:mails")),
    ("2026-12-09T18:30:00Z", ("calendars", "write", HALL, "calendars")),
    (LEFT_AT, ("book", "export", HALL, "export")),
)


def run_at(instant: str, *words: str) -> tuple[int, str]:
    """Run the command at an instant; return its exit code and all that it says."""
    from curecal.cli.main import code_of_run  # noqa: PLC0415 - of the tree that is asked for

    said = io.StringIO()
    with (
        freeze_time(instant, ignore=["sqlalchemy", "filelock", "threading"], tick=True),
        contextlib.redirect_stdout(said),
        contextlib.redirect_stderr(said),
    ):
        code = code_of_run(list(words))
    return code, said.getvalue()


def facts_of(job_id: str) -> dict[str, Any]:
    """What the program says of each zone of a job: state, and the days that people are told."""
    _, said = run_at(LEFT_AT, "plan", job_id, "--json")
    return {
        zone["id"]: {
            "state": zone["state"],
            **{key: zone["energize"][key] for key in ("start_on", "owner_date", "latest")},
        }
        for zone in json.loads(said)["zones"]
    }


def unpacked(name: str, folder: Path) -> Path:
    """Lay one of the kept books out in a folder; return that folder."""
    with zipfile.ZipFile(OLDER / f"{name}.zip") as kept:
        kept.extractall(folder)
    return folder


def _make(name: str, folder: Path) -> None:
    examples = Path(curecal.__file__).parents[1] / "examples"
    for example, called in (
        ("bathroom", "bathroom"),
        ("kitchen-two-zones", "kitchen-two-zones"),
        ("porcelain-on-sheet", "lone"),
    ):
        shutil.copytree(examples / example, folder / called)
    os.chdir(folder)
    os.environ["CURECAL_BOOK"] = str(folder / "book.sqlite3")
    os.environ["XDG_STATE_HOME"] = str(folder / "state")
    for instant, words in PLAYED:
        code, said = run_at(instant, *words)
        sys.stderr.write(f"exit {code}  {' '.join(words)}\n{said if code > 1 else ''}")
    told = {job_id: facts_of(job_id) for job_id in (HALL, KITCHEN)}
    (folder / "told.json").write_text(f"{json.dumps(told, indent=1)}\n", encoding="utf-8")
    OLDER.mkdir(exist_ok=True)
    with zipfile.ZipFile(OLDER / f"{name}.zip", "w", zipfile.ZIP_DEFLATED, compresslevel=9) as kept:
        for path in (folder / "book.sqlite3", folder / "told.json"):
            kept.write(path, path.name)
        for part in ("export", "lone"):
            for path in sorted((folder / part).rglob("*")):
                if path.is_file() and not path.name.endswith(".lock"):
                    kept.write(path, str(path.relative_to(folder)))


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as scratch:
        _make(sys.argv[1], Path(scratch).resolve())
