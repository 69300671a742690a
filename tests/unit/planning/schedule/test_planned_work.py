"""Planned work: gates, working hours, what slides, the latest start that keeps the date."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from planning_samples import (
    DAY,
    START,
    codes,
    expected,
    item,
    job,
    layer,
    plan,
    sheet,
    wait,
    weekdays,
    zone,
)

from curecal.instants import Window
from curecal.planning.plan import Plan, State
from curecal.trade.data_sheets import Milestone
from curecal.trade.job import Work

HOUR = timedelta(hours=1)


def chain(now: datetime, **more: object) -> Plan:
    made = job(
        zone(
            layer("leveler", START, "leveler", thickness_m=0.005),
            layer("thinset", None, "mortar", **more),
            layer("cement grout", None, "grout"),
        ),
        tz=ZoneInfo("America/Halifax"),
        work=Work(start=time(8), end=time(16, 30)),
    )
    return plan(made, (), now, weekdays)


def test_a_free_layer_starts_at_the_first_working_instant_after_its_gate() -> None:
    # Leveler on Monday 12:00 UTC, 5 mm: 40 h, Wednesday 04:00 UTC; work starts 08:00 (12:00 UTC).
    made = chain(START)
    start = item(made, "mortar").start
    assert start is not None
    assert start.earliest == datetime(2027, 3, 3, 12, tzinfo=UTC)
    finish = item(made, "mortar").finish
    assert finish is not None
    assert finish.earliest == datetime(2027, 3, 3, 20, 30, tzinfo=UTC)
    # Grout two days after: Friday 20:30 UTC is the end of that day's work, so Monday.
    grout = item(made, "grout").start
    assert grout is not None
    assert grout.earliest == datetime(2027, 3, 8, 12, tzinfo=UTC)


def test_planned_work_keeps_its_time_while_its_gate_allows() -> None:
    planned = datetime(2027, 3, 4, 18, tzinfo=UTC)
    made = chain(START, planned_start_at=planned - HOUR * 4, planned_finish_at=planned)
    assert item(made, "mortar").start == Window(planned - HOUR * 4, planned - HOUR * 4)
    assert item(made, "mortar").finish == Window(planned, planned)
    only_start = chain(START, planned_start_at=planned, duration_s=3600.0)
    assert item(only_start, "mortar").finish == Window(planned + HOUR, planned + HOUR)
    only_finish = chain(START, planned_finish_at=planned, duration_s=3600.0)
    assert item(only_finish, "mortar").start == Window(planned - HOUR, planned - HOUR)


def test_planned_before_its_gate_slides_to_it() -> None:
    early = datetime(2027, 3, 2, 12, tzinfo=UTC)
    made = chain(START, planned_start_at=early, duration_s=3600.0)
    start = item(made, "mortar").start
    assert start is not None
    assert start.earliest == datetime(2027, 3, 3, 12, tzinfo=UTC)


def test_planned_and_passed_unrecorded_slides_after_now_and_asks() -> None:
    planned = datetime(2027, 3, 4, 18, tzinfo=UTC)
    now = datetime(2027, 3, 9, 22, tzinfo=UTC)
    made = chain(now, planned_finish_at=planned)
    assert "is-it-done" in codes(made)
    start = item(made, "mortar").start
    assert start is not None
    assert start.earliest == datetime(2027, 3, 10, 12, tzinfo=UTC)


def test_a_planned_layer_has_a_latest_start_that_keeps_the_date() -> None:
    made = chain(START)
    mortar, grout = item(made, "mortar"), item(made, "grout")
    assert mortar.latest_start_at is not None
    assert mortar.start is not None
    assert mortar.latest_start_at >= mortar.start.earliest
    assert grout.latest_start_at is not None
    assert grout.start is not None
    assert grout.latest_start_at >= grout.start.earliest
    assert item(made, "leveler").latest_start_at is None


def test_a_sheet_goes_into_its_fresh_mortar() -> None:
    made = plan(
        job(
            zone(
                layer("thinset", None, "bed"),
                layer("uncoupling sheet", None, "mat"),
                layer("thinset", None, "mortar"),
            )
        )
    )
    assert item(made, "mat").finish == item(made, "bed").finish


def test_no_working_day_leaves_no_start() -> None:
    made = plan(job(zone(layer("thinset", None, "mortar"))), day_off=lambda _: "strike")
    assert item(made, "mortar").start is None
    assert made.zones[0].state is State.NO_DATE


def test_a_gate_without_a_promise_leaves_a_start_without_one() -> None:
    cold = expected(20.0, coldest_c=5.0)
    made = plan(
        job(
            zone(layer("thinset", START, "mortar"), layer("cement grout", None, "grout")),
            climate=cold,
        )
    )
    start = item(made, "grout").start
    assert start is not None
    assert start.latest is None
    assert made.zones[0].energize.owner_date is None


@pytest.mark.parametrize("years", [2.9, 3.0, 3.5, 30.0, 72.0])
def test_work_planned_beyond_every_history_has_no_date_and_no_traceback(years: float) -> None:
    far = START + timedelta(days=365 * years)
    made = plan(job(zone(layer("thinset", None, "mortar", planned_finish_at=far))))
    if years > 2.95:
        assert made.zones[0].energize.window is None
        assert made.zones[0].state is State.NO_DATE
    else:
        assert made.zones[0].energize.window is not None


def test_a_long_closure_before_the_date_leaves_no_latest_start() -> None:
    # Open until Friday 5 March and again from August: the grout of Tuesday the 2nd is down by
    # then, and no working day lies in the two months before 28 days ahead of August.
    def closed(day: date) -> str | None:
        return None if day < date(2027, 3, 6) or day >= date(2027, 8, 1) else "closed"

    made = plan(job(zone(layer("cement grout", None, "grout"))), as_of=START, day_off=closed)
    grout = made.zones[0].layers[0]
    assert made.zones[0].energize.start_on == date(2027, 8, 1)
    assert grout.start is not None
    assert grout.latest_start_at is None


def test_a_sheet_may_say_when_a_mortar_or_when_anything_may_cover_it() -> None:
    leveler = sheet("leveler")
    by_kind = replace(leveler, covers={"any": wait(3, leveler), "thinset": wait(1, leveler)})
    for follows, days in (("thinset", 1), ("membrane", 3)):
        made = plan(
            job(zone(layer(by_kind, START, "leveler"), layer(follows, None))), as_of=START + HOUR
        )
        cover = made.zones[0].layers[0].milestones[Milestone.COVER].window
        assert cover == Window(START + DAY * days, START + DAY * days)


def test_a_crew_that_works_by_night_starts_in_the_evening_and_ends_in_the_morning() -> None:
    made = job(
        zone(
            layer("leveler", START, "leveler", thickness_m=0.005),
            layer("thinset", None, "mortar"),
        ),
        tz=ZoneInfo("America/Halifax"),
        work=Work(start=time(22), end=time(6)),
    )
    found = plan(made, (), START, weekdays)
    # The leveler allows the bed on Wednesday 3 March 04:00 UTC, which is midnight in Halifax: two
    # hours into the night of Tuesday. A bed takes a shift of eight hours, six of them that night.
    start, finish = item(found, "mortar").start, item(found, "mortar").finish
    assert start is not None
    assert finish is not None
    assert start.earliest == datetime(2027, 3, 3, 4, tzinfo=UTC)
    assert finish.earliest == datetime(2027, 3, 4, 4, tzinfo=UTC)


@pytest.mark.parametrize(
    ("start", "code"),
    [
        (START - DAY * 365, "is-it-done"),
        (START - DAY * 2, "is-it-done"),
        (START, ""),
        (START + DAY * 300, ""),
        (START + DAY * 365, "planned-far-ahead"),
        (START + DAY * 365 * 30, "planned-far-ahead"),
    ],
)
def test_a_planned_start_long_past_or_a_year_ahead_is_asked_about(
    start: datetime, code: str
) -> None:
    """R26: whose time has passed unrecorded is asked for; a year off is a slip as one done is."""
    bed = layer("thinset", planned_start_at=start)
    made = plan(job(zone(bed)), as_of=START)
    found = [finding for finding in made.findings if finding.layer_id == bed.id]
    asked = {finding.code for finding in found} & {"is-it-done", "planned-far-ahead"}
    assert asked == ({code} if code else set())


def test_a_start_past_the_horizon_is_no_matter_of_warmth() -> None:
    bed = layer("thinset", planned_start_at=START + DAY * 365 * 30)
    why = plan(job(zone(bed)), as_of=START).zones[0].energize.blocked
    assert why is not None
    assert why.code == "planned-too-far"
