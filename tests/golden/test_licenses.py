"""The manual's list of what is installed with curecal, beside what is installed."""

from __future__ import annotations

import re
from importlib.metadata import distribution
from pathlib import Path

import pytest
import tomli
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).parents[2]
LISTED = (ROOT / "curecal" / "data" / "manual" / "licenses.md").read_text(encoding="utf-8")
PROJECT = tomli.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
EXTRAS = ("paper", "postgresql", "web", "xlsx")
ROW = re.compile(r"^\| (?P<name>[a-z0-9-]+) \| (?P<cells>.+) \|$", re.MULTILINE)
# What older metadata call a license that has several forms.
CALLED = {
    "MIT License": {"MIT"},
    "Apache Software License": {"Apache-2.0", "Apache-2.0 OR BSD-3-Clause"},
    "BSD License": {"BSD-3-Clause", "BSD-2-Clause"},
    "Dual License": {"Apache-2.0 OR BSD-3-Clause"},
}


def listed() -> dict[str, tuple[str, str]]:
    """Each package in the tables, with its extra and its license."""
    found = {}
    for row in ROW.finditer(LISTED):
        cells = row["cells"].split(" | ")
        if row["name"] in {"package", "what"}:
            continue
        extra = cells.pop(0) if cells[0] in EXTRAS else ""
        found[row["name"]] = (extra, cells[0])
    return found


def installed(asked: list[str]) -> set[str]:
    """Names of packages and of all that they bring, on a Python that needs the most of them."""
    found: set[str] = set()
    left = [Requirement(text) for text in asked]
    while left:
        wanted = left.pop()
        name = canonicalize_name(wanted.name)
        found.add(name)
        for text in distribution(name).requires or []:
            below = Requirement(text)
            extras = wanted.extras or {""}
            if below.marker is None or any(below.marker.evaluate({"extra": e}) for e in extras):
                left += [below] if canonicalize_name(below.name) not in found else []
    return found


def plain(license_name: str) -> str:
    return re.sub(r"[^a-z0-9]", "", license_name.lower())


def licenses_of(name: str) -> set[str]:
    """Every way in which a package's metadata say its license, without signs and capitals."""
    known = distribution(name).metadata
    lines = [known.get("License-Expression") or "", (known.get("License") or "").split("\n")[0]]
    lines += [
        line.rpartition(" :: ")[2]
        for line in known.get_all("Classifier", [])
        if line.startswith("License")
    ]
    said = [*lines, *re.findall(r"\(([^)]+)\)", " ".join(lines))]
    return {plain(form) for line in said for form in {line, *CALLED.get(line, set())} if form}


# What is newest may bring another package: CI installs the versions of one file, people the newest.
@pytest.mark.slow
def test_every_package_that_is_installed_is_listed() -> None:
    wanted = dict.fromkeys(installed(PROJECT["dependencies"]), "")
    for extra in EXTRAS:
        for name in installed(PROJECT["optional-dependencies"][extra]):
            wanted.setdefault(name, extra)
    assert {name: extra for name, (extra, _) in listed().items()} == wanted


@pytest.mark.slow
@pytest.mark.parametrize("name", sorted(listed()))
def test_a_package_has_the_license_that_is_listed(name: str) -> None:
    _, license_name = listed()[name]
    assert plain(license_name) in licenses_of(name)


def test_what_pyproject_asks_for_is_listed() -> None:
    found = listed()
    for extra, asked in [("", PROJECT["dependencies"])] + [
        (extra, PROJECT["optional-dependencies"][extra]) for extra in EXTRAS
    ]:
        for text in asked:
            assert found[canonicalize_name(Requirement(text).name)][0] == extra, text
