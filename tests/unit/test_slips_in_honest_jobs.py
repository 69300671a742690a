"""Slips of the pen in honest jobs: each is refused, or named by a code or an open point."""

from __future__ import annotations

import pytest
from honest_jobs import answer, honest_answer, seen_at, text_of

JOINTS = """\
[[zone.layer]]
name = "joints"
material = "cement grout"
done = 2027-03-09T09:00:00
repair = true
"""
# (what slipped, the job, what stands in it, what the slip made of it, the code that names it)
SLIPS = [
    ("code left out", "hall-bath-waiting", 'code = "NEC"\n', "", "code-not-of-place"),
    (
        "British code in Canada",
        "slab-of-last-year",
        'code = "CEC"',
        'code = "BS 7671"',
        "code-not-of-place",
    ),
    (
        "holidays of another country",
        "garden-hall-screed",
        'holidays = "AT"',
        'holidays = "AU"',
        "holidays-not-of-place",
    ),
    (
        "a clock of another country",
        "garden-room-on-ground",
        "Europe/London",
        "Europe/Lisbon",
        "holidays-not-of-place",
    ),
    (
        "minutes for hours, grout",
        "kitchen-and-bay",
        'grout = "24 h"',
        'grout = "24 min"',
        "wait-short",
    ),
    (
        "decimal point in a wait",
        "hall-bath-waiting",
        'heat = "21 d"',
        'heat = "2.1 d"',
        "wait-short",
    ),
    (
        "hours for days, heating maker",
        "makers-own-waits",
        'wait = "28 d"',
        'wait = "28 h"',
        "wait-short",
    ),
    (
        "decimal point, heating maker",
        "water-old-screed-new-tile",
        'wait = "28 d"',
        'wait = "2.8 d"',
        "wait-short",
    ),
    (
        "a wait under another milestone",
        "splice-under-tile",
        'grout = "4 h", heat = "7 d"',
        'heat = "4 h", seal = "7 d"',
        "heat-put-off",
    ),
    (
        "the joint of a reset tile not listed",
        "splice-under-tile",
        JOINTS,
        "",
        "complete-list",
    ),
    (
        "sealer for grout",
        "shower-and-dry-side",
        'name = "dry grout"\nmaterial = "cement grout"',
        'name = "dry grout"\nmaterial = "sealer"',
        "name-not-material",
    ),
    (
        "sheet for leveler",
        "a-day-old",
        'name = "leveler"\nmaterial = "leveler"',
        'name = "leveler"\nmaterial = "uncoupling sheet"',
        "name-not-material",
    ),
    (
        "existing for fresh",
        "mud-bed-bath",
        'material = "mortar bed"\nthickness = "1 1/2 in"\ndone = 2027-01-08T16:00:00',
        'material = "mortar bed"\nthickness = "1 1/2 in"\nexisting = true',
        "test-after-embedding",
    ),
    (
        "existing beside done",
        "second-pour",
        'material = "slow leveler"',
        'material = "slow leveler"\nexisting = true',
        "existing-with-work",
    ),
    (
        "grout missing",
        "over-the-clock-change",
        '[[zone.layer]]\nname = "grout"\nmaterial = "cement grout"\ndone = 2026-10-31T12:00:00\n',
        "",
        "complete-list",
    ),
    (
        "wrong stage",
        "second-pour",
        'stage = "embedded"',
        'stage = "in service"',
        "test-after-embedding",
    ),
    (
        "wrong result",
        "glass-shower",
        'result = "passed"',
        'result = "failed"',
        "concealed-uninspected",
    ),
    (
        "owner signs the inspection",
        "mud-bed-bath",
        'result = "passed"\nby = "Nan Example"',
        'result = "passed"\nby = "Pat Example"',
        "signature-role",
    ),
    (
        "owner signs the release",
        "released-tonight",
        'kind = "release"\nzone = "bath"\nby = "Robin Example"',
        'kind = "release"\nzone = "bath"\nby = "Pat Example"',
        "signature-role",
    ),
    (
        "another cable's test",
        "kitchen-and-bay",
        'cable = "cable A"\nconductor = "44.3 Ω"',
        'cable = "cable B"\nconductor = "44.3 Ω"',
        "conductor-step",
    ),
    (
        "megohms for kilohms",
        "not-tested-on-delivery",
        'insulation = "550 MΩ"',
        'insulation = "550 kΩ"',
        "insulation-low",
    ),
    (
        "a reading to earth",
        "slate-kitchen",
        'to_earth = "open"',
        'to_earth = "26 Ω"',
        "earth-finite",
    ),
    (
        "a part misspelled",
        "shower-and-dry-side",
        'part = "dry side"\n',
        'part = "dry sied"\n',
        "part-named-once",
    ),
    (
        "a minus lost the other way",
        "tile-reset-third-year",
        'surface = "18 °C"',
        'surface = "-18 °C"',
        "frost",
    ),
    (
        "a log of another job",
        "parquet-on-screed",
        'layer = "screed"\nmethod',
        'layer = "leveler"\nmethod',
        "layer-not-there",
    ),
    ("correction of nothing", "slips-put-right", 'of = "typo"', 'of = "tpyo"', "key-unknown"),
    (
        "withdrawn by the owner",
        "slips-put-right",
        'withdrawn = true\nby = "Robin Example"',
        'withdrawn = true\nby = "Pat Example"',
        "withdrawn-wants-role",
    ),
    (
        "moisture in another unit",
        "vinyl-on-old-slab",
        'value = "1.4 CM-%"',
        'value = "14 CM-%"',
        "moisture-test",
    ),
    (
        "humidity as carbide",
        "laminate-floating",
        'method = "humidity"',
        'method = "carbide"',
        "moisture-test",
    ),
    ("one point lost", "parquet-on-screed", "points = 3\n", "", "moisture-incomplete"),
    (
        "minimum for rated",
        "hall-bath-waiting",
        'temperature = "70 °F"',
        'temperature = "50 °F"',
        "rating-cold",
    ),
    (
        "rated below the minimum",
        "cold-laundry",
        'minimum = "50 °F"',
        'minimum = "80 °F"',
        "rating-cold",
    ),
    (
        "coldest in the other scale",
        "lanai-porcelain",
        'coldest = "72 °F"',
        'coldest = "72 °C"',
        "temperature-no-room-has",
    ),
    (
        "flow in the other scale",
        "water-old-screed-new-tile",
        '"30 °C for 3 d"',
        '"86 °C for 3 d"',
        "flow-too-hot",
    ),
    (
        "trip at 30 mA under CEC",
        "upstairs-bath-in-service",
        'trips_at = "5 mA"',
        'trips_at = "30 mA"',
        "protection",
    ),
    (
        "trip time in seconds",
        "upstairs-bath-in-service",
        'trip_time = "18 ms"',
        'trip_time = "18 s"',
        "protection",
    ),
    (
        "limit of the thermostat in the other scale",
        "released-tonight",
        'limit = "29 °C"',
        'limit = "29 °F"',
        "temperature-not-set",
    ),
    ("air mode", "released-tonight", 'mode = "floor"', 'mode = "air"', "thermostat"),
    (
        "switched on before the release",
        "upstairs-bath-in-service",
        "at = 2026-12-10T08:20:00",
        "at = 2026-12-08T08:20:00",
        "early-switch-on",
    ),
    ("a steep step", "upstairs-bath-in-service", 'to = "23 °C"', 'to = "32 °C"', "heat-step-steep"),
    (
        "a finish in UTC",
        "water-heated-screed",
        "done = 2026-10-19T16:00:00",
        "done = 2026-10-19T16:00:00Z",
        "offset-not-site",
    ),
    (
        "a phone's clock",
        "told-in-the-log",
        'at = 2026-11-02T15:00:00\nkind = "done"',
        'at = 2026-11-02T15:00:00+08:00\nkind = "done"',
        "offset-not-site",
    ),
    (
        "last year's membrane",
        "days-without-hours",
        "done = 2027-01-18",
        "done = 2026-01-18",
        "done-before-below",
    ),
    (
        "year of the primer",
        "calcium-sulfate-hall",
        "done = 2027-01-05T09:00:00",
        "done = 2026-01-05T09:00:00",
        "done-before-below",
    ),
    (
        "day and month",
        "over-the-clock-change",
        "done = 2026-10-28T16:00:00",
        'done = "2026-28-10 16:00"',
        "instant-unreadable",
    ),
    (
        "test before the pour",
        "calcium-sulfate-hall",
        'at = 2027-01-04T09:00:00\nkind = "moisture"',
        'at = 2026-10-04T09:00:00\nkind = "moisture"',
        "moisture-test",
    ),
    (
        "minutes for hours at work",
        "garden-hall-screed",
        'duration = "6 h"',
        'duration = "6 min"',
        "quantity-out-of-range",
    ),
    (
        "repair on nothing",
        "makers-own-waits",
        'name = "mortar"\nmaterial = "rapid mortar"',
        'name = "mortar"\nmaterial = "rapid mortar"\nrepair = true',
        "test-after-chiselling",
    ),
    (
        "breaker of the neighbor",
        "mud-bed-bath",
        'breaker = "15 A"',
        'breaker = "1.5 A"',
        "load-over-80-percent",
    ),
    (
        "supply of the other kind",
        "over-the-clock-change",
        'supply = "120 V"',
        'supply = "240 V"',
        "supply-too-high",
    ),
    (
        "mils for millimeters",
        "shop-night-shift",
        'thickness = "8 mm"',
        'thickness = "80 mm"',
        "layer-very-thick",
    ),
    (
        "day and month of a reading",
        "told-in-the-log",
        'at = 2026-11-02T15:30:00\nkind = "surface"',
        'at = 2026-02-11T15:30:00\nkind = "surface"',
        "reading-long-before",
    ),
    (
        "digits turned, a reading",
        "cold-laundry",
        'air = "57 °F"',
        'air = "75 °F"',
        "reading-warmer-alone",
    ),
    (
        "grout for heat",
        "cork-glued",
        'wait = { walk = "24 h", heat = "7 d" }',
        'wait = { walk = "24 h", grout = "7 d" }',
        "grout-wait-without-grout",
    ),
    (
        "minutes for hours, work",
        "garden-hall-screed",
        'duration = "18 h"',
        'duration = "18 min"',
        "work-very-fast",
    ),
]


@pytest.mark.parametrize(
    ("slip", "job", "right", "wrong", "code"), SLIPS, ids=[row[0] for row in SLIPS]
)
def test_a_slip_in_an_honest_job_is_refused_or_named(
    slip: str, job: str, right: str, wrong: str, code: str
) -> None:
    text, honest = text_of(job), honest_answer(job)
    assert right in text, slip
    found = answer(text.replace(right, wrong, 1), seen_at(text))
    more = {
        hold.value
        for zone, told in found.zones.items()
        for hold in told.outstanding - honest.zones[zone].outstanding
    }
    assert code in {*(found.codes - honest.codes), *more}


def test_the_table_is_as_long_as_it_is_said_to_be() -> None:
    # With those of the small job beside this file, more than a hundred.
    assert len(SLIPS) >= 45
    assert len({(job, right, wrong) for _, job, right, wrong, _ in SLIPS}) == len(SLIPS)
