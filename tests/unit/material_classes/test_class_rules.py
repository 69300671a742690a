"""The shipped rules and classes: every number with its source, every number used."""

from __future__ import annotations

import copy
from pathlib import Path
from typing import Any

import pytest
import tomli

import curecal
from curecal.errors import CurecalError
from curecal.material_classes.rules import NUMBERS, load_rules, parse_rules
from curecal.records import names_of
from curecal.shipped import shipped_text
from curecal.trade.data_sheets import FixedWait, Milestone, SheetWait
from curecal.trade.sources import Basis

RULES = load_rules()
PACKAGE = Path(curecal.__file__).parent
RECORDS = PACKAGE / "trade" / "rules.py"


def shipped(name: str) -> dict[str, Any]:
    return tomli.loads(shipped_text(name))


def test_no_number_stands_there_unused() -> None:
    texts = [path.read_text(encoding="utf-8") for path in PACKAGE.rglob("*.py") if path != RECORDS]
    numbers = {name: names_of(kind) for name, kind in NUMBERS.values()}
    unused = [
        f"{field}.{name}"
        for field, names in numbers.items()
        for name in names
        if not any(f".{name}" in text for text in texts)
    ]
    assert sum(map(len, numbers.values())) > 40
    assert unused == []


@pytest.mark.parametrize("change", [{"more_s": "1 h"}, None])
def test_a_rule_wants_each_of_its_numbers_and_no_other(change: dict[str, str] | None) -> None:
    rules, classes = shipped("rules.toml"), shipped("classes.toml")
    numbers = rules["rule"]["R5"]["numbers"]
    if change is None:
        del numbers["lone_s"]
    else:
        numbers.update(change)
    with pytest.raises(CurecalError) as refused:
        parse_rules(rules, classes)
    assert refused.value.code == "data-number-unread"


def test_numbers_that_no_rule_reads_are_refused() -> None:
    rules = shipped("rules.toml")
    rules["rule"]["R20"]["numbers"] = {"step_k": "5 K"}
    with pytest.raises(CurecalError) as refused:
        parse_rules(rules, shipped("classes.toml"))
    assert refused.value.code == "data-number-unread"


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


def test_bare_screeds_may_be_heated_from_the_published_days() -> None:
    # EN 1264-4, as quoted in a heating-trade reference: 21 d cement, 7 d calcium sulfate.
    for name, days in (("sand-cement screed", 21), ("calcium-sulfate screed", 7)):
        bare = RULES.classes[name].bare_heat
        assert bare is not None
        assert isinstance(bare.amount, FixedWait)
        assert bare.amount.wait_s == days * D
        assert bare.source.basis is Basis.PUBLISHED
