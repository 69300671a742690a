"""Values that can be and hardly ever are: asked about, with what was likely meant.

The spans are our own choice; where print stands behind one it is named beside it.
"""

from __future__ import annotations

import pytest
from field_jobs import FLOOR, covering, entry, put, see

WAIT = 'wait = { grout = "24 h", heat = "7 d" }'


def said(text: str, code: str) -> list[str]:
    """Return what was likely meant, for each finding of a code."""
    return [
        str(finding.params.get("meant", ""))
        for finding in see(text).findings
        if finding.code == code
    ]


def material(line: str) -> str:
    return put(FLOOR, ('[material."mortar"]\n', f'[material."mortar"]\n{line}\n'))


def waiting(more: str) -> str:
    return put(FLOOR, (WAIT, WAIT.replace(" }", f", {more} }}")))


def cable(line: str) -> str:
    return put(FLOOR, ('resistance = "52.9 Ω"\n', f'resistance = "52.9 Ω"\n{line}\n'))


UNUSUAL = [
    ("tolerance", cable('tolerance = "±30 %"'), ""),
    ("Fahrenheit for Celsius", material('minimum = "5 °F"'), "5 °C"),
    ("a minimum in the frost", material('minimum = "-5 °C"'), ""),
    ("a lost point", cable('breaker = "150 A"'), "1.5 A"),
    ("milliamperes", cable('breaker = "15 mA"'), "15 A"),
    (
        "millimeters for inches",
        put(FLOOR, covering("porcelain tile", 'size = "12 x 24 mm"')),
        "12 x 24 in",
    ),
    ("an hour for a day", material('drying = "1 mm/h"'), ""),
    ("a break at 40 cm", material('drying = "1 mm/day to 400 mm, then 0.5 mm/day"'), ""),
    ("a limit ten times as high", material('moisture = "18 CM-%"'), "1.8 CM-%"),
    ("a limit by probe", material('moisture = { probe = "95 % RH" }'), ""),
    ("a wet wood", material('moisture = { "wood meter" = "40 %" }'), ""),
]
USUAL = [
    # Printed tolerances of heating cables: ±10 %, -5/+10 %, ±20 %.
    cable('tolerance = "±20 %"'),
    cable('tolerance = "-5/+10 %"'),
    material('minimum = "2 °C"'),
    cable('breaker = "16 A"'),
    put(FLOOR, covering("glass tile", 'size = "3/4 x 3/4 in"')),
    # A screed trade page: 1 mm a day to 40 mm, then half.
    material('drying = "1 mm/day to 40 mm, then 0.5 mm/day"'),
    # German concrete-industry data pages: 1.8 CM-% heated, 2.0 unheated.
    material('moisture = "2 CM-%"'),
    material('moisture = { probe = "75 % RH", "wood meter" = "12 %" }'),
    material('moisture = { hood = "90 % RH" }'),
]
SHORT = [
    ("frost", waiting('frost = "72 min"'), "72 h"),
    # From 14 days on in print: a trade page quoting the North American handbook.
    ("mortar shut in", waiting('heat_sealed = "7 d"'), "70 d"),
    ("under cover", material('cured_under_cover = "7 h"'), "7 d"),
    ("water", waiting('wet = "7 h"'), "7 d"),
    ("load", waiting('load = "7 h"'), "7 d"),
    ("walk", waiting('walk = "24 min"'), "24 h"),
]
NOT_SHORT = [
    waiting('frost = "24 h"'),
    waiting('heat_sealed = "14 d"'),
    material('cured_under_cover = "7 d"'),
    waiting('wet = "7 d", load = "3 d", walk = "12 h"'),
]
REFUSED = [
    ("doubling", material('doubling = "100 °C"'), "quantity-unlikely"),
    ("open for a year", material('no_later = { grout = "400 d" }'), "quantity-unlikely"),
    ("open for a second", material('no_later = { grout = "1 s" }'), "quantity-unlikely"),
    (
        "a step",
        put(FLOOR, ("[zone.heat_up]", '[zone.heat_up]\nstep = "0.05 °C/day"')),
        "quantity-unlikely",
    ),
    (
        "a set-point",
        FLOOR + entry("heat_step", "2026-03-14T08:00:00", 'to = "2.9 °C"'),
        "temperature-not-set",
    ),
    ("a limit", put(FLOOR, ('limit = "29 °C"', 'limit = "29 °F"')), "temperature-not-set"),
]


@pytest.mark.parametrize(("slip", "text", "meant"), UNUSUAL, ids=[row[0] for row in UNUSUAL])
def test_an_unusual_value_is_asked_about(slip: str, text: str, meant: str) -> None:
    assert said(text, "value-unusual") == [meant], slip
    # It counts as it stands: it may be right.
    assert see(text).plan is not None


@pytest.mark.parametrize("text", USUAL)
def test_a_usual_value_is_not(text: str) -> None:
    assert said(text, "value-unusual") == []


@pytest.mark.parametrize(("slip", "text", "meant"), SHORT, ids=[row[0] for row in SHORT])
def test_a_wait_far_too_short_is_asked_about(slip: str, text: str, meant: str) -> None:
    assert said(text, "wait-short") == [meant], slip


@pytest.mark.parametrize("text", NOT_SHORT)
def test_a_usual_wait_is_none(text: str) -> None:
    assert said(text, "wait-short") == []


@pytest.mark.parametrize(("slip", "text", "code"), REFUSED, ids=[row[0] for row in REFUSED])
def test_what_no_site_has_is_refused(slip: str, text: str, code: str) -> None:
    assert (see(text).plan, len(said(text, code))) == (None, 1), slip


def test_a_limit_in_the_other_scale_is_offered_in_it() -> None:
    in_celsius = put(FLOOR, ('limit = "29 °C"', 'limit = "84 °C"'))
    in_fahrenheit = put(FLOOR, ('limit = "29 °C"', 'limit = "29 °F"'))
    assert said(in_celsius, "temperature-not-set") == ["84 °F"]
    assert said(in_fahrenheit, "temperature-not-set") == ["29 °C"]


@pytest.mark.parametrize(
    "text", ["None.", "nil", "no idea", "don't know", "lost", "to follow", "(none)", "keine"]
)
def test_what_names_no_sheet_is_no_source(text: str) -> None:
    assert said(put(FLOOR, ("mortar sheet, p. 2", text)), "source-names-none") == [""]


@pytest.mark.parametrize("text", ["bag of 2026-02, back", "p2", "maker's technical line, 3 March"])
def test_what_names_one_is(text: str) -> None:
    assert see(put(FLOOR, ("mortar sheet, p. 2", text))).plan is not None
