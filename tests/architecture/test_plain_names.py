"""One name, one meaning; no folder and no name that a reader would have to look up."""

from __future__ import annotations

import ast
from collections import Counter, defaultdict
from pathlib import Path

import pytest
from package_trees import package_trees

MOST_MODULES = 13
"""In a folder: about a dozen, beside what says what belongs there."""
MOST_ANY = 100
LEAST_NUMBER = 1e-6
"""What is smaller is no number of a rule but a tolerance: a micrometer, a microsecond."""

SAME_THING = {
    "alternatives": "what would help, computed and said",
    "appointments": "visits with an agreed hour: in the log, in a plan, in calendars",
    "corrections": "entries that correct another: as files hold them, and who may make them",
    "drying": "how fast a screed dries: the equation, its checks, the quantity people write",
    "electrical": "ohm, volt and watt: the equations, the hold points, the quantities",
    "entry_kinds": "kinds of log entries: their list, and which record is of which",
    "explain": "the command, and the text it prints",
    "heating": "a zone's heating: in the job file, and the checks of its equations",
    "humid_air": "the equations, and their checks",
    "jobs": "the jobs of the book, and the command that lists them",
    "kept_answers": "each job's answer as it is kept: its rows, and how long it holds",
    "links": "secret links: how the book keeps them, and the command",
    "log_entries": "entries of the site log: their rows, and their texts",
    "mail": "the channel, and the command that writes messages",
    "names": "names of people, zones and layers: when two are the same, whose one is",
    "plan": "a plan: its records, and the command that makes one",
    "publish": "calendars to their readers: the rule, and the command",
    "rules": "the rules: their records, and the reading of their data",
    "values": "values of a file: as they are read, and as they are shown",
    "visits": "what an electrician still comes for: in a plan, and the command",
}
"""Names that two modules or more have, and the one thing that all of them are about."""


def classes() -> dict[str, list[str]]:
    """Where each class name is defined; a name for a type counts like a class."""
    found: dict[str, list[str]] = defaultdict(list)
    for file, tree in package_trees().items():
        for node in ast.walk(tree):
            if isinstance(node, ast.ClassDef):
                found[node.name].append(file)
    return found


def variables(tree: ast.AST) -> set[str]:
    """Every name that a module gives to a value."""
    stored = (node for node in ast.walk(tree) if isinstance(node, ast.Name | ast.arg))
    return {node.id if isinstance(node, ast.Name) else node.arg for node in stored}


def test_a_class_name_has_one_meaning() -> None:
    found = classes()
    assert len(found) > 300
    assert {name: files for name, files in found.items() if len(files) > 1} == {}


def test_modules_of_one_name_are_about_one_thing() -> None:
    files = Counter(Path(file).stem for file in package_trees() if not file.endswith("__init__.py"))
    assert {name for name, count in files.items() if count > 1} == SAME_THING.keys()


def test_variables_say_what_they_hold() -> None:
    """`each` says that there are several, and not of what."""
    assert [file for file, tree in package_trees().items() if "each" in variables(tree)] == []


@pytest.mark.parametrize("source", ["for each in jobs: pass", "[each for each in jobs]"])
def test_a_variable_that_says_nothing_is_seen(source: str) -> None:
    assert "each" in variables(ast.parse(source))


def test_no_folder_is_too_full() -> None:
    modules = Counter(
        Path(file).parent.as_posix() for file in package_trees() if not file.endswith("__init__.py")
    )
    assert {name: count for name, count in modules.items() if count > MOST_MODULES} == {}


def test_how_near_is_the_same_stands_in_one_place() -> None:
    """A second tolerance would pass in one rule what another refuses."""
    found = [
        f"{file}: {node.value}"
        for file, tree in package_trees().items()
        if file.startswith("planning/") and file != "planning/tolerances.py"
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant)
        and isinstance(node.value, float)
        and 0.0 < node.value < LEAST_NUMBER
    ]
    assert found == []


def test_values_without_a_type_are_few() -> None:
    found = [
        file
        for file, tree in package_trees().items()
        for node in ast.walk(tree)
        if isinstance(node, ast.Name) and node.id == "Any"
    ]
    assert len(found) <= MOST_ANY
