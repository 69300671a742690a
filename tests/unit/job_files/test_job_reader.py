"""What a well-formed file is read as: quantities in SI, instants in UTC, names resolved."""

from __future__ import annotations

from dataclasses import fields
from datetime import UTC, date, datetime, time
from pathlib import Path
from typing import Any

import pytest

from curecal.job_files import parse_job
from curecal.trade.data_sheets import FixedWait, Hardening
from curecal.trade.job import (
    Below,
    Code,
    CoveringKind,
    HeatedBy,
    HeatingKind,
    Job,
    Role,
    Room,
    Units,
)
from curecal.trade.site_log import (
    Correction,
    Done,
    Inspection,
    Kept,
    Log,
    MoistureTest,
    Place,
    Reading,
    Remark,
    Resistance,
    Result,
    Stage,
    ThermostatSet,
)
from curecal.trade.sources import Basis

GOLDEN = sorted((Path(__file__).parents[2] / "golden").glob("*/job.toml"))

WHOLE = """
[job]
id = "alder"
name = "Alder Lane"
timezone = "America/Halifax"
units = "imperial"
language = "en"
code = "cec"
address = "Alder Lane 12"
[expected]
air = "66 °F"
humidity = "55 %"
coldest = "60 °F"
dampest = "70 %"
below = "ground"
heated_by = "temporary"
[work]
days = "Mon-Thu, Sat"
hours = "8:00-16:30"
holidays = "CA-NS"
days_off = [2026-12-24, "2026-12-31"]
[people.crew_lead]
name = "R. Example"
email = "r@example.org"
phone = "+1 902 555 0100"
language = "en"
reach_by = ["email", "Text"]
[[people.owner]]
name = "A"
[[people.owner]]
name = "B"
[[zone]]
name = "Hall bath"
room = "bathroom"
floor_area = "5 m²"
energized_by = "owner"
[zone.covering]
kind = "porcelain"
size = "300 x 600 mm"
limit = "29 °C"
wait = "10-14 d"
rated = { temperature = "21-24 °C" }
data_sheet = "tile sheet"
[zone.heating]
wait = "28 d"
wait_from = "grout"
floor_limit = "28 °C"
data_sheet = "guide, p. 14"
supply = "208 V"
breaker = "15 A"
protection = "GFCI 5 mA"
voltage = "240 V"
power = "640 W"
resistance = "90 Ω"
tolerance = "-5/+10 %"
insulation = "20 MΩ at 500 V"
sensor = "10 kohm ntc"
[zone.heat_up]
target = "28 °C"
step = "9 °F/day"
hold = "3 d"
[[zone.layer]]
name = "Leveler"
material = "leveler"
thickness = "1/4 to 3/8 in"
done = 2026-11-20T14:30:00
over_cable = true
duration = "1 d 2 h"
[[zone.layer]]
name = "Leveler"
material = "leveler"
done = 2026-11-21
duration = "1 week"
part = "door"
[[zone.layer]]
id = "tiles"
material = "thinset"
planned_start = "2026-12-01 08:00"
planned_finish = 2026-12-01T11:00:00-04:00
duration = "3 h"
[[zone.layer]]
material = "cement grout"
[[zone]]
id = "loft"
covering = "wood"
[zone.heating]
kind = "water"
[[zone.heating.cable]]
name = "a"
sensor = "probe"
[[zone.heating.cable]]
name = "b"
sensor = "curve"
[zone.heat_up]
step = "5 °C"
flow = ["25 °C for 3 d", "35 °C over 1 d"]
[[zone.layer]]
name = "床"
material = "plywood"
existing = true
[[zone.layer]]
name = "Ästhetik"
material = "sand-cement screed"
heat_before_covering = true
[sensor.probe]
table = { "25 °C" = "10 kΩ", "0 °C" = "32.65 kΩ" }
[sensor.curve]
coefficients = [1.12924e-3, 2.34108e-4, 0.87755e-7]
"""


@pytest.fixture(scope="module")
def job() -> Job:
    found = parse_job(WHOLE.encode())
    assert [finding.code for finding in found.findings] == []
    assert found.job is not None
    return found.job


def entries(text: str) -> Log:
    """Return the log of the whole file with entries added."""
    found = parse_job((WHOLE + text).encode())
    assert [finding.code for finding in found.findings] == []
    return found.log


