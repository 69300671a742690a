"""The continuity alarm: a sound stops the floor at once, until a complete test has passed."""

from __future__ import annotations

from dataclasses import replace

import pytest
from planning_log import HOUR, READY, a_job, evidence, fact, measured, state
from planning_samples import ADA, DAY, START, layer, plan, zone

from curecal.planning.plan import Plan, State
from curecal.trade.findings import Finding, Severity
from curecal.trade.job import Cable, Heating, Layer, Person, Role
from curecal.trade.site_log import Connected, Continuity, Done, Entry, LeadAlarm, Stage

AT = START + DAY * 3
SOUND = fact(Continuity, AT, by="a neighbor", state=LeadAlarm.SOUNDED)


def alarm(made: Plan) -> list[Finding]:
    return [finding for finding in made.findings if finding.code == "alarm-sounded"]


@pytest.mark.parametrize("by", ["Ada", "a neighbor", None])
def test_a_sound_counts_from_anybody(by: str | None) -> None:
    made = plan(a_job(), [*evidence()[:9], replace(SOUND, by=by)], AT + HOUR)
    assert state(made) is State.STOPPED
    assert made.zones[0].why.code == "alarm-sounded"
    assert [finding.severity for finding in alarm(made)] == [Severity.STOP]


@pytest.mark.parametrize("told", [LeadAlarm.CONNECTED, LeadAlarm.REMOVED])
def test_an_alarm_that_is_connected_or_taken_off_stops_nothing(told: LeadAlarm) -> None:
    assert not alarm(plan(a_job(), [fact(Continuity, AT, state=told)], AT + HOUR))


@pytest.mark.parametrize(
    ("test", "clears"),
    [
        (measured(AT + HOUR, Stage.EMBEDDED), True),
        (measured(AT, Stage.EMBEDDED), False),
        # Not complete, not by anybody who may give it, not good.
        (measured(AT + HOUR, Stage.LAID, insulation_ohm=None), False),
        (measured(AT + HOUR, Stage.EMBEDDED, by=None), False),
        (measured(AT + HOUR, Stage.EMBEDDED, insulation_ohm=1e3), False),
        (measured(AT + HOUR, Stage.EMBEDDED, cable="another"), False),
        (fact(Continuity, AT + HOUR, state=LeadAlarm.CONNECTED), False),
    ],
)
def test_only_a_complete_passed_test_clears_it(test: Entry, *, clears: bool) -> None:
    made = plan(a_job(), [SOUND, test], AT + HOUR * 2)
    assert (not alarm(made)) is clears
    again = fact(Continuity, AT + HOUR * 3, state=LeadAlarm.SOUNDED)
    assert alarm(plan(a_job(), [SOUND, test, again], AT + HOUR * 4))


def test_it_is_said_since_when_and_between_whose_work() -> None:
    layers = tuple(replace(made, done_at=None) for made in floor_layers())
    crew = (Person(Role.CREW, "Cy"), Person(Role.CREW, "Dee"))
    job = a_job(zone(*layers), people=(ADA, *crew))
    log = [
        fact(Continuity, START - HOUR, by="Ada", state=LeadAlarm.CONNECTED),
        measured(START, Stage.LAID),
        fact(Done, START + HOUR, by="Cy", layer=layers[0].id),
        fact(Done, START + DAY, by=None, layer=layers[1].id),
        fact(Done, AT + DAY, by="Dee", layer=layers[2].id),
        SOUND,
    ]
    (found,) = alarm(plan(job, log, AT + DAY * 2))
    assert found.params["work"] == "leveler (Cy), mortar"
    assert (found.params["last_at"], found.params["before_by"]) == (START, "Ada")
    (first,) = alarm(plan(job, log[2:], AT + DAY * 2))
    assert (first.params["last_at"], first.params["before_by"]) == (None, "")
    assert first.params["work"] == "leveler (Cy), mortar"


def floor_layers() -> tuple[Layer, ...]:
    return a_job().zones[0].layers


def test_of_several_cables_the_one_that_sounded_is_named() -> None:
    two = Heating(cables=(Cable("mat A", 240.0, 640.0, 90.0), Cable("mat B", 240.0, 640.0, 90.0)))
    job = a_job(zone(*floor_layers(), heating=two))
    named = replace(SOUND, cable="mat B")
    (found,) = alarm(plan(job, [named], AT + HOUR))
    assert found.params["cable"] == "mat B"
    assert len(alarm(plan(job, [SOUND], AT + HOUR))) == 2
    cleared = measured(AT + HOUR, Stage.EMBEDDED, cable="mat B")
    assert not alarm(plan(job, [named, cleared], READY))


# An alarm from laying to connection is common practice.
@pytest.mark.parametrize(
    ("log", "told"),
    [
        ([], True),
        ([fact(Continuity, START - HOUR, state=LeadAlarm.CONNECTED)], False),
        ([fact(Connected, START + DAY)], False),
    ],
)
def test_no_alarm_over_a_covered_cable_is_a_note_and_holds_nothing(
    log: list[Entry], *, told: bool
) -> None:
    made = plan(a_job(), log, START + DAY * 2)
    found = [finding for finding in made.findings if finding.code == "alarm-not-logged"]
    assert [finding.severity for finding in found] == ([Severity.CAUTION] if told else [])
    assert not [point for point in made.zones[0].holds if "alarm" in point.code]


@pytest.mark.parametrize(
    "layers",
    [
        (layer("leveler", None, "leveler"),),
        (layer("cement grout", START, "grout"),),
        (
            layer("thinset", None, "old mortar", existing=True),
            layer("thinset", START, "mortar", repair=True, over_cable=True),
        ),
    ],
)
def test_where_no_cable_was_covered_no_alarm_is_asked_for(layers: tuple[Layer, ...]) -> None:
    made = plan(a_job(zone(*layers)), [], START + DAY)
    assert "alarm-not-logged" not in [finding.code for finding in made.findings]
