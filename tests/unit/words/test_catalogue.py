"""Every code has its sentence, and every sentence only places that its code fills."""

from __future__ import annotations

import ast
import re
from functools import cache
from typing import NamedTuple

import pytest
import tomli
from package_trees import PACKAGE, package_trees

from curecal.errors import CurecalError, ErrorCode
from curecal.material_classes.rules import load_rules
from curecal.planning.plan import HoldState, State, StepCode, VisitKind
from curecal.trade.data_sheets import Milestone
from curecal.trade.findings import FindingCode, Severity
from curecal.trade.sources import Basis
from curecal.words.catalogue import Catalogue, Text, catalogue, languages, merged, places
from curecal.words.sentences import OPTIONAL
from curecal.words.values import FAMILIES, NEUTRAL_FAMILY

ROOMS = (
    "book",
    "calendars",
    "cli",
    "delivery",
    "instants",
    "job_files",
    "material_classes",
    "overview",
    "papers",
    "planning",
    "published",
    "readings",
    "reminders",
    "site_log_files",
    "toml_files",
    "units",
    "web",
    "words",
)

MESSAGES = ("message", "finding")
FINDINGS = ("finding", "message")
# A bare CurecalError says that something inside is wrong: its code is for developers.
ERRORS = ("error", "finding", "message")
GROUPS = {
    "Message": (0, MESSAGES),
    "Finding": (1, FINDINGS),
    "find": (1, FINDINGS),
    "Step": (0, ("step",)),
    "SourceError": (0, ERRORS),
    "StoreMoved": (0, ERRORS),
    "QuestionError": (1, ERRORS),
    "BookError": (0, ERRORS),
    "DeliveryError": (0, ERRORS),
    "UsageError": (0, ERRORS),
    "NoDate": (0, ERRORS),
    "NotClear": (0, ERRORS),
    "QuantityRefused": (0, FINDINGS),
    "InstantRefused": (0, FINDINGS),
    "ValueRefused": (0, ERRORS),
}


LISTED = {"ErrorCode": ErrorCode, "FindingCode": FindingCode, "StepCode": StepCode}
"""Lists of the codes that something asks for."""


class Use(NamedTuple):
    """A code where it is made: its place, its groups, and its parameters where they are plain."""

    where: str
    code: str
    groups: tuple[str, ...]
    params: frozenset[str] | None


def names_in(node: ast.expr, local: dict[str, frozenset[str] | None]) -> frozenset[str] | None:
    """Names of a dict of parameters; None where they cannot be read off."""
    if isinstance(node, ast.Name):
        return local.get(node.id)
    if not isinstance(node, ast.Dict):
        return None
    found: set[str] = set()
    for key, value in zip(node.keys, node.values, strict=True):
        if key is None:
            inner = names_in(value, local)
            if inner is None:
                return None
            found |= inner
        elif isinstance(key, ast.Constant):
            found.add(str(key.value))
    return frozenset(found)


def locals_of(function: ast.AST) -> dict[str, frozenset[str] | None]:
    """Dicts that a function gives a name, with the keys it adds later."""
    found: dict[str, frozenset[str] | None] = {}
    for node in ast.walk(function):
        target = None
        if isinstance(node, ast.Assign) and len(node.targets) == 1:
            target = node.targets[0]
        elif isinstance(node, ast.AnnAssign):
            target = node.target
        if isinstance(target, ast.Name) and isinstance(node.value, ast.Dict):
            names = names_in(node.value, found)
            before = found.get(target.id, frozenset())
            both = None if names is None or before is None else names | before
            found[target.id] = both
    for node in ast.walk(function):
        if (
            isinstance(node, ast.Subscript)
            and isinstance(node.ctx, ast.Store)
            and isinstance(node.value, ast.Name)
            and isinstance(node.slice, ast.Constant)
        ):
            known = found.get(node.value.id)
            if known is not None:
                found[node.value.id] = known | {str(node.slice.value)}
    return found


@cache
def uses() -> tuple[Use, ...]:
    """Every code that a module of the rooms makes."""
    found = []
    for file, tree in package_trees().items():
        room, name = file.partition("/")[0], file.rpartition("/")[2]
        if room not in ROOMS:
            continue
        everywhere = strings_of(tree)
        functions = [n for n in ast.walk(tree) if isinstance(n, ast.FunctionDef)] or [tree]
        for function in functions:
            local, said = locals_of(function), everywhere | strings_of(function)
            for node in ast.walk(function):
                if isinstance(node, ast.Call):
                    found += use_of(node, f"{room}/{name}:{node.lineno}", local, said)
    return tuple(dict.fromkeys(found))


def strings_of(function: ast.AST) -> dict[str, set[str]]:
    """Texts that a function gives a name: the codes it chooses between."""
    found: dict[str, set[str]] = {}
    for node in ast.walk(function):
        if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name):
            found.setdefault(node.targets[0].id, set()).update(constants(node.value))
    return found


