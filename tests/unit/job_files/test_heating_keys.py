"""The heating's keys for the record: how a cable lies, its circuit, its serial number."""

from __future__ import annotations

import pytest
from file_samples import read

from curecal.trade.findings import Severity
from curecal.trade.job import Cable, Heating, Laying, SensorPlace

LAID = """
heated_area = "45 ft²"
spacing = "2 to 3 in"
clearance_walls = "4 in"
clearance_drains = "150 mm"
strapping = "18 to 24 in"
sensor_place = "midway between two runs"
"""


def heating(text: str) -> Heating:
    job = read(heating=f"[zone.heating]\n{text}").job
    assert job is not None
    return job.zones[0].heating


def test_how_the_only_cable_lies_is_read_into_si_its_nearest_and_widest_counting() -> None:
    found = heating(f'serial = "S 0042"\ncircuit = "panel A, 12"\n{LAID}')
    (cable,) = found.cables
    assert (cable.name, cable.serial, found.circuit) == ("", "S 0042", "panel A, 12")
    assert cable.laying == Laying(
        heated_area_m2=pytest.approx(4.18063680),
        spacing_m=pytest.approx(0.0508),
        clearance_walls_m=pytest.approx(0.1016),
        clearance_drains_m=pytest.approx(0.15),
        strapping_m=pytest.approx(0.6096),
        sensor_place=SensorPlace.MIDWAY,
    )
    assert found.heated_area_m2 == cable.laying.heated_area_m2


def test_what_is_said_once_counts_for_every_cable_that_does_not_say_otherwise() -> None:
    found = heating(
        f"""{LAID}
[[zone.heating.cable]]
name = "A"
[[zone.heating.cable]]
name = "B"
spacing = "100 mm"
heated_area = "2 m²"
serial = "S 0043"
"""
    )
    one, two = found.cables
    assert (one.laying.spacing_m, two.laying.spacing_m) == (pytest.approx(0.0508), 0.1)
    assert one.laying.strapping_m == two.laying.strapping_m == pytest.approx(0.6096)
    # The area of all cables is no cable's own.
    assert (one.laying.heated_area_m2, two.laying.heated_area_m2) == (None, 2.0)
    assert found.heated_area_m2 == pytest.approx(4.1806368)
    assert (one.serial, two.serial) == (None, "S 0043")


def test_none_of_it_is_asked_for() -> None:
    assert [finding.code for finding in read(heating="[zone.heating]\n").findings] == []
    assert heating("").cables == ()
    assert heating('voltage = "240 V"').cables == (Cable("", 240.0),)


@pytest.mark.parametrize(
    ("line", "meant"),
    [
        ('spacing = "75 cm"', "75 mm"),
        ('spacing = "3 m"', "3 cm"),
        ('clearance_walls = "100 m"', "100 mm"),
        ('clearance_drains = "0.1 mm"', "10 mm"),
        ('strapping = "90 m"', "90 mm"),
        ('strapping = "9 mm"', "9 cm"),
    ],
)
def test_a_length_no_cable_lies_at_is_refused_with_the_likely_one(line: str, meant: str) -> None:
    (finding,) = read(heating=f"[zone.heating]\n{line}").findings
    assert (finding.severity, finding.code) == (Severity.ERROR, "quantity-unlikely")
    assert finding.params["meant"] == meant


@pytest.mark.parametrize(
    ("line", "code"),
    [
        ('spacing = "75"', "quantity-no-unit"),
        ('strapping = "0 mm"', "quantity-zero"),
        ('heated_area = "0.01 m²"', "quantity-unlikely"),
        ('sensor_place = "by the door"', "choice-unknown"),
        ('circuit = ""', "text-empty"),
    ],
)
def test_what_is_no_such_value_is_refused(line: str, code: str) -> None:
    (finding,) = read(heating=f"[zone.heating]\n{line}").findings
    assert (finding.severity, finding.code) == (Severity.ERROR, code)
