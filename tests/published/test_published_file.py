"""The data file of published checks: one that lacks a source, or anything else, does not load."""

from __future__ import annotations

from pathlib import Path

import pytest

from curecal.errors import SourceError
from curecal.published import check_values as published
from curecal.published.check_values import parse_checks, published_checks

GOOD = """
[[check]]
id = "one"
group = "cure"
quantity = "a rate"
equation = "rate"
inputs = { temperature_c = 20 }
expected = 2.0
unit = "1"
tolerance = { relative = 0.01 }
why_tolerance = "two digits printed"
source = "an author, 1977"
mark = "seen"
"""


def parse(text: str) -> object:
    return parse_checks(text.encode())


def test_a_good_file_loads() -> None:
    (check,) = parse_checks(("\ufeff" + GOOD).encode())
    assert (check.id, check.expected, check.tolerance) == ("one", 2.0, 0.02)
    assert check.inputs == {"temperature_c": 20}
    assert check.holds_for(2.019)
    assert not check.holds_for(2.021)


def test_an_absolute_tolerance_is_taken_as_it_is() -> None:
    (check,) = parse_checks(GOOD.replace("relative", "absolute").encode())
    assert check.tolerance == 0.01


@pytest.mark.parametrize(
    ("old", "new", "what"),
    [
        ('source = "an author, 1977"\n', "", "keys"),
        ('source = "an author, 1977"', 'source = " "', "texts"),
        ('source = "an author, 1977"', "source = 1977", "texts"),
        ('mark = "seen"', 'mark = "guessed"', "mark"),
        ('mark = "seen"', 'mark = "seen"\nnote = "x"', "keys"),
        ("{ temperature_c = 20 }", "20", "inputs"),
        ("expected = 2.0", "expected = nan", "number"),
        ("expected = 2.0", "expected = true", "number"),
        ("expected = 2.0", 'expected = "2"', "number"),
        ("{ relative = 0.01 }", "0.01", "tolerance"),
        ("{ relative = 0.01 }", "{ about = 0.01 }", "tolerance"),
        ("{ relative = 0.01 }", "{ relative = 0.01, absolute = 1 }", "tolerance"),
        ("{ relative = 0.01 }", "{ absolute = 0.01, relative = 1 }", "tolerance"),
        ("{ relative = 0.01 }", "{ relative = 0.0 }", "tolerance"),
        ("{ relative = 0.01 }", "{ absolute = inf }", "number"),
        ("[[check]]", "[check]", "no list of checks"),
        ("[[check]]", "title = 1\n[[check]]", "no list of checks"),
        ('id = "one"', "id = one", "not TOML in UTF-8"),
    ],
)
def test_a_file_that_lacks_something_is_refused(old: str, new: str, what: str) -> None:
    assert old in GOOD
    with pytest.raises(SourceError) as refusal:
        parse(GOOD.replace(old, new))
    assert refusal.value.params["what"] == what


def test_bad_bytes_are_refused() -> None:
    with pytest.raises(SourceError):
        parse_checks(b"\xff\xfe[[check]]")


def test_a_row_that_is_no_table_is_refused() -> None:
    with pytest.raises(SourceError):
        parse("check = [1]")


def test_an_id_twice_is_refused() -> None:
    with pytest.raises(SourceError) as refusal:
        parse(GOOD + GOOD)
    assert refusal.value.params["what"] == "an id stands twice"


def test_a_package_without_its_data_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(published, "DATA", tmp_path)
    with pytest.raises(SourceError) as refusal:
        published_checks()
    assert refusal.value.params["what"] == "unreadable"
