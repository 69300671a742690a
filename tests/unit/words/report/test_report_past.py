"""The report: what is past is said as past, and a floor that is on comes first."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from plan_samples import AS_OF, HEAT, RULES, job, plan, window, zone

from curecal.instants import Window
from curecal.planning.plan import Plan, State
from curecal.trade.findings import Message
from curecal.words.layout import plain
from curecal.words.report.headline import headline, is_overdue
from curecal.words.report.report import report
from curecal.words.sentences import words_for
from curecal.words.values import show

WORDS = words_for(job(zone()), RULES)
DAY = timedelta(days=1)


def text(made: Plan) -> str:
    lines = plain(report(made, (), words=words_for(made.job, RULES), width=80, full=True))
    return " ".join(" ".join(lines).split())


def at(window_of: Window, as_of: datetime, *, provisional: bool = True) -> str:
    made = zone(State.CURING)
    energize = replace(made.energize, window=window_of, provisional=provisional)
    return text(replace(plan(replace(made, energize=energize)), as_of=as_of))


def test_one_instant_ahead_has_not_cured() -> None:
    said = at(Window(HEAT, HEAT), HEAT - DAY)
    assert "Earliest Mon 4 Jan 2027, 15:10, also at the coldest and dampest expected" in said
    assert "Cured" not in said
    assert "Cured Mon 4 Jan 2027, 15:10 " in at(Window(HEAT, HEAT), HEAT)


def test_a_window_says_what_is_past_of_it() -> None:
    ahead = at(window(HEAT), HEAT - DAY)
    assert "Earliest Mon 4 Jan 2027, 15:10, if the room stays at " in ahead
    within = at(window(HEAT), HEAT + DAY)
    assert "Earliest Mon 4 Jan 2027, 15:10, had the room stayed at " in within
    assert "Latest Fri 8 Jan 2027, 15:10, at the coldest and dampest expected" in within
    assert "the date can still move" in within
    past = at(window(HEAT), HEAT + 5 * DAY)
    assert "Cured by Fri 8 Jan 2027, 15:10, even at the coldest and dampest expected" in past
    assert "of the wait; the rest counts as cold as it may have been" in past
    assert "can still move" not in past
    assert "Earliest" not in past


def test_no_promise_is_never_past() -> None:
    said = at(Window(HEAT, None), HEAT + 500 * DAY)
    assert "Latest no date we can promise at the coldest expected" in said
    assert "Cured" not in said


def test_what_is_not_laid_is_not_said_to_harden() -> None:
    made = zone(State.CURING)
    why = Message("why-curing", {"layer": "thinset"})
    said = text(plan(replace(made, why=why)))
    assert "Waiting for the thinset" in said
    laid = tuple(replace(layer, planned=False) for layer in made.layers)
    said = text(plan(replace(made, why=why, layers=laid)))
    assert "The thinset is still curing." in said


@pytest.mark.parametrize(("day", "late"), [(9, False), (10, True), (40, True)])
def test_a_heat_up_whose_end_is_past_asks_for_its_steps(day: int, *, late: bool) -> None:
    made = plan(zone(State.HEATING_UP))
    # In service from 10 January by its steps.
    made = replace(made, as_of=datetime(2027, 1, 1, 16, tzinfo=UTC) + (day - 1) * DAY)
    assert is_overdue(made.zones[0], made) is late
    said = text(made)
    assert ("curecal note JOB heat_step to=…" in said) is late
    answer = headline(made, WORDS)
    if late:
        assert (
            answer == "Yes: heating up, today at most 84 °F (29 °C). Log the last step to finish."
        )
    else:
        assert answer == (
            "Yes: heating up, today at most 84 °F (29 °C). In service from Sun 10 Jan 2027."
        )
    assert not is_overdue(zone(State.RELEASED), made)
    assert not is_overdue(zone(State.HEATING_UP, heat_ups=()), made)


def test_a_floor_that_is_on_is_not_told_to_be_measured_before_it_is() -> None:
    assert "was not measured first; the steps start from" in text(plan(zone(State.HEATING_UP)))
    assert "is not measured yet; the steps start from" in text(plan(zone(State.RELEASED)))


def test_a_held_floor_that_is_on_is_told_to_be_switched_off_first() -> None:
    why = Message("held-while-on", {"on_at": AS_OF, "hold": "protection"})
    made = plan(zone(State.ON_HOLD, why=why))
    assert headline(made, WORDS) == (
        "No, switch it off: the floor has been on since Wed 2 Dec 2026, 16:00, and this is not in"
        " order: GFCI with a trip test."
    )


@pytest.mark.parametrize(
    ("name", "clock"),
    [
        ("stopped_at", "16:00"),
        ("released_at", "16:00"),
        ("as_of_at", "16:00"),
        ("earliest_at", "16:01"),
    ],
)
def test_what_has_happened_is_rounded_down_and_what_is_due_up(name: str, clock: str) -> None:
    said = show(name, AS_OF + timedelta(seconds=31), WORDS.catalogue, WORDS.reader)
    assert said == f"Wed 2 Dec 2026, {clock}"
