"""What moved against a plan kept before: what changed in the job, and what came in by the log."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import pytest
from planning_log import HOUR
from planning_samples import DAY, RULES, START, every_day, expected, job, layer, plan, sheet, zone

from curecal.errors import UsageError
from curecal.planning.comparison.job_diff import LayerChangeKind
from curecal.planning.comparison.plan_comparison import (
    PlanComparison,
    ZoneComparison,
    compare_since,
    compare_with_kept,
)
from curecal.planning.comparison.plan_snapshot import snapshot
from curecal.trade.job import Job, Layer
from curecal.trade.site_log import Entry

NOON = START + DAY
BED = layer(sheet("thinset", 10.0), START, "bed")
GROUT = layer(sheet("cement grout", 10.0), None, "grout")


def floor_of(*layers: Layer, air_c: float = 20.0) -> Job:
    return job(zone(*layers), climate=expected(air_c))


def against(before: Job, after: Job, log: Iterable[Entry] = ()) -> PlanComparison:
    entries = tuple(log)
    now = plan(after, entries, NOON + DAY)
    earlier = snapshot(plan(before, (), NOON))
    return compare_with_kept(earlier, now, after, entries, rules=RULES, day_off=every_day)


def only(moved: PlanComparison) -> ZoneComparison:
    (found,) = moved.zones
    return found


def test_the_same_job_has_not_moved() -> None:
    found = only(against(floor_of(BED), floor_of(BED)))
    assert not found.has_changed
    assert found.causes == ()


def test_a_new_layer_is_the_cause_with_its_share() -> None:
    ridge = layer(sheet("leveler", 28.0), None, "ridge", thickness_m=0.005)
    found = only(against(floor_of(BED, GROUT), floor_of(BED, ridge, GROUT)))
    assert [(each.change, each.layer) for each in found.changes] == [(LayerChangeKind.NEW, "ridge")]
    assert found.energize is not None
    new = next(cause for cause in found.causes if cause.what.code == "moved-by-new-layer")
    assert new.what.params["layer"] == "ridge"
    assert new.energize is not None
    assert new.energize.earliest_s is not None
    assert new.energize.earliest_s > 0.0
    # What a new layer pushes back is told with it.
    assert {"grout"} <= {layer_id for layer_id, _ in new.dates}
    assert found.deciders is not None


def test_several_new_layers_share_the_move() -> None:
    ridge = layer(sheet("leveler", 28.0), None, "ridge", thickness_m=0.005)
    coat = layer("sealer", None, "coat")
    found = only(against(floor_of(BED, GROUT), floor_of(BED, ridge, GROUT, coat)))
    new = [cause for cause in found.causes if cause.what.code == "moved-by-new-layer"]
    assert [cause.what.params["layer"] for cause in new] == ["ridge"]
    assert {each.layer for each in found.changes} == {"ridge", "coat"}


def test_other_data_is_named_and_a_nearer_date_asks_for_a_look() -> None:
    quick = replace(BED, sheet=sheet("thinset", 5.0))
    named = replace(
        quick,
        sheet=replace(
            quick.sheet,
            waits={
                key: replace(wait, source=replace(wait.source, text="another sheet"))
                for key, wait in quick.sheet.waits.items()
            },
        ),
    )
    found = only(against(floor_of(BED), floor_of(named)))
    assert [each.change for each in found.changes] == [LayerChangeKind.DATA]
    (cause,) = found.causes
    assert cause.what.code == "moved-by-layers"
    assert cause.what.params["data"] == "bed"
    assert cause.may is not None
    assert cause.may.code == "moved-may-layers"


def test_a_layer_that_is_gone_is_named() -> None:
    found = only(against(floor_of(BED, GROUT), floor_of(BED)))
    assert [(each.change, each.layer) for each in found.changes] == [
        (LayerChangeKind.GONE, "grout")
    ]
    (cause,) = [cause for cause in found.causes if cause.what.code == "moved-by-layers"]
    assert cause.what.params["gone"] == "grout"


def test_another_time_of_finish_is_named() -> None:
    found = only(against(floor_of(BED), floor_of(replace(BED, done_at=START + HOUR * 4))))
    assert [each.change for each in found.changes] == [LayerChangeKind.DONE]
    (cause,) = found.causes
    assert cause.what.params["done"] == "bed"
    assert cause.energize is not None
    assert cause.energize.earliest_s == 4 * 3600.0


def test_a_layer_said_to_have_been_there_before_is_other_data() -> None:
    old = replace(BED, existing=True)
    found = only(against(floor_of(BED, GROUT), floor_of(old, GROUT)))
    assert found.changes[0].change is LayerChangeKind.DATA


def test_what_nothing_named_explains_is_said_to_be_unexplained() -> None:
    found = only(against(floor_of(BED, air_c=18.0), floor_of(BED, air_c=20.0)))
    (cause,) = found.causes
    assert cause.what.code == "moved-by-job"
    assert cause.may is not None
    assert cause.may.code == "moved-may-unknown"
    colder = only(against(floor_of(BED, air_c=20.0), floor_of(BED, air_c=18.0)))
    assert colder.causes[0].may is None


def test_zones_that_are_new_or_gone_are_told() -> None:
    one = zone(BED)
    other = zone(replace(BED, id="bed-2"), id="den", name="den", path="zone.1")
    grown = against(job(one), job(one, other))
    assert [each.id for each in grown.new_zones] == ["den"]
    assert [found.has_changed for found in grown.zones] == [False]
    shrunk = against(job(one, other), job(one))
    assert [each.id for each in shrunk.gone_zones] == ["den"]


def test_visits_that_are_new_or_gone_are_told() -> None:
    wired = zone(BED)
    bare = replace(wired, layers=())
    found = against(job(bare), job(wired))
    assert "energize" in {visit.kind for visit in found.visits}
    back = against(job(wired), job())
    assert all(visit.after is None for visit in back.visits)
    assert back.visits


def test_another_jobs_plan_is_refused() -> None:
    with pytest.raises(UsageError, match="moved-other-job"):
        against(floor_of(BED), replace(floor_of(BED), id="another"))


def test_a_plan_from_later_is_refused() -> None:
    made = floor_of(BED)
    later = snapshot(plan(made, (), NOON + DAY * 3))
    with pytest.raises(UsageError, match="moved-since-later"):
        compare_with_kept(later, plan(made, (), NOON), made, (), rules=RULES, day_off=every_day)


def test_a_finish_in_the_job_file_is_sooner_only_if_it_was_planned_there_before() -> None:
    made = floor_of(layer(sheet("cement grout", 10.0), NOON + HOUR, "grout"))
    now = plan(made, (), NOON + DAY)
    moved = compare_since(NOON, now, made, (), rules=RULES, day_off=every_day)
    assert moved.by_log
    assert not against(floor_of(BED), floor_of(BED)).by_log
    causes = [cause for zone in moved.zones for cause in zone.causes]
    assert [cause.what.code for cause in causes] == ["moved-by-file"]
    assert causes[0].may is not None
    assert causes[0].may.code == "moved-may-file"
