"""Public functions of planning say what they give and rest on, with units.

What a parameter's name and type already tell is not told again; a number's unit always is.
"""

from __future__ import annotations

import ast
import inspect
import re
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[2] / "curecal"
ROOMS = ("planning",)
RESTS_ON = {"planning": "Rule"}

HEADING = re.compile(r"^(?P<title>[A-Z][a-z]+):(?P<same_line>.*)$")
ENTRY = re.compile(r"^ {2,8}\*{0,2}(?P<name>\w+)(?: \([^)]*\))?:(?P<text>.*)$")
UNIT = re.compile(r"\[[^\]]+\]")

Function = ast.FunctionDef | ast.AsyncFunctionDef


def sections(docstring: str) -> dict[str, list[str]]:
    """The sections of a docstring: title (without a plural s for Sources, Rules) to lines."""
    found: dict[str, list[str]] = {}
    lines: list[str] = []
    for line in inspect.cleandoc(docstring).splitlines():
        if heading := HEADING.match(line):
            title = heading["title"]
            lines = [heading["same_line"]] if heading["same_line"].strip() else []
            found[{"Sources": "Source", "Rules": "Rule"}.get(title, title)] = lines
        else:
            lines.append(line)
    return found


def entries(lines: list[str]) -> dict[str, str]:
    """The parameters that an Args section names, each with its whole text."""
    found: dict[str, str] = {}
    name = ""
    for line in lines:
        if entry := ENTRY.match(line):
            name = entry["name"]
            found[name] = entry["text"]
        elif name:
            found[name] += " " + line.strip()
    return found


def is_float(annotation: ast.expr | None) -> bool:
    return annotation is not None and ast.unparse(annotation) in {"float", "float | None"}


def parameters(function: Function) -> list[ast.arg]:
    taken = function.args
    every = [*taken.posonlyargs, *taken.args, taken.vararg, *taken.kwonlyargs, taken.kwarg]
    return [parameter for parameter in every if parameter is not None]


def names(function: Function) -> set[str]:
    return {parameter.arg for parameter in parameters(function)}


def raises(function: Function) -> bool:
    """Whether the function itself raises; what it calls speaks for itself."""
    return any(isinstance(node, ast.Raise) for node in ast.walk(function))


def faults(function: Function, rests_on: str) -> list[str]:
    """What the docstring of `function` leaves out."""
    docstring = ast.get_docstring(function)
    if not docstring:
        return ["no docstring"]
    has = sections(docstring)
    taken = entries(has.get("Args", []))
    found = []
    for parameter in parameters(function):
        text = taken.get(parameter.arg, "")
        if is_float(parameter.annotation) and not UNIT.search(text):
            found.append(f"{parameter.arg} has no [unit]")
    found += [f"{name} is no parameter" for name in taken if name not in names(function)]
    first_line = docstring.splitlines()[0]
    gives = function.returns is None or ast.unparse(function.returns) not in {"None", "NoReturn"}
    if rests_on == "Rule" and gives and not first_line.startswith("Return "):
        found.append("the first line does not say what it returns")
    returned = " ".join([first_line, *has.get("Returns", has.get("Yields", []))])
    if is_float(function.returns) and not UNIT.search(returned):
        found.append("Returns has no [unit]")
    if raises(function) and "".join(has.get("Raises", [])).strip() == "":
        found.append("no Raises")
    if "".join(has.get(rests_on, [])).strip() == "":
        found.append(f"no {rests_on}")
    return found


def public_functions(source: str) -> list[Function]:
    return [
        node
        for node in ast.parse(source).body
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
        and not node.name.startswith("_")
    ]


def documented() -> list[tuple[str, str, Function]]:
    found: list[tuple[str, str, Function]] = []
    for room in ROOMS:
        for file in sorted((PACKAGE / room).rglob("*.py")):
            module = file.relative_to(PACKAGE).as_posix()
            found += [
                (room, f"{module}:{function.name}", function)
                for function in public_functions(file.read_text(encoding="utf-8"))
            ]
    return found


@pytest.mark.parametrize("room", ROOMS)
def test_the_room_has_public_functions(room: str) -> None:
    assert any(found == room for found, _, _ in documented())


@pytest.mark.parametrize(
    ("room", "name", "function"), documented(), ids=[name for _, name, _ in documented()]
)
def test_a_public_function_says_what_it_rests_on(room: str, name: str, function: Function) -> None:
    assert faults(function, RESTS_ON[room]) == [], name


COMPLETE = '''
def rate(*, temperature_c: float, rule: Rule) -> float:
    """Return the rate against the rated one.

    Args:
        temperature_c: air at the surface
            [°C]
        rule: how it hardens

    Returns:
        The rate [1].

    Raises:
        OutsideValidity: below absolute zero.

    Source:
        An author, 1977.
    """
    raise OutsideValidity("x")
'''


def test_a_complete_docstring_passes() -> None:
    assert faults(public_functions(COMPLETE)[0], "Source") == []


@pytest.mark.parametrize(
    ("cut", "fault"),
    [
        ("            [°C]\n", "temperature_c has no [unit]"),
        ("        temperature_c: air at the surface\n", "temperature_c has no [unit]"),
        ("[1]", "Returns has no [unit]"),
        ("        OutsideValidity: below absolute zero.\n", "no Raises"),
        ("        An author, 1977.\n", "no Source"),
    ],
)
def test_a_missing_part_is_seen(cut: str, fault: str) -> None:
    assert cut in COMPLETE
    assert fault in faults(public_functions(COMPLETE.replace(cut, ""))[0], "Source")


@pytest.mark.parametrize(
    ("written", "instead", "fault"),
    [
        ("rule: how it hardens", "law: how it hardens", "law is no parameter"),
        ("Return the rate", "What rate", "the first line does not say what it returns"),
    ],
)
def test_an_empty_or_wrong_part_is_seen(written: str, instead: str, fault: str) -> None:
    assert written in COMPLETE
    changed = COMPLETE.replace(written, instead).replace("Source:", "Rule:")
    assert fault in faults(public_functions(changed)[0], "Rule")


def test_no_docstring_is_seen() -> None:
    bare = public_functions("def rate() -> None: ...")[0]
    assert faults(bare, "Source") == ["no docstring"]
