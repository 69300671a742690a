"""The core reads no clock, no file, no environment and no locale: its syntax trees say so."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[2] / "curecal"

# Standard library modules that compute, and can neither look at the machine nor change it.
STANDARD = {
    "__future__",
    "abc",
    "array",
    "bisect",
    "collections",
    "dataclasses",
    "datetime",
    "decimal",
    "enum",
    "fractions",
    "functools",
    "hashlib",
    "heapq",
    "itertools",
    "math",
    "operator",
    "re",
    "types",
    "typing",
    "unicodedata",
}
# Loaded where a series is long, and only there: `test_cold_start` sees to it.
NUMERICAL = "numpy"
# Each floor of the core with the rooms it may import from. calendars.revise is a pure corner
# of a room that is otherwise allowed to write bytes.
REMINDERS = {"errors", "records", "units", "instants", "trade", "planning", "reminders"}
ROOMS = {
    "errors.py": {"errors"},
    "records.py": {"records"},
    "units": {"errors", "records", "units", "instants"},
    "instants": {"errors", "records", "units", "instants"},
    "trade": {"errors", "records", "units", "instants", "trade"},
    "science": {"errors", "records", "units", "instants", "science"},
    "planning": {"errors", "records", "units", "instants", "trade", "science", "planning"},
    "calendars/revisions/revise.py": {
        "errors",
        "units",
        "instants",
        "trade",
        "science",
        "planning",
        "calendars",
    },
    # The days that calendars show and messages tell come from one place.
    "calendars/stable_dates": (REMINDERS - {"reminders"}) | {"calendars"},
    "reminders/builders": REMINDERS | {"calendars"},
    "reminders/timing": REMINDERS,
    "reminders/recipients.py": REMINDERS,
    "reminders/reminder_types.py": REMINDERS,
}

NAMES = {"open", "print", "input", "eval", "exec", "breakpoint", "__import__"}
ATTRIBUTES = {"now", "today", "utcnow", "environ", "getenv"}


def imported(node: ast.AST) -> list[str]:
    """The dotted names that an import statement asks for."""
    if isinstance(node, ast.Import):
        return [alias.name for alias in node.names]
    if isinstance(node, ast.ImportFrom):
        base = node.module or ""
        if base == "curecal":
            return [f"curecal.{alias.name}" for alias in node.names]
        return ["." * node.level + base]
    return []


def may_import(name: str, rooms: set[str]) -> bool:
    first, _, rest = name.partition(".")
    if first == "curecal":
        return rest.partition(".")[0] in rooms
    return first in STANDARD or first == NUMERICAL


def faults(source: str, rooms: set[str]) -> list[str]:
    """What in `source` a pure room must not do, as `line: what`."""
    found: list[str] = []
    for node in ast.walk(ast.parse(source)):
        what = [f"imports {name}" for name in imported(node) if not may_import(name, rooms)]
        if isinstance(node, ast.Name) and node.id in NAMES:
            what.append(f"names {node.id}")
        if isinstance(node, ast.Attribute) and node.attr in ATTRIBUTES:
            what.append(f"asks for .{node.attr}")
        if (
            isinstance(node, ast.Call)
            and isinstance(node.func, ast.Attribute)
            and node.func.attr == "astimezone"
            and not node.args
            and not node.keywords
        ):
            what.append("asks the machine for its zone by a bare .astimezone()")
        found += [f"{getattr(node, 'lineno', 0)}: {each}" for each in what]
    return found


def modules() -> list[tuple[str, str]]:
    found: list[tuple[str, str]] = []
    for place in ROOMS:
        path = PACKAGE / place
        files = [path] if path.suffix == ".py" else sorted(path.rglob("*.py"))
        found += [(place, file.relative_to(PACKAGE).as_posix()) for file in files]
    return found


def test_every_room_of_the_core_is_looked_at() -> None:
    assert {place for place, _ in modules()} >= ROOMS.keys()


@pytest.mark.parametrize(("place", "module"), modules(), ids=[name for _, name in modules()])
def test_the_core_only_computes(place: str, module: str) -> None:
    source = (PACKAGE / module).read_text(encoding="utf-8")
    found = faults(source, ROOMS[place])
    if module == "records.py":
        # It compiles initializers, as the standard library does for data classes.
        (compiled,) = [line for line in found if line.endswith("names exec")]
        found.remove(compiled)
    assert found == []


@pytest.mark.parametrize(
    "source",
    [
        "import os",
        "import time",
        "import locale",
        "import zoneinfo",
        "import arrow",
        "from pathlib import Path",
        "from . import clocks",
        "from curecal import planning",
        "from curecal.words import say",
        "import curecal.trade.job",
        "import curecal",
        "open('job.toml')",
        "read = open",
        "print(1)",
        "input()",
        "eval('1')",
        "exec('1')",
        "__import__('os')",
        "datetime.now(UTC)",
        "date.today()",
        "datetime.utcnow()",
        "os.environ",
        "os.getenv('TZ')",
        "at.astimezone()",
        "def f():\n    import socket",
    ],
)
def test_the_walk_sees(source: str) -> None:
    assert len(faults(source, ROOMS["science"])) == 1


@pytest.mark.parametrize(
    "source",
    [
        "from collections.abc import Sequence",
        "from curecal.errors import OutsideValidity",
        "from curecal import units",
        "at.astimezone(UTC)",
        "today = day",
        "re.compile('a')",
    ],
)
def test_the_walk_lets_pass(source: str) -> None:
    assert faults(source, ROOMS["science"]) == []
