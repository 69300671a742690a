"""The report: the answer first, what each reader needs, and no line past its width."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from plan_samples import AS_OF, FINDINGS, HEAT, HOLDS, RULES, TZ, job, plan, ramp, window, zone

from curecal.instants import Window
from curecal.planning.plan import Hold, HoldState, LayerPlan, Plan, State
from curecal.trade.findings import Message, Severity
from curecal.trade.hold_codes import Gate, HoldCode
from curecal.trade.job import Expected, Role, Units
from curecal.words.layout import columns, plain
from curecal.words.report.headline import deciding, headline
from curecal.words.report.layers import days, layer_table, next_steps
from curecal.words.report.report import finding_lines, refused_lines, report
from curecal.words.sentences import plain_words, words_for

WORDS = words_for(job(zone()), RULES)
UNDATED = {"window": None, "start_on": None, "owner_date": None, "governed_by": None}
HOLD = Hold(HoldCode.PROTECTION, Gate.ENERGIZE, Role.ELECTRICIAN, HoldState.UNMET)
RELEASE = Hold(HoldCode.RELEASE, Gate.ENERGIZE, Role.CREW_LEAD, HoldState.UNMET)


def text(made: Plan, width: int = 80) -> str:
    words = words_for(made.job, RULES)
    return "\n".join(plain(report(made, (), words=words, width=width, full=True)))


@pytest.mark.parametrize(
    ("state", "more", "said"),
    [
        (State.STOPPED, {}, "No: stopped Wed 2 Dec 2026, 16:00: smell or heat (burning smell)."),
        (
            State.NO_DATE,
            {},
            (
                "No, and there is no date: the data sheet of the gypsum leveler is missing, and"
                " no general time replaces it."
            ),
        ),
        (
            State.CURING,
            {},
            (
                "No: not before Tue 5 Jan 2027 (owner: Mon 11 Jan 2027). The thinset is still to be"
                " laid."
            ),
        ),
        (
            State.PLANNED,
            {},
            "No: not before Tue 5 Jan 2027 (owner: Mon 11 Jan 2027). The work is still to be done.",
        ),
        (
            State.ON_HOLD,
            {},
            "No: every layer is cured, but this failed: cable test before connection, mat 1.",
        ),
        (
            State.ON_HOLD,
            {"holds": (HOLD, RELEASE)},
            "No: every layer is cured, but one thing is still to do: GFCI with a trip test.",
        ),
        (
            State.ON_HOLD,
            {"holds": (HOLD, HOLD, RELEASE)},
            "No: every layer is cured, but 2 things are still to do. First: GFCI with a trip test.",
        ),
        (
            State.ON_HOLD,
            {"holds": (RELEASE,)},
            "No: every layer is cured, but one thing is still to do: release by the crew lead.",
        ),
        (
            State.ON_HOLD,
            {"holds": (), "why": Message("cure-running")},
            "No: every layer is cured, but not every layer is cured yet.",
        ),
        (State.CLEAR, {}, "No: everything is done, but the crew lead has not released it yet."),
        (
            State.RELEASED,
            {},
            "Yes: released. The electrician switches it on, today at most 68 °F (20 °C).",
        ),
        (State.RELEASED, {"heat_ups": ()}, "Yes: released. The electrician switches it on."),
        (
            State.HEATING_UP,
            {},
            "Yes: heating up, today at most 68 °F (20 °C). In service from Sun 10 Jan 2027.",
        ),
        (State.IN_SERVICE, {}, "Yes: in service."),
    ],
)
def test_the_first_line_is_the_answer(state: State, more: dict[str, object], said: str) -> None:
    made = plan(zone(state, **more))
    assert headline(made, WORDS) == said
    assert " ".join(text(made).split("\n\n", 1)[0].split()) == said


def test_a_zone_without_a_layer_to_name_is_work_to_be_done() -> None:
    made = zone()
    made = replace(made, energize=replace(made.energize, governed_by=None))
    assert headline(plan(made), WORDS) == (
        "No: not before Tue 5 Jan 2027 (owner: Mon 11 Jan 2027). The work is still to be done."
    )


def test_a_layer_that_is_down_hardens() -> None:
    made = zone()
    laid = replace(made.layers[2], planned=False)
    made = replace(made, layers=(*made.layers[:2], laid, made.layers[3]))
    assert headline(plan(made), WORDS) == (
        "No: not before Tue 5 Jan 2027 (owner: Mon 11 Jan 2027). The thinset is still curing."
    )


def test_a_date_without_a_working_day_is_given_as_it_is() -> None:
    made = zone()
    made = replace(made, energize=replace(made.energize, start_on=None))
    assert "not before Mon 4 Jan 2027" in headline(plan(made), WORDS)


def test_work_without_a_day_says_why() -> None:
    made = zone()
    blocked = Message("no-working-day")
    made = replace(made, energize=replace(made.energize, **UNDATED, blocked=blocked))
    assert headline(plan(made), WORDS) == (
        "No, and there is no day for it: there is no working day within two years."
    )


def test_of_several_zones_the_worst_decides_and_is_named() -> None:
    late = zone(name="kitchen")
    late = replace(late, energize=replace(late.energize, start_on=date(2027, 2, 1)))
    made = plan(zone(), late, zone(State.IN_SERVICE, name="den"))
    assert deciding(made) is late
    assert headline(made, WORDS).startswith("No (kitchen): not before Mon 1 Feb 2027")
    stuck = zone(State.NO_DATE, name="porch")
    assert headline(plan(zone(), stuck), WORDS).startswith("No, and there is no date for porch:")
    both = plan(zone(State.RELEASED), zone(State.IN_SERVICE, name="den"))
    assert headline(both, WORDS) == (
        "Yes (hall bath): released. The electrician switches it on, today at most 68 °F (20 °C)."
    )


def test_a_job_without_zones_is_a_no() -> None:
    made = replace(plan(), zones=())
    assert deciding(made) is None
    assert headline(made, WORDS) == "No: the job has no floor to heat."
    assert text(made).startswith("No: the job has no floor to heat.")


@pytest.mark.parametrize("width", [40, 60, 80, 120])
@pytest.mark.parametrize("state", list(State))
def test_every_state_fits_every_width(state: State, width: int) -> None:
    lines = text(plan(zone(state), findings=FINDINGS), width).splitlines()
    assert [line for line in lines if columns(line) > width] == []
    assert all(line == line.rstrip() for line in lines)


def test_a_width_too_narrow_to_read_is_not_taken_at_its_word() -> None:
    assert text(plan(), 5) == text(plan(), 40)


def test_names_people_typed_do_not_break_the_report() -> None:
    made = zone(name="b\x1b[31mad\r\n" + "x" * 100)
    lines = text(plan(made)).splitlines()
    assert all(columns(line) <= 80 for line in lines)
    assert "\x1b" not in "".join(lines)


def test_the_report_of_a_curing_floor() -> None:
    said = text(plan(findings=FINDINGS))
    for line in (
        "hall bath: curing",
        "  Waiting for  the thinset (no data sheet given, so 28 days)",
        "  Earliest     Mon 4 Jan 2027, 15:10, if the room stays at 66 °F",
        "  Latest       Fri 8 Jan 2027, 15:10, at the coldest and dampest expected",
        "  Switch on    Not before Tue 5 Jan 2027, 08:00, by the electrician, once",
        "  Tell owner   Not before Mon 11 Jan 2027, and only when we say so",
        "  Measured     temperature, for 40 % of the wait; the date can still move",
        "  - GFCI with a trip test",
        "  Thu 7 Jan 2027  84 °F (29 °C)     3 days",
        "  Do not set any of this before the release.",
        "  - STOP: frost came before it had cured: the thinset, Wed 2 Dec 2026, 16:00",
        "  - Do not use the floor heating to dry the floor.",
        "As of Wed 2 Dec 2026, 16:00 (America/Halifax time).",
    ):
        assert line in said.splitlines()


def test_a_stop_stands_before_a_warning() -> None:
    lines = plain(finding_lines(FINDINGS, {}, WORDS, 80))
    assert [line.strip().split(":")[0] for line in lines if line.strip().startswith("- ")] == [
        "- STOP",
        "- warning",
    ]


def test_a_stopped_floor_is_given_no_day_to_switch_on() -> None:
    said = text(plan(zone(State.STOPPED)))
    assert "Switch on" not in said
    assert "Tell owner   No date we can promise yet, and only when we say so" in said
    assert "Do this      Find out what it was" in said


def test_a_zone_without_a_date_says_what_to_do() -> None:
    made = zone(State.NO_DATE, why=Message("why-no-date"))
    said = text(plan(made))
    assert "No date      The data sheet of the gypsum leveler is missing" in said
    assert "Do this      Enter the waiting times from its data sheet" in said
    assert "Earliest" not in said
    bare = replace(made, energize=replace(made.energize, blocked=Message("cure-running")))
    assert "No date      Not every layer is cured yet." in text(plan(bare))


def test_a_floor_in_service_is_told_no_dates() -> None:
    said = text(plan(zone(State.IN_SERVICE, holds=(), heat_ups=(), room_order=None)))
    for label in ("Earliest", "Owner  ", "Switch on ", "Outstanding", "First heat", "Room "):
        assert label not in said


def test_a_released_floor_has_its_day_and_no_owner_line() -> None:
    made = zone(State.RELEASED, heat_ups=(ramp(provisional=False, measured=True),))
    said = text(plan(made))
    assert "Switch on    Tue 5 Jan 2027, 08:00, by the electrician\n" in said
    assert "Owner  " not in said
    assert "not measured yet" not in said
    unmeasured = text(plan(zone(State.RELEASED)))
    assert "not measured yet" in unmeasured
    assert "Do not set any of this before the release." not in unmeasured


def test_a_closed_window_is_one_instant_and_an_open_one_no_promise() -> None:
    made = zone()
    closed = replace(made.energize, window=Window(HEAT, HEAT), provisional=False)
    said = text(plan(replace(made, energize=closed)))
    assert "Earliest     Mon 4 Jan 2027, 15:10, also at the coldest and dampest expected" in said
    assert "Cured" not in said
    past = text(replace(plan(replace(made, energize=closed)), as_of=HEAT))
    assert "Cured        Mon 4 Jan 2027, 15:10\n" in past
    assert "Measured     temperature, for 40 % of the wait\n" in said
    opened = replace(made.energize, window=window(HEAT, None), owner_date=None)
    said = text(plan(replace(made, energize=opened)))
    assert "Latest       no date we can promise at the coldest expected" in said
    assert "Tell owner   No date we can promise" in said


def test_an_owner_who_switches_on_needs_no_electrician() -> None:
    made = zone()
    made = replace(made, zone=replace(made.zone, energized_by=Role.OWNER))
    assert "Switch on    Not before Tue 5 Jan 2027, 08:00, by the owner, once released" in text(
        plan(made)
    )


def test_metric_readers_read_metric() -> None:
    said = text(plan(units=Units.METRIC, expected=Expected(18.9)))
    assert "at 18.9 °C" in said
    assert "29 °C (84 °F)" in said


def test_a_heat_up_by_water_and_one_of_a_bare_screed() -> None:
    flow = replace(ramp(), basis="flow", purpose="bare screed")
    said = text(plan(zone(heat_ups=(flow,))))
    assert "  Heating the bare screed" in said
    assert "set the water to" in said
    assert "  Cold again on Sun 10 Jan 2027." in said
    assert "  These days can still move." in said
    assert "Heat after the repair" in text(
        plan(zone(heat_ups=(replace(ramp(), purpose="after repair", steps=()),)))
    )


def test_layers_stand_as_they_lie_top_first() -> None:
    lines = plain(layer_table(zone(), plan(), WORDS, 80))
    first = [line.split("  ")[1] for line in lines if line.startswith("  ") and line[2] != " "]
    assert (first[0], first[-2]) == ("top", "bottom")
    order = ["grout, shower side", "thinset", "leveler over cable", "old slab"]
    assert [name for name in first if name in order] == order
    assert any("cover ~2-3 Dec" in line for line in lines)
    assert lines[-1].startswith("  ~ estimate: look, or test the moisture, before you cover it")


def test_an_estimate_is_history_once_the_next_layer_lies_on_it() -> None:
    laid = [replace(layer, planned=False) for layer in zone().layers]
    lines = plain(layer_table(zone(layers=tuple(laid)), plan(), WORDS, 80))
    assert any("cover 2-3 Dec" in line for line in lines)
    assert not any("~" in line for line in lines)


def test_the_last_hour_to_start_is_said_once() -> None:
    made = zone()
    fixed = replace(made.layers[2], start=Window(HEAT, HEAT), latest_start_at=HEAT)
    assert next_steps(replace(made, layers=(fixed,)), plan(made), WORDS) == [
        "thinset: Mon 4 Jan 2027, 15:10. Start then to keep the date."
    ]


def test_a_zone_without_layers_has_no_table() -> None:
    assert layer_table(zone(layers=()), plan(), WORDS, 80) == []


def test_next_steps_are_the_planned_layers_with_the_latest_start() -> None:
    made = zone()
    assert next_steps(made, plan(made), WORDS) == [
        (
            "thinset: from Wed 2 Dec 2026, 22:30, at the coldest Thu 3 Dec 2026, 22:30;"
            " start by Sat 5 Dec 2026, 22:30 to keep the date."
        ),
        (
            "grout, shower side (shower): from Sat 5 Dec 2026, 22:30;"
            " no date we can promise at the coldest expected."
        ),
    ]
    waiting = replace(made.layers[2], start=None, finish=None)
    fixed = replace(made.layers[2], start=Window(HEAT, HEAT), latest_start_at=None)
    steps = next_steps(replace(made, layers=(waiting, fixed)), plan(made), WORDS)
    assert steps == [
        "thinset: no date yet. It waits for the layer below.",
        "thinset: from Mon 4 Jan 2027, 15:10.",
    ]
    assert "no date" in "\n".join(
        plain(layer_table(replace(made, layers=(waiting,)), plan(), WORDS, 80))
    )


@pytest.mark.parametrize(
    ("first", "length", "said"),
    [
        (HEAT, 0.0, "4 Jan"),
        (HEAT, 4.0, "4-8 Jan"),
        (HEAT, None, "from 4 Jan"),
        (HEAT - timedelta(days=7), 7.0, "28 Dec-4 Jan"),
        (HEAT + timedelta(days=365), 4.0, "4-8 Jan 2028"),
        (HEAT + timedelta(days=300), 10.0, "31 Oct-10 Nov 2027"),
        (HEAT + timedelta(days=358), 7.0, "28 Dec 2027-4 Jan 2028"),
        (HEAT + timedelta(days=365), None, "from 4 Jan 2028"),
    ],
)
def test_windows_as_short_days(first: object, length: float | None, said: str) -> None:
    made = window(first, length)  # type: ignore[arg-type]
    assert days(made, plan(), WORDS, AS_OF.astimezone(TZ).date()) == said


def test_only_outstanding_hold_points_are_shown_failed_first() -> None:
    said = text(plan(zone(holds=(HOLDS[1], HOLDS[0], HOLDS[3]))))
    assert said.index("FAILED: cable test before connection") < said.index("GFCI with a")
    assert "cable test after laying" not in said


def test_a_refused_file_shows_every_finding_and_nothing_else() -> None:
    errors = tuple(replace(each, severity=Severity.ERROR) for each in FINDINGS)
    lines = plain(refused_lines(errors, {"zone": [{"name": "den"}]}, plain_words(), 80))
    title = "The job file has mistakes, so nothing was computed. 2 things to fix:"
    assert lines[0] == title
    assert sum(line.startswith("  - error: zone") for line in lines) == 2
    assert lines[1].startswith('  - error: zone "den", layer 2: ')
    assert plain(refused_lines(errors[:1], {}, plain_words(), 5))[0].startswith("The job file")


def test_a_planned_layer_without_a_part_is_named_alone() -> None:
    made = zone()
    grout: LayerPlan = made.layers[3]
    alone = replace(grout, layer=replace(grout.layer, part=None))
    assert next_steps(replace(made, layers=(alone,)), plan(made), WORDS)[0].startswith(
        "grout, shower side: from"
    )


def test_one_remedy_of_several_findings_stands_once() -> None:
    twice = (FINDINGS[0], FINDINGS[0], FINDINGS[1])
    said = "\n".join(plain(finding_lines(twice, {}, WORDS, 80)))
    assert said.count("Ask the maker") == 1
    assert said.count("Have somebody inspect") == 1


def test_no_visits_no_heading() -> None:
    assert "Electrician's visits" not in text(replace(plan(), visits=()))


def test_a_floor_released_for_tomorrow_says_not_yet() -> None:
    made = plan(replace(zone(State.RELEASED), may_energize=False))
    assert headline(made, WORDS) == (
        "Not yet: from Tue 5 Jan 2027, 08:00, by the electrician, first at 68 °F (20 °C)."
    )


def test_days_within_six_months_are_shown_without_their_year() -> None:
    words = words_for(job(), RULES, as_of=AS_OF)
    assert words.day(date(2027, 5, 31)) == "Mon 31 May"
    assert words.day(date(2027, 6, 1)) == "Tue 1 Jun 2027"
    assert words.at(AS_OF) == "Wed 2 Dec, 16:00"
