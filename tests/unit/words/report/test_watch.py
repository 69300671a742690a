"""What "Watch" shows: nothing settled, and what is said of several layers once."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from plan_samples import AS_OF, HOLDS, RULES, job, plan, zone

from curecal.planning.plan import HoldState, State
from curecal.trade.findings import Finding, Severity
from curecal.trade.hold_codes import HoldCode
from curecal.words.report.watch import to_watch
from curecal.words.sentences import words_for

WORDS = words_for(job(), RULES)
ZONE = zone().zone.id
DAY = timedelta(days=1)


def found(code: str, **params: object) -> Finding:
    return Finding(Severity.CAUTION, code, "zone.0.layer.1", params, ZONE)


def shown(finding: Finding, state: State = State.CURING, **more: object) -> bool:
    return to_watch([finding], plan(zone(state, **more)), WORDS) == [finding]


def test_a_release_that_a_later_one_replaced_is_history() -> None:
    assert not shown(found("release-settled"))


@pytest.mark.parametrize(
    ("state", "stays"), [(State.CURING, True), (State.RELEASED, False), (State.IN_SERVICE, False)]
)
def test_advice_for_the_wait_ends_with_the_release(state: State, *, stays: bool) -> None:
    assert shown(found("heat-by-fallback", layer="bed", wait_s=1.0), state) is stays


@pytest.mark.parametrize(
    ("met_after", "state", "stays"),
    [
        (DAY, HoldState.MET, False),
        (-DAY, HoldState.MET, True),
        (timedelta(0), HoldState.MET, True),
        (DAY, HoldState.FAILED, True),
    ],
)
def test_a_test_that_did_not_count_is_history_after_a_good_one(
    met_after: timedelta, state: HoldState, *, stays: bool
) -> None:
    tests = (
        replace(
            HOLDS[0],
            code=HoldCode.TEST_AFTER_LAYING,
            state=state,
            evidence_at=AS_OF + met_after,
        ),
    )
    assert shown(found("which-cable", tested_at=AS_OF), holds=tests) is stays


def test_a_test_without_its_hold_point_or_zone_stays() -> None:
    assert shown(found("which-cable", tested_at=AS_OF), holds=())
    assert shown(replace(found("heat-by-fallback"), zone_id=None), State.RELEASED)


def test_what_is_said_of_several_layers_is_said_once() -> None:
    bed, joints, other = (
        found("heat-by-fallback", layer=name, wait_s=86400.0 * 28)
        for name in ("bed", "joints", "c")
    )
    only = to_watch([bed], plan(), WORDS)
    assert [finding.code for finding in only] == ["heat-by-fallback"]
    (one,) = to_watch([bed, joints, other], plan(), WORDS)
    assert one.code == "heat-by-fallback-layers"
    assert one.params["layers"] == ("bed", "joints", "c")
    assert one.path == "zone.0"
    assert "bed, joints, c" in WORDS.finding(one)[0]
    apart = to_watch([bed, replace(joints, zone_id="another")], plan(), WORDS)
    assert len(apart) == 2
