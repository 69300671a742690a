"""The owner's calendar, and what all three share."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest
from calendar_samples import (
    FIRST_HEAT,
    GROUT_PLANNED,
    HALL,
    HALL_PLAN,
    JOB,
    LEVELER,
    LEVELER_DONE,
    RULES,
    THINSET_PLANNED,
    TZ,
    at,
    crew,
    electrician,
    milestones,
    owner,
    plan,
    released,
    window,
)

from curecal.calendars import Days, Status, Timed, feeds
from curecal.instants import Window
from curecal.material_classes.rules import load_rules
from curecal.planning.plan import (
    LayerPlan,
    RampStep,
    State,
    ZonePlan,
)
from curecal.trade.job import Layer, Role, Room, Work

# The owner


def test_a_repaired_floor_is_switched_on_again_by_the_crew() -> None:
    mended = replace(THINSET_PLANNED, layer=replace(THINSET_PLANNED.layer, repair=True))
    was = replace(THINSET_PLANNED.layer, id="old", existing=True)
    layers = (replace(THINSET_PLANNED, layer=was, planned=False, start=None, finish=None), mended)
    off = owner(plan(replace(HALL_PLAN, layers=layers)))["do not switch on"]
    assert "Only we switch it on again." in off.description
    assert "by: electrician" not in off.description
    on = owner(plan(released(replace(HALL_PLAN, layers=layers))))["may switch on"]
    assert "Only we switch it on again." in on.description


def test_the_owner_is_told_one_date_and_nothing_of_the_heat_up() -> None:
    found = owner(plan())
    assert set(found) == {
        "do not switch on",
        "ask before switching on",
        "walk",
        "shower",
        "furniture",
    }
    off = found["do not switch on"]
    assert off.when == Days(date(2026, 12, 1), date(2027, 1, 8))
    assert "before Fri 8 Jan 2027" in off.description
    assert "Only the electrician switches it on the first time." in off.description


def test_the_day_that_was_told_rings_and_is_no_permission() -> None:
    # Fri 8 Jan at 08:00 in Halifax; the alarm a quarter of an hour before, and none after it.
    ask = owner(plan())["ask before switching on"]
    start = datetime(2027, 1, 8, 12, tzinfo=UTC)
    assert ask.when == Timed(start, start + timedelta(minutes=30))
    assert [alarm.at for alarm in ask.alarms] == [start - timedelta(minutes=15)]
    assert ask.summary.endswith("ask us before you touch the floor heating")
    assert "ask before switching on" not in owner(plan(released()))
    stopped = replace(HALL_PLAN, state=State.STOPPED)
    assert "ask before switching on" not in owner(plan(stopped))


def test_use_of_the_floor_waits_for_the_late_end() -> None:
    found = owner(plan())
    # Grout: walk Sun 13 Dec 14:00, wet Thu 17 Dec, load Sat 19 Dec; each the next morning.
    assert found["walk"].when == Days(date(2026, 12, 14), date(2026, 12, 15))
    assert found["shower"].when == Days(date(2026, 12, 18), date(2026, 12, 19))
    assert found["furniture"].when == Days(date(2026, 12, 20), date(2026, 12, 21))


def test_a_milestone_that_gates_no_layer_still_binds_the_owner() -> None:
    told = {
        name: replace(found, informative=True) for name, found in GROUT_PLANNED.milestones.items()
    }
    layers = (LEVELER_DONE, THINSET_PLANNED, replace(GROUT_PLANNED, milestones=told))
    assert owner(plan(replace(HALL_PLAN, layers=layers))) == owner(plan())


def _with_joint(name: str, *, done_at: datetime | None, wet: Window | None) -> ZonePlan:
    """Return the hall with a joint or an edge in its list."""
    joint = Layer(name, name, load_rules().classes[name], "zone.0.layer.3", done_at=done_at)
    finish = window(done_at or at(10, 11))
    dated = milestones(wet=wet) if wet else {}
    made = LayerPlan(joint, planned=done_at is None, start=None, finish=finish, milestones=dated)
    return replace(HALL_PLAN, layers=(*HALL_PLAN.layers, made))


def test_there_is_no_shower_before_the_silicone_of_its_joints_is_logged() -> None:
    without = owner(plan())
    planned = owner(plan(_with_joint("silicone", done_at=None, wet=window(at(12, 11)))))
    assert without.keys() - planned.keys() == {"shower"}
    assert {name: without[name] for name in planned} == planned
    # Dry for water two days after it is done (common practice): Sat 19 Dec, 13:00.
    late = _with_joint("silicone", done_at=at(17, 13), wet=window(at(19, 13)))
    assert owner(plan(late))["shower"].when == Days(date(2026, 12, 20), date(2026, 12, 21))
    soon = _with_joint("silicone", done_at=at(9, 13), wet=window(at(11, 13)))
    assert owner(plan(soon)) == without


def test_an_edge_is_nothing_to_walk_on() -> None:
    undone = _with_joint("perimeter strip", done_at=None, wet=None)
    beside = undone.layers[-1]
    unknown = replace(undone, layers=(*undone.layers[:-1], replace(beside, finish=None)))
    assert owner(plan(undone)) == owner(plan())
    assert owner(plan(unknown)) == owner(plan())


def test_a_shower_is_a_matter_of_bathrooms() -> None:
    living = replace(HALL, room=Room.LIVING_SPACE)
    assert "shower" not in owner(plan(replace(HALL_PLAN, zone=living)))


@pytest.mark.parametrize(
    "grout",
    [
        replace(GROUT_PLANNED, finish=None),
        replace(GROUT_PLANNED, finish=Window(at(9), None)),
        replace(GROUT_PLANNED, milestones=milestones(walk=None)),
        replace(GROUT_PLANNED, milestones=milestones(walk=Window(at(9), None))),
        replace(GROUT_PLANNED, milestones={}),
    ],
)
def test_an_unknown_layer_leaves_the_owner_without_a_day(grout: LayerPlan) -> None:
    found = owner(plan(replace(HALL_PLAN, layers=(LEVELER_DONE, THINSET_PLANNED, grout))))
    assert set(found) == {"do not switch on", "ask before switching on"}


def test_a_layer_silent_on_walking_can_only_make_the_day_later() -> None:
    sealed = replace(THINSET_PLANNED, milestones=milestones(seal=window(at(21))))
    found = owner(plan(replace(HALL_PLAN, layers=(LEVELER_DONE, sealed, GROUT_PLANNED))))
    assert found["walk"].when == Days(date(2026, 12, 21), date(2026, 12, 22))


def test_old_layers_have_no_say_in_walking() -> None:
    slab = replace(LEVELER_DONE, layer=replace(LEVELER, existing=True), finish=None)
    found = owner(plan(replace(HALL_PLAN, layers=(slab, GROUT_PLANNED))))
    assert found["walk"].when == Days(date(2026, 12, 14), date(2026, 12, 15))


def test_without_a_date_the_span_goes_on() -> None:
    none = replace(HALL_PLAN.energize, owner_date=None)
    off = owner(plan(replace(HALL_PLAN, energize=none)))["do not switch on"]
    # 1 Dec + 14 d, then one week more: two weeks ahead of 2 Dec.
    assert off.when == Days(date(2026, 12, 1), date(2026, 12, 22))
    assert "We cannot promise a date yet." in off.description
    assert "can move" not in off.description
    assert "before" not in off.description.split("\n")[0]


def test_a_date_that_came_without_release_is_no_longer_told() -> None:
    off = owner(plan(as_of=datetime(2027, 1, 8, 13, tzinfo=UTC)))["do not switch on"]
    assert off.when == Days(date(2026, 12, 1), date(2027, 1, 26))
    assert "8 Jan" not in off.description


# The late end is Sat 2 Jan 02:10 on site, so Mon 4 Jan is the first day to tell.
@pytest.mark.parametrize(
    ("as_of", "owner_date", "told"),
    [
        (at(2, 11, month=1), date(2027, 1, 4), True),
        (at(4, 11, month=1), date(2027, 1, 4), False),
        (at(4, 13, month=1), date(2027, 1, 5), False),
        (at(5, 11, month=1), date(2027, 1, 6), False),
    ],
)
def test_a_date_that_slides_with_the_days_is_told_to_nobody(
    as_of: datetime, owner_date: date, *, told: bool
) -> None:
    as_of = as_of.replace(year=2027)
    slid = replace(HALL_PLAN.energize, owner_date=owner_date)
    off = owner(plan(replace(HALL_PLAN, energize=slid), as_of=as_of))["do not switch on"]
    assert ("before" in off.description.partition("\n")[0]) is told
    assert isinstance(off.when, Days)
    assert off.when.end_on > as_of.date()


def test_without_any_working_day_a_date_that_has_come_slides() -> None:
    as_of = datetime(2027, 1, 3, 11, tzinfo=UTC)
    made = plan(HALL_PLAN, job=replace(JOB, work=Work(days=frozenset())), as_of=as_of)
    assert "We cannot promise a date yet" in owner(made)["do not switch on"].description


def test_a_window_without_a_late_end_promises_no_day() -> None:
    for found in (None, Window(at(29), None)):
        energize = replace(HALL_PLAN.energize, window=found)
        off = owner(plan(replace(HALL_PLAN, energize=energize)))["do not switch on"]
        assert "We cannot promise a date yet" in off.description
        assert off.when.end_on > date(2027, 1, 8)


def test_stopped_means_off_and_no_date() -> None:
    zone = replace(HALL_PLAN, state=State.STOPPED)
    off = owner(plan(zone))["do not switch on"]
    assert "Please leave it switched off." in off.description
    assert "8 Jan" not in off.description
    assert "harden" not in off.description


@pytest.mark.parametrize("state", [State.RELEASED, State.HEATING_UP, State.IN_SERVICE])
def test_after_release_the_owner_reads_what_to_set(state: State) -> None:
    found = owner(plan(released(state=state)))
    assert "do not switch on" not in found
    assert found["may switch on"].when == Days(date(2027, 1, 4), date(2027, 1, 5))
    steps = [event for purpose, event in found.items() if purpose.startswith("heat-up")]
    assert [event.when for event in steps] == [
        Days(date(2027, 1, 4), date(2027, 1, 5)),
        Days(date(2027, 1, 5), date(2027, 1, 6)),
        Days(date(2027, 1, 6), date(2027, 1, 9)),
    ]
    assert steps[-1].summary == "Alder Lane 7, hall bath: set the floor to 84 °F (29 °C)"
    assert "From Sat 9 Jan 2027 you may go up to 84 °F (29 °C), by at most 9 °F" in " ".join(
        steps[-1].description.split()
    )
    assert "you may go up" not in steps[0].description
    assert {event.status for event in steps} == {Status.TENTATIVE}


def test_the_owner_is_not_told_of_the_bare_screed_s_heat_up() -> None:
    """It is the crew's, and long before the release: R21 keeps it out of this calendar."""
    early = tuple(RampStep(date(2026, 12, day), 20.0, 1) for day in (3, 4))
    screed = replace(FIRST_HEAT, purpose="bare screed", steps=early)
    both = owner(plan(replace(released(), heat_ups=(screed, FIRST_HEAT))))
    assert both == owner(plan(replace(released(), heat_ups=(FIRST_HEAT,))))
    assert both["may switch on"].when == Days(date(2027, 1, 4), date(2027, 1, 5))


