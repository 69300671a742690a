"""What `verify` says of a row is so: plans are computed with its equation, or they are not."""

from __future__ import annotations

import ast
import inspect
import sys
from pathlib import Path
from types import FrameType

import pytest

import curecal
from curecal.published import plan_equations
from curecal.published.check_values import PublishedCheck, published_checks
from curecal.published.equations import compute, is_computed_in_plans

pytestmark = pytest.mark.slow

PACKAGE = Path(curecal.__file__).parent
SCIENCE = PACKAGE / "science"
CROSS_CHECKS = PACKAGE / "published" / "cross_checks"


def trees(room: str) -> list[ast.Module]:
    files = sorted((PACKAGE / room).rglob("*.py"))
    return [ast.parse(file.read_text(encoding="utf-8")) for file in files]


def imported_by_planning() -> set[str]:
    """The names that the planner's modules import from science."""
    return {
        name.name
        for tree in trees("planning")
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("curecal.science.")
        for name in node.names
    }


def definitions() -> dict[str, set[str]]:
    """Each function and class of science, with the names it uses."""
    return {
        node.name: {name.id for name in ast.walk(node) if isinstance(name, ast.Name)}
        for tree in trees("science")
        for node in tree.body
        if isinstance(node, ast.FunctionDef | ast.ClassDef)
    }


def reached_by_planning() -> set[str]:
    """What planning imports from science, and all that this uses there in its turn."""
    known, waiting, reached = definitions(), imported_by_planning(), set()
    while waiting:
        name = waiting.pop()
        reached.add(name)
        waiting |= known.get(name, set()) & known.keys() - reached
    return reached


def executed(check: PublishedCheck) -> set[tuple[Path, str]]:
    """The file and name of every function that ran while a check was computed."""
    ran: set[tuple[Path, str]] = set()

    def note(frame: FrameType, event: str, _argument: object) -> None:
        if event == "call":
            ran.add((Path(frame.f_code.co_filename), frame.f_code.co_qualname.partition(".")[0]))

    before = sys.getprofile()
    sys.setprofile(note)
    try:
        compute(check.equation, check.inputs)
    finally:
        sys.setprofile(before)
    return ran


def attributes(trees_: list[ast.Module]) -> set[str]:
    return {
        node.attr for tree in trees_ for node in ast.walk(tree) if isinstance(node, ast.Attribute)
    }


def test_science_keeps_only_what_plans_are_computed_with() -> None:
    unused = {name for name in definitions() if not name.startswith("_")} - reached_by_planning()
    assert unused == set()


@pytest.mark.parametrize("check", published_checks(), ids=lambda check: check.id)
def test_a_row_says_whether_plans_are_computed_with_its_equation(check: PublishedCheck) -> None:
    ran = executed(check)
    of_science = {name for file, name in ran if file.parent == SCIENCE}
    of_cross_checks = {name for file, name in ran if file.parent == CROSS_CHECKS}
    from_rules = any(name == "load_rules" or name in NUMBERS_OF_RULES for _, name in ran)
    if is_computed_in_plans(check.equation):
        assert not of_cross_checks
        assert from_rules or of_science & reached_by_planning() - {"require", "refuse"}
    else:
        assert of_cross_checks


NUMBERS_OF_RULES = {
    "probe_depth_one_side": {"moisture", "depth_fraction"},
    "functional_heating_start": {"classes", "bare_heat"},
    "functional_heating_end": {"bare_screed", "flow_count", "flow_most_count"},
    "insulation_minimum_of_mains": {"electrical", "earth_ohm"},
}
"""The numbers a check takes from the rules, by the function that takes them."""


@pytest.mark.parametrize("name", NUMBERS_OF_RULES)
def test_a_number_of_the_rules_is_one_that_planning_reads(name: str) -> None:
    source = inspect.getsource(getattr(plan_equations, name))
    assert NUMBERS_OF_RULES[name] <= attributes([ast.parse(source)])
    assert NUMBERS_OF_RULES[name] - {"classes"} <= attributes(trees("planning"))
