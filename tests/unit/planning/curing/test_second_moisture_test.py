"""A pass that can hardly be right: sooner than a base dries, or far under a value just before."""

from __future__ import annotations

from dataclasses import replace

import pytest
from moisture_samples import probe, seen
from planning_log import codes, hold
from planning_samples import START, layer, sheet, zone

from curecal.trade.data_sheets import DataSheet, DryingWait
from curecal.trade.job import Covering, CoveringKind
from curecal.trade.site_log import Method, MoistureTest


# 65 mm of cement screed: 7 d under cover and 90 d; half of that is 48.5 d. Halves are our own.
@pytest.mark.parametrize(
    ("tests", "state", "code"),
    [
        ([probe(48.4)], "unmet", "moisture-implausible"),
        ([probe(48.5)], "met", None),
        # A second pass a day later, whenever that is.
        ([probe(20.0), probe(20.9)], "unmet", "moisture-implausible"),
        ([probe(20.0), probe(21.0)], "met", "moisture-implausible"),
        ([probe(20.0, points=None), probe(21.0)], "unmet", "moisture-implausible"),
        ([probe(20.0), probe(20.5, 0.03), probe(21.5)], "failed", "moisture-implausible"),
        # Under half of a value of the same week.
        ([probe(60.0, 0.035), probe(66.9, 0.017)], "failed", "moisture-fell"),
        ([probe(60.0, 0.035), probe(67.0, 0.017)], "met", None),
        ([probe(60.0, 0.034), probe(61.0, 0.017)], "met", None),
        ([probe(60.0, 0.035), probe(61.0, 0.017), probe(62.0, 0.017)], "met", "moisture-fell"),
        ([probe(60.0, 0.95, method=Method.HUMIDITY), probe(61.0, 0.017)], "met", None),
        ([probe(60.0, 0.016), probe(60.5, 0.007)], "met", "moisture-fell"),
    ],
)
def test_a_pass_that_can_hardly_be_right_wants_a_second_one(
    tests: list[MoistureTest], state: str, code: str | None
) -> None:
    made = seen(*tests, day=90.0)
    point = hold(made, "moisture-test")
    assert point.state == state
    told = {"moisture-implausible", "moisture-fell"} & set(codes(made))
    assert told == ({code} if code else set())
    if state == "unmet":
        assert point.reason is not None
        assert point.reason.code == code


@pytest.mark.parametrize(
    ("base", "thickness_m", "half_d"),
    [
        # 1 mm a day to 40 mm, then half a millimeter.
        (sheet("calcium-sulfate screed"), 0.05, 30.0),
        (sheet("gypsum leveler"), 0.03, 15.0),
        (sheet("calcium-sulfate screed"), None, 1.0),
    ],
)
def test_half_of_the_drying_time_is_the_sheets_or_the_rules(
    base: DataSheet, thickness_m: float | None, half_d: float
) -> None:
    floor = zone(
        layer(base, START, "screed", thickness_m=thickness_m),
        layer("thinset", None),
        covering=Covering(CoveringKind.CERAMIC),
    )
    for day, expected_state in ((half_d - 0.01, "unmet"), (half_d, "met")):
        made = seen(probe(day, 0.003), floor=floor)
        assert hold(made, "moisture-test").state == expected_state


def test_a_layer_deeper_than_its_drying_rule_counts_on_at_its_last_rate() -> None:
    rule = DryingWait(((0.04, 86400.0 / 0.001),))
    of_class = sheet("calcium-sulfate screed")
    short = replace(of_class.covers["any"], amount=rule)
    floor = zone(
        layer(replace(of_class, covers={"any": short}), START, "screed", thickness_m=0.05),
        layer("thinset", None),
        covering=Covering(CoveringKind.CERAMIC),
    )
    assert hold(seen(probe(24.9, 0.003), floor=floor), "moisture-test").state == "unmet"
    assert hold(seen(probe(25.0, 0.003), floor=floor), "moisture-test").state == "met"
