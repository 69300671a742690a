"""The electrician's and the owner's calendar, and what all three share."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime

import pytest
from calendar_samples import (
    FIRST_HEAT,
    GROUT_PLANNED,
    HALL,
    HALL_PLAN,
    HOLDS,
    JOB,
    LEVELER,
    LEVELER_DONE,
    RULES,
    THINSET_PLANNED,
    TZ,
    VISITS,
    at,
    crew,
    electrician,
    milestones,
    owner,
    plan,
    released,
    window,
)

from curecal.calendars import Days, Event, Status, Timed, feeds
from curecal.instants import Window
from curecal.planning.plan import HoldState, LayerPlan, State, Visit, ZonePlan
from curecal.trade.buildup import Role, Room, Work

# The electrician


def test_a_visit_is_a_window_with_the_figures() -> None:
    visit = electrician(plan())["visit test-and-connect"]
    # From the finish of the grout, Wed 9 Dec 16:00, to the end of work on Tue 15 Dec.
    assert visit.when == Timed(at(9, 20), at(15, 21))
    assert "Between Wed 9 Dec 2026 16:00 and Tue 15 Dec 2026 17:00." in visit.description
    assert visit.location == "7 Alder Lane; back door, left"
    assert "240 V, 640 W, 90 Ω −10 %/+10 %, insulation at least 1 MΩ at 500 V" in visit.description
    assert "supply 240 V, breaker 15 A, protection GFCI 5 mA" in visit.description
    assert "cable test on delivery, mat: met (Tue 1 Dec 2026 07:00)" in visit.description
    assert "moisture" not in visit.description


def test_a_hold_that_is_not_needed_is_not_shown() -> None:
    spare = replace(HOLDS[4], state=HoldState.NOT_NEEDED)
    visit = electrician(plan(replace(HALL_PLAN, holds=(spare,))))["visit test-and-connect"]
    assert "connection, mat" not in visit.description


def visited(
    kind: str, found: Window, *, zone: ZonePlan = HALL_PLAN, work: Work | None = None
) -> Event:
    made = plan(zone, job=replace(JOB, work=work or Work()))
    return electrician(replace(made, visits=(Visit(kind, ("hall",), found),)))[f"visit {kind}"]


def test_the_first_visit_takes_the_working_day_before_the_cable_is_covered() -> None:
    pour = at(7, 12)
    for now in (at(3), at(3, 17), at(4, 15)):
        event = visited("rough-in-and-first-test", Window(now, pour))
        assert event.when == Timed(at(4, 12), pour)
    never = visited("rough-in-and-first-test", Window(at(3), pour), work=Work(days=frozenset()))
    assert never.when == Timed(at(3), pour)


def test_the_second_visit_begins_when_the_last_layer_is_down() -> None:
    for now in (at(10), at(10, 17), at(14, 15)):
        event = visited("test-and-connect", Window(now, at(29, 12, 10)))
        assert event.when == Timed(at(9, 20), at(29, 21))
    empty = replace(HALL_PLAN, layers=())
    event = visited("test-and-connect", Window(at(10), at(29)), zone=empty)
    assert event.when == Timed(at(10), at(29, 21))
    overdue = visited("test-and-connect", window(at(8)), zone=HALL_PLAN)
    assert overdue.when == Timed(at(8), at(8, 21))


def test_a_visit_without_a_latest_end_says_so() -> None:
    event = visited("test-and-connect", Window(at(10), None))
    assert event.when == Timed(at(10), at(10, 13))
    assert "No latest date can be promised." in event.description


def test_a_visit_without_a_window_has_no_entry() -> None:
    assert "visit rough-in-and-first-test" not in electrician(plan())


def test_energizing_is_tentative_until_release() -> None:
    firm = replace(VISITS[1], window=window(at(4, 12)))
    for zone, status in ((HALL_PLAN, Status.TENTATIVE), (released(), Status.CONFIRMED)):
        made = replace(plan(zone), visits=(firm,))
        visit = electrician(made)["visit energize"]
        assert visit.status is status
        assert visit.summary == "Energize, only after release: hall bath"
        assert "No latest date" not in visit.description


def test_a_visit_keeps_its_key_when_zones_join() -> None:
    kitchen = replace(HALL_PLAN, zone=replace(HALL, id="kitchen", name="kitchen"))
    shared = replace(VISITS[0], zone_ids=("kitchen", "hall"))
    alone = feeds(plan(), rules=RULES)[1]
    both = feeds(replace(plan(HALL_PLAN, kitchen), visits=(shared,)), rules=RULES)[1]
    uids = [{feed.uid(event.key) for event in feed.events} for feed in (alone, both)]
    assert uids[1] < uids[0]
    assert "hall bath, kitchen" in both.events[0].summary


def test_visits_of_one_kind_and_of_an_unknown_kind() -> None:
    other = replace(VISITS[0], kind="look at the floor")
    made = replace(plan(), visits=(VISITS[0], VISITS[0], other, replace(other, zone_ids=())))
    found = electrician(made)
    assert set(found) == {
        "visit test-and-connect",
        "visit test-and-connect, 2",
        "visit look at the floor",
    }
    assert found["visit look at the floor"].summary == "Electrician's visit: hall bath"


# The owner


def test_the_owner_is_told_one_date_and_nothing_of_the_heat_up() -> None:
    found = owner(plan())
    assert set(found) == {"do not switch on", "walk", "shower", "furniture"}
    off = found["do not switch on"]
    assert off.when == Days(date(2026, 12, 1), date(2027, 1, 8))
    assert "before Fri 8 Jan 2027" in off.description
    assert "first time by: electrician" in off.description


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
    assert set(found) == {"do not switch on"}


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
    assert "There is no date we can promise." in off.description
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
    assert "no date we can promise" in owner(made)["do not switch on"].description


def test_a_window_without_a_late_end_has_nothing_to_slide() -> None:
    for found in (None, Window(at(29), None)):
        energize = replace(HALL_PLAN.energize, window=found)
        off = owner(plan(replace(HALL_PLAN, energize=energize)))["do not switch on"]
        assert off.when == Days(date(2026, 12, 1), date(2027, 1, 8))


def test_stopped_means_off_and_no_date() -> None:
    zone = replace(HALL_PLAN, state=State.STOPPED)
    off = owner(plan(zone))["do not switch on"]
    assert "Keep it switched off." in off.description
    assert "8 Jan" not in off.description


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
    assert steps[-1].summary == "Set the floor to 84 °F (29 °C): hall bath"
    assert "From Sat 9 Jan 2027 you may use it as you like" in steps[-1].description
    assert "as you like" not in steps[0].description
    assert {event.status for event in steps} == {Status.TENTATIVE}


def test_a_bare_screed_is_not_used_as_one_likes() -> None:
    screed = replace(FIRST_HEAT, purpose="bare screed", provisional=False)
    found = owner(plan(replace(released(), heat_ups=(screed,))))
    last = found["heat-up bare screed step 3"]
    assert "as you like" not in last.description
    assert last.status is Status.CONFIRMED


def test_without_a_heat_up_the_owner_may_start_on_the_plan_s_day() -> None:
    zone = replace(released(), heat_ups=())
    assert owner(plan(zone))["may switch on"].when == Days(date(2027, 1, 4), date(2027, 1, 5))
    bare = replace(zone, energize=replace(zone.energize, start_on=None))
    assert owner(plan(bare))["may switch on"].when == Days(date(2027, 1, 8), date(2027, 1, 9))
    none = replace(bare, energize=replace(bare.energize, owner_date=None))
    assert "may switch on" not in owner(plan(none))


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
