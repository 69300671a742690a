"""What each change does: dates won and lost, what is found beside, and the order of gains."""

from __future__ import annotations

from dataclasses import replace

from planning_log import READY, a_job, floor, released
from planning_samples import DAY, RULES, START, every_day, expected, layer, zone

from curecal.planning.comparison.alternatives import Alternative, WhatIf, what_if
from curecal.planning.make_plan import make_plan
from curecal.planning.plan import State
from curecal.trade.job import Covering, CoveringKind, Job
from curecal.trade.site_log import Entry
from curecal.words.comparison.alternatives import what_if_lines
from curecal.words.layout import plain
from curecal.words.sentences import words_for


def other(job: Job, said: str, air_c: float | None = None) -> Alternative:
    ahead = job.expected if air_c is None else replace(job.expected, air_c=air_c)
    return Alternative(said, job, ahead, every_day)


def found(
    job: Job, *changed: Alternative, log: tuple[Entry, ...] = (), days: float = 3.0
) -> WhatIf:
    return what_if(job, log, START + DAY * days, changed, None, rules=RULES, day_off=every_day)


def shown(job: Job, made: WhatIf, *, days: float = 3.0, log: tuple[Entry, ...] = ()) -> str:
    plan = make_plan(job, log, START + DAY * days, rules=RULES, day_off=every_day)
    words = words_for(job, RULES, as_of=plan.as_of)
    return "\n".join(plain(what_if_lines(made, plan, words=words, width=80)))


def mortar(thickness_m: float | None = 0.005) -> Job:
    return a_job(zone(layer("leveler", START, "base", thickness_m=thickness_m)))


def test_a_date_where_there_was_none_gains_most() -> None:
    unknown = mortar(None)
    made = found(unknown, other(unknown, "same"), other(mortar(), "measured"))
    assert [outcome.said for outcome in made.outcomes] == ["measured", "same"]
    first, last = made.outcomes
    assert (first.new_dates, first.helps, first.moves, first.gained_days) == (2, True, True, 0)
    assert (last.helps, last.moves) == (False, False)
    assert made.now[0].state is State.NO_DATE
    text = shown(unknown, made)
    assert "a date" in text
    assert "no date" in text
    assert "  - same" in text


def test_a_zone_without_a_date_stays_so_beside_another() -> None:
    blank = zone(layer("leveler", START, "base"), id="bath", name="bath", path="zone.1")
    job = a_job(floor(), blank)
    made = found(
        job, Alternative("warm", job, replace(job.expected, air_c=26.0), every_day), days=5
    )
    cold = a_job(floor(), blank, climate=expected(12.0))
    back = found(cold, other(cold, "warm", 20.0), days=5)
    assert made.outcomes[0].new_dates == 0
    text = shown(cold, back, days=5)
    assert "warm      no date    no date  none" in text


def test_a_date_that_is_lost_comes_last() -> None:
    known = mortar()
    later = replace(known, expected=expected(15.0))
    made = found(known, other(mortar(None), "lost"), other(later, "colder", 15.0))
    assert [outcome.said for outcome in made.outcomes] == ["colder", "lost"]
    assert made.outcomes[1].lost_dates == 2
    assert not any(outcome.helps for outcome in made.outcomes)
    assert all(outcome.moves for outcome in made.outcomes)
    text = shown(known, made)
    assert "no date any more" in text
    assert "later" in text
    assert "None of this brings a day forward." in text


def test_a_promise_to_the_owner_is_won_and_lost() -> None:
    # At the coldest of 1 °C nothing hardens, so no late end can be promised.
    cold = a_job(floor(), climate=expected(14.0, coldest_c=1.0))
    kept = Alternative("kept warm", cold, replace(cold.expected, coldest_c=14.0), every_day)
    made = found(cold, kept, days=5)
    assert made.now[0].owner_on is None
    assert made.outcomes[0].zones[0].owner_on is not None
    assert "a date for the owner" in shown(cold, made, days=5)
    warm = a_job(floor(), climate=expected(14.0, coldest_c=14.0))
    back = found(warm, Alternative("cold", warm, cold.expected, every_day), days=5)
    assert "none for the owner" in shown(warm, back, days=5)


def test_what_a_change_brings_with_it_is_said_once() -> None:
    # Modified mortar between a sheet and dense tile dries slowly; rapid mortar has no such wait.
    def over_sheet(name: str) -> Job:
        porcelain = Covering(CoveringKind.PORCELAIN, (0.3, 0.6))
        mortar = layer(name, None, "mortar")
        return a_job(zone(layer("uncoupling sheet", START), mortar, covering=porcelain))

    job = over_sheet("rapid thinset")
    changed = (other(over_sheet("thinset"), "slow"), other(over_sheet("thinset"), "slower"))
    made = found(job, *changed)
    codes = [[finding.code for finding in outcome.findings] for outcome in made.outcomes]
    assert codes == [["sealed-both-sides"], ["sealed-both-sides"]]
    text = shown(job, made)
    assert "Watch\n  - slow: " in text
    assert "slower: " not in text
    assert found(job, other(job, "same")).outcomes[0].findings == ()


def test_a_released_floor_keeps_its_day() -> None:
    job = a_job(floor())
    log = tuple(released())
    at = (READY - START) / DAY + 0.5
    made = found(job, other(job, "warm", 25.0), log=log, days=at)
    assert made.now[0].state is State.RELEASED
    assert "A released floor keeps its day." in shown(job, made, days=at, log=log)


def test_a_cured_floor_waits_for_people_only() -> None:
    job = a_job(floor())
    at = (READY - START) / DAY + 1.0
    made = found(job, other(job, "warm", 25.0), days=at)
    text = shown(job, made, days=at)
    assert "very layer is cured. Only this is left: cable test on" in text
    two = a_job(floor(), floor(id="bath", name="bath", path="zone.1"))
    both = shown(two, found(two, other(two, "warm", 25.0), days=at), days=at)
    assert "\nhall\n" in both
    assert "bath: every layer is cured." in both


def test_a_moisture_test_decides_over_an_estimate() -> None:
    screed = layer("sand-cement screed", START, "screed", thickness_m=0.05)
    job = a_job(zone(screed, covering=Covering(CoveringKind.WOOD)))
    text = shown(job, found(job, other(job, "same")))
    assert "A moisture test of the screed decides" in text
