"""Every key a job, company or log file may hold: one table for reader, reference and advice.

`reads` names a reader of `curecal.toml_files.values`, or `table` (one table),
`tables` (a list of them),
`named` (tables by a name of one's own), `people` (one table or several), `raw` (several forms, read
where they belong).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from types import MappingProxyType

from curecal.records import Record, record
from curecal.trade.data_sheets import Hardening, Kind
from curecal.trade.job import (
    Below,
    Code,
    CoveringKind,
    HeatedBy,
    HeatingKind,
    Role,
    Room,
    SensorPlace,
    Units,
)

MOST_NAME = 120
MOST_TEXT = 4000
REACH = ("email", "text", "phone", "push")
COVERING_ALIASES: Mapping[str, str] = MappingProxyType(
    {"ceramic": "ceramic tile", "porcelain": "porcelain tile", "glass": "glass tile"}
)
_COVERINGS = (*(kind.value for kind in CoveringKind), *COVERING_ALIASES)
COVER_KEYS = (
    *(kind.value for kind in CoveringKind),
    *("tile", "wood", "vinyl", "poured", "any"),
    *(kind.value for kind in Kind),
)


@record
class Key(Record):
    """One key: what reads it, an example as it stands in a file, and what it means."""

    name: str
    reads: str
    example: str
    means: str
    required: bool = False
    choices: tuple[str, ...] = ()


def must(name: str, reads: str, example: str, means: str, choices: tuple[str, ...] = ()) -> Key:
    """Return a key that a table cannot do without."""
    return Key(name, reads, example, means, required=True, choices=choices)


def _quoted(text: str) -> str:
    return f'"{text}"'


def one_of(name: str, choices: tuple[str, ...], means: str, *, required: bool = False) -> Key:
    """Return a key whose value is one of a few words."""
    return Key(name, "choice", _quoted(choices[0]), means, required=required, choices=choices)


ROOT = (
    must("job", "table", "[job]", "what the job is"),
    must("expected", "table", "[expected]", "the climate to plan with until readings come in"),
    Key("work", "table", "[work]", "when work is done"),
    Key("people", "table", "[people.crew_lead]", "who is told"),
    Key("zone", "tables", "[[zone]]", "what one thermostat heats"),
    Key("material", "named", '[material."name"]', "a product by its data sheet"),
    Key("sensor", "named", '[sensor."name"]', "a floor sensor by table or coefficients"),
    Key("log", "tables", "[[log]]", "facts from the site"),
)
COMPANY = (
    Key("language", "language", '"en"', "language of its jobs, where a job names none"),
    Key("materials", "text", '"materials.toml"', "a file of materials beside this one"),
    Key("work", "table", "[work]", "when work is done"),
    Key("people", "table", "[people.crew_lead]", "who is told on every job"),
    Key("material", "named", '[material."name"]', "a product by its data sheet"),
    Key("sensor", "named", '[sensor."name"]', "a floor sensor by table or coefficients"),
    Key("reminders", "raw", "[reminders]", "changes of who is told what and when"),
)
MATERIALS_FILE = (
    Key("material", "named", '[material."name"]', "a product by its data sheet"),
    Key("sensor", "named", '[sensor."name"]', "a floor sensor by table or coefficients"),
)
LOG_FILE = (Key("log", "tables", "[[log]]", "facts from the site"),)
JOB = (
    Key("id", "id", '"alder-lane-hall-bath"', "stable identity; calendars need it"),
    must("name", "name", '"Alder Lane, hall bath"', "what people call the job"),
    must("timezone", "timezone", '"America/Halifax"', "time zone of the site, by its IANA name"),
    one_of("units", tuple(Units), "units results are shown in"),
    Key("language", "language", '"en"', "language of calendars, messages and papers"),
    one_of("code", tuple(Code), "electrical code whose words and checks apply"),
    Key("company", "text", '"../config/company.toml"', "company file, seen from this one"),
    Key("address", "text", '"Alder Lane 7"', "where the electrician has to go"),
)
EXPECTED = (
    must("air", "unheated", '"66 °F"', "air in the room"),
    Key("humidity", "humidity", '"55 %"', "relative humidity; if left out: 65 %"),
    Key(
        "coldest",
        "unheated",
        '"60 °F"',
        "the coldest air; if left out: 5 °C (9 °F) less",
    ),
    Key(
        "dampest",
        "humidity",
        '"70 %"',
        "the dampest air; if left out: 15 points more, 95 % at most",
    ),
    one_of("below", tuple(Below), "what lies under the floor"),
    one_of("heated_by", tuple(HeatedBy), "what keeps the room warm; never the floor itself"),
)
WORK = (
    Key("days", "weekdays", '"Mon-Fri"', "working days"),
    Key("hours", "hours", '"08:00-17:00"', 'working hours; a night shift like "22:00-06:00"'),
    Key("holidays", "holidays", '"CA-NS"', "public holidays: country, or country-subdivision"),
    Key("days_off", "dates", "[2026-12-24]", "further days without work"),
)
PEOPLE = (
    Key("crew_lead", "people", "[people.crew_lead]", "who leads the work and releases the floor"),
    Key("crew", "people", "[[people.crew]]", "who lays, pours and tests"),
    Key("electrician", "people", "[people.electrician]", "who tests and connects"),
    Key("inspector", "people", "[people.inspector]", "who inspects before concealment"),
    Key("tester", "people", "[people.tester]", "who tests moisture and looks at layers"),
    Key("owner", "people", "[people.owner]", "whose floor it is"),
    Key("office", "people", "[people.office]", "who enters what others did"),
)
ROLES = tuple(role.as_written for role in Role)
PERSON = (
    must("name", "name", '"Robin Example"', "the name"),
    Key("roles", "roles", '["crew lead", "tester"]', "further roles", choices=ROLES),
    Key("license", "name", '"E 1234"', "license number: no connection counts without it"),
    Key("until", "instant", "2026-12-24", "the last day in these roles; signed before stands"),
    Key("email", "email", '"robin@example.org"', "mail address"),
    Key("phone", "phone", '"+1 902 555 0100"', "phone number"),
    Key("language", "language", '"en"', "language this person reads"),
    Key(
        "reach_by",
        "reach",
        '["email", "text"]',
        "how to reach",
        choices=REACH,
    ),
)
ZONE = (
    Key("id", "id", '"hall"', "stable identity; if left out: from the name"),
    Key("name", "name", '"hall bath"', "what people call it"),
    one_of("room", tuple(Room), "what the room is used for: its floor limit follows"),
    Key("floor_area", "area", '"54 ft²"', "area of the floor"),
    one_of("energized_by", ("electrician", "owner"), "who switches on first"),
    Key("covering", "raw", '"ceramic tile"', "the finished surface, or a table of it"),
    Key("heating", "table", "[zone.heating]", "the heating"),
    Key("heat_up", "table", "[zone.heat_up]", "wishes for the first heat-up; limits cut them"),
    Key("layer", "tables", "[[zone.layer]]", "a pour, coat or course; bottom to top"),
)
_RATED = Key("rated", "table", '{ temperature = "20 °C" }', "conditions the wait is stated at")
_SHEET = Key("data_sheet", "source", '"installation guide, p. 14"', "where the numbers come from")
COVERING = (
    one_of("kind", _COVERINGS, "the finished surface", required=True),
    Key("size", "size", '"12 x 24 in"', "a tile's two edges"),
    one_of("laid", ("glued", "floating"), "how it lies; if left out: glued, and tile in mortar"),
    one_of("joints", ("grouted", "none"), "its joints; if left out: grouted"),
    Key("absorbent", "bool", "true", "tile or stone that takes up water, by its data sheet"),
    Key("limit", "floor", '"29 °C"', "its maker's own temperature limit"),
    Key("wait", "wait", '"7 d"', "its maker's own wait before heat"),
    Key(
        "moisture",
        "moisture_limits",
        '{ "wood meter" = "12 %" }',
        "its maker's own limit for the base, by method",
    ),
    _RATED,
    _SHEET,
)
CABLE = (
    Key("voltage", "voltage", '"240 V"', "voltage on the label"),
    Key("power", "power", '"640 W"', "power on the label"),
    Key("resistance", "resistance", '"90 Ω"', "resistance on the label"),
    Key("tolerance", "tolerance", '"±10 %"', "tolerance of the resistance"),
    Key("insulation", "insulation", '"20 MΩ at 500 V"', "least insulation, and its test voltage"),
    Key("sensor", "name", '"10 kΩ NTC"', "floor sensor, by its name"),
    Key("serial", "name", '"S 0042"', "serial number on the label"),
)
CABLE_KEYS = tuple(key.name for key in CABLE)
LAYING = (
    Key("heated_area", "area", '"45 ft²"', "area that the cable covers"),
    Key("spacing", "spacing", '"3 in"', "from one run of the cable to the next"),
    Key("clearance_walls", "clearance", '"4 in"', "from the cable to walls and fixtures"),
    Key("clearance_drains", "clearance", '"6 in"', "from the cable to drains and pipes"),
    Key("strapping", "strapping", '"2 ft"', "from one strap to the next"),
    one_of("sensor_place", tuple(SensorPlace), "where the floor sensor lies"),
)
LAYING_KEYS = tuple(key.name for key in LAYING)
NAMED_CABLE = (must("name", "name", '"mat by the door"', "its name on site"), *CABLE, *LAYING)
HEATING = (
    one_of("kind", tuple(HeatingKind), "what heats the floor"),
    Key("wait", "wait", '"28 d"', "the heating maker's own wait"),
    Key("wait_from", "name", '"grout"', "the layer that wait counts from"),
    _RATED,
    Key("floor_limit", "floor", '"29 °C"', "the heating maker's own limit"),
    _SHEET,
    Key("supply", "voltage", '"240 V"', "voltage of the circuit"),
    Key("breaker", "current", '"15 A"', "rating of the breaker"),
    Key("protection", "text", '"GFCI 5 mA"', "ground-fault protection"),
    Key(
        "protection_source",
        "source",
        '"installation guide, p. 9"',
        "CEC: the maker's page that allows 30 mA",
    ),
    Key("circuit", "name", '"panel A, circuit 12"', "circuit that feeds the thermostat"),
    Key("cable", "tables", "[[zone.heating.cable]]", "several cables, each with a name"),
    *CABLE,
    *LAYING,
)
HEAT_UP = (
    Key("target", "floor", '"82 °F"', "floor temperature wished for"),
    Key("step", "heat_step", '"5 °C/day"', "rise in a day"),
    Key("hold", "hold", '"3 d"', "days held at the target"),
    Key("flow", "flow", '["25 °C for 3 d"]', "flow temperatures; a floor heated by water only"),
)
LAYER = (
    Key("id", "id", '"leveler"', "stable identity; if left out: from the name"),
    Key("name", "name", '"leveler over cable"', "what people call it; if left out: the material"),
    must(
        "material", "name", '"cement leveler"', "a material of this file, the company, or a class"
    ),
    Key("thickness", "depth", '"1/4 to 3/8 in"', "the deepest point governs"),
    Key("done", "instant", "2026-11-30T14:30:00", "when its application was finished"),
    Key("sure", "bool", "true", "an odd date or hour of the finish is right"),
    Key("planned_start", "instant", "2026-11-30T08:00:00", "when it is meant to begin"),
    Key("planned_finish", "instant", "2026-11-30T14:30:00", "when it is meant to be finished"),
    Key("duration", "work", '"3 h"', "working time; a day is one day's working hours"),
    Key("part", "name", '"shower side"', "part of the zone; if left out: all of it"),
    Key("existing", "bool", "true", "was there before; no clock, not done, not planned"),
    Key("since", "instant", "2015-06-30", "existing: laid by then at the latest (2000 or later)"),
    Key("repair", "bool", "true", "a repair in a finished floor"),
    Key("heat_before_covering", "bool", "true", "a screed heated bare, before it is covered"),
    Key("over_cable", "bool", "true", "this layer covers the cable"),
)
MATERIAL = (
    one_of("kind", tuple(Kind), "what it is", required=True),
    one_of("hardens_by", tuple(Hardening), "how it cures; if left out: as usual for its kind"),
    Key("modified", "bool", "true", "a mortar with polymer; if left out: yes"),
    Key("rapid", "bool", "false", "rapid-setting; if left out: no"),
    must("data_sheet", "source", '"rev. 2026-02, p. 2"', "where the numbers come from"),
    Key(
        "rated", "table", '{ temperature = "70 °F", humidity = "50 %" }', "if left out: 23 °C, 50 %"
    ),
    Key("sure", "bool", "true", "the sheet does rate it under 15 °C, or under its minimum"),
    Key("minimum", "least", '"50 °F"', "the coldest it cures at"),
    Key("doubling", "step", '"10 °C"', "drop in temperature that doubles the wait"),
    Key("drying", "drying", '"1 mm/day to 40 mm, then 0.5 mm/day"', "drying by thickness"),
    Key(
        "moisture",
        "moisture_limits",
        '"0.5 CM-%"',
        'most moisture before it is covered; by method: { probe = "75 % RH" }',
    ),
    Key("cured_under_cover", "wait", '"7 d"', "time under cover before drying begins"),
    Key("wait", "table", '{ grout = "24-48 h", heat = "21 d" }', "waits, each its own"),
    Key("no_later", "table", '{ cover = "24 h" }', "what must follow by then"),
)
RATED = (
    Key("temperature", "rated", '"70 °F"', "of a range the upper end, of 70 °F ± 5 the 70"),
    Key("humidity", "rated_humidity", '"50 %"', "relative humidity"),
)
WAIT = (
    Key("walk", "raw", '"24 h"', "walking on it"),
    Key("grout", "raw", '"24-48 h"', "grouting; of a range the longer end"),
    Key("cover", "raw", '{ tile = "21 d", vinyl = "drying" }', "what comes on it"),
    Key("seal", "raw", '"72 h"', "sealing"),
    Key("wet", "raw", '"7 d"', "water on it"),
    Key("load", "raw", '"7 d"', "full load"),
    Key("heat", "raw", '{ "50 °F" = "28 d", "70 °F" = "21 d" }', "heat; also by temperature"),
    Key("heat_sealed", "raw", '"30 d"', "heat between two impervious faces"),
    Key("cure", "wait", '"28 d"', "final cure: shown, never the heat wait"),
    Key("frost", "wait", '"72 h"', "age after which frost does no more harm"),
)
NO_LATER = tuple(
    Key(name, "no_later", '"24 h"', "latest time for what must follow")
    for name in ("grout", "cover", "seal")
)
SENSOR = (
    Key("table", "raw", '{ "0 °C" = "32.65 kΩ", "25 °C" = "10 kΩ" }', "as printed"),
    Key("coefficients", "coefficients", "[1.1e-3, 2.3e-4, 8.8e-8]", "Steinhart-Hart A, B, C"),
    Key("data_sheet", "source", '"sensor leaflet, p. 1"', "where the numbers come from"),
)

TABLES: Mapping[str, tuple[Key, ...]] = MappingProxyType(
    {
        "file": ROOT,
        "company": COMPANY,
        "materials": MATERIALS_FILE,
        "log file": LOG_FILE,
        "job": JOB,
        "expected": EXPECTED,
        "work": WORK,
        "people": PEOPLE,
        "person": PERSON,
        "zone": ZONE,
        "covering": COVERING,
        "heating": HEATING,
        "cable": NAMED_CABLE,
        "heat_up": HEAT_UP,
        "layer": LAYER,
        "material": MATERIAL,
        "rated": RATED,
        "wait": WAIT,
        "no_later": NO_LATER,
        "sensor": SENSOR,
    }
)
_HEADINGS = (
    ("[job]", "job"),
    ("[expected]", "expected"),
    ("[work]", "work"),
    ("[people.crew_lead], [[people.crew]], [people.electrician], …", "person"),
    ("[[zone]]", "zone"),
    ("[zone.covering]", "covering"),
    ("[zone.heating]", "heating"),
    ("[[zone.heating.cable]]", "cable"),
    ("[zone.heat_up]", "heat_up"),
    ("[[zone.layer]]", "layer"),
    ('[material."name"]', "material"),
    ("rated", "rated"),
    ("wait", "wait"),
    ("no_later", "no_later"),
    ('[sensor."name"]', "sensor"),
    ("company file", "company"),
)


def headed() -> Iterator[tuple[str, tuple[Key, ...]]]:
    """Yield every table of a job file and of a company file, with its heading."""
    for heading, table in _HEADINGS:
        yield heading, TABLES[table]
