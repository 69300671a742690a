"""What moved between two instants, by how much, and because of which entry."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime

import pytest
from planning_log import HOUR, READY, a_job, courses, evidence, fact, floor, measured
from planning_samples import (
    DAY,
    RULES,
    START,
    daily,
    every_day,
    expected,
    job,
    layer,
    looked,
    plan,
    reading,
    sheet,
    zone,
)

from curecal.errors import UsageError
from curecal.planning.comparison.attribution import MOST_PLANS
from curecal.planning.comparison.plan_comparison import (
    PlanComparison,
    ZoneComparison,
    compare_since,
)
from curecal.planning.comparison.plan_snapshot import Ends
from curecal.planning.site_log.entry_kinds import kind_of
from curecal.trade.job import Expected, Job
from curecal.trade.site_log import (
    Correction,
    Done,
    Energized,
    Entry,
    HeatStep,
    Method,
    MoistureTest,
    Place,
    Release,
    Remark,
    Result,
    Stage,
)

COLD = Expected(20.0, 0.5, 15.0, 0.5)
NOON = START + DAY


def since(
    made: Job, log: Iterable[Entry], first: datetime = NOON, last: datetime = NOON + DAY
) -> PlanComparison:
    entries = tuple(log)
    now = plan(made, entries, last)
    return compare_since(first, now, made, entries, rules=RULES, day_off=every_day)


def only(moved: PlanComparison) -> ZoneComparison:
    (found,) = moved.zones
    return found


def moved_by(found: ZoneComparison) -> list[tuple[str, float | None]]:
    return [
        (cause.what.code, None if cause.energize is None else cause.energize.earliest_s)
        for cause in found.causes
    ]


def mortar(done: datetime | None = START) -> Job:
    return job(zone(layer("thinset", done, "mortar")), climate=COLD)


def test_nothing_new_moves_nothing() -> None:
    found = only(since(mortar(), ()))
    assert not found.has_changed
    assert found.causes == ()


def test_a_cold_reading_is_named_with_its_share() -> None:
    cold = reading(NOON + HOUR * 6, 12.0)
    found = only(since(mortar(), [cold]))
    assert found.energize is not None
    assert found.energize.earliest_s is not None
    assert found.energize.earliest_s > 0.0
    cause = next(cause for cause in found.causes if cause.entries == (cold.id,))
    assert cause.what.code == "moved-by-entry"
    assert cause.what.params["entry"] == "surface"
    assert cause.what.params["entry_at"] == cold.at


def test_the_shares_add_up_to_the_whole_move() -> None:
    log = [reading(NOON + HOUR * hours, 12.0 + hours / 10) for hours in (2, 9, 15, 22)]
    found = only(since(mortar(), log))
    assert found.energize is not None
    shares = [cause.energize.earliest_s for cause in found.causes if cause.energize is not None]
    assert sum(share or 0.0 for share in shares) == pytest.approx(
        found.energize.earliest_s,
        abs=60.0 * len(log),  # less than a minute is no move, each time
    )
    assert {entry for cause in found.causes for entry in cause.entries} == {e.id for e in log}


def test_a_date_that_comes_nearer_says_why_it_may() -> None:
    warm = [reading(NOON + HOUR * hours, 20.0) for hours in (6, 18)]
    found = only(since(mortar(), warm))
    assert found.energize is not None
    assert found.energize.is_nearer
    reasons = {cause.may.code for cause in found.causes if cause.may is not None}
    assert reasons == {"moved-may-measured"}


def test_work_that_nobody_wrote_down_slides_with_time() -> None:
    made = job(zone(layer("thinset", None, "mortar", planned_finish_at=NOON + HOUR * 2)))
    found = only(since(made, ()))
    assert [code for code, _ in moved_by(found)] == ["moved-by-time"]
    assert found.energize is not None
    assert found.energize.earliest_s is not None
    assert found.energize.earliest_s > 0.0
    assert found.causes[0].may is None


def test_a_finish_is_named_by_its_entry_with_the_layer() -> None:
    made = job(zone(layer("thinset", None, "mortar", planned_finish_at=NOON + DAY * 3)))
    told = fact(Done, NOON + HOUR * 5, layer="mortar")
    found = only(since(made, [told]))
    assert found.before.state == "planned"
    assert found.after.state == "curing"
    (cause,) = found.causes
    assert cause.what.params["layer"] == "mortar"
    assert cause.entries == (told.id,)
    assert cause.states == ("planned", "curing")
    assert cause.may is not None
    assert cause.may.code == "moved-may-done"


def test_a_finish_in_the_job_file_did_not_exist_before_it() -> None:
    planned = layer("thinset", NOON + HOUR * 5, "mortar", part="window", existing=False)
    found = only(since(job(zone(planned)), ()))
    (cause,) = found.causes
    assert cause.what.code == "moved-by-file"
    assert cause.what.params["layer"] == "mortar (window)"
    assert cause.entries == ()


def test_a_correction_is_named_as_one() -> None:
    cold = replace(reading(START + HOUR * 3, 11.0), by="Ada")
    at = NOON + HOUR
    back = Correction(id="c", at=at, recorded=at, by="Ada", of=cold.id, withdrawn=True)
    found = only(since(mortar(), [cold, back]))
    cause = next(cause for cause in found.causes if cause.entries == ("c",))
    assert cause.what.params["of"] == cold.id
    assert cause.may is not None
    assert cause.may.code == "moved-may-correction"


def test_a_look_at_a_frozen_layer_gives_a_date_again() -> None:
    log = [reading(START + HOUR * 3, -2.0), reading(START + HOUR * 9, 18.0)]
    look = looked(NOON + HOUR, Result.SOUND, "mortar")
    found = only(since(mortar(), [*log, look]))
    assert found.energize is not None
    assert found.energize.before == Ends()
    assert found.energize.earliest_s is None
    assert found.energize.is_nearer
    (cause,) = [cause for cause in found.causes if cause.entries == (look.id,)]
    assert cause.may is not None
    assert cause.may.code == "moved-may-inspection"


def test_a_passed_moisture_test_is_named() -> None:
    made = job(
        zone(
            # Long enough ago that a pass is no surprise.
            layer("calcium-sulfate screed", START - DAY * 45, "screed", thickness_m=0.05),
            layer("primer", None, "coat"),
            layer("thinset", None, "mortar"),
        )
    )
    test = fact(
        MoistureTest,
        NOON + HOUR,
        layer="screed",
        method=Method.CARBIDE,
        value_fraction=0.003,
        depth_m=0.03,
        points=3,
        air_c=20.0,
        humidity=0.55,
    )
    found = only(since(made, [test]))
    reasons = {cause.may.code for cause in found.causes if cause.may is not None}
    assert reasons == {"moved-may-moisture"}
    assert [hold.code for hold in found.holds] == ["moisture-test"]
    assert found.holds[0].evidence == test.id


def test_a_hold_point_met_names_its_evidence_and_moves_no_date() -> None:
    test = measured(NOON + HOUR, Stage.EMBEDDED)
    found = only(since(a_job(), [test], last=NOON + HOUR * 2))
    (hold,) = [hold for hold in found.holds if hold.code == "test-after-embedding"]
    assert (hold.before, hold.after, hold.evidence) == ("unmet", "met", test.id)
    assert found.energize is None
    assert found.causes == ()
    assert found.has_changed


def test_a_state_changes_because_of_an_entry() -> None:
    log = [*evidence(), fact(Release, READY + HOUR), fact(Energized, READY + HOUR * 2)]
    found = only(since(a_job(), log, READY, READY + HOUR * 3))
    assert [(cause.states, cause.what.params["entry"]) for cause in found.causes] == [
        (("clear", "released"), "release"),
        (("released", "heating up"), "energized"),
    ]


def test_what_decides_is_told_where_it_changed() -> None:
    made = job(
        zone(
            layer(sheet("thinset", 28.0), START, "mortar"),
            layer(sheet("cement grout", 27.0), None, "grout"),
        )
    )
    then = only(since(made, ()))
    assert then.deciders is None
    late = fact(Done, NOON + DAY * 8, layer="grout")
    first, last = NOON - HOUR, NOON + DAY * 9
    early = replace(made, zones=(replace(made.zones[0], layers=made.zones[0].layers[:1]),))
    assert only(since(early, (), first, last)).deciders is None
    found = only(since(made, [late], first, last))
    assert found.after.energize.governed_by is not None
    assert found.after.energize.governed_by.layer == "grout"


def test_more_entries_than_are_looked_into_become_a_group() -> None:
    # Every look moves the date a little: more than a replay makes plans of.
    log = [reading(NOON + HOUR * hours, 14.0 - hours / 50) for hours in range(1, 100)]
    found = only(since(mortar(), log, last=NOON + DAY * 5))
    groups = [cause for cause in found.causes if cause.what.code == "moved-by-entries"]
    assert groups
    assert all(group.may is None or group.may.code == "moved-may-entries" for group in groups)
    assert all(group.what.params["count"] == len(group.entries) for group in groups)
    assert {entry for cause in found.causes for entry in cause.entries} <= {e.id for e in log}
    assert len(found.causes) <= 2 * MOST_PLANS
    shares = [cause.energize.earliest_s for cause in found.causes if cause.energize is not None]
    assert found.energize is not None
    assert sum(share or 0.0 for share in shares) == pytest.approx(
        found.energize.earliest_s, abs=60.0 * len(found.causes)
    )


def test_entries_that_move_nothing_are_no_cause() -> None:
    steps = [fact(HeatStep, READY + HOUR * (index + 2), to_c=25.0) for index in range(60)]
    log = [*evidence(), fact(Release, READY + HOUR), *steps]
    found = only(since(a_job(floor()), log, READY, READY + DAY * 5))
    assert found.energize is None
    assert [cause.states for cause in found.causes] == [
        ("clear", "released"),
        ("released", "heating up"),
    ]


def test_work_finished_late_and_written_down_later_is_late_by_its_finish() -> None:
    """Until it was written down it slid by a day; what counts is how it compares with its plan."""
    made = job(zone(layer("thinset", None, "mortar", planned_finish_at=NOON + HOUR)))
    told = fact(Done, NOON + HOUR * 20, layer="mortar", recorded=NOON + HOUR * 30)
    look = reading(NOON + HOUR * 5, 20.0)
    found = only(since(made, [look, told], last=NOON + DAY * 2))
    assert moved_by(found) == [("moved-by-entry", 19 * 3600.0)]
    assert found.causes[0].may is None


def test_work_finished_on_time_and_written_down_later_moved_nothing() -> None:
    made = job(zone(layer("thinset", None, "mortar", planned_finish_at=NOON + HOUR)))
    told = fact(Done, NOON + HOUR, layer="mortar", recorded=NOON + HOUR * 30)
    look = reading(NOON + HOUR * 5, 20.0)
    found = only(since(made, [look, told], last=NOON + DAY * 2))
    assert found.energize is None
    assert [cause.energize for cause in found.causes] == [None]
    assert found.causes[0].states == ("planned", "curing")


def test_an_instant_after_the_plans_own_is_refused() -> None:
    with pytest.raises(UsageError, match="moved-since-later"):
        since(mortar(), (), NOON + DAY * 2)


def test_visits_that_move_are_told() -> None:
    made = job(zone(layer("thinset", None, "mortar", planned_finish_at=NOON + HOUR * 2)))
    moved = since(made, ())
    assert {visit.kind for visit in moved.visits} >= {"test-and-connect", "energize"}
    done = since(a_job(), [*evidence(), fact(Release, READY + HOUR)], READY, READY + HOUR * 2)
    # A release moves nobody's visit: it was the visit's own condition.
    assert done.visits == ()


def test_a_visit_whose_first_day_goes_on_with_today_has_not_moved() -> None:
    made = a_job(floor(layers=courses()))
    seen = since(made, daily(START, 7, 20.0), START + DAY * 5, START + DAY * 6)
    assert "test-and-connect" not in {visit.kind for visit in seen.visits}
    overdue = since(made, daily(START, 7, 20.0), START + DAY * 8, START + DAY * 9)
    (visit,) = [visit for visit in overdue.visits if visit.kind == "test-and-connect"]
    assert visit.before is not None
    assert visit.after is not None
    assert visit.before.latest != visit.after.latest


def test_an_entry_the_core_has_no_class_for_is_a_note() -> None:
    class Odd(Remark):
        """Something a later release may write."""

        __slots__ = ()

    odd = Odd(id="odd", at=NOON + HOUR, recorded=NOON + HOUR)
    assert kind_of(odd) == "note"
    assert not only(since(mortar(), [odd])).causes


def test_zones_that_have_nothing_to_do_with_it_stay_still() -> None:
    two = job(
        zone(layer("thinset", START, "mortar")),
        zone(layer("thinset", START, "bed"), id="den", name="den", path="zone.1"),
        climate=COLD,
    )
    log = [replace(reading(NOON + HOUR * 6, 12.0), zone="den")]
    moved = since(two, log)
    assert [found.has_changed for found in moved.zones] == [False, True]
    assert [len(found.causes) > 0 for found in moved.zones] == [False, True]


@pytest.mark.parametrize(
    ("entry", "kind"),
    [
        (reading(NOON + HOUR, 12.0, Place.AIR), "air"),
        (fact(Remark, NOON + HOUR, text="x"), "note"),
    ],
)
def test_facts_are_named_by_their_kind(entry: Entry, kind: str) -> None:
    found = only(since(mortar(), [entry]))
    kinds = {cause.what.params.get("entry") for cause in found.causes} - {None}
    assert kinds == ({kind} if kind == "air" else set())


def test_hours_after_a_reading_move_no_date_by_passing() -> None:
    made = job(zone(layer("thinset", START, "mortar")), climate=expected(20.0, coldest_c=15.0))
    for look_c in (8.0, 20.0, 26.0):
        look = reading(NOON - HOUR, look_c)
        for later in (HOUR * 4, DAY, DAY * 3):
            found = only(since(made, [look], NOON, NOON + later))
            assert found.energize is None
            assert found.causes == ()


def test_a_later_layer_written_down_in_time_is_no_cause_at_all() -> None:
    """It slid and came back; the state was curing all the while."""
    finish = START + DAY * 3
    made = job(
        zone(
            layer(sheet("thinset", 28.0), START, "bed"),
            layer(sheet("cement grout", 28.0), None, "grout", planned_finish_at=finish),
        )
    )
    told = fact(Done, finish, layer="grout", recorded=finish + HOUR * 30)
    look = reading(finish + HOUR * 20, 20.0)
    found = only(since(made, [look, told], last=finish + DAY * 2))
    assert found.energize is None
    assert found.causes == ()


def test_a_slide_without_a_late_end_has_an_early_one() -> None:
    """At the coldest it never hardens: only the early end can be counted together."""
    frosty = Expected(20.0, 0.5, 5.0, 0.5)
    bed = layer("thinset", None, "mortar", planned_finish_at=NOON + HOUR)
    told = fact(Done, NOON + HOUR * 20, layer="mortar", recorded=NOON + HOUR * 30)
    look = reading(NOON + HOUR * 5, 20.0)
    found = only(since(job(zone(bed), climate=frosty), [look, told], last=NOON + DAY * 2))
    shares = [cause.energize.earliest_s for cause in found.causes if cause.energize is not None]
    assert shares == [19 * 3600.0]


def test_a_slide_without_any_date_is_counted_by_what_it_became() -> None:
    frozen = Expected(5.0, 0.5, 5.0, 0.5)
    bed = layer("thinset", None, "mortar", planned_finish_at=NOON + HOUR)
    told = fact(Done, NOON + HOUR * 20, layer="mortar", recorded=NOON + HOUR * 30)
    log = [reading(NOON + HOUR * hours, 20.0) for hours in (5, 25)]
    found = only(since(job(zone(bed), climate=frozen), [*log, told], last=NOON + DAY * 2))
    finish = [
        each.earliest_s
        for cause in found.causes
        for _, each in cause.dates
        if each.what == "finish"
    ]
    assert finish == [19 * 3600.0]
    assert found.after.energize.ends == Ends()
