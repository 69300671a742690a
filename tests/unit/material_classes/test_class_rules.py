"""The shipped rules and classes: every number with its source, every number used."""

from __future__ import annotations

import ast
import copy
from pathlib import Path
from typing import Any

import pytest
import tomli

import curecal
from curecal.errors import CurecalError
from curecal.material_classes.rules import load_rules, parse_rules
from curecal.shipped import shipped_text
from curecal.trade.data_sheets import FixedWait, Milestone, SheetWait
from curecal.trade.sources import Basis

RULES = load_rules()
PLANNING = Path(curecal.__file__).parent / "planning"


def shipped(name: str) -> dict[str, Any]:
    return tomli.loads(shipped_text(name))


def asked() -> set[tuple[str, str]]:
    """Every number the planner asks the rules for."""
    found = set()
    for path in PLANNING.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and len(node.args) == 2:
                name = getattr(node.func, "attr", getattr(node.func, "id", ""))
                values = [getattr(part, "value", None) for part in node.args]
                if name == "number" and all(isinstance(value, str) for value in values):
                    found.add((str(values[0]), str(values[1])))
    return found


def test_the_planner_finds_every_number_it_asks_for() -> None:
    missing = {(rule, name) for rule, name in asked() if name not in RULES.by_id[rule].numbers}
    assert missing == set()
    assert len(asked()) > 30


def test_no_number_stands_there_unused() -> None:
    # What the readers and the shipped classes take from the rules.
    elsewhere = {"rated_c", "rated_rh", "age_s", "minimum_c"}
    texts = [path.read_text(encoding="utf-8") for path in PLANNING.rglob("*.py")]
    held = {name for rule in RULES.by_id.values() for name in rule.numbers}
    assert {
        name for name in held - elsewhere if not any(f'"{name}"' in text for text in texts)
    } == set()


@pytest.mark.parametrize(
    ("table", "path"),
    [
        ("rules", ("rule", "R1")),
        ("classes", ("class", "thinset", "wait", "grout")),
        ("classes", ("class", "concrete", "cover", "tile")),
        ("rules", ("rule", "R10")),
        ("classes", ("class", "epoxy grout", "minimum")),
        ("classes", ("moisture", "cement", "carbide")),
        ("classes", ("class", "primer", "no_later", "cover")),
    ],
)
@pytest.mark.parametrize("lost", ["source", "basis"])
def test_an_entry_without_a_source_does_not_load(
    table: str, path: tuple[str, ...], lost: str
) -> None:
    tables = {"rules": shipped("rules.toml"), "classes": shipped("classes.toml")}
    entry = tables[table]
    for step in path:
        entry = entry[step]
    del entry[lost]
    with pytest.raises(CurecalError) as refused:
        parse_rules(tables["rules"], tables["classes"])
    assert refused.value.code == "data-without-source"


def test_a_number_without_a_unit_does_not_load() -> None:
    rules = copy.deepcopy(shipped("rules.toml"))
    rules["rule"]["R5"]["numbers"]["looks"] = "24 h"
    with pytest.raises(CurecalError) as refused:
        parse_rules(rules, shipped("classes.toml"))
    assert refused.value.code == "data-number-without-unit"


def test_a_wait_of_no_known_form_does_not_load() -> None:
    classes = copy.deepcopy(shipped("classes.toml"))
    classes["class"]["thinset"]["wait"]["grout"] = {"basis": "own rule", "source": "nobody"}
    with pytest.raises(CurecalError) as refused:
        parse_rules(shipped("rules.toml"), classes)
    assert refused.value.code == "data-wait-unknown"


# The table of shipped classes: to cover or next [h], to heat [d]; None asks for the sheet.
H, D = 3600.0, 86400.0


@pytest.mark.parametrize(
    ("name", "milestone", "wait_s", "basis"),
    [
        ("thinset", Milestone.GROUT, 48 * H, Basis.COMMON_PRACTICE),
        ("unmodified thinset", Milestone.GROUT, 48 * H, Basis.COMMON_PRACTICE),
        ("rapid thinset", Milestone.GROUT, 6 * H, Basis.COMMON_PRACTICE),
        ("cement grout", Milestone.WALK, 72 * H, Basis.COMMON_PRACTICE),
        ("cement grout", Milestone.SEAL, 72 * H, Basis.COMMON_PRACTICE),
        ("epoxy grout", Milestone.WALK, 72 * H, Basis.COMMON_PRACTICE),
        ("epoxy grout", Milestone.HEAT, 7 * D, Basis.COMMON_PRACTICE),
        ("sealer", Milestone.HEAT, 72 * H, Basis.COMMON_PRACTICE),
        *(
            (name, Milestone.HEAT, 28 * D, Basis.FALLBACK)
            for name in (
                "concrete",
                "sand-cement screed",
                "mortar bed",
                "leveler",
                "rapid leveler",
                "thinset",
                "unmodified thinset",
                "rapid thinset",
                "cement grout",
            )
        ),
    ],
)
def test_the_waits_of_the_classes(
    name: str, milestone: Milestone, wait_s: float, basis: Basis
) -> None:
    wait = RULES.classes[name].waits[milestone]
    assert isinstance(wait.amount, FixedWait)
    assert wait.amount.wait_s == wait_s
    assert wait.source.basis is basis
    assert wait.rated_c == (24.0 if name == "epoxy grout" else 20.0)


@pytest.mark.parametrize(
    ("name", "covering", "wait_s", "basis"),
    [
        ("concrete", "tile", 42 * D, Basis.PUBLISHED),
        ("sand-cement screed", "tile", 21 * D, Basis.PUBLISHED),
        ("mortar bed", "any", 72 * H, Basis.COMMON_PRACTICE),
        ("membrane", "any", 48 * H, Basis.COMMON_PRACTICE),
        ("primer", "any", 3 * H, Basis.COMMON_PRACTICE),
        ("epoxy barrier", "any", 24 * H, Basis.COMMON_PRACTICE),
    ],
)
def test_the_covers_of_the_classes(name: str, covering: str, wait_s: float, basis: Basis) -> None:
    wait = RULES.classes[name].covers[covering]
    assert isinstance(wait.amount, FixedWait)
    assert wait.amount.wait_s == wait_s
    assert wait.source.basis is basis


@pytest.mark.parametrize("name", ["calcium-sulfate screed", "gypsum leveler"])
def test_what_the_sheet_must_say(name: str) -> None:
    assert isinstance(RULES.classes[name].waits[Milestone.HEAT].amount, SheetWait)
    assert RULES.classes[name].needs_moisture_test


def test_bare_screeds_may_be_heated_from_the_published_days() -> None:
    # EN 1264-4, as quoted in a heating-trade reference: 21 d cement, 7 d calcium sulfate.
    for name, days in (("sand-cement screed", 21), ("calcium-sulfate screed", 7)):
        bare = RULES.classes[name].bare_heat
        assert bare is not None
        assert isinstance(bare.amount, FixedWait)
        assert bare.amount.wait_s == days * D
        assert bare.source.basis is Basis.PUBLISHED
