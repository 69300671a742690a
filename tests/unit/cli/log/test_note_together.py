"""`note` as programs of their own: at the same time, and on a disk that is full."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
import tomli
from append_samples import unmeasured
from note_samples import SITE

ROUNDS = 4
# The command with its own table of commands, ready to go at a sign.
RUN = """
import sys
from curecal.cli import main
from curecal.cli.log import note
from curecal.cli.log import note_shown
print("ready", flush=True)
sys.stdin.readline()
main.run()
"""
FULL = """
import resource
resource.setrlimit(resource.RLIMIT_FSIZE, (1000, 1000))
"""


def start(folder: Path, *arguments: str, before: str = "") -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", before + RUN, *arguments],
        cwd=folder,
        env=unmeasured() if before else None,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def go(started: list[subprocess.Popen[str]]) -> list[tuple[int, str, str]]:
    """Let programs go at once, and return how each ended and what it said."""
    for one in started:
        assert one.stdout is not None
        assert one.stdout.readline() == "ready\n"
    for one in started:
        assert one.stdin is not None
        one.stdin.write("go\n")
        one.stdin.flush()
    ended = [one.communicate(timeout=120) for one in started]
    return [(one.returncode, *said) for one, said in zip(started, ended, strict=True)]


@pytest.mark.slow
def test_two_people_who_write_at_once_are_both_in_the_log(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_text(SITE, encoding="utf-8")
    ids = []
    for number in range(ROUNDS):
        both = [
            start(tmp_path, "note", "job.toml", "note", f"text={name} {number}") for name in "ab"
        ]
        for code, out, err in go(both):
            assert (code, err) == (0, "")
            ids.append(out.split()[4].rstrip(":"))
    log = tomli.loads(path.read_text(encoding="utf-8"))["log"]
    assert sorted(row["id"] for row in log) == sorted(ids)
    assert sorted(row["text"] for row in log) == sorted(
        f"{name} {number}" for name in "ab" for number in range(ROUNDS)
    )
    assert path.read_text(encoding="utf-8").startswith(SITE)


def test_a_full_disk_is_said_in_one_line(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_text(SITE, encoding="utf-8")
    full = start(tmp_path, "note", "job.toml", "note", f"text={'x' * 900}", before=FULL)
    ((code, out, err),) = go([full])
    assert (code, out) == (3, "")
    assert err.startswith("curecal: The file ")
    assert len(err.splitlines()) == 1
    assert path.read_text(encoding="utf-8") == SITE
    assert sorted(each.name for each in tmp_path.iterdir()) == [".job.toml.lock", "job.toml"]
