"""A material's own numbers stand over its class's, each with its source and rated conditions."""

from __future__ import annotations

import pytest

from curecal.job_files import load_rules, parse_job
from curecal.job_files.materials import USUAL, class_of_kind
from curecal.trade.data_sheets import (
    DataSheet,
    DryingWait,
    FixedWait,
    Hardening,
    Kind,
    Milestone,
    TableWait,
    Wait,
)
from curecal.trade.sources import Basis

DAY_S = 86400.0
JOB = """
[job]
id = "j"
name = "n"
timezone = "UTC"
[expected]
below = "heated room"
air = "20 °C"
[[zone]]
name = "z"
[[zone.layer]]
material = "m"
[material.m]
data_sheet = "rev. 3"
"""


def sheet(lines: str) -> DataSheet:
    found = parse_job((JOB + lines).encode())
    assert found.job is not None, found.findings
    return found.job.zones[0].layers[0].sheet


def fixed(wait: Wait | None) -> float:
    assert wait is not None
    assert isinstance(wait.amount, FixedWait)
    return wait.amount.wait_s / DAY_S


def test_own_numbers_over_the_class() -> None:
    made = sheet(
        'kind = "thinset"\nmodified = false\nminimum = "5 °C"\ndoubling = "8 °C"\n'
        'rated = { temperature = "70 °F ± 5", humidity = "50 %" }\n'
        'no_later = { cover = "12-24 h" }\n'
        'wait = { walk = "24 h", grout = "1-2 d", heat = "14 d", heat_sealed = "30 d",'
        ' cure = "28 d",'
        ' frost = "48 h", wet = "at least 7 d", load = "at most 3 d", seal = "5 d" }'
    )
    assert (made.name, made.kind, made.hardens_by) == ("m", Kind.THINSET, Hardening.CEMENT)
    assert (made.modified, made.rapid) == (False, False)
    assert made.rated_c == pytest.approx(21.1111, abs=1e-4)  # 70 °F: the figure before the sign
    assert (made.minimum_c, made.doubling_k) == (5.0, 8.0)
    assert made.minimum_source.basis is Basis.DATA_SHEET
    assert {key.value: fixed(wait) for key, wait in made.waits.items()} == {
        "walk": 1,
        "grout": 2,
        "heat": 14,
        "wet": 7,
        "load": 3,
        "seal": 5,
    }
    assert (fixed(made.heat_sealed), fixed(made.final_cure)) == (30, 28)
    assert made.frost_age_s == 2 * DAY_S
    # Of a latest time the sooner end counts.
    assert made.no_later[Milestone.COVER][0] == DAY_S / 2
    assert made.waits[Milestone.HEAT].source.text == "rev. 3"
    assert made.waits[Milestone.HEAT].written == "14 d"


def test_a_silent_sheet_takes_its_class_with_the_class_own_source() -> None:
    made = sheet('kind = "thinset"')
    base = load_rules().classes["thinset"]
    assert dict(made.waits) == dict(base.waits)
    assert made.waits[Milestone.HEAT].source.basis is Basis.FALLBACK
    assert (made.rated_c, made.rated_rh) == (23.0, 0.5)
    assert made.minimum_source.basis is Basis.COMMON_PRACTICE


def test_a_final_cure_is_never_the_heat_wait() -> None:
    made = sheet('kind = "membrane"\nhardens_by = "drying"\nwait = { cure = "21 d" }')
    assert Milestone.HEAT not in made.waits
    assert fixed(made.final_cure) == 21


def test_a_kind_without_a_class_of_that_hardening_has_no_numbers_of_its_own() -> None:
    made = sheet('kind = "thinset"\nhardens_by = "reaction"\nwait = { heat = "7 d" }')
    assert made.hardens_by is Hardening.REACTION
    assert list(made.waits) == [Milestone.HEAT]
    assert made.minimum_c == 10.0
    drying = sheet('kind = "barrier"\nhardens_by = "drying"')
    assert dict(drying.covers) == {}
    assert sheet('kind = "membrane"\nhardens_by = "cement"').drying_limit_rh == 0.85


def test_a_screed_that_dries_is_calcium_sulfate() -> None:
    made = sheet('kind = "screed"\nhardens_by = "drying"')
    # 0.3 CM-%: heated calcium sulfate until DIN 18560-1:2015-11.
    assert {limit.method: limit.limit_fraction for limit in made.moisture_limits} == {
        "carbide": 0.003,
        "humidity": 0.75,
        "probe": 0.75,
        "hood": 0.75,
    }
    assert isinstance(made.covers["any"].amount, DryingWait)


def test_a_sheets_own_moisture_limit_counts_for_its_method_only() -> None:
    made = sheet('kind = "screed"\nhardens_by = "drying"\nmoisture = "0.5 CM-%"')
    limits = {limit.method: limit for limit in made.moisture_limits}
    assert {method: limit.limit_fraction for method, limit in limits.items()} == {
        "carbide": 0.005,
        "humidity": 0.75,
        "probe": 0.75,
        "hood": 0.75,
    }
    assert limits["carbide"].source is made.source
    assert limits["humidity"].source is not made.source


