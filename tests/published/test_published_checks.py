"""Every published check holds, and none is kept that nothing computes."""

from __future__ import annotations

import pytest

from curecal.errors import OutsideValidity, SourceError
from curecal.published.check_values import MARKS, PublishedCheck, published_checks
from curecal.published.equations import CROSS_CHECKS, PLAN_EQUATIONS, compute

CHECKS = published_checks()


@pytest.mark.parametrize("check", CHECKS, ids=[check.id for check in CHECKS])
def test_a_published_value_is_what_is_computed(check: PublishedCheck) -> None:
    computed = compute(check.equation, check.inputs)
    assert check.holds_for(computed), (check.quantity, check.expected, computed, check.source)


def test_every_check_has_an_equation_and_every_equation_a_check() -> None:
    assert {check.equation for check in CHECKS} == {*PLAN_EQUATIONS, *CROSS_CHECKS}
    assert not set(PLAN_EQUATIONS) & set(CROSS_CHECKS)


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
    ("equation", "inputs"),
    [
        ("no such equation", {}),
        ("rate", {}),
        ("rate", {"temperature_c": "5"}),
        ("rate", {"temperature_c": 5, "humidity": 0.5}),
        ("maturity in degree days", {"time_d": 28, "temperature_c": [15], "datum_c": -10}),
        ("maturity in degree days", {"time_d": [0, 1], "temperature_c": [1], "datum_c": -10}),
        ("age by straight lines", {"time_h": [0, 1], "temperature_c": [1.0]}),
        ("functional heating end", {"material": "lime"}),
        ("functional heating start", {"material": "thinset"}),
    ],
)
def test_a_check_that_cannot_be_computed_is_refused(
    equation: str, inputs: dict[str, object]
) -> None:
    with pytest.raises(SourceError) as refusal:
        compute(equation, inputs)
    assert refusal.value.code == "published-data-damaged"


def test_a_value_outside_an_equations_range_is_refused() -> None:
    with pytest.raises(OutsideValidity):
        compute("rate", {"temperature_c": float("nan")})
