"""Floors import downwards only: the contracts in pyproject.toml, and that they name every room."""

from __future__ import annotations

import os
import subprocess
import sys
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

ROOT = Path(__file__).parents[2]
LINT = "import sys; from importlinter.cli import lint_imports_command as go; sys.exit(go())"


def lint(folder: Path) -> subprocess.CompletedProcess[str]:
    environment = {key: value for key, value in os.environ.items() if not key.startswith("COV")}
    environment["PYTHONPATH"] = str(folder)
    return subprocess.run(
        [sys.executable, "-c", LINT, "--no-cache"],
        cwd=folder,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )


def test_floors_import_downwards_only(needs: Callable[[str], str]) -> None:
    needs("dev")
    ended = lint(ROOT)
    assert ended.returncode == 0, ended.stdout + ended.stderr
    assert " 0 broken" in ended.stdout


def test_an_import_upwards_would_be_seen(needs: Callable[[str], str], tmp_path: Path) -> None:
    needs("dev")
    house = tmp_path / "house"
    house.mkdir()
    (house / "__init__.py").touch()
    (house / "errors.py").write_text("import house.cli\n", encoding="utf-8")
    (house / "cli.py").touch()
    (tmp_path / "pyproject.toml").write_text(
        "[tool.importlinter]\n"
        'root_packages = ["house"]\n'
        "[[tool.importlinter.contracts]]\n"
        'name = "floors"\ntype = "layers"\ncontainers = ["house"]\nexhaustive = true\n'
        'layers = ["cli", "errors"]\n',
        encoding="utf-8",
    )
    ended = lint(tmp_path)
    assert ended.returncode == 1, ended.stdout + ended.stderr
    assert "1 broken" in ended.stdout


def test_the_contract_is_exhaustive() -> None:
    settings = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    contracts = settings["tool"]["importlinter"]["contracts"]
    floors = [contract for contract in contracts if contract["type"] == "layers"]
    rooms = ["curecal", "curecal.planning", "curecal.reminders"]
    assert [contract["containers"] for contract in floors] == [[room] for room in rooms]
    assert all(contract["exhaustive"] for contract in floors)
