"""A table of slips people make: each is refused or named. And honest jobs that are left alone.

Dates, spans and codes follow our own rules of the date (R6, R26 to R28).
"""

from __future__ import annotations

import re
from datetime import UTC, datetime

import pytest

from curecal.job_files import load_rules
from curecal.job_files.days_off import day_off_for
from curecal.job_files.job_reader import parse_job
from curecal.planning.make_plan import make_plan

NOW = datetime(2027, 1, 20, 17, tzinfo=UTC)
JOB = """\
[job]
id = "alder"
name = "Alder Lane"
timezone = "America/Halifax"
units = "metric"
code = "CEC"
[expected]
air = "20 °C"
humidity = "55 %"
coldest = "17 °C"
below = "heated room"
[work]
days = "Mon-Fri"
hours = "08:00-17:00"
[people.crew_lead]
name = "Robin Example"
[people.electrician]
name = "Lee Example"
license = "E 1"
[[zone]]
name = "bath"
floor_area = "4 m²"
[zone.heating]
voltage = "240 V"
power = "600 W"
resistance = "96 Ω"
[[zone.layer]]
name = "leveler"
material = "cement leveler"
thickness = "8 mm"
done = 2027-01-04T15:00:00
[[zone.layer]]
name = "bed"
material = "bag"
thickness = "6 mm"
done = 2027-01-08T15:00:00
[[zone.layer]]
name = "grout"
material = "cement grout"
done = 2027-01-11T15:00:00
[material."bag"]
kind = "thinset"
data_sheet = "rev. 2, p. 1"
minimum = "5 °C"
rated = { temperature = "21 °C", humidity = "50 %" }
wait = { grout = "48 h", cover = "24 h", heat = "28 d" }
[[log]]
at = 2027-01-08T15:30:00
kind = "surface"
zone = "bath"
surface = "19 °C"
by = "Robin Example"
[[log]]
at = 2027-01-12T08:00:00
kind = "air"
zone = "bath"
air = "20 °C"
humidity = "55 %"
by = "Robin Example"
"""
SECOND = '[[zone]]\nname = "hall"\n[[zone.layer]]\nmaterial = "thinset"\n'
GROUTED = "2027-01-11T15:00:00"
BEDDED = "2027-01-08T15:00:00"
LEVELED = "2027-01-04T15:00:00"


def codes(text: str) -> set[str]:
    """Return the codes of all that is said of a job, read and planned as of 20 January 2027."""
    read = parse_job(text.encode(), clock=NOW)
    said = {finding.code for finding in read.findings}
    if read.job is None:
        return said
    plan = make_plan(read.job, read.log, NOW, rules=load_rules(), day_off=day_off_for(read.job))
    return said | {finding.code for finding in plan.findings}


def entry(kind: str, *lines: str, at: str = "2027-01-13T09:00:00") -> str:
    return "\n".join([f'[[log]]\nat = {at}\nkind = "{kind}"', *lines, ""])


def cable_test(*lines: str) -> str:
    return entry("resistance", 'zone = "bath"', 'stage = "delivery"', 'by = "Lee Example"', *lines)


