"""Every mistake a file can hold is found, at its place, and all of them in one run."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from file_samples import LOG, MATERIAL, codes, read, text

from curecal.job_files import parse_job
from curecal.trade.findings import Severity

DONE = "zone.0.layer.0.done"


def test_the_file_without_a_mistake_has_no_finding() -> None:
    found = read()
    assert found.job is not None
    assert found.findings == ()


@pytest.mark.parametrize(
    ("part", "line", "code", "path"),
    [
        ("job", 'unit = "metric"', "key-unknown", "job.unit"),
        ("job", 'units = "metrik"', "choice-unknown", "job.units"),
        ("job", "language = 3", "type-wrong", "job.language"),
        ("job", 'address = "  "', "text-empty", "job.address"),
        ("job", 'address = "a\\u0007"', "control-character", "job.address"),
        ("job", 'address = "a\\nb"', "control-character", "job.address"),
        ("job", 'address = "a\\u202eb"', "control-character", "job.address"),
        ("job", f'address = "{"a" * 4001}"', "text-too-long", "job.address"),
        ("expected", "humidity = 55", "quantity-no-unit", "expected.humidity"),
        ("expected", 'humidity = "155 %"', "quantity-out-of-range", "expected.humidity"),
        ("expected", 'humidity = "20 °C"', "quantity-dimension", "expected.humidity"),
        ("expected", 'coldest = "21 °C"', "coldest-above-expected", "expected.coldest"),
        ("expected", 'coldest = "66 °C"', "temperature-no-room-has", "expected.coldest"),
        ("expected", 'coldest = "-300 °C"', "quantity-below-absolute-zero", "expected.coldest"),
        ("expected", "coldest = nan", "number-not-finite", "expected.coldest"),
        ("expected", "coldest = 1e400", "number-not-finite", "expected.coldest"),
        ("expected", "coldest = true", "quantity-unreadable", "expected.coldest"),
        ("expected", 'coldest = "19,5 °C"', "quantity-decimal-point", "expected.coldest"),
        ("expected", "dampest = 0xFFFFFFFFFFFFFFFFFF", "number-too-large", "expected.dampest"),
        (
            "expected",
            'humidity = "60 %"\ndampest = "50 %"',
            "dampest-below-expected",
            "expected.dampest",
        ),
        ("top", '[work]\ndays = "Mon-Fry"', "weekdays-unreadable", "work.days"),
        ("top", '[work]\ndays = "Mon-Wed-Fri"', "weekdays-unreadable", "work.days"),
        ("top", '[work]\nhours = "17:00-08:00"', "hours-unreadable", "work.hours"),
        ("top", '[work]\nhours = "08:00-05:00"', "hours-unreadable", "work.hours"),
        ("top", '[work]\nhours = "06:00-06:00"', "hours-unreadable", "work.hours"),
        ("top", '[work]\nhours = "8"', "hours-unreadable", "work.hours"),
        ("top", '[work]\nhours = "25:00-26:00"', "hours-unreadable", "work.hours"),
        ("top", '[work]\nholidays = "CA-XX"', "region-unknown", "work.holidays"),
        ("top", '[work]\nholidays = "Canada"', "region-unknown", "work.holidays"),
        ("top", "[work]\ndays_off = [2026-12-24T00:00:00]", "type-wrong", "work.days_off"),
        ("top", '[work]\ndays_off = ["24.12."]', "type-wrong", "work.days_off"),
        ("top", "[work]\ndays_off = 3", "type-wrong", "work.days_off"),
        ("top", '[people.owner]\nemail = "a@example.org"', "key-missing", "people.owner.0.name"),
        ("top", '[people.owner]\nname = "a"\nemail = "a@b"', "email-form", "people.owner.0.email"),
        (
            "top",
            '[people.owner]\nname = "a"\nphone = "++--++"',
            "phone-form",
            "people.owner.0.phone",
        ),
        (
            "top",
            '[people.owner]\nname = "a"\nreach_by = ["pigeon"]',
            "choice-unknown",
            "people.owner.0.reach_by",
        ),
        ("top", "[people]\nowner = 3", "type-wrong", "people.owner"),
        ("top", "work = 3", "key-unknown", "expected.work"),
        ("zone", 'room = "cellar"', "choice-unknown", "zone.0.room"),
        ("zone", 'id = "a b"', "id-form", "zone.0.id"),
        ("zone", 'floor_area = "0 m²"', "quantity-zero", "zone.0.floor_area"),
        ("zone", 'covering = "granit"', "choice-unknown", "zone.0.covering.kind"),
        ("zone", "covering = 3", "type-wrong", "zone.0.covering.kind"),
        ("zone", "heating = 3", "type-wrong", "zone.0.heating"),
        (
            "heating",
            '[zone.covering]\nkind = "stone"\nlimit = "29 °C"',
            "number-without-source",
            "zone.0.covering.limit",
        ),
        (
            "heating",
            '[zone.covering]\nkind = "stone"\nsize = "6 x 6 m"',
            "quantity-out-of-range",
            "zone.0.covering.size",
        ),
        (
            "heating",
            '[zone.heating]\nprotection_source = "TBD"',
            "source-names-none",
            "zone.0.heating.protection_source",
        ),
        (
            "heating",
            '[zone.heating]\nwait = "28 d"',
            "number-without-source",
            "zone.0.heating.wait",
        ),
        (
            "heating",
            '[zone.heating]\nwait = "28 d"\nwait_from = "bde"\ndata_sheet = "g"',
            "layer-not-there",
            "zone.0.heating.wait_from",
        ),
        (
            "heating",
            '[zone.heating]\nwait_from = "bed"',
            "wait-from-without-wait",
            "zone.0.heating.wait_from",
        ),
        ("heating", '[zone.heating]\nsensor = "9k"', "sensor-unknown", "zone.0.heating.sensor"),
        (
            "heating",
            '[zone.heating]\nvoltage = "240 V"\n[[zone.heating.cable]]\nname = "a"',
            "cable-in-both-forms",
            "zone.0.heating",
        ),
        (
            "heating",
            '[[zone.heating.cable]]\nname = "a"\n[[zone.heating.cable]]\nname = "a"',
            "name-twice",
            "zone.0.heating.cable.1.name",
        ),
        (
            "heating",
            '[zone.heating]\ninsulation = "20 MΩ"',
            "quantity-unreadable",
            "zone.0.heating.insulation",
        ),
        (
            "heating",
            '[zone.heat_up]\nflow = ["25 °C for 3 d"]',
            "flow-profile-on-electric",
            "zone.0.heat_up.flow",
        ),
        # DIN 18560-2, EN 1264-4: at most 55 °C at the pipes, from memory.
        (
            "heating",
            '[zone.heating]\nkind = "water"\n[zone.heat_up]\nflow = ["56 °C for 4 d"]',
            "flow-too-hot",
            "zone.0.heat_up.flow",
        ),
        ("heating", '[zone.heat_up]\nflow = ["warm"]', "flow-unreadable", "zone.0.heat_up.flow"),
        (
            "heating",
            '[zone.heating]\nvoltage = "1 V"\npower = "640 W"',
            "label-impossible",
            "zone.0.heating.power",
        ),
        (
            "more",
            MATERIAL + 'moisture = "75 %"\n',
            "moisture-limit-plain",
            "material.m.moisture",
        ),
        ("more", MATERIAL + 'minimum = "24 °C"\n', "minimum-above-rated", "material.m.minimum"),
        (
            "more",
            MATERIAL + 'wait = { heat_sealed = { "5 °C" = "9 d" } }\n',
            "minimum-above-rated",
            "material.m.minimum",
        ),
        ("heating", '[zone.heat_up]\nhold = "36 h"', "whole-days-wanted", "zone.0.heat_up.hold"),
        ("heating", '[zone.heat_up]\nstep = "0 °C/day"', "quantity-zero", "zone.0.heat_up.step"),
        ("layer", 'thickness = "-3 mm"', "quantity-negative", "zone.0.layer.0.thickness"),
        ("layer", 'thickness = "0 mm"', "quantity-zero", "zone.0.layer.0.thickness"),
        ("layer", 'thickness = "2 m"', "quantity-unlikely", "zone.0.layer.0.thickness"),
        ("layer", 'duration = "0 d"', "quantity-zero", "zone.0.layer.0.duration"),
        ("layer", "existing = 1", "type-wrong", "zone.0.layer.0.existing"),
        ("layer", "done = 2026-12-02T00:00:00Z", "done-in-future", "zone.0.layer.0.done"),
        ("layer", "done = 2026-03-08T02:30:00", "instant-gap", "zone.0.layer.0.done"),
        ("layer", "done = 1999-12-30", "instant-implausible", "zone.0.layer.0.done"),
        ("layer", "done = 9999-12-31", "instant-out-of-range", "zone.0.layer.0.done"),
        ("layer", "done = 08:00:00", "instant-unreadable", "zone.0.layer.0.done"),
        ("layer", "done = true", "instant-unreadable", "zone.0.layer.0.done"),
        ("layer", "done = [2026]", "instant-unreadable", "zone.0.layer.0.done"),
        ("layer", 'done = "yesterday"', "instant-unreadable", "zone.0.layer.0.done"),
        ("layer", "existing = true\ndone = 2026-11-01", "existing-with-work", DONE),
        ("layer", "since = 2015-06-30", "since-without-existing", "zone.0.layer.0.since"),
        (
            "layer",
            "existing = true\nsince = 2027-06-30",
            "since-in-future",
            "zone.0.layer.0.since",
        ),
        (
            "layer",
            "existing = true\nsince = 1978-06-30",
            "instant-implausible",
            "zone.0.layer.0.since",
        ),
        (
            "layer",
            'existing = true\nplanned_start = "2026-12-10"',
            "existing-with-work",
            "zone.0.layer.0.planned_start",
        ),
        (
            "layer",
            'existing = true\nplanned_finish = "2026-12-10"',
            "existing-with-work",
            "zone.0.layer.0.planned_finish",
        ),
        (
            "layer",
            'existing = true\nduration = "3 h"',
            "existing-with-work",
            "zone.0.layer.0.duration",
        ),
        (
            "layer",
            "existing = true\nrepair = true",
            "existing-with-work",
            "zone.0.layer.0.repair",
        ),
        ("job", '"a\\u0007" = 1', "control-character-in-key", "job"),
        (
            "layer",
            "planned_start = 2027-01-02\nplanned_finish = 2027-01-01",
            "plan-reversed",
            "zone.0.layer.0.planned_finish",
        ),
        (
            "layer",
            "heat_before_covering = true",
            "bare-heat-needs-screed",
            "zone.0.layer.0.heat_before_covering",
        ),
        (
            "layer",
            'done = 2026-11-20\n[[zone.layer]]\nmaterial = "grout"\ndone = 2026-11-19',
            "done-before-below",
            "zone.0.layer.1.done",
        ),
        (
            "more",
            '[[zone.layer]]\nmaterial = "mastic"',
            "mastic-on-heated-floor",
            "zone.0.layer.1.material",
        ),
        (
            "more",
            '[[zone.layer]]\nmaterial = "thinst"',
            "material-unknown",
            "zone.0.layer.1.material",
        ),
        ("more", '[[zone.layer]]\nname = "x"', "key-missing", "zone.0.layer.1.material"),
        (
            "more",
            (
                '[[zone.layer]]\nid = "a"\nmaterial = "grout"\n[[zone.layer]]\nid = "a"\n'
                'material = "grout"'
            ),
            "id-twice",
            "zone.0.layer.2.id",
        ),
        ("more", '[[zone]]\nname = "Hall"\n', "name-twice", "zone.1.name"),
        ("more", '[[zone]]\nname = "loft"\n', "no-layers", "zone.1.layer"),
        ("more", '[[zone]]\nroom = "bathroom"\n', "key-missing", "zone.1.name"),
    ],
)
def test_a_mistake_is_an_error_at_its_place(part: str, line: str, code: str, path: str) -> None:
    found = read(**{part: line})
    assert (code, path) in codes(found)
    assert found.job is None


@pytest.mark.parametrize(
    ("line", "nearest"),
    [
        ("America/Halifx", "America/Halifax"),
        ("halifax", "America/Halifax"),
        ("../../etc/passwd", None),
        ("America", None),
    ],
)
def test_an_unknown_time_zone_names_the_nearest(line: str, nearest: str | None) -> None:
    found = parse_job(text().replace("America/Halifax", line).encode())
    (finding,) = found.findings
    assert finding.code == "timezone-unknown"
    if nearest is not None:
        assert finding.params["nearest"] == nearest


@pytest.mark.parametrize(
    ("content", "wanted"),
    [
        ("a = 1", {"key-unknown", "key-missing", "no-zones", "job-id-missing"}),
        ("job = 1", {"type-wrong", "key-missing", "no-zones", "job-id-missing"}),
        ("[job]\nid = 3", {"type-wrong", "key-missing", "no-zones"}),
        ("zone = [1]", {"type-wrong", "key-missing", "job-id-missing"}),
        ("[zone]\nname = 'a'", {"type-wrong", "key-missing", "job-id-missing"}),
        (
            "[[zone]]\nname = 'a'\n[zone.layer]\nmaterial = 'grout'",
            {"type-wrong", "key-missing", "job-id-missing"},
        ),
    ],
)
def test_a_file_that_is_no_job_says_what_is_missing(content: str, wanted: set[str]) -> None:
    found = parse_job(content.encode())
    assert found.job is None
    assert {finding.code for finding in found.findings} == wanted


def test_everything_wrong_is_said_in_one_run() -> None:
    found = read(job="a = 1", expected="humidity = 5", zone="b = 1", layer='thickness = "1"')
    assert [code for code, _ in codes(found)] == [
        "key-unknown",
        "quantity-no-unit",
        "key-unknown",
        "quantity-no-unit",
    ]


def test_fahrenheit_labelled_celsius_is_guessed_and_refused() -> None:
    (finding,) = read(expected='coldest = "60 °C"').findings
    assert finding.params["meant"] == "60 °F"
    (finding,) = read(expected='coldest = "400 °C"').findings
    assert finding.params["meant"] == ""


def test_a_time_shown_twice_names_both_readings_in_local_time() -> None:
    (finding,) = read(layer="done = 2026-11-01T01:30:00").findings
    assert finding.params["first"] == "2026-11-01 01:30-03:00"
    assert finding.params["second"] == "2026-11-01 01:30-04:00"
    assert finding.params["first_at"] == datetime(2026, 11, 1, 4, 30, tzinfo=UTC)


def test_wait_from_that_could_be_two_layers_is_refused() -> None:
    found = read(
        heating='[zone.heating]\nwait = "9 d"\nwait_from = "thinset"\ndata_sheet = "g"',
        more='[[zone.layer]]\nname = "second"\nmaterial = "thinset"\n',
    )
    assert codes(found) == [("layer-not-one", "zone.0.heating.wait_from")]


def test_an_entry_about_one_of_two_layers_of_a_name_is_refused() -> None:
    layer = '[[zone.layer]]\nname = "bed"\nid = "bed-b"\nmaterial = "thinset"\npart = "door"\n'
    named = layer + layer.replace("bed-b", "bed-c").replace('"bed"', '"x"')
    assert read(more=named + LOG + 'kind = "done"\nlayer = "bed-b"\n').job is not None
    both = layer.replace('"bed"', '"y"') + layer.replace("bed-b", "bed-c").replace('"bed"', '"y"')
    found = read(more=both + LOG + 'kind = "done"\nlayer = "y"\n')
    assert codes(found) == [("layer-not-one", "log.0.layer")]


@pytest.mark.parametrize(
    ("line", "code"),
    [
        (LOG.replace("2026-11", "2027-11") + 'kind = "release"\n', "entry-in-future"),
        (LOG + 'kind = "readings"\nfile = "a.csv"\nrows = 3\n', "readings-not-counted"),
        ('[material.m]\nkind = "grout"\ndata_sheet = "s"\n', "hardening-assumed"),
        ('[material.m]\nkind = "adhesive"\ndata_sheet = "s"\n', "hardening-assumed"),
    ],
)
def test_a_warning_refuses_nothing(line: str, code: str) -> None:
    found = read(more=line)
    assert [(finding.severity, finding.code) for finding in found.findings] == [
        (Severity.WARNING, code)
    ]
    assert found.job is not None


def test_a_job_without_id_gets_a_stable_one_and_a_warning() -> None:
    content = text().replace('id = "j"\n', "").encode()
    first, second = parse_job(content), parse_job(content)
    assert codes(first) == [("job-id-missing", "job.id")]
    assert first.job is not None
    assert second.job is not None
    assert first.job.id == second.job.id
