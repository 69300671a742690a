"""The crew's calendar: steps, gates, inspection, tests, the room, the heat-up."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from calendar_samples import (
    FIRST_HEAT,
    GROUT,
    GROUT_PLANNED,
    HALL,
    HALL_PLAN,
    HOLDS,
    JOB,
    LEVELER,
    LEVELER_DONE,
    LEVELER_PLANNED,
    THINSET,
    THINSET_PLANNED,
    VISITS,
    at,
    crew,
    milestones,
    owner,
    plan,
    released,
    sheet,
    window,
)

from curecal.calendars import Days, Event, Follows, Status, Timed
from curecal.instants import Window
from curecal.planning.plan import Hold, HoldState, LayerPlan, RampStep
from curecal.trade.data_sheets import Kind, Milestone
from curecal.trade.hold_codes import Gate, HoldCode
from curecal.trade.job import Role, Work

UNPOURED = replace(HALL_PLAN, layers=(LEVELER_PLANNED, THINSET_PLANNED, GROUT_PLANNED))


def test_a_planned_layer_starts_at_a_full_hour_of_a_working_day() -> None:
    step = crew(plan())["thinset", "step"]
    # Fri 4 Dec 15:10 on site, finished Mon 7 Dec 08:10.
    assert step.when == Timed(at(4, 20), at(7, 13))
    assert step.status is Status.TENTATIVE
    assert not step.busy
    assert "Do not start before Fri 4 Dec 2026, 16:00." in step.description
    assert "moves to Mon 7 Dec 2026, 08:00." in step.description
    assert "Start by Tue 8 Dec 2026, 08:00 at the latest" in step.description


def test_work_within_a_day_takes_its_hours() -> None:
    assert crew(plan())["grout", "step"].busy


def test_a_start_nothing_can_move_is_confirmed() -> None:
    fixed = replace(GROUT_PLANNED, start=window(at(9, 12)), finish=None)
    step = crew(plan(replace(HALL_PLAN, layers=(LEVELER_DONE, fixed))))["grout", "step"]
    assert step.status is Status.CONFIRMED
    assert step.when == Timed(at(9, 12), at(9, 13))
    assert "Readings no longer move this start." in step.description
    assert "finished by" not in step.description


def test_a_start_without_a_latest_date_says_so() -> None:
    open_end = replace(GROUT_PLANNED, start=Window(at(9, 12), None))
    step = crew(plan(replace(HALL_PLAN, layers=(LEVELER_DONE, open_end))))["grout", "step"]
    assert step.status is Status.TENTATIVE
    assert "No latest date can be promised" in step.description


def test_a_layer_without_a_date_has_no_entry() -> None:
    blocked = replace(GROUT_PLANNED, start=None, finish=None)
    found = crew(plan(replace(HALL_PLAN, layers=(LEVELER_DONE, THINSET_PLANNED, blocked))))
    assert ("grout", "step") not in found
    assert ("thinset", "step") in found


def test_no_governing_layer_no_word_of_it() -> None:
    silent = replace(HALL_PLAN.energize, governed_by=None)
    step = crew(plan(replace(HALL_PLAN, energize=silent)))["thinset", "step"]
    assert "hangs on" not in step.description


def test_a_done_layer_opens_a_gate_for_the_next() -> None:
    gate = crew(plan())["leveler", "gate"]
    # Thu 3 Dec 11:10 on site; its late end, Fri 07:10, is the start of that day's work.
    assert gate.when == Timed(at(3, 16), at(4, 12))
    assert gate.status is Status.TENTATIVE
    assert gate.summary == "Alder Lane 7, hall bath: leveler over cable is ready for thinset"
    assert "moisture test" not in gate.description


def gated(**changes: object) -> dict[tuple[str, str], Event]:
    cover = replace(LEVELER_DONE.milestones[Milestone.COVER], **changes)  # type: ignore[arg-type]
    done = replace(LEVELER_DONE, milestones={Milestone.COVER: cover})
    return crew(plan(replace(HALL_PLAN, layers=(done, THINSET_PLANNED, GROUT_PLANNED))))


def test_an_estimated_gate_names_the_test_and_stays_tentative() -> None:
    gate = gated(estimate=True, window=window(at(3, 12)))["leveler", "gate"]
    assert gate.status is Status.TENTATIVE
    assert "A passed moisture test decides" in gate.description


def test_a_gate_without_a_latest_date_says_so() -> None:
    gate = gated(window=Window(at(3, 12), None))["leveler", "gate"]
    assert gate.when == Timed(at(3, 12), at(3, 13))
    assert "No latest date can be promised" in gate.description


@pytest.mark.parametrize("changes", [{"informative": True}, {"window": None}])
def test_what_gates_nothing_has_no_entry(changes: dict[str, object]) -> None:
    assert ("leveler", "gate") not in gated(**changes)


def test_a_gate_that_is_passed_has_no_entry() -> None:
    thinset = replace(THINSET_PLANNED, planned=False, start=None)
    found = crew(plan(replace(HALL_PLAN, layers=(LEVELER_DONE, thinset, GROUT_PLANNED))))
    assert ("leveler", "gate") not in found
    assert ("thinset", "gate") in found


def test_an_old_layer_opens_nothing_and_begins_nothing() -> None:
    slab = replace(LEVELER, id="slab", existing=True, done_at=None, over_cable=False)
    old = LayerPlan(slab, planned=False, start=None, finish=window(at(1, month=1)))
    zone = replace(HALL, layers=(slab, THINSET, GROUT))
    layers = (old, THINSET_PLANNED, GROUT_PLANNED)
    made = plan(replace(HALL_PLAN, zone=zone, layers=layers, holds=()))
    assert ("slab", "gate") not in crew(made)
    # Nothing is done and no hour is nothing logged: from the Monday of the week, today included.
    assert owner(made)["do not switch on"].when.start_on == date(2026, 11, 30)  # type: ignore[union-attr]


def test_a_layer_follows_what_it_lies_on() -> None:
    found = crew(plan())
    gate, thinset, grout = (
        found["leveler", "gate"],
        found["thinset", "step"],
        found["grout", "step"],
    )
    assert thinset.follows == (Follows(gate.key),)
    assert grout.follows == (Follows(thinset.key, 48),)


def test_a_gap_nobody_knows_is_left_out() -> None:
    fresh = replace(THINSET_PLANNED, milestones={}, finish=window(at(7, 12, 10), 24))
    found = crew(plan(replace(HALL_PLAN, layers=(LEVELER_DONE, fresh, GROUT_PLANNED))))
    assert found["grout", "step"].follows == (Follows(found["thinset", "step"].key),)


def test_a_gap_of_no_length_is_left_out() -> None:
    at_once = replace(THINSET_PLANNED, milestones=milestones(grout=window(at(7, 12, 10))))
    found = crew(plan(replace(HALL_PLAN, layers=(LEVELER_DONE, at_once, GROUT_PLANNED))))
    assert found["grout", "step"].follows == (Follows(found["thinset", "step"].key),)


def test_what_is_laid_into_the_fresh_bed_follows_without_a_gap() -> None:
    mat = replace(GROUT, id="mat", sheet=sheet(Kind.UNCOUPLING_SHEET))
    zone = replace(HALL, layers=(LEVELER, THINSET, mat))
    planned = replace(GROUT_PLANNED, layer=mat)
    found = crew(
        plan(replace(HALL_PLAN, zone=zone, layers=(LEVELER_DONE, THINSET_PLANNED, planned)))
    )
    assert found["mat", "step"].follows == (Follows(found["thinset", "step"].key),)


def test_the_inspection_stands_before_the_pour() -> None:
    found = crew(plan(UNPOURED))
    slot = found["", "inspection-before-concealment"]
    # The pour may start Mon 7 Dec 09:20, so it is shown from that morning; the working day
    # before is Friday.
    assert slot.when == Timed(at(4, 12), at(4, 21))
    assert "No appointment yet" in slot.description
    assert slot.key in [link.key for link in found["leveler", "step"].follows]
    assert "leveler over cable is planned for Mon 7 Dec 2026, 08:00" in slot.description


def test_the_inspection_begins_when_the_cable_was_tested_after_laying() -> None:
    laid = replace(HOLDS[1], state=HoldState.MET, evidence="e-2", evidence_at=at(3, 14, 5))
    made = plan(replace(UNPOURED, holds=(HOLDS[0], laid)))
    assert crew(made)["", "inspection-before-concealment"].when == Days(
        date(2026, 12, 3), date(2026, 12, 5)
    )


def test_a_test_later_than_the_pour_does_not_turn_the_slot_around() -> None:
    laid = replace(HOLDS[1], state=HoldState.MET, evidence="e-2", evidence_at=at(8, 14))
    made = plan(replace(UNPOURED, holds=(HOLDS[0], laid)))
    assert crew(made)["", "inspection-before-concealment"].when == Timed(at(4, 12), at(4, 21))


def test_the_entry_of_the_pour_says_what_must_be_done_before_it() -> None:
    said = crew(plan(UNPOURED))["leveler", "step"].description
    first = said.partition("\n")[0]
    assert first.startswith("Do not cover the cable before this is done: electrical inspection")
    assert "cable test after laying, mat" in first
    assert "cable test after laying, spare" in first
    # Tests that later work waits for stand in the entry of that work.
    assert "after covering" not in first
    tiled = crew(plan(UNPOURED))["thinset", "step"].description.partition("\n")[0]
    assert tiled.startswith("Do not start before this is done: ")
    assert "cable test after covering, mat" in tiled
    assert "before this is done" not in crew(plan(UNPOURED))["grout", "step"].description


def test_without_any_working_day_the_slot_is_an_hour() -> None:
    made = plan(UNPOURED, job=replace(JOB, work=Work(days=frozenset())))
    slot = crew(made)["", "inspection-before-concealment"].when
    assert isinstance(slot, Timed)
    assert slot.end_at - slot.start_at == timedelta(hours=1)


@pytest.mark.parametrize("state", [HoldState.MET, HoldState.NOT_NEEDED])
def test_an_inspection_that_is_not_outstanding_has_no_slot(state: HoldState) -> None:
    made = plan(replace(UNPOURED, holds=(replace(HOLDS[0], state=state),)))
    assert ("", "inspection-before-concealment") not in crew(made)


def test_after_the_pour_there_is_no_slot() -> None:
    assert ("", "inspection-before-concealment") not in crew(plan())


def test_tests_are_due_by_the_work_they_gate() -> None:
    found = crew(plan(UNPOURED))
    due = {
        purpose: event.when.start_on
        for (_, purpose), event in found.items()
        if isinstance(event.when, Days) and "test" in purpose
    }
    assert due == {
        "test-after-laying": date(2026, 12, 7),
        "test-after-embedding": date(2026, 12, 4),
        "test-before-connection": date(2026, 12, 15),
        "moisture-test": date(2026, 12, 4),
    }
    assert "Cables: mat, spare." in found["", "test-after-laying"].description
    assert "repeat it" in found["", "test-after-laying"].description
    assert "repeat it" not in found["", "test-after-embedding"].description
    assert "Layer: leveler over cable." in found["leveler", "moisture-test"].description


def test_a_test_that_gates_no_planned_work_is_due_by_the_first_switch_on() -> None:
    top = replace(HOLDS[5], layer_id="grout")
    first = replace(HOLDS[3], gates="energize")
    made = plan(replace(HALL_PLAN, holds=(top, first, HOLDS[1])))
    found = crew(replace(made, visits=()))
    for key in (
        ("grout", "moisture-test"),
        ("", "test-after-embedding"),
        ("", "test-after-laying"),
    ):
        assert found[key].when == Days(date(2027, 1, 4), date(2027, 1, 5))


def test_a_test_without_a_visit_is_due_by_the_first_switch_on() -> None:
    without = replace(plan(), visits=(replace(VISITS[0], window=None), VISITS[1]))
    found = crew(without)["", "test-before-connection"]
    assert found.when == Days(date(2027, 1, 4), date(2027, 1, 5))


def test_a_chiselled_cable_is_tested_before_it_is_covered_again() -> None:
    chiselled = Hold(HoldCode.TEST_AFTER_CHISELLING, Gate.ENERGIZE, Role.CREW_LEAD, HoldState.UNMET)
    fresh = replace(HALL_PLAN, holds=(chiselled,))
    assert crew(plan(fresh))["", "test-after-chiselling"].when.start_on == date(2027, 1, 4)  # type: ignore[union-attr]
    mended = replace(THINSET_PLANNED, layer=replace(THINSET, repair=True))
    repair = replace(fresh, layers=(LEVELER_DONE, mended, GROUT_PLANNED))
    assert crew(plan(repair))["", "test-after-chiselling"].when == Days(
        date(2026, 12, 4), date(2026, 12, 5)
    )


def test_the_places_of_the_moisture_test_are_named_short() -> None:
    points = Hold(
        HoldCode.TEST_POINTS, Gate.EMBEDDING, Role.CREW_LEAD, HoldState.UNMET, layer_id="leveler"
    )
    found = crew(plan(replace(HALL_PLAN, holds=(points,))))["leveler", "test-points"]
    assert found.summary == "Alder Lane 7, hall bath: due, mark moisture test points"
    assert "marked clear of the cable (crew lead)" in found.description


def test_a_test_without_any_day_has_no_entry() -> None:
    nowhere = replace(HALL_PLAN.energize, start_on=None)
    zone = replace(HALL, layers=())
    made = plan(replace(HALL_PLAN, zone=zone, layers=(), energize=nowhere))
    found = crew(replace(made, visits=()))
    assert not [purpose for _, purpose in found if "test" in purpose]


def test_the_room_is_kept_warm_to_the_last_morning() -> None:
    order = crew(plan())["", "keep the room"]
    assert order.when == Days(date(2026, 12, 1), date(2026, 12, 30))
    assert order.summary == "Alder Lane 7, hall bath: keep the room at 64.4 °F or warmer"
    assert "Not with this floor" in order.description
    assert ("", "keep the room") not in crew(plan(replace(HALL_PLAN, room_order=None)))


def test_the_provisional_heat_up_is_tentative() -> None:
    found = crew(plan())["", "heat-up first heat"]
    assert found.when == Days(date(2027, 1, 4), date(2027, 1, 9))
    assert found.status is Status.TENTATIVE
    # No day of the week stands beside a set-point before there is a release.
    assert "Day 3: 84 °F (29 °C)\nDay 6: end of the heat-up." in found.description
    assert "Jan 2027" not in found.description
    assert "Not final. It starts only after the release" in found.description


def test_after_release_the_heat_up_is_told_by_its_days() -> None:
    found = crew(plan(released()))["", "heat-up first heat"]
    assert "Wed 6 Jan 2027: 84 °F (29 °C)" in found.description
    assert found.status is Status.TENTATIVE


def test_the_embedded_cable_is_tested_before_its_screed_is_heated_bare() -> None:
    for on, due in ((date(2026, 12, 3), date(2026, 12, 3)), (date(2026, 12, 9), None)):
        screed = replace(FIRST_HEAT, purpose="bare screed", steps=(RampStep(on, 20.0, 1),))
        found = crew(plan(replace(UNPOURED, heat_ups=(screed,))))
        plain = crew(plan(UNPOURED))
        embedded = found["", "test-after-embedding"].when
        assert isinstance(embedded, Days)
        assert embedded.start_on == (due or date(2026, 12, 4))
        # The moisture test comes after the bare heat-up.
        assert found["leveler", "moisture-test"] == plain["leveler", "moisture-test"]


def test_a_bare_screed_is_heated_before_any_release() -> None:
    screed = replace(FIRST_HEAT, purpose="bare screed")
    found = crew(plan(replace(HALL_PLAN, heat_ups=(screed,))))["", "heat-up bare screed"]
    assert found.summary == "Alder Lane 7, hall bath: heat-up of the bare screed"
    assert "release" not in found.description
    assert "Wed 6 Jan 2027: 84 °F (29 °C)" in found.description
    # The cable is not tested, nor connected: the entry is no leave to heat.
    first = "Do not heat the screed before its cable tests, "
    assert found.description.startswith(first)
    wired = replace(HALL_PLAN, heat_ups=(screed,), holds=())
    assert first not in crew(plan(wired))["", "heat-up bare screed"].description


def test_two_heat_ups_of_one_purpose_are_two_entries() -> None:
    firm = replace(FIRST_HEAT, provisional=False)
    empty = replace(FIRST_HEAT, steps=())
    found = crew(plan(replace(HALL_PLAN, heat_ups=(firm, empty, FIRST_HEAT))))
    assert found["", "heat-up first heat"].status is Status.CONFIRMED
    assert "Provisional." not in found["", "heat-up first heat"].description
    assert found["", "heat-up first heat, 2"].status is Status.TENTATIVE
    assert ("", "heat-up first heat, 3") not in found