# (what slipped, what stands in the job, what the slip made of it, the code that names it)
CHANGED = [
    ("last year in January", GROUTED, "2026-01-11T15:00:00", "done-before-below"),
    ("next year", GROUTED, "2028-01-11T15:00:00", "done-in-future"),
    ("a year off below", LEVELED, "2026-01-04T15:00:00", "finish-far-before"),
    ("next month", GROUTED, "2027-02-11T15:00:00", "done-in-future"),
    ("a month early", GROUTED, "2026-12-11T15:00:00", "done-before-below"),
    ("a century", GROUTED, "2127-01-11T15:00:00", "instant-implausible"),
    ("3:30 for 15:30", GROUTED, "2027-01-11T03:30:00", "finish-by-night"),
    ("23:00 for 13:00", BEDDED, "2027-01-08T23:00:00", "finish-by-night"),
    ("slashes", GROUTED, '"01/11/2027"', "instant-unreadable"),
    ("points", GROUTED, '"11.01.2027"', "instant-unreadable"),
    ("a thirteenth month", GROUTED, '"2027-13-11"', "instant-unreadable"),
    ("hours for days, far", 'heat = "28 d"', 'heat = "672 d"', "quantity-unlikely"),
    ("hours for days", 'heat = "28 d"', 'heat = "168 d"', "wait-long"),
    ("days for hours", 'grout = "48 h"', 'grout = "48 d"', "heat-before-own-wait"),
    ("days as hours", 'heat = "28 d"', 'heat = "28 h"', "heat-before-own-wait"),
    ("seconds", 'heat = "28 d"', 'heat = "28 s"', "quantity-unlikely"),
    ("no unit of time", 'heat = "28 d"', 'heat = "28"', "quantity-no-unit"),
    ("a number alone", 'heat = "28 d"', "heat = 28", "quantity-no-unit"),
    ("range turned", 'grout = "48 h"', 'grout = "48-24 h"', "quantity-range-reversed"),
    ("Fahrenheit as Celsius", 'air = "20 °C"', 'air = "68 °C"', "temperature-no-room-has"),
    ("Celsius as Fahrenheit", 'air = "20 °C"', 'air = "20 °F"', "coldest-above-expected"),
    ("no scale", 'air = "20 °C"', 'air = "20"', "quantity-no-unit"),
    ("comma", 'air = "20 °C"', 'air = "19,500 °C"', "quantity-thousands"),
    ("log in the other scale", 'surface = "19 °C"', 'surface = "66 °C"', "temperature-no-room-has"),
    ("a fraction", 'humidity = "55 %"\nc', 'humidity = "0.55 %"\nc', "quantity-unlikely"),
    ("over saturation", 'humidity = "55 %"\nc', 'humidity = "155 %"\nc', "quantity-out-of-range"),
    ("cm for mm", 'thickness = "6 mm"', 'thickness = "6 cm"', "layer-very-thick"),
    ("m for mm", 'thickness = "6 mm"', 'thickness = "6 m"', "quantity-unlikely"),
    ("decimal place", 'thickness = "6 mm"', 'thickness = "0.6 mm"', "layer-too-thin"),
    ("inches for millimeters", 'thickness = "8 mm"', 'thickness = "8 in"', "layer-very-thick"),
    ("ft² as m²", 'floor_area = "4 m²"', 'floor_area = "43 m²"', "power-not-of-area"),
    ("mm² as m²", 'floor_area = "4 m²"', 'floor_area = "4000 m²"', "quantity-unlikely"),
    ("label of another cable", 'resistance = "96 Ω"', 'resistance = "48 Ω"', "label-contradicts"),
    ("kilo-ohms", 'resistance = "96 Ω"', 'resistance = "96 kΩ"', "label-contradicts"),
    ("Monday/Friday", '"Mon-Fri"', '"Mon/Fri"', "weekdays-unreadable"),
    ("hours turned", '"08:00-17:00"', '"17:00-08:00"', "hours-unreadable"),
    ("an abbreviated clock", "America/Halifax", "AST", "timezone-no-place"),
    ("a fixed offset", "America/Halifax", "Etc/GMT+4", "timezone-no-place"),
    ("a misspelt city", "America/Halifax", "America/Halifacks", "timezone-unknown"),
    ("coldest over expected", 'coldest = "17 °C"', 'coldest = "27 °C"', "coldest-above-expected"),
    ("an unknown material", 'material = "bag"', 'material = "beg"', "material-unknown"),
    ("a misspelt key", "thickness", "thicknes", "key-unknown"),
    ("a sheet that is none", "rev. 2, p. 1", "", "text-empty"),
]
# (what slipped, what is added to the job, the code that names it)
ADDED = [
    (
        "a layer by another name",
        entry("done", 'layer = "tiles"', 'zone = "bath"'),
        "layer-not-there",
    ),
    (
        "a wrong person",
        entry("release", 'by = "Max Stranger"', 'zone = "bath"'),
        "signature-unknown",
    ),
    ("a wrong zone", entry("air", 'zone = "kitchen"', 'air = "20 °C"'), "zone-not-there"),
    (
        "no zone of two",
        SECOND + entry("inspection", 'result = "passed"'),
        "inspection-without-zone",
    ),
    ("an unknown kind", entry("temperture", 'air = "20 °C"'), "entry-kind-unknown"),
    ("an entry ahead", entry("air", 'air = "20 °C"', at="2027-03-13T09:00:00"), "entry-in-future"),
    ("a reading by a fraction", entry("air", 'humidity = "0.5 %"'), "quantity-unlikely"),
    ("a zone's name twice", SECOND.replace("hall", "bath"), "name-twice"),
    (
        "a cable nobody has",
        cable_test('cable = "mat 7"', 'conductor = "96 Ω"'),
        "cable-has-no-name",
    ),
    ("a reading of another cable", cable_test('conductor = "48 Ω"'), "conductor-out"),
    ("done far back", entry("done", 'layer = "grout"', at="2026-09-13T09:00:00"), "done-differs"),
    ("a layer not in the job", entry("done", 'layer = "sealer"'), "layer-not-there"),
    ("a release by the wrong person", entry("release", 'by = "Lee Example"'), "signature-role"),
    ("an empty reading", entry("air", 'zone = "bath"'), "reading-empty"),
]
QUIET = codes(JOB)