def test_numbers_from_a_floor_not_measured_can_change() -> None:
    firm = replace(FIRST_HEAT, provisional=False)
    for heat_up, told in ((FIRST_HEAT, True), (firm, False)):
        step = owner(plan(replace(released(), heat_ups=(heat_up,))))["heat-up first heat step 1"]
        assert ("The numbers can change then." in step.description) is told


def test_without_a_heat_up_the_owner_may_start_on_the_plan_s_day() -> None:
    zone = replace(released(), heat_ups=())
    assert owner(plan(zone))["may switch on"].when == Days(date(2027, 1, 4), date(2027, 1, 5))
    undated = replace(zone, energize=replace(zone.energize, start_on=None))
    assert "may switch on" not in owner(plan(undated))


def test_an_owner_who_switches_on_is_addressed() -> None:
    mine = replace(HALL, energized_by=Role.OWNER)
    assert "You may switch it on yourself, but only after" in (
        owner(plan(replace(HALL_PLAN, zone=mine)))["do not switch on"].description
    )
    assert "You may do this yourself." in (
        owner(plan(replace(released(), zone=mine)))["may switch on"].description
    )


# All three


def test_an_empty_calendar_says_so_in_one_entry() -> None:
    bare = replace(plan(), visits=())
    found = electrician(bare)
    assert list(found) == ["nothing yet"]
    assert found["nothing yet"].when == Days(date(2026, 12, 1), date(2026, 12, 2))