@pytest.mark.parametrize("path", GOLDEN, ids=lambda path: path.parent.name)
def test_golden_jobs_are_understood(path: Path) -> None:
    found = parse_job(path.read_bytes())
    codes = [finding.code for finding in found.findings]
    if path.parent.name == "13-flow-protocol":
        assert codes == ["flow-profile-on-electric"]
        assert found.findings[0].params["highest_c"] == 35.0
    else:
        assert set(codes) <= {"code-not-of-place", "wait-short"}
        assert found.job is not None


def test_the_head_and_the_climate(job: Job) -> None:
    assert (job.id, job.name, job.timezone) == ("alder", "Alder Lane", "America/Halifax")
    assert (job.units, job.code, job.address) == (Units.IMPERIAL, Code.CEC, "Alder Lane 12")
    assert job.expected.air_c == pytest.approx(18.8889, abs=1e-4)
    assert job.expected.coldest_c == pytest.approx(15.5556, abs=1e-4)
    assert (job.expected.humidity, job.expected.dampest) == (0.55, 0.70)
    assert (job.expected.below, job.expected.heated_by) == (Below.GROUND, HeatedBy.TEMPORARY)


def test_working_time_and_people(job: Job) -> None:
    assert job.work.days == {0, 1, 2, 3, 5}
    assert (job.work.start, job.work.end) == (time(8), time(16, 30))
    assert job.work.holidays == "CA-NS"
    assert job.work.days_off == (date(2026, 12, 24), date(2026, 12, 31))
    assert [(person.role, person.name) for person in job.people] == [
        (Role.CREW_LEAD, "R. Example"),
        (Role.OWNER, "A"),
        (Role.OWNER, "B"),
    ]
    assert job.people[0].reach_by == ("email", "text")


@pytest.mark.parametrize("region", ["CA", "DE", "CA-NS", "DE-BY"])
def test_a_country_or_a_part_of_it_is_a_holiday_region(region: str) -> None:
    found = parse_job(WHOLE.replace("CA-NS", region).encode())
    assert found.job is not None
    assert found.job.work.holidays == region


def test_a_zone_its_covering_and_its_heating(job: Job) -> None:
    zone = job.zones[0]
    assert (zone.id, zone.room, zone.floor_area_m2) == ("hall-bath", Room.BATHROOM, 5.0)
    assert zone.energized_by is Role.OWNER
    assert zone.covering.kind is CoveringKind.PORCELAIN
    assert zone.covering.size_m == (0.3, 0.6)
    assert zone.covering.wait is not None
    assert zone.covering.wait.amount == FixedWait(14 * 86400.0)
    assert (zone.covering.wait.rated_c, zone.covering.wait.rated_rh) == (24.0, 0.5)
    heating = zone.heating
    assert heating.wait is not None
    assert (heating.wait.rated_c, heating.wait.law) == (20.0, Hardening.CEMENT)
    assert heating.wait.source.basis is Basis.DATA_SHEET
    assert heating.wait_from == "cement-grout"
    assert (heating.floor_limit_c, heating.supply_v, heating.breaker_a) == (28.0, 208.0, 15.0)
    (cable,) = heating.cables
    assert (cable.below_fraction, cable.above_fraction) == (0.05, 0.10)
    assert (cable.insulation_ohm, cable.insulation_at_v) == (20e6, 500.0)
    assert cable.sensor is not None
    assert cable.sensor.coefficients == (1.12924e-3, 2.34108e-4, 0.87755e-7)
    assert zone.heat_up.target_c == 28.0
    assert zone.heat_up.step_k == pytest.approx(5.0)
    assert zone.heat_up.hold_days == 3


def test_layers(job: Job) -> None:
    layers = job.zones[0].layers
    assert [layer.id for layer in layers] == ["leveler", "leveler-2", "tiles", "cement-grout"]
    assert layers[0].thickness_m == pytest.approx(0.009525)
    assert layers[0].done_at == datetime(2026, 11, 20, 18, 30, tzinfo=UTC)
    assert layers[0].over_cable is True
    # A day of work is its working hours, a week its working days.
    assert layers[0].duration_s == (8.5 + 2) * 3600
    assert layers[1].duration_s == 5 * 8.5 * 3600
    assert layers[2].duration_s == 3 * 3600
    # A date alone counts from the end of that local day.
    assert layers[1].done_at == datetime(2026, 11, 22, 4, tzinfo=UTC)
    assert layers[2].name == "thinset"
    assert layers[2].planned_start_at == datetime(2026, 12, 1, 12, tzinfo=UTC)
    assert layers[2].planned_finish_at == datetime(2026, 12, 1, 15, tzinfo=UTC)
    assert layers[0].path == "zone.0.layer.0"


