"""Every published check holds, and none is kept that nothing computes."""

from __future__ import annotations

import pytest

from curecal.errors import OutsideValidity
from curecal.published.check_values import MARKS, PublishedCheck, published_checks
from curecal.published.equations import EQUATIONS, compute

CHECKS = published_checks()


@pytest.mark.parametrize("check", CHECKS, ids=[check.id for check in CHECKS])
def test_a_published_value_is_what_is_computed(check: PublishedCheck) -> None:
    computed = compute(check.equation, check.inputs)
    assert check.holds_for(computed), (check.quantity, check.expected, computed, check.source)


def test_every_check_has_an_equation_and_every_equation_a_check() -> None:
    assert {check.equation for check in CHECKS} == set(EQUATIONS)


def test_every_group_of_the_science_is_covered() -> None:
    groups = {check.group for check in CHECKS}
    assert groups == {
        "cure",
        "humid air",
        "drying",
        "first heat and floor output",
        "electrical",
    }
    assert {check.mark for check in CHECKS} == set(MARKS)


def test_a_value_from_memory_says_so_in_its_source() -> None:
    for check in CHECKS:
        if check.mark == "from memory":
            assert "from memory" in check.source or "common practice" in check.source


def test_no_number_agrees_with_nothing() -> None:
    assert not CHECKS[0].holds_for(float("nan"))


@pytest.mark.parametrize(
    ("equation", "inputs", "code"),
    [
        ("no such equation", {}, "check-equation-unknown"),
        ("saturation pressure", {}, "check-input-missing"),
        ("saturation pressure", {"temperature_c": True}, "check-input-missing"),
        ("saturation pressure", {"temperature_c": "5"}, "check-input-missing"),
        ("maturity in degree days", {"time_d": 28, "temperature_c": [15]}, "check-input-missing"),
        ("rate", {"temperature_c": 20.0, "law": "Nobody 1900"}, "check-input-unknown"),
        ("functional heating end", {"binder": "lime"}, "check-input-unknown"),
        (
            "age by straight lines",
            {"time_h": [0, 1], "temperature_c": [1.0], "law": "EN 1992-1-1:2004"},
            "readings-do-not-pair",
        ),
        (
            "adjusted age",
            {"time_d": [0, 1], "temperature_c": [1.0], "law": "EN 1992-1-1:2004"},
            "readings-do-not-pair",
        ),
        (
            "maturity in degree days",
            {"time_d": [0, 1], "temperature_c": [1.0], "datum_c": -10},
            "readings-do-not-pair",
        ),
    ],
)
def test_a_check_that_cannot_be_computed_is_refused(
    equation: str, inputs: dict[str, object], code: str
) -> None:
    with pytest.raises(OutsideValidity) as refusal:
        compute(equation, inputs)
    assert refusal.value.code == code