def constants(node: ast.expr) -> list[str]:
    if isinstance(node, ast.IfExp):
        return [*constants(node.body), *constants(node.orelse)]
    if isinstance(node, ast.Attribute) and getattr(node.value, "id", "") in LISTED:
        return [str(LISTED[node.value.id][node.attr])]
    return [node.value] if isinstance(node, ast.Constant) and isinstance(node.value, str) else []


def use_of(
    node: ast.Call,
    where: str,
    local: dict[str, frozenset[str] | None],
    said: dict[str, set[str]],
) -> list[Use]:
    name = getattr(node.func, "id", getattr(node.func, "attr", ""))
    if name not in GROUPS:
        return []
    at, groups = GROUPS[name]
    if len(node.args) <= at:
        return []
    code = node.args[at]
    codes = sorted(said.get(code.id, ())) if isinstance(code, ast.Name) else constants(code)
    rest = node.args[at + 1 :]
    params: frozenset[str] | None
    if name in {"Finding", "find"}:
        params = names_in(rest[1], local) if len(rest) > 1 else frozenset()
    elif name == "Step":
        params = names_in(rest[2], local) if len(rest) > 2 else frozenset()
    elif name == "Message":
        params = names_in(rest[0], local) if rest else frozenset()
    else:
        keywords = {keyword.arg for keyword in node.keywords}
        params = None if None in keywords else frozenset(str(key) for key in keywords)
    return [Use(where, each, groups, params) for each in codes]


def key_of(use: Use, texts: Catalogue) -> str | None:
    if use.groups == ("step",):
        return f"step.{use.code}" if f"step.{use.code}" in texts else None
    keys = (f"{group}.{use.code}.say" for group in use.groups)
    return next((key for key in keys if key in texts), None)


def needed(text: str) -> set[str]:
    """The places of a text that are not optional and no electrical words."""
    return {name for name in places(OPTIONAL.sub("", text)) if not name.startswith("word_")}


def test_the_scan_sees_codes_of_every_room() -> None:
    assert {use.where.partition("/")[0] for use in uses()} >= {
        "planning",
        "units",
        "instants",
        "cli",
    }
    assert len(uses()) > 80


def test_every_code_has_its_sentence() -> None:
    texts = catalogue("en")
    silent = {f"{use.where} {use.code}" for use in uses() if key_of(use, texts) is None}
    assert sorted(silent) == []


@pytest.mark.parametrize(
    ("codes", "groups"),
    [(ErrorCode, ERRORS), (FindingCode, FINDINGS), (StepCode, ("step",))],
)
def test_every_code_that_is_asked_for_has_its_sentence(
    codes: type[ErrorCode | FindingCode | StepCode], groups: tuple[str, ...]
) -> None:
    texts = catalogue("en")
    said = {key.split(".")[1] for key in texts.texts if key.split(".")[0] in groups}
    assert codes
    assert sorted(set(codes) - said) == []


def spellings() -> tuple[set[str], list[re.Pattern[str]]]:
    """Every text of the package, and every text with places in it as a pattern."""
    whole: set[str] = set()
    patterns = []
    for tree in package_trees().values():
        for node in ast.walk(tree):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                whole.add(node.value)
            if isinstance(node, ast.JoinedStr) and any(map(constants, node.values)):
                parts = [re.escape("".join(constants(part))) or ".+" for part in node.values]
                patterns.append(re.compile("".join(parts)))
    return whole, patterns


def test_every_sentence_of_a_finding_or_error_has_a_code_that_is_made() -> None:
    whole, patterns = spellings()
    named = whole | set(load_rules().cautions)
    said = {
        key.split(".")[1].removesuffix("-layers")  # of several layers: added when it is shown
        for key in catalogue("en").texts
        if key.split(".")[0] in {"error", "finding", "message"}
    }
    assert len(said) > 300
    left = sorted(said - named)
    assert [code for code in left if not any(made.fullmatch(code) for made in patterns)] == []


def test_every_place_of_a_sentence_is_filled_by_its_code() -> None:
    texts = catalogue("en")
    wrong = []
    for use in uses():
        key = key_of(use, texts)
        if key is None or use.params is None:
            continue
        keys = [key] if use.groups == ("step",) else [key, f"{key.removesuffix('say')}do"]
        for each in keys:
            if each in texts:
                text = texts.text(each)
                missing = needed(" ".join(text.every_form())) - use.params
                if missing:
                    wrong.append(f"{use.where} {each}: {sorted(missing)}")
    assert wrong == []


def test_every_finding_says_what_to_do() -> None:
    texts = catalogue("en")
    codes = {use.code for use in uses() if use.groups == FINDINGS}
    silent = [
        code
        for code in sorted(codes)
        if not any(f"{group}.{code}.do" in texts for group in FINDINGS)
    ]
    assert silent == []


