"""The shared fixtures themselves: what is missing skips, and fails in the complete run."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.slow

CONFTEST = Path(__file__).parents[1] / "conftest.py"

LACKING = """
import pytest

def test_lacking(needs, monkeypatch):
    monkeypatch.setenv("PATH", "")
    needs("node")
"""
UNKNOWN = """
def test_unknown(needs):
    needs("abacus")
"""
SLOW = """
import pytest

@pytest.mark.slow
def test_slow():
    pass
"""
PROFILE = """
from hypothesis import settings

def test_profile():
    assert settings().max_examples == {examples}
    assert settings().derandomize
    assert settings().deadline is None
"""


def run(folder: Path, test: str, *options: str, complete: bool) -> tuple[int, str]:
    (folder / "conftest.py").write_text(CONFTEST.read_text(encoding="utf-8"), encoding="utf-8")
    (folder / "pytest.ini").write_text("[pytest]\nmarkers = slow\n", encoding="utf-8")
    (folder / "test_it.py").write_text(test, encoding="utf-8")
    environment = {
        key: value
        for key, value in os.environ.items()
        if not key.startswith(("COV", "PYTEST", "CURECAL"))
    }
    if complete:
        environment["CURECAL_TESTS_COMPLETE"] = "1"
    ended = subprocess.run(
        [sys.executable, "-m", "pytest", "-ra", "-p", "no:cacheprovider", *options, "test_it.py"],
        cwd=folder,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    return ended.returncode, ended.stdout


def test_a_missing_program_skips_with_its_name(tmp_path: Path) -> None:
    code, shown = run(tmp_path, LACKING, complete=False)
    assert code == 0
    assert "missing: node" in shown
    assert "1 skipped" in shown


def test_a_missing_program_fails_the_complete_run_with_its_name(tmp_path: Path) -> None:
    code, shown = run(tmp_path, LACKING, complete=True)
    assert code == 1
    assert "missing: node" in shown
    assert "1 failed" in shown


def test_an_unknown_need_is_a_mistake_in_the_test(tmp_path: Path) -> None:
    code, shown = run(tmp_path, UNKNOWN, complete=False)
    assert code == 1
    assert "abacus" in shown


@pytest.mark.parametrize(
    ("options", "complete", "wanted"),
    [
        ((), False, "1 skipped"),
        (("--slow",), False, "1 passed"),
        ((), True, "1 passed"),
    ],
)
def test_slow_tests_wait_to_be_asked(
    tmp_path: Path, options: tuple[str, ...], *, complete: bool, wanted: str
) -> None:
    code, shown = run(tmp_path, SLOW, *options, complete=complete)
    assert code == 0
    assert wanted in shown


@pytest.mark.parametrize(("complete", "examples"), [(False, 10), (True, 60)])
def test_the_complete_run_draws_more_examples(
    tmp_path: Path, *, complete: bool, examples: int
) -> None:
    code, shown = run(tmp_path, PROFILE.format(examples=examples), complete=complete)
    assert code == 0, shown
