"""How often the long run draws each law: what is not drawn at full count is named here."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parents[2]
FULL = 3000
# A case of these is dozens of plans, or several publishings to a server.
LESS_OFTEN = {
    "test_evidence_laws.py": 1000,
    "test_planning_laws_readings.py": 600,
    "test_life_laws.py": 300,
}
COUNTED = """
import json, sys
import pytest

class Counts:
    def pytest_collection_finish(self, session):
        found = {}
        for item in session.items:
            drawn = getattr(item.obj, "_hypothesis_internal_use_settings", None)
            if getattr(item.obj, "is_hypothesis_test", False):
                found.setdefault(item.path.name, set()).add(drawn.max_examples)
        with open(sys.argv[1], "w") as file:
            json.dump({name: sorted(counts) for name, counts in found.items()}, file)

options = ["--collect-only", "-qq", "-p", "no:cacheprovider"]
sys.exit(pytest.main([*options, *sys.argv[2:]], [Counts()]))
"""


def test_the_long_run_draws_each_law_at_full_count_or_as_often_as_named(tmp_path: Path) -> None:
    tests = (ROOT / "tests").rglob("test_*.py")
    asked = [str(path) for path in tests if "max_examples" in path.read_text(encoding="utf-8")]
    asked = [path for path in asked if "architecture" not in path]
    counts = tmp_path / "counts.json"
    kept = {
        key: value for key, value in os.environ.items() if not key.startswith(("COV", "PYTEST"))
    }
    ended = subprocess.run(
        [sys.executable, "-c", COUNTED, str(counts), *asked],
        cwd=ROOT,
        env={**kept, "CURECAL_TESTS_LONG": "1"},
        capture_output=True,
        text=True,
        check=False,
        timeout=300,
    )
    assert ended.returncode == 0, ended.stdout + ended.stderr
    found = json.loads(counts.read_text(encoding="utf-8"))
    fewer = {name: min(drawn) for name, drawn in found.items() if min(drawn) < FULL}
    assert fewer == LESS_OFTEN
    assert len(found) > len(LESS_OFTEN)
