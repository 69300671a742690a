"""Values no site has are refused or asked about, with what was likely meant.

The spans are our own choice; each row says what was slipped.
"""

from __future__ import annotations

import pytest

from curecal.job_files.job_reader import ReadJob, parse_job
from curecal.trade.findings import Finding, Severity

JOB = """
[job]
id = "j"
name = "Alder Lane"
timezone = "America/Halifax"
[expected]
air = "20 °C"
humidity = "{humidity}"
[[zone]]
name = "hall"
floor_area = "{area}"
[zone.heating]
kind = "electric"
wait = "{makers}"
data_sheet = "guide, p. 3"
[[zone.layer]]
material = "{material}"
thickness = "{thickness}"
[material."bag"]
kind = "thinset"
data_sheet = "rev. 2, p. 1"
wait = {{ heat = "{heat}" }}
"""
PLAIN = {
    "humidity": "55 %",
    "area": "5 m²",
    "makers": "28 d",
    "material": "bag",
    "thickness": "6 mm",
    "heat": "28 d",
}
CODES = {
    "quantity-unlikely",
    "quantity-zero",
    "wait-long",
    "layer-too-thin",
    "layer-very-thick",
}


def read(**changed: str) -> ReadJob:
    return parse_job(JOB.format(**(PLAIN | changed)).encode())


def odd(found: ReadJob) -> list[Finding]:
    return [finding for finding in found.findings if finding.code in CODES]


@pytest.mark.parametrize(
    ("changed", "code", "meant"),
    [
        # hours for days, days for hours, weeks for days
        ({"heat": "672 d"}, "quantity-unlikely", "672 h"),
        ({"heat": "168 d"}, "wait-long", "168 h"),
        ({"heat": "28 weeks"}, "wait-long", "28 days"),
        ({"heat": "28 s"}, "quantity-unlikely", "28 min"),
        ({"makers": "200 d"}, "wait-long", "200 h"),
        # millimeters and centimeters, inches and millimeters, a decimal point
        ({"material": "sand-cement screed", "thickness": "4 mm"}, "layer-too-thin", "4 cm"),
        ({"material": "sand-cement screed", "thickness": "65 cm"}, "quantity-unlikely", "65 mm"),
        ({"thickness": "6 cm"}, "layer-very-thick", "6 mm"),
        ({"thickness": "9 in"}, "layer-very-thick", "9 mm"),
        ({"thickness": "0.6 mm"}, "layer-too-thin", "0.6 cm"),
        ({"material": "cement leveler", "thickness": "80 mm"}, "layer-very-thick", "8 mm"),
        # square feet and square meters
        ({"area": "540 m²"}, "quantity-unlikely", "540 ft²"),
        ({"area": "0.05 m²"}, "quantity-unlikely", "0.5 m²"),
        # a fraction for a percentage
        ({"humidity": "0.55 %"}, "quantity-unlikely", "55 %"),
        ({"area": "0 m²"}, "quantity-zero", ""),
    ],
)
def test_what_no_site_has_is_named_with_what_was_meant(
    changed: dict[str, str], code: str, meant: str
) -> None:
    (finding,) = odd(read(**changed))
    assert finding.code == code
    assert finding.params.get("meant", "") == meant
    refused = code in {"quantity-unlikely", "quantity-zero", "layer-too-thin"}
    assert finding.severity is (Severity.ERROR if refused else Severity.WARNING)


@pytest.mark.parametrize(
    "changed",
    [
        {},
        {"heat": "120 d"},
        {"heat": "1 min", "makers": "60 d"},
        {"thickness": "25 mm"},
        {"thickness": "1/4 to 3/8 in"},
        {"material": "sand-cement screed", "thickness": "65 mm"},
        {"material": "concrete", "thickness": "6 in"},
        {"area": "500 m²"},
        {"area": "54 ft²"},
        {"humidity": "5 %"},
    ],
)
def test_what_sites_have_is_not_asked_about(changed: dict[str, str]) -> None:
    assert odd(read(**changed)) == []


def test_a_table_of_waits_is_asked_about_by_row() -> None:
    text = JOB.format(**PLAIN).replace('"28 d" }', '{ "10 °C" = "300 d", "20 °C" = "28 d" } }')
    assert [finding.params["meant"] for finding in odd(parse_job(text.encode()))] == ["300 h"]


def test_an_old_slab_may_be_of_any_thickness() -> None:
    slab = 'material = "concrete"\nexisting = true\nthickness = "5 mm"'
    text = JOB.format(**PLAIN).replace('material = "bag"\nthickness = "6 mm"', slab)
    assert odd(parse_job(text.encode())) == []


def test_a_log_entry_is_held_to_the_same_spans() -> None:
    entry = '[[log]]\nat = 2026-10-01T12:00:00\nkind = "air"\nair = "20 °C"\nhumidity = "0.5 %"\n'
    (finding,) = odd(parse_job((JOB.format(**PLAIN) + entry).encode()))
    assert (finding.code, finding.path) == ("quantity-unlikely", "log.0.humidity")