def test_a_second_zone_with_water_and_several_sensors(job: Job) -> None:
    zone = job.zones[1]
    assert (zone.id, zone.name) == ("loft", "loft")
    assert zone.heating.kind is HeatingKind.WATER
    assert zone.heat_up.flow == ((25.0, 3), (35.0, 1))
    assert zone.heat_up.step_k == 5.0
    first, second = zone.heating.cables
    assert first.sensor is not None
    assert first.sensor.table == ((0.0, 32650.0), (25.0, 10000.0))
    assert second.sensor is not None
    assert second.sensor.coefficients is not None
    assert zone.layers[0].id.startswith("layer-")
    assert zone.layers[1].id == "asthetik"
    assert (zone.layers[0].existing, zone.layers[0].repair) == (True, False)


@pytest.mark.parametrize("key", ["kind", "hall"])
def test_wait_from_by_kind_and_by_class(key: str) -> None:
    named = {"kind": "cement grout", "hall": "tiles"}[key]
    found = parse_job(WHOLE.replace('wait_from = "grout"', f'wait_from = "{named}"').encode())
    assert found.job is not None
    assert found.job.zones[0].heating.wait_from == named.replace(" ", "-")


AT = "\n[[log]]\nat = 2026-11-25T09:00:00Z\n"


def only(text: str) -> Any:
    (entry,) = entries(AT + text)
    return entry


def test_readings_are_read_by_place() -> None:
    air = only('kind = "air"\nair = "64 °F"\nhumidity = "58 %"\nlow = "60 °F"\nzone = "Hall bath"')
    assert isinstance(air, Reading)
    assert (air.place, air.zone, air.humidity, air.by) == (Place.AIR, "hall-bath", 0.58, None)
    assert air.temperature_c == pytest.approx(17.7778, abs=1e-4)
    assert air.low_c == pytest.approx(15.5556, abs=1e-4)
    assert air.recorded == air.at == datetime(2026, 11, 25, 9, tzinfo=UTC)
    off = only('kind = "floor"\nfloor = "18 °C"\nheating = "off"')
    assert (off.place, off.heating_off, off.heating_on) == (Place.FLOOR, True, False)
    # What does not say that the heating was off is no evidence of the room, nor of heat.
    silent = only('kind = "floor"\nfloor = "18 °C"')
    assert (silent.heating_off, silent.heating_on) == (False, False)
    on = only('kind = "floor"\nfloor = "35 °C"\nheating = "on"')
    assert (on.heating_off, on.heating_on) == (False, True)
    assert only('kind = "surface"\nhumidity = "50 %"').temperature_c is None


def test_the_other_kinds() -> None:
    kept = only('kind = "kept"\nabove = "16 °C"\nfrom = 2026-11-20\nto = 2026-11-23\nby = "R"')
    assert isinstance(kept, Kept)
    assert (kept.above_c, kept.by) == (16.0, "R")
    assert kept.to_at == datetime(2026, 11, 24, 4, tzinfo=UTC)
    done = only('kind = "done"\nlayer = "Leveler"\npart = "door"\nlot = "7"')
    assert isinstance(done, Done)
    assert (done.layer, done.zone, done.lot) == ("leveler-2", "hall-bath", "7")
    told = only('kind = "inspection"\nlayer = "tiles"\nresult = "not required"\nnote = "a\\nb"')
    assert isinstance(told, Inspection)
    assert (told.result, told.layer, told.note) == (Result.NOT_REQUIRED, "tiles", "a\nb")
    test = only(
        'kind = "moisture"\nlayer = "Ästhetik"\nvalue = "1.6 CM-%"\npoints = 3\ndepth = "30 mm"\n'
    )
    assert isinstance(test, MoistureTest)
    assert (test.method, test.value_fraction) == ("carbide", 0.016)
    assert (test.points, test.depth_m, test.zone) == (3, 0.03, "loft")
    plain = only(
        'kind = "moisture"\nlayer = "Ästhetik"\nmethod = "humidity"\nvalue = "70 %"\nzone = "loft"'
    )
    assert (plain.method, plain.value_fraction) == ("humidity", 0.7)
    thermostat = only('kind = "thermostat"\nmode = "floor"\nlimit = "29 °C"\nzone = "loft"')
    assert isinstance(thermostat, ThermostatSet)
    assert thermostat.limit_c == 29.0
    assert only('kind = "heat_step"\nto = "25 °C"').to_c == 25.0
    assert only('kind = "stopped"\ncause = "other"\nreason = "smell"').reason == "smell"
    assert only('kind = "photo"\nfile = "a.jpg"').file == "a.jpg"


