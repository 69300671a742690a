"""Moisture tests by method: each has its own limit, and none stands in for another's."""

from __future__ import annotations

from dataclasses import replace

import pytest
from moisture_samples import GLUE, probe, screed, seen
from planning_log import codes, hold
from planning_samples import RULES, SHEET, START, layer, zone

from curecal.planning.plan import HoldState, Plan
from curecal.trade.data_sheets import MoistureLimit, strictest
from curecal.trade.job import Covering, CoveringKind
from curecal.trade.site_log import Method
from curecal.words.sentences import words_for

LIMITED = {
    Method.CARBIDE: 0.018,
    Method.HUMIDITY: 0.75,
    Method.PROBE: 0.75,
    Method.HOOD: 0.75,
}
"""What the shipped limits of a cement screed are; the others have no source."""
DAMPEST_G = 15.0


def by_covering(*limits: MoistureLimit) -> Plan:
    """Return what a test of 14 g/m² says of a screed under wood with limits of its maker's."""
    covering = Covering(CoveringKind.WOOD, moisture_limits=limits)
    dish = {"value_fraction": None, "value_kgm2s": 14e-3 / 86400.0, "depth_m": None}
    test = probe(63.0, method=Method.CALCIUM_CHLORIDE, **dish)
    return seen(test, floor=screed_under(covering))


def screed_under(covering: Covering) -> object:
    base = layer("sand-cement screed", START, "screed", thickness_m=0.065)
    return zone(base, layer(GLUE, None, "glue"), covering=covering)


def evaporating(grams: float) -> MoistureLimit:
    return MoistureLimit("calcium chloride", None, SHEET, grams * 1e-3 / 86400.0)


@pytest.mark.parametrize("method", [*Method])
def test_a_method_counts_where_it_has_a_limit_of_its_own(method: Method) -> None:
    made = seen(probe(63.0, LIMITED.get(method, 0.2), method=method))
    met = hold(made, "moisture-test").state is HoldState.MET
    assert met is (method in LIMITED)
    assert ("moisture-without-limit" in codes(made)) is not met
    over = seen(probe(63.0, LIMITED.get(method, 0.2) + 0.001, method=method))
    state = HoldState.FAILED if method in LIMITED else HoldState.UNMET
    assert hold(over, "moisture-test").state is state


@pytest.mark.parametrize(
    ("method", "counts"),
    [
        (Method.PROBE, False),
        (Method.HUMIDITY, False),
        (Method.CARBIDE, False),
        (Method.HOOD, True),
    ],
)
def test_what_stands_on_the_base_has_no_depth(method: Method, *, counts: bool) -> None:
    """A probe at the wrong depth reads the surface, which dries first; a hood stands there."""
    value = LIMITED[method]
    for depth_m in (None, 0.001):
        made = seen(probe(63.0, value, method=method, depth_m=depth_m))
        assert (hold(made, "moisture-test").state is HoldState.MET) is counts


def test_the_coverings_maker_may_give_a_limit_where_none_is_known() -> None:
    assert hold(by_covering(), "moisture-test").state is HoldState.UNMET
    assert hold(by_covering(evaporating(15.0)), "moisture-test").state is HoldState.MET
    wet = by_covering(evaporating(13.0))
    test_hold = hold(wet, "moisture-test")
    assert test_hold.state is HoldState.FAILED
    assert test_hold.reason is not None
    said = words_for(wet.job, RULES).message(test_hold.reason)
    assert "14 g/m² in 24 h (calcium chloride), at most 13 g/m² in 24 h" in said


def test_of_the_bases_and_the_coverings_limit_the_stricter_counts() -> None:
    for limit, state in ((0.65, HoldState.FAILED), (0.85, HoldState.MET)):
        own = MoistureLimit("probe", limit, SHEET)
        covering = Covering(CoveringKind.WOOD, moisture_limits=(own,))
        made = seen(probe(63.0, 0.7, method=Method.PROBE), floor=screed_under(covering))
        assert hold(made, "moisture-test").state is state
    # Over the base's own limit, whatever the covering bears.
    covering = Covering(CoveringKind.WOOD, moisture_limits=(MoistureLimit("probe", 0.85, SHEET),))
    made = seen(probe(63.0, 0.8, method=Method.PROBE), floor=screed_under(covering))
    assert hold(made, "moisture-test").state is HoldState.FAILED


def test_a_limit_that_only_says_humidity_binds_a_probe_and_gives_it_none() -> None:
    plain = MoistureLimit("humidity", 0.65, SHEET)
    covering = Covering(CoveringKind.WOOD, moisture_limits=(plain,))
    made = seen(probe(63.0, 0.7, method=Method.PROBE), floor=screed_under(covering))
    assert hold(made, "moisture-test").state is HoldState.FAILED
    bare = replace(RULES.classes["sand-cement screed"], moisture_limits=(plain,))
    made = seen(probe(63.0, 0.6, method=Method.PROBE), floor=screed(sheet=bare))
    assert "moisture-without-limit" in codes(made)


def test_a_fall_no_base_makes_is_seen_by_every_method() -> None:
    limit = Covering(CoveringKind.WOOD, moisture_limits=(evaporating(15.0),))
    dish = {"value_fraction": None, "depth_m": None, "method": Method.CALCIUM_CHLORIDE}
    wet = probe(63.0, value_kgm2s=40e-3 / 86400.0, **dish)
    dry = probe(65.0, value_kgm2s=14e-3 / 86400.0, **dish)
    made = seen(wet, dry, floor=screed_under(limit))
    fell = next(found for found in made.findings if found.code == "moisture-fell")
    assert "was 40 g/m² in 24 h" in words_for(made.job, RULES).finding(fell)[0]


def test_the_strictest_of_several_limits_is_each_methods_own() -> None:
    loose, strict = MoistureLimit("hood", 0.8, SHEET), MoistureLimit("hood", 0.7, SHEET)
    assert strictest([loose, strict, evaporating(DAMPEST_G)]) == (strict, evaporating(DAMPEST_G))
