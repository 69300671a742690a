"""An equation says in its docstring what it returns, in which units, and what it rests on."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

SCIENCE = Path(__file__).parents[2] / "curecal" / "science"
UNIT_IN_NAME = re.compile(r"_(?:s|c|k|m|rh|v|w|a|ohm|pa|j_mol|s_per_m|per_k)$")
UNIT = r"\[[^\]]+\]"
FLOATS = {"float", "float | None", "Sequence[float]"}
GUARDS = {"require", "refuse"}


def is_float(annotation: ast.expr | None) -> bool:
    return annotation is not None and ast.unparse(annotation) in FLOATS


def refuses(function: ast.FunctionDef) -> bool:
    """Whether the function itself raises or stands behind the guard."""
    return any(
        isinstance(node, ast.Raise)
        or (
            isinstance(node, ast.Call)
            and isinstance(node.func, ast.Name)
            and node.func.id in GUARDS
        )
        for node in ast.walk(function)
    )


def faults(function: ast.FunctionDef) -> list[str]:
    """What the docstring of a public function leaves out."""
    docstring = ast.get_docstring(function)
    if not docstring:
        return ["no docstring"]
    first = docstring.partition("\n")[0]
    found = []
    if first.partition(" ")[0] not in {"Return", "Refuse", "Stop"}:
        found.append("the first line does not say what is returned or done")
    if is_float(function.returns) and not re.search(UNIT, first):
        found.append("the first line has no [unit]")
    for parameter in [*function.args.args, *function.args.kwonlyargs]:
        named = re.search(rf"^ +{parameter.arg}: .*{UNIT}", docstring, re.MULTILINE)
        if is_float(parameter.annotation) and not (UNIT_IN_NAME.search(parameter.arg) or named):
            found.append(f"{parameter.arg} has no unit")
    if refuses(function) and "\nRaises:\n    OutsideValidity: " not in docstring:
        found.append("no Raises")
    if "\nSource:\n" not in docstring:
        found.append("no Source")
    return found


def public_functions(source: str) -> list[ast.FunctionDef]:
    return [
        node
        for node in ast.parse(source).body
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_")
    ]


EQUATIONS = [
    (f"{file.stem}.{function.name}", function)
    for file in sorted(SCIENCE.glob("*.py"))
    for function in public_functions(file.read_text(encoding="utf-8"))
]


@pytest.mark.parametrize(("name", "function"), EQUATIONS, ids=[name for name, _ in EQUATIONS])
def test_an_equation_says_what_it_rests_on(name: str, function: ast.FunctionDef) -> None:
    assert faults(function) == [], name


def test_an_equation_with_a_range_says_it() -> None:
    missing = [
        name
        for name, function in EQUATIONS
        if is_float(function.returns)
        and function.name != "require"
        and "\nValidity:\n" not in (ast.get_docstring(function) or "")
    ]
    assert missing == []


COMPLETE = '''
def rate(*, temperature_c: float, share: float) -> float:
    """Return the rate against the rated one [1].

    Args:
        share: How much of it [1].

    Raises:
        OutsideValidity: Below absolute zero.

    Source:
        An author, 1977.
    """
    return require("temperature_c", temperature_c, low=0.0, high=1.0) * share
'''


def test_a_complete_docstring_passes() -> None:
    assert faults(public_functions(COMPLETE)[0]) == []


@pytest.mark.parametrize(
    ("cut", "put", "fault"),
    [
        ("Return the", "What the", "the first line does not say what is returned or done"),
        ("one [1].", "one.", "the first line has no [unit]"),
        ("of it [1].", "of it.", "share has no unit"),
        ("temperature_c: float", "warmth: float", "warmth has no unit"),
        ("        OutsideValidity: Below absolute zero.\n", "", "no Raises"),
        ("    Source:\n", "", "no Source"),
    ],
)
def test_a_missing_part_is_seen(cut: str, put: str, fault: str) -> None:
    assert cut in COMPLETE
    assert fault in faults(public_functions(COMPLETE.replace(cut, put))[0])
