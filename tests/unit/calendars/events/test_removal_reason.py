"""What left the plan because it was done is never shown as called off, nor the other way round."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from calendar_samples import HALL_PLAN, RULES, plan
from planning_samples import RULES as SHIPPED
from planning_samples import weekdays
from test_calendars_laws import bare_and_finished

from curecal.calendars import (
    Audience,
    EventKey,
    Goes,
    History,
    Revision,
    RevisionChange,
    drafts,
    feeds,
    goes,
    revise,
)
from curecal.calendars.events.removal_reason import removal_reasons
from curecal.calendars.ical.ical_writer import DONE_PROPERTY
from curecal.calendars.revisions.revise import RemovalReason
from curecal.planning.plan import Hold, HoldState, State
from curecal.trade.hold_codes import Gate, HoldCode
from curecal.trade.job import Role


def held(*revisions: Revision) -> History:
    return History("held", {each.uid: each for each in revisions})


def test_a_life_without_trouble_calls_nothing_off() -> None:
    history = held()
    done: list[str] = []
    for morning in bare_and_finished().mornings():
        made = feeds(morning.told, rules=SHIPPED, day_off=weekdays, log=morning.log)
        wanted = [draft for feed in made for draft in drafts(feed)]
        how = goes(morning.told, rules=SHIPPED)
        revised = revise(wanted, history, morning.told.as_of, goes=how)
        changes = set(revised.changes.values())
        assert RevisionChange.CANCELLED not in changes, morning.day
        done += [
            each.summary
            for each in revised.revisions
            if revised.changes[each.uid] is RevisionChange.DONE
        ]
        assert all(title.startswith("Done: ") for title in done)
        # What is done stays as it is.
        again = revise(wanted, held(*revised.revisions), morning.told.as_of, goes=how)
        assert again.revisions == revised.revisions
        history = held(*revised.revisions)
    assert "Done: job, hall: switch on, only after the crew lead's OK" in done
    assert "Done: job, hall: test and connect, do not switch on" in done


def key(purpose: str, layer: str = "", audience: Audience = Audience.CREW) -> EventKey:
    return EventKey(audience, "hall", layer, purpose)


def test_of_a_stopped_floor_what_waited_for_heat_is_off() -> None:
    stopped = removal_reasons(plan(replace(HALL_PLAN, state=State.STOPPED)))
    for purpose, audience in [
        ("heat-up first heat", Audience.CREW),
        ("visit energize", Audience.ELECTRICIAN),
        ("may switch on", Audience.OWNER),
        ("heat-up first heat step 2", Audience.OWNER),
        ("keep the room", Audience.CREW),
    ]:
        assert stopped(key(purpose, audience=audience)) is RemovalReason.OFF
    served = removal_reasons(plan(replace(HALL_PLAN, state=State.IN_SERVICE)))
    for purpose, audience in [
        ("heat-up first heat", Audience.CREW),
        ("visit energize, 2", Audience.ELECTRICIAN),
        ("may switch on", Audience.OWNER),
        ("heat-up first heat step 2", Audience.OWNER),
        ("keep the room", Audience.CREW),
    ]:
        assert served(key(purpose, audience=audience)) is RemovalReason.DONE


@pytest.mark.parametrize(
    ("states", "reason"),
    [
        ((HoldState.MET, HoldState.MET), RemovalReason.DONE),
        ((HoldState.MET, HoldState.NOT_NEEDED), RemovalReason.DONE),
        ((HoldState.MET, HoldState.UNMET), RemovalReason.OFF),
        ((HoldState.MET, HoldState.FAILED), RemovalReason.OFF),
        ((HoldState.NOT_NEEDED,), RemovalReason.OFF),
        ((), RemovalReason.OFF),
    ],
)
def test_a_test_is_done_when_all_of_its_kind_are_met(
    states: tuple[HoldState, ...], reason: RemovalReason
) -> None:
    holds = tuple(
        Hold(HoldCode.TEST_AFTER_LAYING, Gate.EMBEDDING, Role.ELECTRICIAN, state, f"mat {count}")
        for count, state in enumerate(states)
    )
    found = removal_reasons(plan(replace(HALL_PLAN, holds=holds)))
    assert found(key("test-after-laying")) is reason
    visit = "visit rough-in-and-first-test"
    assert found(key(visit, audience=Audience.ELECTRICIAN)) is reason


def test_layers_and_what_let_them_begin() -> None:
    found = removal_reasons(plan())
    laid = next(each.layer for each in HALL_PLAN.layers if not each.planned)
    planned = next(each.layer for each in HALL_PLAN.layers if each.planned)
    assert found(key("step", laid.id)) is RemovalReason.DONE
    assert found(key("step", planned.id)) is RemovalReason.OFF
    assert found(key("step", "taken out")) is RemovalReason.OFF
    assert found(key("gate", laid.id)) is RemovalReason.OFF
    assert found(key("gate", "taken out")) is RemovalReason.OFF


def test_a_zone_that_is_gone_is_off_and_a_word_about_the_whole_job_is_only_past() -> None:
    found = removal_reasons(plan())
    assert found(EventKey(Audience.OWNER, "attic", "", "walk")) is RemovalReason.OFF
    assert found(EventKey(Audience.OWNER, "", "", "nothing yet")) is RemovalReason.PAST
    # What no entry of ours is for.
    assert found(key("visit other", audience=Audience.ELECTRICIAN)) is RemovalReason.OFF


def published() -> tuple[Revision, Goes]:
    """A day-long entry of the crew, published, and the way it goes: done."""
    made = plan()
    how = replace(goes(made, rules=RULES), reason=lambda _: RemovalReason.DONE)
    wanted = [draft for feed in feeds(made, rules=RULES) for draft in drafts(feed)]
    first = revise(wanted, held(), made.as_of, goes=how)
    days = [
        each
        for each in first.revisions
        if len(each.value("DTSTART") or "") == 8 and any("VALARM" in line for line in each.lines)
    ]
    return days[0], how


def test_done_before_its_day_it_leaves_the_day_free() -> None:
    entry, how = published()
    revised = revise((), held(entry), entry.changed_at, goes=how)
    (made,) = revised.revisions
    assert revised.changes[entry.uid] is RevisionChange.DONE
    assert made.cancelled
    assert made.summary == f"Done: {entry.summary}"
    assert "BEGIN:VALARM" not in made.lines


def test_done_on_its_day_it_ends_that_day_and_stays() -> None:
    entry, how = published()
    text = entry.value("DTSTART") or ""
    on = how.local_on.replace(year=int(text[:4]), month=int(text[4:6]), day=int(text[6:]))
    lines = [
        f"DTEND;VALUE=DATE:{on + timedelta(days=30):%Y%m%d}" if line.startswith("DTEND") else line
        for line in entry.lines
    ]
    entry = replace(entry, lines=tuple(lines))
    revised = revise((), held(entry), entry.changed_at, goes=replace(how, local_on=on))
    (made,) = revised.revisions
    assert revised.changes[entry.uid] is RevisionChange.DONE
    assert not made.cancelled
    assert made.value("DTEND") == f"{on + timedelta(days=1):%Y%m%d}"
    assert made.value(DONE_PROPERTY) == "TRUE"
    assert "BEGIN:VALARM" not in made.lines
    later = replace(how, local_on=on + timedelta(days=9), reason=lambda _: RemovalReason.OFF)
    assert revise((), held(made), made.changed_at, goes=later).revisions == (made,)


def test_over_it_is_left_alone_unless_it_is_off() -> None:
    entry, how = published()
    after = replace(how, local_on=how.local_on + timedelta(days=400))
    for reason in (RemovalReason.DONE, RemovalReason.PAST):
        left = revise(
            (), held(entry), entry.changed_at, goes=replace(after, reason=lambda _, f=reason: f)
        )
        assert left.revisions == (entry,)
    off = replace(after, reason=lambda _: RemovalReason.OFF)
    (made,) = revise((), held(entry), entry.changed_at, goes=off).revisions
    assert made.cancelled


def test_an_entry_whose_key_was_lost_is_called_off() -> None:
    entry, how = published()
    lines = tuple(line for line in entry.lines if not line.startswith("X-CURECAL-EVENT"))
    lost = replace(entry, lines=lines)
    assert lost.key is None
    (made,) = revise((), held(lost), entry.changed_at, goes=how).revisions
    assert made.cancelled
    assert entry.key == next(
        event.key
        for feed in feeds(plan(), rules=RULES)
        for event in feed.events
        if feed.uid(event.key) == entry.uid
    )
