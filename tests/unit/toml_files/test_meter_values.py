"""Readings off a meter that are more than one figure, or none."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from curecal.errors import QuantityRefused, ValueRefused
from curecal.toml_files.meter_values import (
    LEAST_LABEL_OHM,
    insulation_of_label,
    insulation_of_meter,
    moisture_of_meter,
)
from curecal.toml_files.schema import Key

KEY = Key("value", "moisture", '"1.6 CM-%"', "what was read")


@pytest.mark.parametrize(
    "text",
    ["1.2-1.6 CM-%", "1.2\u20131.6 CM-%", "1.2 CM-% to 1.6 CM-%", "< 1.8 CM-%", "1.8 ± 0.2 CM-%"],
)
def test_several_figures_of_moisture_are_asked_for_one(text: str) -> None:
    with pytest.raises(ValueRefused, match="moisture-several") as refused:
        moisture_of_meter(text, KEY)
    assert refused.value.params == {"text": text, "example": "1.6 CM-%"}


@pytest.mark.parametrize("value", ["5 cm", 3])
def test_what_is_no_moisture_is_refused_as_what_it_is(value: object) -> None:
    with pytest.raises(QuantityRefused):
        moisture_of_meter(value, KEY)


def test_one_figure_is_read() -> None:
    assert moisture_of_meter("1.6 CM-%", KEY).fraction == pytest.approx(0.016)


@pytest.mark.parametrize("text", ["20 MΩ at 500 V", "0.5 MΩ at 250 V", "1 GΩ at 1000 V"])
def test_a_label_says_how_much_insulation_there_must_be(text: str) -> None:
    assert insulation_of_label(text, KEY).ohm >= LEAST_LABEL_OHM


@pytest.mark.parametrize("text", ["1 kΩ at 500 V", "0.49 MΩ at 500 V", "20 MΩ at 5 V"])
def test_a_label_that_a_damaged_cable_would_pass_is_refused(text: str) -> None:
    # IEC 60364-6, table 6.1: 0.5 MΩ at 250 V is the least of any circuit (from memory).
    with pytest.raises(ValueRefused) as caught:
        insulation_of_label(text, KEY)
    assert caught.value.code == "insulation-label-low"


@pytest.mark.parametrize("read", [insulation_of_label, insulation_of_meter])
def test_a_test_voltage_that_no_tester_has_is_refused(
    read: Callable[[object, Key], object],
) -> None:
    with pytest.raises(ValueRefused) as caught:
        read("400 MΩ at 5000 V", KEY)
    assert caught.value.code == "quantity-out-of-range"
    assert read("400 MΩ at 1000 V", KEY)