def test_cable_tests() -> None:
    test = only(
        'kind = "resistance"\nstage = "in service"\ncable = "a"\nconductor = "90.2 Ω"\n'
        'to_earth = "> 20 MΩ"\ninsulation = "1 GΩ at 500 V"\nsensor = "12 kΩ"\nfloor = "20 °C"'
    )
    assert isinstance(test, Resistance)
    assert (test.stage, test.conductor_ohm, test.sensor_ohm) == (Stage.IN_SERVICE, 90.2, 12000.0)
    assert (test.to_earth_ohm, test.earth_open, test.to_earth_at_least) == (20e6, False, True)
    assert (test.insulation_ohm, test.insulation_at_v, test.floor_c) == (1e9, 500.0, 20.0)
    broken = only(
        'kind = "resistance"\nstage = "laid"\nconductor = "open"\nto_earth = "OL"\n'
        'insulation = "> 2 GΩ"\ninsulation_at = "1000 V"'
    )
    full = only('kind = "resistance"\nstage = "laid"\ninsulation = "> 2 GΩ at 500 V"')
    assert (full.insulation_ohm, full.insulation_at_v) == (2e9, 500.0)
    # A tester at the end of its range says "more than", never "that much".
    assert full.insulation_at_least
    assert broken.insulation_at_least
    assert not test.insulation_at_least
    # A broken conductor is beyond any label, never "not measured".
    assert broken.conductor_ohm == 1e6
    assert (broken.earth_open, broken.to_earth_ohm) == (True, None)
    assert (broken.insulation_ohm, broken.insulation_at_v) == (2e9, 1000.0)


def test_the_same_entry_twice_is_one_entry_and_order_of_keys_has_no_effect() -> None:
    one = AT + 'kind = "air"\nair = "18 °C"\nhumidity = "50 %"\n'
    other = '\n[[log]]\nhumidity = "50 %"\nair = "18 °C"\nkind = "air"\nat = 2026-11-25T09:00:00Z\n'
    (entry,) = entries(one + other)
    assert entry.id.startswith("e-")
    assert len(entry.id) == 14


def test_corrections() -> None:
    log = entries(
        AT
        + 'id = "one"\nkind = "air"\nair = "18 °C"\n'
        + AT
        + 'kind = "correction"\nof = "one"\nair = "17 °C"\nzone = "loft"\n'
        + AT
        + 'id = "two"\nkind = "done"\nlayer = "tiles"\nzone = "Hall bath"\n'
        + AT
        + 'id = "fix"\nkind = "correction"\nof = "two"\nlayer = "cement grout"\n'
        + AT
        + 'kind = "correction"\nof = "fix"\nwithdrawn = true\n'
    )
    first, second, third = (entry for entry in log if isinstance(entry, Correction))
    assert dict(first.changes) == {"temperature_c": 17.0, "zone": "loft"}
    assert dict(second.changes) == {"layer": "cement-grout", "zone": "hall-bath"}
    assert (third.of, third.withdrawn, dict(third.changes)) == ("fix", True, {})
    for entry, correction in ((log[0], first), (log[2], second)):
        assert set(correction.changes) <= {each.name for each in fields(entry)}


def test_a_logger_file_is_kept_as_a_remark() -> None:
    found = parse_job(
        (WHOLE + AT + 'kind = "readings"\nfile = "a.csv"\nrows = 96\nsha256 = "ab"\n').encode()
    )
    (entry,) = found.log
    assert isinstance(entry, Remark)
    assert (entry.file, entry.text) == ("a.csv", "readings, rows 96, sha256 ab")
    assert found.findings[0].code == "readings-not-counted"


def test_a_job_that_does_not_say_what_lies_below_is_asked() -> None:
    text = "[job]\nname = 'a'\n[expected]\nair = '20 °C'\n"
    codes = [(found.code, found.path) for found in parse_job(text.encode()).findings]
    assert ("below-not-given", "expected.below") in codes
