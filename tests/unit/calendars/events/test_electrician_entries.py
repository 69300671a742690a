"""The electrician's calendar: the visits, with figures and last readings."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from calendar_samples import (
    HALL,
    HALL_PLAN,
    HOLDS,
    JOB,
    LEVELER_DONE,
    RULES,
    VISITS,
    at,
    electrician,
    plan,
    released,
    window,
)

from curecal.calendars import Days, Event, Status, Timed, feeds
from curecal.instants import Window
from curecal.planning.plan import (
    Hold,
    HoldState,
    Visit,
    ZonePlan,
)
from curecal.trade.findings import Message
from curecal.trade.job import Cable, Work
from curecal.trade.site_log import Correction, Entry, Remark, Resistance, Stage


def test_a_visit_is_a_window_with_the_figures() -> None:
    visit = electrician(plan())["visit test-and-connect"]
    # From the morning after the grout, planned for Wed 9 Dec, to the end of work on Tue 15 Dec.
    assert visit.when == Days(date(2026, 12, 10), date(2026, 12, 16))
    # Nobody's hours are taken until somebody agrees on one.
    assert not visit.busy
    assert "No appointment yet" in visit.description
    assert "Between Thu 10 Dec 2026, 08:00 and Tue 15 Dec 2026, 17:00." in visit.description
    assert visit.location == "7 Alder Lane; back door, left"
    assert "240 V, 640 W, 90 Ω −10 %/+10 %, insulation at least 1 MΩ at 500 V" in visit.description
    assert "supply 240 V, breaker 15 A, protection GFCI 5 mA" in visit.description
    assert "cable test on delivery, mat: done (Tue 1 Dec 2026, 07:00)" in visit.description
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
        # The pour is on Monday at 08:00, and no night of the weekend is shown as a visit.
        assert event.when == Timed(at(4, 12), at(4, 21))
    never = visited("rough-in-and-first-test", Window(at(3), pour), work=Work(days=frozenset()))
    assert never.when == Timed(at(3), at(3, 21))


def test_the_second_visit_begins_when_the_last_layer_is_down() -> None:
    for now in (at(10), at(10, 17), at(14, 15)):
        event = visited("test-and-connect", Window(now, at(29, 12, 10)))
        assert event.when == Days(date(2026, 12, 10), date(2026, 12, 30))
    empty = replace(HALL_PLAN, layers=())
    event = visited("test-and-connect", Window(at(10), at(29)), zone=empty)
    assert event.when == Days(date(2026, 12, 10), date(2026, 12, 29))
    before = visited("test-and-connect", window(at(8)), zone=HALL_PLAN)
    # The grout comes later than this visit, as tile on a screed that is heated bare: mortar counts.
    # And Tue 8 Dec 08:00 is when it is switched on: the electrician is through on Monday.
    assert before.when == Timed(at(7, 13), at(7, 21))


def test_a_visit_that_cannot_be_through_the_day_before_ends_with_its_window() -> None:
    done = replace(HALL_PLAN, layers=(replace(LEVELER_DONE, finish=window(at(7, 20, 30))),))
    late = visited("test-and-connect", window(at(8)), zone=done)
    assert late.when == Timed(at(8, 12), at(8, 13))
    idle = visited("test-and-connect", window(at(8)), work=Work(days=frozenset()))
    assert idle.when == Days(date(2026, 12, 7), date(2026, 12, 8))


def test_a_visit_without_a_latest_end_says_so() -> None:
    event = visited("test-and-connect", Window(at(10), None))
    assert event.when == Timed(at(10), at(10, 13))
    assert "No latest date can be promised." in event.description


def test_a_visit_without_a_window_has_no_entry() -> None:
    assert "visit rough-in-and-first-test" not in electrician(plan())


def test_the_days_of_switching_on_end_with_the_day_the_owner_is_told() -> None:
    # From Thu 3 Dec to Mon 7 Dec, each at the opening: Monday still belongs.
    undated = replace(HALL_PLAN, energize=replace(HALL_PLAN.energize, window=None))
    event = visited("energize", Window(at(3, 12), at(7, 12)), zone=undated)
    assert event.when == Days(date(2026, 12, 3), date(2026, 12, 8))


def test_energizing_is_tentative_until_release() -> None:
    firm = replace(VISITS[1], window=window(at(4, 12)))
    for zone, status in ((HALL_PLAN, Status.TENTATIVE), (released(), Status.CONFIRMED)):
        made = replace(plan(zone), visits=(firm,))
        visit = electrician(made)["visit energize"]
        assert visit.status is status
        assert visit.summary == (
            "Alder Lane 7, hall bath: switch on, only after the crew lead's OK"
        )
        said = visit.description.startswith("The crew lead has released the floor.")
        assert said is (status is Status.CONFIRMED)
        assert "No latest date" not in visit.description


def test_a_visit_keeps_its_key_when_zones_join() -> None:
    kitchen = replace(HALL_PLAN, zone=replace(HALL, id="kitchen", name="kitchen"))
    shared = replace(VISITS[0], zone_ids=("kitchen", "hall"))
    alone = feeds(plan(), rules=RULES)[1]
    both = feeds(replace(plan(HALL_PLAN, kitchen), visits=(shared,)), rules=RULES)[1]
    uids = [{feed.uid(event.key) for event in feed.events} for feed in (alone, both)]
    assert uids[1] < uids[0]
    assert "hall bath, kitchen" in both.events[0].summary


def test_visits_of_one_kind_have_entries_of_their_own() -> None:
    made = replace(plan(), visits=(VISITS[0], VISITS[0], replace(VISITS[0], zone_ids=())))
    assert set(electrician(made)) == {"visit test-and-connect", "visit test-and-connect, 2"}


READINGS = Resistance(
    id="e-1",
    at=at(1, 11),
    recorded=at(1, 11),
    by="Robin Sample",
    stage=Stage.DELIVERY,
    conductor_ohm=90.4,
    insulation_ohm=550e6,
    insulation_at_v=500.0,
)


def visit_with(hold: Hold, *log: Entry) -> str:
    made = plan(replace(HALL_PLAN, holds=(hold,)))
    feed = feeds(made, rules=RULES, log=log)[1]
    return next(event.description for event in feed.events if "connect" in event.key.purpose)


def test_the_electrician_reads_the_last_readings_as_corrected() -> None:
    read = (
        "done (Tue 1 Dec 2026, 07:00), by Robin Sample, "
        "conductor 90.4 Ω, insulation 550 MΩ at 500 V"
    )
    assert read in visit_with(HOLDS[6], READINGS)
    wrong = replace(READINGS, conductor_ohm=904.0)
    mended = Correction(
        id="e-2",
        at=at(1, 12),
        recorded=at(1, 12),
        by="Robin Sample",
        of="e-1",
        changes={"conductor_ohm": 90.4},
    )
    assert read in visit_with(HOLDS[6], wrong, mended)
    other = Remark(id="e-1", at=at(1, 11), recorded=at(1, 11), by="Robin Sample")
    assert "by Robin Sample\n" in visit_with(HOLDS[6], other) + "\n"


def test_without_the_log_the_verdict_still_knows_the_conductor() -> None:
    passed = replace(HOLDS[6], reason=Message("test-passed", {"read_ohm": 90.4}))
    assert "done (Tue 1 Dec 2026, 07:00), conductor 90.4 Ω" in visit_with(passed)
    failed = replace(passed, reason=Message("insulation-low", {"read_ohm": 1e3}))
    assert "conductor" not in visit_with(failed).rpartition("met (")[2]


def test_the_test_of_a_cable_without_a_name_is_shown_whoever_made_it() -> None:
    nameless = replace(HOLDS[3], cable=None)
    assert "- cable test after covering: to do" in visit_with(nameless)
    assert "test points" not in visit_with(replace(HOLDS[3], code="test-points", cable=None))
    assert "\n- label of mat, 240 V" in visit_with(nameless)
    only = replace(HALL, heating=replace(HALL.heating, cables=(Cable("", 240.0),)))
    assert "\n- label, 240 V" in (
        electrician(plan(replace(HALL_PLAN, zone=only)))["visit test-and-connect"].description
    )


def test_an_address_cannot_turn_its_reading_direction() -> None:
    made = plan(job=replace(JOB, address="7 Alder \u202eenaL"))
    assert electrician(made)["visit energize"].location == "7 Alder enaL"
