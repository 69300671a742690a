"""What a command does not need, it does not load: a person waits for every import."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from curecal.cli.main import COMMANDS

ROOT = Path(__file__).parents[2]
JOB = ROOT / "examples" / "bathroom" / "job.toml"
AS_OF = "2027-02-15T12:00:00Z"  # after every layer of the example is done

ENTRY = "from curecal.cli.main import run as go"
# Modules that the interpreter's own start brings (site, path files) are not the command's.
SCRIPT = """
import sys
before = set(sys.modules)
sys.argv = {argv!r}
try:
    {entry}
    go()
finally:
    import json
    print(json.dumps(sorted(set(sys.modules) - before)), file=sys.stderr)
"""

FLASK = ("flask", "jinja2", "werkzeug", "waitress", "PIL")
PAGES = (*FLASK, "segno", "curecal.web")
HEAVY = (
    "arrow",
    "asyncio",
    "dateutil",
    "holidays",
    "icalendar",
    "tomli",
    "tomllib",
    "typst",
    *PAGES,
)
OWN = ("curecal.calendars", "curecal.job_files", "curecal.planning", "curecal.science")


def loaded(*arguments: str, entry: str = ENTRY) -> set[str]:
    """The modules that the command loaded on its way to a good end."""
    # Coverage of child processes would load modules of its own.
    environment = {key: value for key, value in os.environ.items() if not key.startswith("COV")}
    ended = subprocess.run(
        [sys.executable, "-c", SCRIPT.format(argv=["curecal", *arguments], entry=entry)],
        cwd=ROOT,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    assert ended.returncode == 0, ended.stderr
    assert ended.stdout
    return set(json.loads(ended.stderr.splitlines()[-1]))


def among(modules: set[str], unwanted: tuple[str, ...]) -> set[str]:
    """Those of `modules` that are, or lie inside, one of the unwanted."""
    return {
        module
        for module in modules
        if any(module == each or module.startswith(each + ".") for each in unwanted)
    }


def test_help_loads_nothing_heavy() -> None:
    modules = loaded("--help")
    assert "click" in modules
    assert among(modules, HEAVY + OWN) == set()


def test_version_loads_nothing_heavy() -> None:
    assert among(loaded("--version"), HEAVY + OWN) == set()


@pytest.mark.parametrize("topic", [[], ["site-log"]])
def test_the_manual_loads_nothing_heavy(topic: list[str]) -> None:
    assert among(loaded("guide", *topic), HEAVY + OWN) == set()


def test_plan_of_a_finished_floor_needs_no_holidays_and_no_calendar_library() -> None:
    modules = loaded("plan", str(JOB), "--as-of", AS_OF)
    assert "curecal.planning" in modules
    unwanted = ("holidays", "icalendar", "asyncio", "curecal.calendars", "numpy")
    assert among(modules, unwanted) == set()


@pytest.mark.parametrize("module", ["arrow", "holidays", "icalendar", "tomli"])
def test_a_heavy_module_would_be_seen(module: str) -> None:
    entry = f"import {module}; go = lambda: print(1)"
    assert module in among(loaded("--help", entry=entry), HEAVY)


def test_the_module_of_no_command_loads_what_pages_are_made_with() -> None:
    names = [module for module, _ in COMMANDS.values()]
    entry = f"import importlib; go = lambda: [print(importlib.import_module(n)) for n in {names!r}]"
    modules = loaded("--help", entry=entry)
    assert set(names) <= modules
    assert among(modules, PAGES) == set()


@pytest.mark.parametrize(
    "words",
    [
        ("plan", str(JOB), "--as-of", AS_OF),
        ("book", "list"),
        ("jobs",),
        ("remind", "status"),
        ("links", "add", "alder-lane-hall-bath", "Ida Fennell"),
        ("links", "list"),
    ],
)
def test_commands_that_serve_no_pages_load_nothing_of_flask(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...]
) -> None:
    monkeypatch.setenv("CURECAL_BOOK", str(tmp_path / "book.sqlite3"))
    monkeypatch.delenv("CURECAL_COMPANY", raising=False)
    assert among(loaded("book", "add", str(JOB)), FLASK) == set()
    assert among(loaded(*words), FLASK) == set()
