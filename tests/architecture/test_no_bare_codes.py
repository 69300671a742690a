"""What is chosen from a closed list is compared with the list's member, never with its spelling.

A misspelled text compares unequal without a word; a misspelled member does not even load.
"""

from __future__ import annotations

import ast

import pytest
from package_trees import package_trees

CHOSEN = {
    "asks",
    "channel",
    "code",
    "family",
    "gate",
    "gates",
    "kind",
    "purpose",
    "role",
    "rule",
    "severity",
    "state",
    "status",
    "topic",
}
"""Attributes that hold one of a closed list."""

CALLED = {"code", "fault", "severity", "state"}
"""Variables that hold one. A `kind` may still be a word of a file that is being read."""

TEXT_METHODS = {"startswith", "endswith", "removeprefix", "removesuffix"}

ALONE = {
    # What a book's rows are called is the reminders' list; of that the book knows none but this.
    "DIGEST",
}
"""Names of texts that are no list: the one that a module knows, imported wherever it is asked for.
"""

# `MoistureKind` is a Literal, of which mypy refuses a comparison with any other text.
LEGAL = {
    ("site_log_files/entry_fields.py", "value.kind == 'plain'"),
    ("toml_files/meter_values.py", "value.kind == 'plain'"),
    ("toml_files/meter_values.py", "told.kind == 'plain'"),
    ("toml_files/meter_values.py", "value.kind == 'humidity'"),
}
"""Places, as file and comparison, that may keep a text."""


def is_text(node: ast.expr, texts: frozenset[str]) -> bool:
    """Whether an expression is a written text, holds one, or is a name for such a thing."""
    parts: list[ast.expr] = []
    match node:
        case ast.Constant():
            return isinstance(node.value, str) and bool(node.value)
        case ast.Name():
            return node.id in texts - ALONE
        case ast.Starred():
            parts = [node.value]
        case ast.Set() | ast.Tuple() | ast.List():
            parts = node.elts
        case ast.Call(func=ast.Name(id="frozenset" | "set" | "tuple")):
            parts = node.args
        case ast.BinOp(op=ast.BitOr()):
            parts = [node.left, node.right]
    return any(is_text(part, texts) for part in parts)


def is_chosen(node: ast.expr) -> bool:
    """Whether an expression holds a choice, or is the text of one."""
    if isinstance(node, ast.Attribute) and node.attr == "value":
        node = node.value
    if isinstance(node, ast.Name):
        return node.id in CALLED
    return isinstance(node, ast.Attribute) and node.attr in CHOSEN


def named_texts(tree: ast.Module, imported: dict[str, frozenset[str]]) -> frozenset[str]:
    """The names that a module gives to texts, or brings in from a module that does."""
    found: set[str] = set()
    for node in tree.body:
        match node:
            case ast.ImportFrom(module=str(module)):
                brought = imported.get(module, frozenset())
                found |= {name.asname or name.name for name in node.names if name.name in brought}
            case ast.Assign(targets=[ast.Name(id=name)], value=value) if is_text(
                value, frozenset(found)
            ):
                found.add(name)
            case ast.AnnAssign(target=ast.Name(id=name), value=ast.expr() as value) if is_text(
                value, frozenset(found)
            ):
                found.add(name)
    return frozenset(found)


def compared(tree: ast.Module, texts: frozenset[str]) -> list[ast.expr]:
    """The places of a module that hold a choice against a text."""
    found: list[ast.expr] = []
    for node in ast.walk(tree):
        match node:
            case ast.Compare():
                parts = [node.left, *node.comparators]
                if any(map(is_chosen, parts)) and any(is_text(part, texts) for part in parts):
                    found.append(node)
            case ast.Match(subject=subject) if is_chosen(subject):
                patterns = [case.pattern for case in node.cases]
                found += [
                    inner.value
                    for pattern in patterns
                    for inner in ast.walk(pattern)
                    if isinstance(inner, ast.MatchValue) and is_text(inner.value, texts)
                ]
            case ast.Call(func=ast.Attribute(value=subject, attr=method)) if (
                method in TEXT_METHODS and is_chosen(subject)
            ):
                found.append(node)
    return found


def dotted(file: str) -> str:
    return "curecal." + file.removesuffix(".py").removesuffix("/__init__").replace("/", ".")


def test_no_choice_is_compared_with_a_text() -> None:
    trees = package_trees()
    own = {dotted(file): named_texts(tree, {}) for file, tree in trees.items()}
    found = {
        (file, ast.unparse(place))
        for file, tree in trees.items()
        for place in compared(tree, named_texts(tree, own))
    }
    assert sorted(found - LEGAL) == []
    assert sorted(LEGAL - found) == []


@pytest.mark.parametrize(
    "source",
    [
        "hold.code == 'cure'",
        "'cure' != hold.code",
        "hold.code.value == 'cure'",
        "finding.code in {'frost', 'cold'}",
        "FEW = frozenset({'frost'})\nfinding.code in FEW",
        "FEW: frozenset[str] = frozenset({'frost'})\nfinding.code not in FEW",
        "ONE = 'frost'\nFEW = {ONE}\nfinding.code in FEW",
        "from curecal.codes import FROST\nfinding.code == FROST",
        "table.c.state == 'wanted'",
        "code != 'frost'",
        "match fact.kind:\n    case 'done' | 'air': pass",
        "hold.code.startswith('test-')",
    ],
)
def test_a_text_is_seen(source: str) -> None:
    tree = ast.parse(source)
    texts = named_texts(tree, {"curecal.codes": frozenset({"FROST"})})
    assert compared(tree, texts)


@pytest.mark.parametrize(
    "source",
    [
        "hold.code is HoldCode.CURE",
        "FEW = frozenset({Code.FROST})\nfinding.code in FEW",
        "match fact.kind:\n    case Kind.DONE: pass",
        "job.name == 'hall'",
        "job.c.hold == ''",
        "answer.status == HTTPStatus.OK",
    ],
)
def test_a_member_passes(source: str) -> None:
    tree = ast.parse(source)
    assert not compared(tree, named_texts(tree, {}))
