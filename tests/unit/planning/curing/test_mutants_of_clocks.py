"""Hand-picked mistakes in the clocks: every one must be noticed, and the original must pass."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest
import tomli

import curecal

PACKAGE = Path(curecal.__file__).parent
SAMPLES = Path(__file__).parents[3] / "samples"
LIST = Path(__file__).with_name("mutants_of_clocks.toml")
LEAST = 30


@dataclass(frozen=True, slots=True)
class Mutant:
    """One mistake: what stands in the file, what would stand there, whom it would harm."""

    name: str
    file: str
    old: str
    new: str
    breaks: str


def _mutants() -> list[Mutant]:
    listed = tomli.loads(LIST.read_text(encoding="utf-8"))["mutant"]
    return [Mutant(**entry) for entry in listed]


MUTANTS = _mutants()


def _ask(directory: Path) -> subprocess.CompletedProcess[str]:
    """Ask everything that must hold of the package in a directory, in a process of its own."""
    return subprocess.run(
        [sys.executable, "-B", str(SAMPLES / "clock_assertions.py"), str(directory)],
        env={**os.environ, "PYTHONPATH": os.pathsep.join([str(directory), str(SAMPLES)])},
        check=False,
        capture_output=True,
        text=True,
        timeout=300,
    )


def _copied(directory: Path) -> Path:
    left_out = shutil.ignore_patterns("__pycache__")
    shutil.copytree(PACKAGE, directory / PACKAGE.name, ignore=left_out)
    return directory


def test_the_list_is_long_enough_and_names_each_once() -> None:
    assert len(MUTANTS) >= LEAST
    assert len({mutant.name for mutant in MUTANTS}) == len(MUTANTS)
    assert len({(mutant.file, mutant.old, mutant.new) for mutant in MUTANTS}) == len(MUTANTS)
    assert all(mutant.breaks and mutant.old != mutant.new for mutant in MUTANTS)


@pytest.mark.parametrize("mutant", MUTANTS, ids=lambda mutant: mutant.name)
def test_what_a_mutant_changes_stands_in_its_file_once(mutant: Mutant) -> None:
    """Else the list has fallen behind the code, and the mutant would be no mistake at all."""
    text = (PACKAGE / mutant.file).read_text(encoding="utf-8")
    assert text.count(mutant.old) == 1


@pytest.mark.slow
def test_the_original_passes(tmp_path: Path) -> None:
    asked = _ask(_copied(tmp_path))
    assert asked.returncode == 0, asked.stdout + asked.stderr


@pytest.mark.slow
@pytest.mark.parametrize("mutant", MUTANTS, ids=lambda mutant: mutant.name)
def test_a_mutant_is_caught(mutant: Mutant, tmp_path: Path) -> None:
    place = _copied(tmp_path) / PACKAGE.name / mutant.file
    text = place.read_text(encoding="utf-8")
    place.write_text(text.replace(mutant.old, mutant.new), encoding="utf-8")
    asked = _ask(tmp_path)
    # Not just any failure: a mutant that cannot even be imported proves nothing.
    assert asked.returncode == 1, asked.stderr or f"survived: {mutant.breaks}"
    assert asked.stdout.startswith("caught by ")
