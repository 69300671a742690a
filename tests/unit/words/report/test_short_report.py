"""The short report: a screen of what counts, all that stops or warns, and what it leaves out."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from plan_samples import AS_OF, FINDINGS, RULES, plan, ramp, window, zone

from curecal.instants import Window
from curecal.planning.plan import HeatUpPurpose, Hold, HoldState, Plan, State, Visit, VisitKind
from curecal.trade.findings import Finding, Message, Severity
from curecal.trade.hold_codes import Gate, HoldCode
from curecal.trade.job import Role
from curecal.words.layout import columns, plain
from curecal.words.report.report import report
from curecal.words.sentences import words_for

CAUTION = Finding(Severity.CAUTION, "heat-by-fallback", "zone.0.layer.2", {"layer": "thinset"})
PROTECTION = Hold(HoldCode.PROTECTION, Gate.ENERGIZE, Role.ELECTRICIAN, HoldState.UNMET)
BROKEN = Hold(HoldCode.THERMOSTAT, Gate.ENERGIZE, Role.ELECTRICIAN, HoldState.FAILED)
CURE = Hold(
    HoldCode.CURE, Gate.ENERGIZE, Role.CREW_LEAD, HoldState.UNMET, reason=Message("cure-running")
)
RELEASE = Hold(HoldCode.RELEASE, Gate.ENERGIZE, Role.CREW_LEAD, HoldState.UNMET)


def text(made: Plan, width: int = 80, *, full: bool = False) -> str:
    words = words_for(made.job, RULES)
    return "\n".join(plain(report(made, (), words=words, width=width, full=full)))


def test_it_keeps_the_answer_the_dates_and_the_layers() -> None:
    said = text(plan(findings=FINDINGS)).splitlines()
    for line in (
        "hall bath: curing",
        "  Waiting for  the thinset (no data sheet given, so 28 days)",
        "  Switch on    Not before Tue 5 Jan 2027, 08:00, by the electrician, once",
        "  Tell owner   Not before Mon 11 Jan 2027, and only when we say so",
        "As of Wed 2 Dec 2026, 16:00 (America/Halifax time).",
    ):
        assert line in said
    cured = "Mon 4 Jan 2027, 15:10 at the earliest, Fri 8 Jan 2027, 15:10 at the latest"
    assert f"Cured {cured}" in " ".join(" ".join(said).split())
    assert any(line.startswith("  bottom") for line in said)


@pytest.mark.parametrize("label", ["Measured", "Source", "First heat\n", "Always", "Details"])
def test_it_leaves_out_what_is_not_needed_at_the_door(label: str) -> None:
    assert label not in text(plan(findings=FINDINGS))


def test_what_stops_or_warns_is_never_left_out() -> None:
    short, full = (text(plan(findings=FINDINGS), full=full) for full in (False, True))
    for found in FINDINGS:
        assert found.severity in {Severity.STOP, Severity.WARNING}
    watched = full.partition("\nWatch\n")[2].partition("\n\n")[0]
    assert "STOP" in watched
    assert f"\nWatch\n{watched}\n\n" in short


def test_its_last_line_counts_what_it_leaves_out() -> None:
    said = text(plan(findings=(*FINDINGS, CAUTION)))
    assert said.endswith("\nWith --full: 1 caution, first heat (not before the release), details.")
    bare = zone(heat_ups=())
    assert text(plan(bare)).endswith("\nWith --full: details.")
    assert "--full" not in text(plan(), full=True)


def test_the_first_heat_is_shown_once_it_is_released() -> None:
    shown = text(plan(zone(State.RELEASED)))
    assert "  First heat\n" in shown
    assert shown.endswith("\nWith --full: details.")
    assert "  First heat\n" not in text(plan(zone(State.CLEAR)))


def test_a_bare_screeds_heat_up_is_shown_while_it_is_the_crews_work() -> None:
    bare = replace(ramp(), purpose=HeatUpPurpose.BARE_SCREED)
    said = " ".join(text(plan(zone(heat_ups=(bare,)))).split())
    assert "Heating the bare screed" in said
    assert "Do not heat the screed before its cable tests" in said


def test_what_is_to_do_stands_with_who_does_it_and_what_failed_alone() -> None:
    said = text(plan(zone(holds=(PROTECTION, BROKEN, CURE, RELEASE)))).splitlines()
    at = said.index("  To do")
    assert " ".join(" ".join(said[at + 1 : at + 7]).split()).startswith(
        "- Electrician, before switching on: FAILED: thermostat on floor sensor, limit set"
        " - Electrician, before switching on: GFCI with a trip test"
        " - Crew lead, before switching on: every layer cured, a temperature logged; release by"
        " the crew lead"
    )


def test_an_open_end_is_no_promise() -> None:
    made = zone()
    opened = replace(made.energize, window=window(AS_OF + timedelta(days=2), None), owner_date=None)
    said = " ".join(text(plan(replace(made, energize=opened))).split())
    assert "at the earliest; no latest date we can promise" in said


def test_of_the_visits_only_the_next_that_nobody_booked() -> None:
    visits = tuple(
        Visit(kind, ("hall-bath",), Window(AS_OF + timedelta(days=more), AS_OF + timedelta(days=9)))
        for kind, more in ((VisitKind.CONNECTION, 1), (VisitKind.ENERGIZE, 5))
    )
    made = replace(plan(), visits=visits)
    short, full = text(made), text(made, full=True)
    assert "final test and connection" in short
    assert "- switch on: " in full
    assert "- switch on: " not in short


@pytest.mark.parametrize(
    ("window_of", "said"),
    [
        (Window(AS_OF, AS_OF + timedelta(days=1)), "from now until Thu 3 Dec 2026, 16:00"),
        (Window(AS_OF, None), "from now; no latest date we can promise"),
        (
            Window(AS_OF + timedelta(hours=1), None),
            "from Wed 2 Dec 2026, 17:00; no latest date we can promise",
        ),
    ],
)
def test_a_visit_that_may_begin_at_once_begins_now(window_of: Window, said: str) -> None:
    visit = Visit(VisitKind.CONNECTION, ("hall-bath",), window_of)
    assert said in " ".join(text(replace(plan(), visits=(visit,))).split())


@pytest.mark.parametrize("width", [40, 60, 80, 120])
@pytest.mark.parametrize("state", list(State))
def test_every_state_fits_every_width(state: State, width: int) -> None:
    lines = text(plan(zone(state), findings=FINDINGS), width).splitlines()
    assert [line for line in lines if columns(line) > width] == []


def test_of_several_zones_that_heat_up_each_has_todays_number() -> None:
    second = zone(State.HEATING_UP, name="den")
    said = text(plan(zone(State.HEATING_UP), second))
    assert said.count("\n  Today        At most 68 °F (20 °C)\n") == 2
    assert "  Today  " not in text(plan(zone(State.HEATING_UP)))


def test_the_first_line_has_todays_number_also_when_the_last_step_is_not_logged() -> None:
    late = replace(plan(zone(State.HEATING_UP)), as_of=AS_OF + timedelta(days=60))
    assert text(late).startswith(
        "Yes: heating up, today at most 84 °F (29 °C). Log the last step to finish.\n"
    )


def test_what_stops_a_floor_and_what_to_do_are_said_once() -> None:
    """In the first line why, under the zone what to do, in Watch only which entry says so."""
    made = zone(State.STOPPED)
    entry = Finding(Severity.STOP, made.why.code, "log.3", made.why.params, zone_id=made.zone.id)
    words = words_for(plan(made).job, RULES)
    said = text(replace(plan(made), findings=(entry,)))
    why, do = words.message(made.why).rstrip("."), words.remedy(made.why)
    flat = " ".join(said.split())
    assert flat.count(why) == 2
    assert do
    assert flat.count(" ".join(do.split())) == 1
    assert "  Why " not in said
    # Where another zone is named first, the reason stands in the zone's own chapter.
    other = replace(made, zone=replace(made.zone, id="den", name="den"))
    assert text(plan(made, other)).count("  Why ") == 2
