"""What every test folder shares: what a test may need of the machine, slow tests, examples drawn.

`CURECAL_TESTS_COMPLETE=1` asks for the complete run: slow tests run, hypothesis draws more
examples, and a program that a test needs and the machine lacks is a failure, not a skip.
`CURECAL_TESTS_LONG=1` asks for all of that at full count, with the tests marked `long`.
"""

from __future__ import annotations

import atexit
import ctypes.util
import gc
import importlib.util
import os
import shutil
import tempfile
import zoneinfo
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
import tzdata
from hypothesis import HealthCheck, settings

if TYPE_CHECKING:
    from collections.abc import Callable

# As the command does, before any zone is read: the machine's own data may know other rules, and
# which of the two a test met would hang on what ran before it.
zoneinfo.reset_tzpath(to=[str(Path(tzdata.__file__).parent / "zoneinfo")])

# What a machine remembers of its books is nothing that one run of tests may leave to the next.
os.environ["XDG_STATE_HOME"] = tempfile.mkdtemp(prefix="curecal-state-")
atexit.register(shutil.rmtree, os.environ["XDG_STATE_HOME"], ignore_errors=True)

LONG = os.environ.get("CURECAL_TESTS_LONG") == "1"
COMPLETE = LONG or os.environ.get("CURECAL_TESTS_COMPLETE") == "1"

MODULES = {
    "babel": ("babel",),
    "peers": ("CoolProp", "iapws", "pint", "psychrolib", "scipy", "structuralcodes"),
    "dev": ("importlinter", "mypy", "ruff"),
    "ics": ("ics",),
    "vobject": ("vobject",),
    "radicale": ("radicale",),
    "caldav": ("caldav",),
    "pandas": ("pandas",),
    "aiosmtpd": ("aiosmtpd",),
    "openpyxl": ("openpyxl",),
    "typst": ("typst",),
    "pdfua": ("pdfua",),
    "segno": ("segno",),
    "psycopg": ("psycopg",),
}
PROGRAMS = {
    "node": ("node", "nodejs"),
    "git": ("git",),
    "postgres": ("postgres",),
    "chromium": ("chromium", "chromium-browser"),
    "pdftotext": ("pdftotext",),
    "pdffonts": ("pdffonts",),
    "pdfinfo": ("pdfinfo",),
}

# What `npm install` in tests/readers brings; node looks there and nowhere else.
ICAL_JS = Path(__file__).parent / "readers" / "node_modules" / "ical.js"
# The same of tests/web.
AXE_CORE = Path(__file__).parent / "web" / "node_modules" / "axe-core"

# Derandomized both times: a red run is red for everyone, and stays red until it is mended.
# The health check about slow drawing is off: on a busy machine it judges the machine.
settings.register_profile(
    "default",
    derandomize=True,
    deadline=None,
    max_examples=10,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.register_profile("complete", settings.get_profile("default"), max_examples=60)
settings.register_profile("long", settings.get_profile("default"), max_examples=3000)
settings.load_profile("long" if LONG else "complete" if COMPLETE else "default")


def _find_program(name: str) -> str | None:
    for program in PROGRAMS[name]:
        if found := shutil.which(program):
            return found
    if name == "postgres":
        # Debian keeps the server outside PATH, one folder a version.
        servers = sorted(Path("/usr/lib/postgresql").glob("*/bin/postgres"))
        return str(servers[-1]) if servers else None
    return None


def _find(name: str) -> tuple[str, str]:
    """Where `name` was found, and what of it is missing: one of the two is empty."""
    if name in MODULES:
        missing = [module for module in MODULES[name] if importlib.util.find_spec(module) is None]
        return ("", f"{name} ({', '.join(missing)})") if missing else (name, "")
    if name == "libical":
        found = ctypes.util.find_library("ical")
    elif name == "icaljs":
        found = str(ICAL_JS) if ICAL_JS.is_dir() else None
    elif name == "axe":
        found = str(AXE_CORE) if AXE_CORE.is_dir() else None
    elif name in PROGRAMS:
        found = _find_program(name)
    else:
        message = f"needs() does not know {name!r}"
        raise LookupError(message)
    return (found, "") if found else ("", name)


@pytest.fixture(scope="session")
def needs() -> Callable[[str], str]:
    """Give `needs("node")`: the program's place, or a skip (in the complete run a failure).

    Session-wide, so that hypothesis accepts it beside `@given`.
    """

    def need(name: str) -> str:
        found, missing = _find(name)
        if missing and COMPLETE:
            pytest.fail(f"missing: {missing}", pytrace=False)
        if missing:
            pytest.skip(f"missing: {missing}")
        return found

    return need


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--slow", action="store_true", help="run the tests marked slow as well")


def pytest_collection_finish() -> None:
    # Twelve thousand tests stay to the end: the collector of garbage need not look at them again.
    gc.collect()
    gc.freeze()
    gc.set_threshold(20_000, 20, 20)


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    slow = pytest.mark.skip(reason="slow: --slow or CURECAL_TESTS_COMPLETE=1 runs it")
    long = pytest.mark.skip(reason="long: CURECAL_TESTS_LONG=1 runs it")
    for item in items:
        if item.get_closest_marker("long") and not LONG:
            item.add_marker(long)
        if item.get_closest_marker("slow") and not (COMPLETE or config.getoption("--slow")):
            item.add_marker(slow)
