"""The package's modules as syntax trees, parsed once for all tests that look at them."""

from __future__ import annotations

import ast
from functools import cache
from pathlib import Path

PACKAGE = Path(__file__).parents[2] / "curecal"


@cache
def package_trees() -> dict[str, ast.Module]:
    """Every module of the package, parsed, by its path in it."""
    return {
        path.relative_to(PACKAGE).as_posix(): ast.parse(path.read_text(encoding="utf-8"))
        for path in sorted(PACKAGE.rglob("*.py"))
    }