def test_a_job_without_any_day_stands_on_its_monday() -> None:
    empty = replace(plan(), zones=(), visits=())
    for feed in feeds(empty, rules=RULES):
        assert [event.when for event in feed.events] == [
            Days(date(2026, 11, 30), date(2026, 12, 1))
        ]


def test_a_zone_without_layers_begins_with_its_first_test() -> None:
    zone = replace(HALL_PLAN, zone=replace(HALL, layers=()), layers=())
    assert owner(plan(zone))["do not switch on"].when.start_on == date(2026, 12, 1)  # type: ignore[union-attr]


def test_nobody_named_nobody_called() -> None:
    made = plan(job=replace(JOB, people=(), address=None))
    for feed in feeds(made, rules=RULES):
        for event in feed.events:
            assert "Questions" not in event.description
            assert event.location is None


def test_holidays_of_the_caller_count() -> None:
    def day_off(day: date) -> str | None:
        return "holiday" if day < date(2026, 12, 10) else None

    found = feeds(plan(), rules=RULES, day_off=day_off)[0]
    steps = {event.key.layer_id: event for event in found.events if event.key.purpose == "step"}
    start = steps["thinset"].when
    assert isinstance(start, Timed)
    assert start.start_at.astimezone(TZ).isoformat() == "2026-12-10T08:00:00-04:00"


def test_days_off_of_the_job_count() -> None:
    work = Work(days_off=(date(2026, 12, 4), date(2026, 12, 7)))
    step = crew(plan(job=replace(JOB, work=work)))["thinset", "step"]
    assert isinstance(step.when, Timed)
    assert step.when.start_at == at(8, 12)