def test_a_sheets_moisture_limits_stand_by_method() -> None:
    own = 'moisture = { probe = "80 % RH", "wood meter" = "12 %", "calcium chloride" = "15 g/m²" }'
    made = sheet(f'kind = "screed"\nhardens_by = "cement"\n{own}')
    limits = {limit.method: limit for limit in made.moisture_limits}
    told = {method: limit.figure for method, limit in limits.items()}
    assert told == {
        "probe": 0.8,
        "wood meter": 0.12,
        "calcium chloride": pytest.approx(0.015 / 86400.0),
        "carbide": 0.018,
        "humidity": 0.75,
        "hood": 0.75,
    }
    assert limits["wood meter"].source is made.source
    assert limits["hood"].source is not made.source


def test_a_pour_of_no_class_has_the_strictest_limits() -> None:
    made = sheet('kind = "gypsum leveler"\nhardens_by = "cement"')
    assert {limit.method: limit.limit_fraction for limit in made.moisture_limits} == {
        "carbide": 0.003,
        "humidity": 0.75,
        "probe": 0.75,
        "hood": 0.75,
    }
    assert not sheet('kind = "thinset"\nhardens_by = "reaction"').moisture_limits


def test_a_plain_cover_time_leaves_drying_under_wood() -> None:
    made = sheet('kind = "screed"\nhardens_by = "cement"\nwait = { cover = "7 d" }')
    assert fixed(made.covers["any"]) == 7
    assert "tile" not in made.covers
    assert isinstance(made.covers["wood"].amount, DryingWait)


def test_cover_by_what_covers() -> None:
    made = sheet(
        'kind = "screed"\nhardens_by = "cement"\ndrying = "1 mm/day to 30 mm, then 0.4 mm/day"\n'
        'wait = { cover = { porcelain = "14 d", vinyl = "drying", membrane = "9 d" } }'
    )
    assert fixed(made.covers["porcelain tile"]) == 14
    assert fixed(made.covers["membrane"]) == 9
    assert fixed(made.covers["tile"]) == 21
    for key in ("vinyl", "wood"):
        wait = made.covers[key]
        assert isinstance(wait.amount, DryingWait)
        assert wait.law is Hardening.DRYING
        assert wait.amount.segments[0] == (0.03, pytest.approx(DAY_S / 0.001))
        assert wait.amount.under_cover_s == 7 * DAY_S  # its class's: the sheet is silent
        assert wait.source.basis is Basis.DATA_SHEET


def test_time_under_cover_alone_changes_the_class_rule() -> None:
    made = sheet('kind = "screed"\nhardens_by = "cement"\ncured_under_cover = "9 d"')
    amount = made.covers["wood"].amount
    assert isinstance(amount, DryingWait)
    assert amount.under_cover_s == 9 * DAY_S


def test_drying_for_what_dries_without_a_class_rule() -> None:
    made = sheet('kind = "concrete"\nhardens_by = "drying"\ndrying = "1 mm/day"')
    assert isinstance(made.covers["any"].amount, DryingWait)


def test_a_table_by_temperature() -> None:
    made = sheet(
        'kind = "grout"\nhardens_by = "cement"\n'
        'wait = { walk = { "20 °C" = "24 h", "10 °C" = "48 h" },'
        ' cover = { "20 °C" = "1 d" }, heat = { "10 °C" = "9 d", "25 °C" = "6 d" } }'
    )
    assert made.waits[Milestone.WALK].amount == TableWait(((10.0, 2 * DAY_S), (20.0, DAY_S)))
    assert made.covers["any"].amount == TableWait(((20.0, DAY_S),))


def test_waits_that_differ_by_covering_are_compared_with_heat_by_their_longest() -> None:
    found = parse_job(
        (
            JOB
            + 'kind = "leveler"\nwait = { heat = "5 d", cover = { tile = "6 d", wood = "2 d" } }'
        ).encode()
    )
    assert [finding.code for finding in found.findings] == ["heat-before-own-wait"]


def test_a_heat_wait_is_not_compared_with_what_thickness_decides() -> None:
    made = sheet(
        'kind = "screed"\nhardens_by = "cement"\ndrying = "1 mm/day"\n'
        'wait = { heat = "5 d", cover = { wood = "drying" } }'
    )
    assert fixed(made.waits[Milestone.HEAT]) == 5


def test_a_material_that_was_not_understood_is_known_as_such() -> None:
    found = parse_job((JOB + 'kind = "thinest"').encode())
    assert [finding.code for finding in found.findings] == ["choice-unknown"]


@pytest.mark.parametrize(
    ("kind", "rapid", "modified", "name"),
    [
        (Kind.THINSET, False, True, "thinset"),
        (Kind.THINSET, False, False, "unmodified thinset"),
        (Kind.THINSET, True, True, "rapid thinset"),
        (Kind.THINSET, True, False, "rapid thinset"),
        (Kind.LEVELER, False, True, "leveler"),
        (Kind.LEVELER, True, True, "rapid leveler"),
        (Kind.GROUT, True, True, "rapid grout"),
        (Kind.GROUT, False, True, "cement grout"),
        (Kind.SCREED, True, True, "rapid-drying screed"),
        (Kind.SCREED, False, True, "sand-cement screed"),
        (Kind.MORTAR_BED, True, True, "mortar bed"),
    ],
)
def test_the_class_behind_a_material(kind: Kind, rapid: bool, modified: bool, name: str) -> None:  # noqa: FBT001 - parameters of a table
    found = class_of_kind(kind, Hardening.CEMENT, rapid=rapid, modified=modified)
    assert found is load_rules().classes[name]


def test_every_kind_has_a_usual_way_to_harden_and_no_class_contradicts_it() -> None:
    assert set(USUAL) == set(Kind)
    for kind, law in USUAL.items():
        assert class_of_kind(kind, law) is not None, kind
