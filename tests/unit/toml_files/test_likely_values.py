"""Values no site has are refused or asked about, with what was likely meant.

The spans are our own choice; each row says what was slipped.
"""

from __future__ import annotations

from datetime import datetime

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


SITE = """\
[job]
id = "j"
name = "n"
timezone = "{zone}"
{code}
[work]
holidays = "{holidays}"
[expected]
air = "20 °C"
below = "heated room"
[[zone]]
name = "z"
[zone.heating]
{heating}
[[zone.layer]]
name = "{name}"
material = "{material}"
{layer}
"""


def plain_job(**more: str) -> ReadJob:
    """Return a plain job with some of its lines changed."""
    plain = {
        "zone": "America/Halifax",
        "code": 'code = "CEC"',
        "holidays": "CA-NS",
        "heating": 'voltage = "240 V"\npower = "640 W"',
        "name": "grout",
        "material": "cement grout",
        "layer": "",
    }
    return parse_job(SITE.format(**{**plain, **more}).encode())


def asked(**more: str) -> list[str]:
    """Return what is asked about a plain job with some of its lines changed."""
    return [finding.code for finding in plain_job(**more).findings]


@pytest.mark.parametrize(
    ("zone", "code", "holidays", "codes"),
    [
        ("America/Halifax", 'code = "CEC"', "CA-NS", []),
        ("America/Denver", 'code = "NEC"', "US", []),
        ("Europe/London", 'code = "BS 7671"', "GB-ENG", []),
        ("Europe/Vienna", "", "AT", []),
        ("America/Mexico_City", 'code = "NEC"', "MX", []),
        ("America/Denver", "", "US", ["code-not-of-place"]),
        ("America/Halifax", 'code = "NEC"', "CA", ["code-not-of-place"]),
        ("Europe/Vienna", 'code = "CEC"', "AT", ["code-not-of-place"]),
        ("Europe/Vienna", "", "AU", ["holidays-not-of-place"]),
        ("UTC", "", "AT", ["holidays-not-of-place"]),
    ],
)
def test_clock_code_and_holidays_tell_of_one_country(
    zone: str, code: str, holidays: str, codes: list[str]
) -> None:
    """Countries of time zones: the table zone.tab of the tz database."""
    found = asked(zone=zone, code=code, holidays=holidays)
    assert sorted(set(found)) == codes


def test_a_floor_without_a_cable_is_not_asked_for_its_code() -> None:
    assert asked(code="", heating='kind = "water"') == []


@pytest.mark.parametrize(
    ("name", "material", "is_asked"),
    [
        ("dry grout", "cement grout", False),
        ("joint of the tile", "epoxy grout", False),
        ("mortar under the sheet", "thinset", False),
        ("grout sealer", "sealer", False),
        ("whatever lies here", "sealer", False),
        ("joints", "sealer", True),
        ("leveler", "uncoupling sheet", True),
        ("grout sealer", "cement grout", True),
        ("Sealer, second coat", "cement grout", True),
    ],
)
def test_a_layer_is_made_of_what_it_is_called(name: str, material: str, *, is_asked: bool) -> None:
    assert ("name-not-material" in asked(name=name, material=material)) is is_asked


def test_what_was_there_before_may_have_any_name() -> None:
    assert asked(name="old joints", material="mortar bed", layer="existing = true") == []


@pytest.mark.parametrize(
    ("finish", "counts"),
    [
        ("2026-11-03", "2026-11-04T04:00:00Z"),
        # A program that writes a day as midnight means the day: it counts from its end.
        ("2026-11-03T00:00:00", "2026-11-04T04:00:00Z"),
        ("2026-11-03T00:00:00-04:00", "2026-11-03T04:00:00Z"),
        ("2026-11-03T00:01:00", "2026-11-03T04:01:00Z"),
    ],
)
def test_a_finish_at_midnight_is_a_day_without_an_hour(finish: str, counts: str) -> None:
    read = plain_job(heating="", layer=f"done = {finish}")
    assert read.job is not None
    assert read.job.zones[0].layers[0].done_at == datetime.fromisoformat(counts)


