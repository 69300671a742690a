"""Of everything that must be said, what is said by a clock that nobody confirmed, and what not."""

from __future__ import annotations

import pytest
from reminder_samples import a_plan
from test_must_be_said import MUST_BE_SAID, heard_by

from curecal.job_files.days_off import day_off_for
from curecal.reminders.builders.build_reminders import build_reminders
from curecal.reminders.reminder_rules import shipped_rules
from curecal.reminders.reminder_types import (
    BY_A_SURE_CLOCK,
    MAY_NOT,
    MessageKind,
    Reminder,
)

# What an owner hears in place of a number, and what a crew lead hears of it.
INSTEAD = {MessageKind.HEAT_DAY, MessageKind.CLOCK_UNSURE}


def said(cause: str, *, clock_is_sure: bool) -> dict[str, Reminder]:
    case = MUST_BE_SAID[cause]
    plan, log = a_plan(case.now, case.text, case.log)
    day_off = day_off_for(plan.job)
    found = build_reminders(
        plan,
        plan.job.people,
        shipped_rules(),
        heard_by(case),
        log=log,
        day_off=day_off,
        clock_is_sure=clock_is_sure,
    )
    return {reminder.key: reminder for reminder in found}


@pytest.mark.parametrize("cause", MUST_BE_SAID)
def test_by_an_unsure_clock_nothing_lets_anybody_heat_and_all_else_is_said(cause: str) -> None:
    sure, unsure = said(cause, clock_is_sure=True), said(cause, clock_is_sure=False)
    for reminder in unsure.values():
        assert reminder.kind not in BY_A_SURE_CLOCK - INSTEAD
        assert "energize" not in reminder.parts
        if reminder.kind is MessageKind.HEAT_DAY:
            assert reminder.parts[0] == "unknown"
    kept_back = {
        key
        for key, reminder in sure.items()
        if reminder.kind in BY_A_SURE_CLOCK or "energize" in reminder.parts
    }
    rest = {key: one for key, one in unsure.items() if one.kind not in INSTEAD}
    assert rest == {key: one for key, one in sure.items() if key not in kept_back}
    # Where anything is kept back somebody is asked to look, and only there.
    asked = [one for one in unsure.values() if one.kind is MessageKind.CLOCK_UNSURE]
    assert bool(asked) is bool(kept_back)
    assert {one.recipient for one in asked} <= {"robin@crew.example"}
    # A STOP is said by any clock.
    assert {one.key for one in sure.values() if one.kind in MAY_NOT} <= set(unsure)


def test_the_table_has_of_each_kind_that_lets_somebody_heat() -> None:
    kinds = {case.kind for case in MUST_BE_SAID.values()}
    assert BY_A_SURE_CLOCK - kinds == {MessageKind.BARE_HEAT_DAY}
