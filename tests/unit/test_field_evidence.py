"""A finished floor in the field, one thing otherwise each time: whose word counts, what shuts in.

The floor: mortar 3 March, grout 5 March at noon, seven days each at 20 °C by their sheets, so heat
from 12 March at noon. Where a case rests on print, its source stands beside it; all else are our
own rules of the date, and common practice where it says so.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from field_jobs import (
    BED_LAYER,
    CREW_LEAD,
    CURED,
    ELECTRICIAN,
    FLOOR,
    GLUE,
    GROUT_LAYER,
    INSPECTOR,
    OWNER,
    STRANGER,
    TESTER,
    cable_test,
    covering,
    entry,
    layer,
    put,
    see,
    without,
)

DAY = timedelta(days=1)


def test_the_floor_as_it_stands_is_clear() -> None:
    seen = see(FLOOR)
    assert (seen.zone.state, seen.earliest) == ("clear", CURED)
    assert seen.outstanding == {"release"}
    assert seen.codes == {"heat-under-fallback"}


# Who takes back what.

NEC = put(
    FLOOR,
    ('code = "BS 7671"', 'code = "NEC"'),
    ('device = "RCD"\ntrips_at = "30 mA"', 'device = "GFCI"\ntrips_at = "5 mA"'),
)
FAILED = entry(
    "inspection",
    "2026-03-02T16:00:00",
    'zone = "bath"',
    'result = "failed"',
    'id = "seen"',
    by=INSPECTOR,
)


def corrected(of: str, by: str, *lines: str) -> str:
    return entry("correction", "2026-03-10T09:00:00", f'of = "{of}"', *lines, by=by)


@pytest.mark.parametrize("by", [OWNER, CREW_LEAD, ELECTRICIAN, STRANGER, ""])
def test_a_failed_inspection_is_turned_by_its_inspector_only(by: str) -> None:
    seen = see(NEC + FAILED + corrected("seen", by, 'result = "passed"'))
    assert "inspection-before-concealment" in seen.outstanding
    assert seen.codes & {"corrected-wants-role", "corrected-unsigned", "corrected-unknown"}
    turned = see(NEC + FAILED + corrected("seen", INSPECTOR, 'result = "passed"'))
    assert turned.zone.state == "clear"
    # What was taken back stays visible.
    assert "entry-corrected" in turned.codes


@pytest.mark.parametrize("by", [OWNER, CREW_LEAD, STRANGER, ""])
def test_a_fault_of_the_cable_is_turned_by_the_electrician_only(by: str) -> None:
    fault = put(
        cable_test("embedded", "2026-03-10T08:00:00", 'id = "low"'),
        ('to_earth = "open"', 'to_earth = "26 Ω"'),
        ('insulation = "500 MΩ"', 'insulation = "10 kΩ"'),
    )
    whole = ('to_earth = "open"', 'insulation = "500 MΩ"')
    assert see(FLOOR + fault).zone.state == "stopped"
    seen = see(FLOOR + fault + corrected("low", by, *whole))
    assert seen.zone.state == "stopped"
    assert "corrected-wants-role" in seen.codes
    turned = see(FLOOR + fault + corrected("low", ELECTRICIAN, *whole))
    assert (turned.zone.state, "entry-corrected" in turned.codes) == ("clear", True)


@pytest.mark.parametrize("by", [OWNER, STRANGER, ""])
def test_a_frost_is_not_taken_back_by_the_wrong_person(by: str) -> None:
    frost = entry("surface", "2026-03-04T02:00:00", 'surface = "-3 °C"', 'id = "cold"')
    seen = see(FLOOR + frost + corrected("cold", by, 'surface = "13 °C"'))
    assert (seen.zone.state, seen.earliest) == ("no date", None)
    assert see(FLOOR + frost + corrected("cold", ELECTRICIAN, 'surface = "13 °C"')).earliest


# Whose word a moisture test is.

VINYL = put(
    FLOOR,
    covering("vinyl"),
    ('target = "29 °C"', 'target = "27 °C"'),
    ('limit = "29 °C"', 'limit = "27 °C"'),
    (BED_LAYER, layer("screed", "screed", "2026-01-03T12:00:00", 'thickness = "40 mm"')),
    (GROUT_LAYER, layer("glue", "glue", "2026-03-05T12:00:00") + GLUE),
    ("at = 2026-03-02T08", "at = 2026-01-02T08"),
    ("at = 2026-03-02T15:00", "at = 2026-01-02T15:00"),
    ("at = 2026-03-02T15:05", "at = 2026-01-02T15:05"),
    ("at = 2026-03-04T08", "at = 2026-01-04T08"),
    ("from = 2026-03-03", "from = 2026-01-03"),
) + entry("test_points", "2026-01-02T17:00:00", 'layer = "screed"', by=CREW_LEAD)


def carbide(by: str, value: str = "1.4 CM-%", hour: int = 9) -> str:
    return entry(
        "moisture",
        f"2026-03-04T{hour:02d}:00:00",
        'layer = "screed"',
        'method = "carbide"',
        f'value = "{value}"',
        'depth = "30 mm"',
        "points = 3",
        'air = "20 °C"',
        'humidity = "50 %"',
        by=by,
    )


@pytest.mark.parametrize("by", [CREW_LEAD, TESTER])
def test_a_moisture_test_counts_from_who_may_make_it(by: str) -> None:
    # 1.8 CM-% under a heated cement screed: German concrete-industry data pages.
    assert see(VINYL + carbide(by)).zone.state == "clear"


@pytest.mark.parametrize("by", [OWNER, ELECTRICIAN, STRANGER, ""])
def test_a_dry_screed_is_nothing_from_anybody_else(by: str) -> None:
    seen = see(VINYL + carbide(by))
    assert "moisture-test" in seen.outstanding
    assert seen.codes & {"signature-role", "signature-unknown", "signature-unsigned"}


@pytest.mark.parametrize("by", [OWNER, STRANGER, ""])
def test_a_wet_screed_is_bad_news_from_anybody(by: str) -> None:
    seen = see(VINYL + carbide(TESTER) + carbide(by, "3 CM-%", 11))
    assert (seen.zone.state, seen.earliest) == ("no date", None)


# What shuts a mortar in (trade print quoting the North American handbook: 14 to over 60 days under
# tile of 8 x 8 in or more; that 60 days count is our own choice).

SHEET = layer("sheet", "uncoupling sheet", "2026-03-02T16:00:00")
ON_SHEET = put(FLOOR, (BED_LAYER, SHEET + BED_LAYER))
SEALED = datetime(2026, 5, 2, 12, tzinfo=UTC)


@pytest.mark.parametrize(
    ("kind", "size", "date"),
    [
        ("stone", "600 x 600 mm", SEALED),
        ("stone", "8 x 8 in", SEALED),
        ("stone", "150 x 150 mm", CURED),
        ("porcelain tile", "12 x 24 in", SEALED),
        ("porcelain tile", "6 x 24 in", CURED),
        ("glass tile", None, SEALED),
        ("ceramic tile", "600 x 600 mm", CURED),
    ],
)
def test_dense_tile_with_long_edges_shuts_mortar_in(
    kind: str, size: str | None, date: datetime
) -> None:
    more = () if size is None else (f'size = "{size}"',)
    assert see(put(ON_SHEET, covering(kind, *more))).earliest == date


def test_stone_that_takes_up_water_by_its_sheet_shuts_nothing_in() -> None:
    absorbent = ('size = "600 x 600 mm"', "absorbent = true", 'data_sheet = "stone, p. 1"')
    assert see(put(ON_SHEET, covering("stone", *absorbent))).earliest == CURED
    unsaid = see(put(ON_SHEET, covering("stone", *absorbent[:2])))
    assert (unsaid.plan, "number-without-source" in unsaid.codes) == (None, True)


def test_a_covering_nobody_named_is_taken_for_the_worst() -> None:
    assert see(without(ON_SHEET, 'covering = "ceramic tile"\n')).earliest == SEALED


DENSE = put(
    ON_SHEET,
    covering("porcelain tile", 'size = "600 x 600 mm"'),
    ('material = "uncoupling sheet"\n', 'material = "uncoupling sheet"\npart = "North"\n'),
)


@pytest.mark.parametrize("part", ["North", "north", " NORTH ", "North\t"])
def test_parts_are_the_same_as_people_read_them(part: str) -> None:
    written = part.replace("\t", "  ")
    seen = see(put(DENSE, ('material = "mortar"\n', f'material = "mortar"\npart = "{written}"\n')))
    assert seen.earliest == SEALED


@pytest.mark.parametrize("part", ["nort", "noth", "North side"])
def test_a_part_misspelled_makes_no_date_nearer(part: str) -> None:
    parts = (
        ('material = "mortar"\n', f'material = "mortar"\npart = "{part}"\n'),
        ('material = "joint"\n', f'material = "joint"\npart = "{part}"\n'),
    )
    seen = see(put(DENSE, *parts))
    assert "part-named-once" in seen.codes
    assert seen.plan is None or "complete-list" in seen.outstanding
    # With the grout over both, it would lie on a bare sheet.
    assert see(put(DENSE, parts[0])).plan is None


@pytest.mark.parametrize(
    ("kind", "laid", "said"),
    [
        ("vinyl", "glued", {"laying-vinyl"}),
        ("linoleum", "glued", {"laying-vinyl"}),
        ("wood", "glued", {"laying-wood"}),
        ("carpet", "floating", set()),
    ],
)
def test_a_loose_carpet_hears_nothing_of_resilient_flooring(
    kind: str, laid: str, said: set[str]
) -> None:
    seen = see(
        put(VINYL + carbide(TESTER), ('kind = "vinyl"', f'kind = "{kind}", laid = "{laid}"'))
    )
    assert seen.codes & {"laying-vinyl", "laying-wood"} == said