@pytest.mark.parametrize(
    ("line", "is_asked"),
    [
        ("done = 2026-11-03T15:00:00", False),
        ("done = 2026-11-03T15:00:00-04:00", False),
        ("done = 2026-11-03T15:00:00Z", True),
        ("planned_finish = 2026-11-03T15:00:00+01:00", True),
    ],
)
def test_a_time_by_another_clock_is_asked_about(line: str, *, is_asked: bool) -> None:
    assert ("offset-not-site" in asked(layer=line)) is is_asked


def test_the_log_may_be_in_utc_and_not_by_a_third_clock() -> None:
    entry = '[[log]]\nkind = "air"\nair = "20 °C"\nat = 2026-11-03T15:00:00'
    assert "offset-not-site" not in asked(layer=f"{entry}Z\n")
    assert "offset-not-site" in asked(layer=f"{entry}+08:00\n")


@pytest.mark.parametrize(
    ("kind", "more", "wait", "codes"),
    [
        ("thinset", "", 'heat = "28 d", grout = "24 h"', []),
        ("thinset", "", 'heat = "28 d", grout = "2.4 h"', ["wait-short"]),
        ("thinset", "rapid = true\n", 'heat = "28 h", grout = "3 h"', []),
        ("thinset", "", 'heat = "28 h", grout = "24 h"', ["wait-short"]),
        ("thinset", "rapid = true\n", 'heat = "16 h"', ["wait-short"]),
        ("leveler", "", 'heat = "7 d", cover = "24 min"', ["wait-short"]),
        ("leveler", "", 'heat = "7 d", cover = { tile = "6 h", vinyl = "24 min" }', ["wait-short"]),
        ("leveler", "", 'heat = { "10 °C" = "7 d", "20 °C" = "5 d" }', []),
        ("membrane", "", 'cover = "2 h"', []),
    ],
)
def test_a_wait_shorter_than_any_is_asked_about(
    kind: str, more: str, wait: str, codes: list[str]
) -> None:
    sheet = f'[material.m]\nkind = "{kind}"\n{more}data_sheet = "p. 1"\nwait = {{ {wait} }}\n'
    found = asked(name="course", material="m", layer=sheet)
    assert [code for code in found if code.startswith("wait-")] == codes


# Our own figures: 12 m² of tile and 25 m² of joints an hour.
@pytest.mark.parametrize(
    ("material", "duration", "more", "asked"),
    [
        ("thinset", "50 min", "", False),
        ("thinset", "49 min", "", True),
        ("cement grout", "23 min", "", True),
        ("cement grout", "24 min", "", False),
        ("membrane", "15 min", "", False),
        # A tile reset, or a part of the floor, is no whole floor; what is done is done.
        ("thinset", "20 min", "repair = true", False),
        ("thinset", "20 min", 'part = "bay"', False),
        ("thinset", "20 min", "done = 2026-11-02T12:00:00", False),
    ],
)
def test_work_faster_than_anybody_works_is_asked_about(
    material: str, duration: str, more: str, *, asked: bool
) -> None:
    job = f"""
[job]
id = "j"
name = "j"
timezone = "UTC"
[expected]
air = "20 °C"
[[zone]]
floor_area = "10 m²"
[[zone.layer]]
name = "old"
material = "concrete"
existing = true
[[zone.layer]]
name = "old grout"
material = "cement grout"
existing = true
[[zone.layer]]
material = "{material}"
duration = "{duration}"
{more}
"""
    found = [finding.code for finding in parse_job(job.encode()).findings]
    assert ("work-very-fast" in found) is asked


@pytest.mark.parametrize(
    ("covering", "asked"), [("wood", True), ("vinyl", True), ("ceramic tile", False), ("", False)]
)
def test_a_wait_before_grout_where_nothing_is_grouted_is_asked_about(
    covering: str, *, asked: bool
) -> None:
    named = f'covering = "{covering}"' if covering else ""
    job = f"""
[job]
id = "j"
name = "j"
timezone = "UTC"
[expected]
air = "20 °C"
[material.glue]
kind = "adhesive"
hardens_by = "reaction"
data_sheet = "s, p. 1"
wait = {{ walk = "24 h", grout = "7 d" }}
[[zone]]
{named}
[[zone.layer]]
material = "glue"
"""
    found = [finding.code for finding in parse_job(job.encode()).findings]
    assert ("grout-wait-without-grout" in found) is asked
