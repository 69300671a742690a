"""A job file to add entries to, and programs of their own that add them."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from typing import Any

import tomli

JOB = """\
# Somebody's own words.
[job]
id = "j"
name = "Alder Lane"
timezone = "America/Halifax"
[expected]
below = "heated room"
air = "20 °C"   # from the thermostat in the hall
[[zone]]
name = "hall"
[[zone.layer]]
name = "bed"
material = "thinset"
"""
SITE = timezone(timedelta(hours=-4))
AT = datetime(2026, 11, 30, 16, 0, tzinfo=SITE)
NOW = datetime(2026, 11, 30, 20, 5, 0, 120_000, tzinfo=UTC)

HEAD = """
import os, signal, sys
from datetime import UTC, datetime
from pathlib import Path
from curecal.errors import CurecalError
from curecal.site_log_files.append import append_entry

AT = datetime(2026, 11, 30, 20, tzinfo=UTC)

def add(path, name=None, **more):
    more |= {"at": AT, "recorded": AT, "entry_id": name}
    return append_entry(Path(path), "note", {"text": "x"}, **more)
"""


def job_file(folder: Path, text: str = JOB) -> Path:
    """Write the job file, byte for byte, and return where it is."""
    path = folder / "job.toml"
    path.write_bytes(text.encode())
    return path


def entries(path: Path) -> list[dict[str, Any]]:
    """Return the entries of a file's log."""
    log = tomli.loads(path.read_text(encoding="utf-8-sig")).get("log", [])
    assert isinstance(log, list)
    return log


def strays(path: Path) -> list[str]:
    """Return what lies beside a file, but for its lock."""
    return sorted(
        each.name
        for each in path.parent.iterdir()
        if each.name not in {path.name, f".{path.name}.lock"}
    )


def unmeasured() -> dict[str, str]:
    """Return the environment without what measures coverage.

    A program that is killed, is nobody or has no disk could not write down what it covered.
    """
    return {name: value for name, value in os.environ.items() if not name.startswith("COV")}


def program(code: str, *arguments: object, measured: bool = True) -> subprocess.Popen[str]:
    """Start a program of its own that can `add` to a file."""
    return subprocess.Popen(
        [sys.executable, "-c", HEAD + code, *map(str, arguments)],
        env=None if measured else unmeasured(),
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def result(started: subprocess.Popen[str], told: str = "", deadline_s: float = 120) -> str:
    """Return what a program printed; what it says on stderr is its failure."""
    out, err = started.communicate(told, timeout=deadline_s)
    assert err == "", err
    assert started.returncode == 0
    return out


@contextmanager
def open_folder() -> Iterator[Path]:
    """A folder that every user of the machine may enter, as pytest's own are not."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        folder.chmod(0o755)
        try:
            yield folder
        finally:
            folder.chmod(0o755)