READERS = PACKAGE / "data" / "text" / "readers"


def test_every_language_has_every_text_that_people_read_with_the_same_places() -> None:
    files = (path.read_text(encoding="utf-8") for path in sorted(READERS.glob("en-*.toml")))
    english = merged(map(tomli.loads, files), "en")
    assert {"en", "de", "es", "fr", "pl"} == set(languages())
    for language in set(languages()) - {"en"}:
        other = catalogue(language)
        assert other.texts.keys() == english.keys()
        differing = [
            key for key, text in english.items() if text.places() != other.texts[key].places()
        ]
        assert differing == []


@pytest.mark.parametrize("language", languages())
def test_a_catalogue_read_group_by_group_holds_every_text_of_its_files(language: str) -> None:
    files = sorted((PACKAGE / "data" / "text").glob(f"*/{language}-*.toml"))
    whole = merged((tomli.loads(path.read_text(encoding="utf-8")) for path in files), language)
    assert len(whole) > 500
    assert dict(catalogue(language).texts) == whole
    assert len(catalogue(language).texts) == len(whole)


def test_a_sentence_of_the_terminal_is_not_to_be_had_in_another_language() -> None:
    with pytest.raises(CurecalError, match="text-missing"):
        catalogue("de").text("report.hold-failed")


def test_every_electrical_word_is_there_for_every_code() -> None:
    texts = catalogue("en")
    words = {
        name.removeprefix("word_")
        for text in texts.texts.values()
        for name in text.places()
        if name.startswith("word_")
    }
    assert {"earth", "protection", "breaker"} <= words
    for family in {*FAMILIES.values(), NEUTRAL_FAMILY}:
        assert [word for word in words if f"electrical.{family}.{word}" not in texts] == []


def test_a_key_that_is_not_there_is_an_error() -> None:
    with pytest.raises(CurecalError, match="text-missing"):
        catalogue("en").text("headline.nonsense")


def test_a_language_that_is_not_there_is_an_error() -> None:
    with pytest.raises(CurecalError, match="language-unknown"):
        catalogue("xx")


def test_a_key_in_two_files_is_an_error() -> None:
    assert merged([{"a": {"b": "x"}}, {"a": {"c": "y"}}], "en") == {
        "a.b": Text("x"),
        "a.c": Text("y"),
    }
    with pytest.raises(CurecalError, match="text-twice"):
        merged([{"a": {"b": "x"}}, {"a": {"b": "y"}}], "en")


def test_what_is_no_text_is_an_error() -> None:
    with pytest.raises(CurecalError, match="text-not-text"):
        merged([{"a": {"b": 3}}], "en")


@pytest.mark.parametrize(
    ("language", "count", "form"),
    [
        ("en", 1, "single"),
        ("en", 0, "general"),
        ("en", 2, "general"),
        ("en", None, "general"),
        ("fr", 0, "single"),
        ("fr", 1.5, "single"),
        ("fr", 2, "general"),
    ],
)
def test_forms_by_count(language: str, count: float | None, form: str) -> None:
    assert Text("general", {"one": "single"}).form(count, language) == form


def test_a_single_form_serves_every_count() -> None:
    assert Text("all").form(1, "en") == "all"


def test_everything_the_rules_name_has_its_words() -> None:

    rules, texts = load_rules(), catalogue("en")
    wanted = {f"caution.{code}" for code in rules.cautions}
    for hold in rules.holds:
        wanted |= {f"name.hold.{hold.code}", f"name.gates.{hold.gates}", f"name.role.{hold.by}"}
    assert [key for key in sorted(wanted) if key not in texts] == []
    assert all(rule.title and rule.source.text for rule in rules.by_id.values())


def test_everything_a_plan_may_name_has_its_words() -> None:

    texts = catalogue("en")
    wanted = {f"name.state.{each.value}" for each in State}
    wanted |= {f"message.why-{each.value.replace(' ', '-')}.say" for each in State} - {
        "message.why-stopped.say"  # a stop brings a reason of its own
    }
    wanted |= {f"name.holdstate.{each.value}" for each in HoldState}
    wanted |= {f"name.severity.{each.value}" for each in Severity}
    wanted |= {f"name.milestone.{each.value}" for each in Milestone}
    wanted |= {f"name.short.{each.value}" for each in Milestone}
    wanted |= {f"name.basis.{each.value}" for each in Basis}
    wanted |= {f"name.visit.{kind}" for kind in VisitKind}
    wanted |= {f"name.purpose.{each}" for each in ("first heat", "bare screed", "after repair")}
    for each in ("first-heat", "bare-screed", "after-repair"):
        wanted |= {f"report.ends-{each}", f"report.ramp-provisional-{each}"}
    assert [key for key in sorted(wanted) if key not in texts] == []