@pytest.mark.parametrize(("slip", "right", "wrong", "code"), CHANGED, ids=[r[0] for r in CHANGED])
def test_a_slip_of_the_pen_is_refused_or_named(
    slip: str, right: str, wrong: str, code: str
) -> None:
    assert right in JOB, slip
    assert code in codes(JOB.replace(right, wrong, 1)) - QUIET


@pytest.mark.parametrize(("slip", "added", "code"), ADDED, ids=[row[0] for row in ADDED])
def test_a_slip_in_what_is_added_is_refused_or_named(slip: str, added: str, code: str) -> None:
    assert code in codes(JOB + added) - QUIET, slip


NAGS = {
    "finish-by-night",
    "finish-far-before",
    "finish-told-late",
    "wait-long",
    "layer-very-thick",
    "layer-too-thin",
    "done-today",
    "entry-in-future",
    "power-not-of-area",
    "label-contradicts",
    "covered-early",
}
SLAB = '[[zone.layer]]\nname = "slab"\nmaterial = "concrete"\n'
FIRST = '[[zone.layer]]\nname = "leveler"'
HONEST = [
    ("as it stands", lambda text: text),
    ("an old slab", lambda text: text.replace(FIRST, f"{SLAB}existing = true\n{FIRST}", 1)),
    (
        "last year's slab, said to be sure",
        lambda text: text.replace(
            FIRST, f"{SLAB}done = 2025-10-06T15:00:00\nsure = true\n{FIRST}", 1
        ),
    ),
    (
        "a slab of last spring",
        lambda text: text.replace(FIRST, f"{SLAB}done = 2026-05-06T15:00:00\n{FIRST}", 1),
    ),
    ("a day without an hour", lambda text: text.replace(GROUTED, "2027-01-11")),
    ("an evening's work", lambda text: text.replace(GROUTED, "2027-01-11T21:30:00")),
    ("an early start", lambda text: text.replace(GROUTED, "2027-01-11T05:30:00")),
    (
        "a late shift",
        lambda text: text.replace("08:00-17:00", "14:00-23:30").replace(
            GROUTED, "2027-01-11T23:00:00"
        ),
    ),
    ("days in words", lambda text: text.replace("Mon-Fri", "Monday to Friday")),
    ("Saturdays too", lambda text: text.replace("Mon-Fri", "Mon-Fri, Sat")),
    ("a wait of two months", lambda text: text.replace('heat = "28 d"', 'heat = "60 d"')),
    ("inches and feet", lambda text: text.replace('"8 mm"', '"5/16 in"').replace("4 m²", "43 ft²")),
    (
        "a note a year later",
        lambda text: text + entry("note", 'text = "seen"', at="2027-01-19T09:00:00"),
    ),
    ("a clock of another city", lambda text: text.replace("America/Halifax", "America/Toronto")),
]


@pytest.mark.parametrize(("name", "honest"), HONEST, ids=[row[0] for row in HONEST])
def test_an_honest_job_is_neither_held_up_nor_nagged(name: str, honest: object) -> None:
    assert callable(honest)
    text = honest(JOB)
    assert codes(text) & NAGS == set(), name
    read = parse_job(text.encode(), clock=NOW)
    assert read.job is not None, read.findings
    plan = make_plan(read.job, read.log, NOW, rules=load_rules(), day_off=day_off_for(read.job))
    assert plan.zones[0].energize.window is not None


def test_the_table_is_as_long_as_it_is_said_to_be() -> None:
    assert len(CHANGED) + len(ADDED) >= 40
    assert len(HONEST) >= 12
    # A code in the table is the program's own, spelled as it is there.
    assert all(re.fullmatch(r"[a-z-]+", row[-1]) for row in [*CHANGED, *ADDED])
