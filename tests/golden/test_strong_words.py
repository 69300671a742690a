"""What README and the manual promise without an exception is held by a test that is named.

`strong_words.toml` has each such sentence and its tests.
"""

from __future__ import annotations

import ast
import re
from collections import Counter
from collections.abc import Iterator
from functools import cache

import pytest
import tomli
from doc_outputs import ROOT, documents

STRONG = re.compile(
    r"\b(?:never|always|nothing|nobody|no one|none|ever|refuse[sd]?|cannot|exactly|whatever"
    r"|anybody|at most once|only (?:from|over|inside|its|this machine|bad news)"
    r"|(?:owner|server) only"
    r"|not even|by no other|at no time|no matter|without exception|once and only once"
    r"|(?:in|at|under) (?:every|any|no) (?:case|time|circumstances?))\b",
    re.IGNORECASE,
)
FENCE = re.compile(r"^```\w+\n.*?^```$", re.MULTILINE | re.DOTALL)
GENERATED = re.compile(r"<!-- generated: .*?<!-- end", re.DOTALL)
# A heading, a row of a table, or a point of a list begins something new.
BEGINS = re.compile(r"#|\||[-*] |\d+\. |<!--")
SENTENCE_END = re.compile(r"(?<=[.!?:]) +(?=[A-Z`\"(*])|(?<=[.!?]\*\*) +")


def pieces(text: str) -> Iterator[str]:
    """Yield the paragraphs, points and rows of a document, each on one line."""
    whole: list[str] = []
    for line in [*GENERATED.sub("", FENCE.sub("", text)).splitlines(), ""]:
        plain = line.strip()
        if not plain or BEGINS.match(plain):
            yield " ".join(whole)
            whole = []
        if plain and not plain.startswith("#"):
            whole.append(re.sub(r"^(?:[-*]|\d+\.) ", "", plain))


def sentences(text: str) -> list[str]:
    """Return the sentences of a document."""
    found = (one.strip() for piece in pieces(text) for one in SENTENCE_END.split(piece))
    return [one for one in found if one]


def promises() -> Counter[str]:
    """Return every sentence with a strong word, and how often it stands there."""
    texts = [path.read_text(encoding="utf-8") for path in documents()]
    return Counter(one for text in texts for one in sentences(text) if STRONG.search(one))


def held() -> list[tuple[str, list[str]]]:
    """Return each promise that is listed, and its tests."""
    text = (ROOT / "tests" / "golden" / "strong_words.toml").read_text(encoding="utf-8")
    return [(row["says"], row["tests"]) for row in tomli.loads(text)["held"]]


@cache
def names_in(place: str) -> frozenset[str]:
    """Return the names of the tests of a file."""
    tree = ast.parse((ROOT / "tests" / place).read_text(encoding="utf-8"))
    return frozenset(
        node.name
        for node in tree.body
        if isinstance(node, ast.FunctionDef) and node.name.startswith("test_")
    )


def test_every_promise_is_listed_and_every_listed_one_stands_there() -> None:
    assert Counter(says for says, _ in held()) == promises()
    assert all(tests for _, tests in held())


@pytest.mark.parametrize("name", sorted({name for _, tests in held() for name in tests}))
def test_the_test_that_holds_a_promise_is_there(name: str) -> None:
    place, _, test = name.partition("::")
    assert test in names_in(place)


def test_a_promise_is_found_wherever_it_stands() -> None:
    text = (
        "# Never a heading\n\nFirst one. It never\nfails, `x`. Then **nobody waits.** Calm.\n"
        "- a point: Nothing is lost\n| 1 | a row that cannot |\n\n```sh\nalways\n```\n"
    )
    assert [one for one in sentences(text) if STRONG.search(one)] == [
        "It never fails, `x`.",
        "Then **nobody waits.**",
        "Nothing is lost",
        "| 1 | a row that cannot |",
    ]
    assert not STRONG.search("An everyday nonesuch, however evermore.")
