"""Numbers as people type them: point or comma, a unit or none, and what is asked about."""

from __future__ import annotations

import pytest

from curecal.errors import QuantityRefused
from curecal.trade.job import Units
from curecal.units import resistance_reading
from curecal.web.forms.form_types import UnitOf
from curecal.web.forms.reading.typed_numbers import TypedNumber, typed_number, unit_beside

IMPERIAL, METRIC = Units.IMPERIAL, Units.METRIC


@pytest.mark.parametrize(
    ("typed", "understood"),
    [
        ("58.9", "58.9 Ω"),
        ("58,9", "58.9 Ω"),
        (" 58.9 ", "58.9 Ω"),
        ("58.9 kΩ", "58.9 kΩ"),
        ("58,9kohm", "58.9 kohm"),
        ("\u00a058,90\u202f", "58.9 Ω"),
        ("1 000", "1000 Ω"),
        ("1'000", "1000 Ω"),
        ("1\u2019000", "1000 Ω"),
        ("1.000.000", "1000000 Ω"),
        ("1.000,5", "1000.5 Ω"),
        ("1,000.5", "1000.5 Ω"),
        ("0,125", "0.1250 Ω"),
        ("0.5", "0.5 Ω"),
        ("> 550", "> 550 Ω"),
        (">=2 GΩ", ">= 2 GΩ"),
        ("\u22123", "-3 Ω"),
    ],
)
def test_one_meaning_is_taken(typed: str, understood: str) -> None:
    assert typed_number(typed, UnitOf.OHM, METRIC) == TypedNumber(understood)


@pytest.mark.parametrize("typed", ["1.000", "1,000", "12.000", "999,500"])
def test_thousands_or_decimals_are_asked_about(typed: str) -> None:
    asked = typed_number(typed, UnitOf.OHM, METRIC)
    assert asked.text == ""
    thousand, decimal = asked.readings
    digits = typed.replace(".", "").replace(",", "")
    assert thousand == f"{digits} Ω"
    assert float(decimal.removesuffix(" Ω")) == int(digits) / 1000
    for chosen in asked.readings:
        assert typed_number(typed, UnitOf.OHM, METRIC, meant=chosen) == TypedNumber(chosen)


def test_a_choice_that_was_not_offered_chooses_nothing() -> None:
    asked = typed_number("1.000", UnitOf.OHM, METRIC, meant="58.9 Ω")
    assert asked.text == ""
    assert asked.readings == ("1000 Ω", "1.0 Ω")


@pytest.mark.parametrize(
    ("typed", "units", "readings"),
    [
        # No room under a floor has -8 °C, nor 64 °C: the other unit was on the display.
        ("18", IMPERIAL, ("18 °C", "18 °F")),
        ("64", METRIC, ("64 °F", "64 °C")),
        ("18,5", IMPERIAL, ("18.5 °C", "18.5 °F")),
    ],
)
def test_a_temperature_in_the_other_unit_is_asked_about(
    typed: str, units: Units, readings: tuple[str, ...]
) -> None:
    assert typed_number(typed, UnitOf.TEMPERATURE, units).readings == readings


@pytest.mark.parametrize(
    ("typed", "units", "understood"),
    [
        ("64", IMPERIAL, "64 °F"),
        ("18", METRIC, "18 °C"),
        # A unit that is typed wins.
        ("18 °F", IMPERIAL, "18 °F"),
        ("18 C", IMPERIAL, "18 C"),
        # Likely in neither: nothing is guessed.
        ("400", METRIC, "400 °C"),
    ],
)
def test_a_likely_temperature_has_the_unit_of_the_job(
    typed: str, units: Units, understood: str
) -> None:
    assert typed_number(typed, UnitOf.TEMPERATURE, units) == TypedNumber(understood)


@pytest.mark.parametrize(
    ("typed", "left"),
    [
        ("abc", "abc"),
        ("", ""),
        ("3/8 in", "3/8 in"),
        ("1e5", "1e5"),
        ("1.2.3", "1.2.3 Ω"),
        ("12 to 14", "12 to 14"),
        ("\u0661\u0662", "\u0661\u0662"),
        ("<script>", "<script>"),
    ],
)
def test_what_is_no_number_stays_as_it_is_and_is_refused(typed: str, left: str) -> None:
    assert typed_number(typed, UnitOf.OHM, METRIC) == TypedNumber(left)
    with pytest.raises(QuantityRefused):
        resistance_reading(left)


def test_a_long_text_is_cut() -> None:
    assert len(typed_number("9" * 10_000, UnitOf.OHM, METRIC).text) < 100


@pytest.mark.parametrize("unit", list(UnitOf))
def test_every_number_has_a_unit_beside_it(unit: UnitOf) -> None:
    assert unit_beside(unit, METRIC)
    assert unit_beside(unit, IMPERIAL)
