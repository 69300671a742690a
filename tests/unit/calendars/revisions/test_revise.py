"""The one rule of revisions: what is new, changed, off, back again, and what stands unasked."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest
from calendar_samples import AS_OF, HALL, HALL_PLAN, JOB, RULES, plan, released

from curecal.calendars import (
    STANDS_PROPERTY,
    Audience,
    Days,
    Event,
    EventKey,
    Feed,
    Goes,
    History,
    Revised,
    Revision,
    RevisionChange,
    drafts,
    feeds,
    goes,
    revise,
    stamped,
)
from curecal.calendars.event import Alarm, Stamp
from curecal.calendars.events.owner import off_until
from curecal.calendars.revision import GREATEST_SEQUENCE, name_of
from curecal.errors import CurecalError
from curecal.planning.plan import Plan, State, ZonePlan

SECOND = timedelta(seconds=1)
HOUR = timedelta(hours=1)
NOTHING = History("")
UP = replace(HALL, id="up", name="upstairs", path="zone.1")
UP_PLAN = replace(HALL_PLAN, zone=UP)


def known(revised: Revised) -> History:
    return History("1", {each.uid: each for each in revised.revisions})


def publish(
    made: Plan, before: Revised | None = None, now: datetime | None = None, *off: str
) -> Revised:
    wanted = [draft for feed in feeds(made, rules=RULES) for draft in drafts(feed)]
    history = known(before) if before else NOTHING
    how = goes(made, rules=RULES, withdrawn=off)
    return revise(wanted, history, now or made.as_of, goes=how)


def day(purpose: str, first: int, title: str = "Work") -> Event:
    start = date(2026, 12, first)
    alarm = Alarm(datetime(2026, 12, first - 1, 18, tzinfo=UTC), "evening before")
    key = EventKey(Audience.CREW, "hall", "", purpose)
    return Event(
        key, title, "what to do", Days(start, start + timedelta(days=1)), busy=True, alarms=(alarm,)
    )


def feed(*events: Event) -> Feed:
    return Feed(Audience.CREW, "alder", "Alder", events)


GOES = Goes(
    frozenset(), date(2026, 12, 2), lambda _, title: f"Cancelled: {title}", "off, {}".format
)


def step(before: Revised | None, now: datetime, *events: Event) -> Revised:
    wanted = drafts(feed(*events)) if events else ()
    return revise(wanted, known(before) if before else NOTHING, now, goes=GOES)


def one(revised: Revised, uid: str) -> Revision:
    (found,) = [each for each in revised.revisions if each.uid == uid]
    return found


A, B = day("a", 7), day("b", 8)
UID_A, UID_B = (feed(A).uid(each.key) for each in (A, B))


def test_what_was_never_published_is_new_and_counted_from_zero() -> None:
    first = step(None, AS_OF, A, B)
    assert first.changes == {UID_A: RevisionChange.NEW, UID_B: RevisionChange.NEW}
    assert {each.sequence for each in first.revisions} == {0}
    assert {each.changed_at for each in first.revisions} == {AS_OF}
    assert first.told == first.revisions


def test_what_has_not_changed_keeps_its_very_lines() -> None:
    first = step(None, AS_OF, A, B)
    second = step(first, AS_OF + HOUR, A, B)
    assert set(second.changes.values()) == {RevisionChange.UNCHANGED}
    assert second.revisions == first.revisions
    assert second.told == ()


@pytest.mark.parametrize("hours", [1, 0, -1, -24 * 400])
def test_a_change_grows_in_number_and_in_time_whatever_the_clock_says(hours: int) -> None:
    first = step(None, AS_OF, A, B)
    now = AS_OF + hours * HOUR
    second = step(first, now, day("a", 9), B)
    assert second.changes == {UID_A: RevisionChange.CHANGED, UID_B: RevisionChange.UNCHANGED}
    found = one(second, UID_A)
    assert found.sequence == 1
    assert found.changed_at == max(now, AS_OF + SECOND)
    assert f"DTSTAMP:{found.changed_at:%Y%m%dT%H%M%SZ}" in found.lines
    assert f"LAST-MODIFIED:{found.changed_at:%Y%m%dT%H%M%SZ}" in found.lines
    assert "SEQUENCE:1" in found.lines


def test_moved_and_moved_back_are_two_revisions() -> None:
    first = step(None, AS_OF, A)
    back = step(step(first, AS_OF, day("a", 9)), AS_OF, A)
    found = one(back, UID_A)
    assert (found.sequence, found.changed_at) == (2, AS_OF + 2 * SECOND)
    assert found.content == one(first, UID_A).content
    assert back.changes == {UID_A: RevisionChange.CHANGED}


@pytest.mark.parametrize(
    "changed",
    [
        replace(A, summary="Other work"),
        replace(A, description="what else to do"),
        replace(A, busy=False),
        replace(A, location="7 Alder Lane"),
        replace(A, alarms=()),
        replace(A, alarms=(Alarm(AS_OF, "evening before"),)),
        replace(A, keeps_off="hall"),
    ],
)
def test_every_part_that_a_person_meets_is_content(changed: Event) -> None:
    second = step(step(None, AS_OF, A), AS_OF, changed)
    assert second.changes == {UID_A: RevisionChange.CHANGED}


def test_what_is_gone_says_so_in_every_way_that_a_program_shows() -> None:
    gone = step(step(None, AS_OF, A, B), AS_OF + HOUR, B)
    assert gone.changes == {UID_B: RevisionChange.UNCHANGED, UID_A: RevisionChange.CANCELLED}
    found = one(gone, UID_A)
    assert found.cancelled
    assert (found.sequence, found.changed_at) == (1, AS_OF + HOUR)
    assert found.summary == "Cancelled: Work"
    assert "STATUS:CANCELLED" in found.lines
    assert "TRANSP:TRANSPARENT" in found.lines
    assert "DESCRIPTION:off\\, crew" in found.lines
    names = [name_of(line) for line in found.lines]
    assert names.count("BEGIN") == names.count("END") == 1
    assert not {"ACTION", "TRIGGER"} & set(names)
    # It is still the same event: its time and identity stay.
    assert found.value("DTSTART") == "20261207"
    assert found.lines[:2] == ("BEGIN:VEVENT", f"UID:{UID_A}")


def test_what_is_gone_stays_as_it_is_from_then_on() -> None:
    gone = step(step(None, AS_OF, A, B), AS_OF + HOUR, B)
    later = gone
    for days in range(1, 400, 40):
        later = step(later, AS_OF + days * 24 * HOUR, day("b", 9 + days % 2))
        assert later.changes[UID_A] is RevisionChange.UNCHANGED
        assert one(later, UID_A) == one(gone, UID_A)


def test_what_comes_back_is_the_same_event_at_a_higher_number() -> None:
    gone = step(step(None, AS_OF, A, B), AS_OF, B)
    back = step(gone, AS_OF, A, B)
    assert back.changes[UID_A] is RevisionChange.RETURNED
    found = one(back, UID_A)
    assert (found.sequence, found.changed_at) == (2, AS_OF + 2 * SECOND)
    assert found.draft == drafts(feed(A))[0]
    again = step(back, AS_OF, B)
    assert again.changes[UID_A] is RevisionChange.CANCELLED
    assert one(again, UID_A).sequence == 3


def test_nothing_is_ever_left_out() -> None:
    last = step(None, AS_OF, *(day(f"p{count}", 7) for count in range(10)))
    for _ in range(3):
        last = step(last, AS_OF, A)
        assert len(last.revisions) == 11
    assert len(step(last, AS_OF).revisions) == 11


def test_one_identity_twice_is_refused() -> None:
    twice = (*drafts(feed(A)), *drafts(feed(A)))
    with pytest.raises(CurecalError, match="calendar-keys"):
        revise(twice, NOTHING, AS_OF, goes=GOES)


def test_the_last_number_is_used_and_none_after_it() -> None:
    (draft,) = drafts(feed(A))
    for sequence in (GREATEST_SEQUENCE - 1, GREATEST_SEQUENCE):
        last = stamped(draft, Stamp(sequence, AS_OF))
        history = History("1", {UID_A: last})
        assert revise([draft], history, AS_OF, goes=GOES).revisions == (last,)
        wanted = drafts(feed(day("a", 9)))
        if sequence < GREATEST_SEQUENCE:
            found = revise(wanted, history, AS_OF, goes=GOES).revisions
            assert found[0].sequence == GREATEST_SEQUENCE
            continue
        with pytest.raises(CurecalError, match="calendar-sequence-spent"):
            revise(wanted, history, AS_OF, goes=GOES)


def test_after_a_loss_all_is_published_later_than_anything_known() -> None:
    ahead = AS_OF + 100 * HOUR
    (draft,) = drafts(feed(A))
    last = stamped(draft, Stamp(7, AS_OF))
    history = History("1", {UID_A: last}, 1000, ahead, frozenset({UID_A}))
    found = revise(drafts(feed(A, B)), history, AS_OF, goes=GOES)
    assert found.changes == {UID_A: RevisionChange.CHANGED, UID_B: RevisionChange.NEW}
    assert {each.sequence for each in found.revisions} == {1000}
    assert {each.changed_at for each in found.revisions} == {ahead + SECOND}


def test_what_was_off_in_a_damaged_file_is_told_anew_as_well() -> None:
    gone = step(step(None, AS_OF, A, B), AS_OF, B)
    history = History("1", dict(known(gone).revisions), 1000, AS_OF, frozenset({UID_A, UID_B}))
    found = revise(drafts(feed(B)), history, AS_OF, goes=GOES)
    assert found.changes == {UID_A: RevisionChange.CANCELLED, UID_B: RevisionChange.CHANGED}
    assert {each.sequence for each in found.revisions} == {1000}
    assert one(found, UID_A).summary == "Cancelled: Work"


def spans(revised: Revised) -> dict[str, Revision]:
    """The entries that keep a zone off, by the zone's id."""
    found = ((each.value(STANDS_PROPERTY), each) for each in revised.revisions)
    return {zone: each for zone, each in found if zone}


def ends_on(revision: Revision) -> date:
    return datetime.strptime(revision.value("DTEND") or "", "%Y%m%d").replace(tzinfo=UTC).date()


def test_a_zone_that_left_the_job_unreleased_is_still_kept_off() -> None:
    first = publish(plan(HALL_PLAN, UP_PLAN))
    without = publish(plan(HALL_PLAN), first)
    assert without.left_standing == ("up",)
    span = spans(without)["up"]
    assert not span.cancelled
    assert span.summary == spans(first)["up"].summary
    off = [
        each for each in without.revisions if without.changes[each.uid] is RevisionChange.CANCELLED
    ]
    assert off
    assert span not in off


def test_a_zone_s_id_that_was_changed_leaves_the_old_one_kept_off() -> None:
    first = publish(plan(HALL_PLAN))
    renamed = replace(HALL_PLAN, zone=replace(HALL, id="hall-bath"))
    second = publish(plan(renamed), first)
    assert set(spans(second)) == {"hall", "hall-bath"}
    assert second.left_standing == ("hall",)


def test_an_entry_left_standing_moves_on_in_weeks_and_not_each_day() -> None:
    last = publish(plan(HALL_PLAN, UP_PLAN))
    start = spans(last)["up"].value("DTSTART")
    before = ends_on(spans(last)["up"])
    told = 0
    for days in range(1, 120):
        as_of = AS_OF + days * 24 * HOUR
        last = publish(plan(HALL_PLAN, as_of=as_of), last)
        span = spans(last)["up"]
        today = as_of.astimezone(JOB.tz).date()
        assert ends_on(span) >= today + timedelta(days=14)
        assert (ends_on(span) - before).days % 7 == 0
        assert span.value("DTSTART") == start
        assert last.left_standing == ("up",)
        told += last.changes[span.uid] is RevisionChange.CHANGED
    assert told == pytest.approx(120 / 7, abs=7)


def test_a_zone_withdrawn_by_a_person_goes_and_may_come_back() -> None:
    first = publish(plan(HALL_PLAN, UP_PLAN))
    uid = spans(first)["up"].uid
    gone = publish(plan(HALL_PLAN), first, None, "up")
    assert gone.left_standing == ()
    assert gone.changes[uid] is RevisionChange.CANCELLED
    # A cancelled "do not switch on" would be read as leave.
    assert one(gone, uid).summary == "Alder Lane 7: entry withdrawn, floor heating up"
    assert "does not mean you may switch" in (one(gone, uid).value("DESCRIPTION") or "")
    # A cancelled entry keeps nothing off, and is not held again on the next day.
    assert "up" not in spans(gone)
    assert publish(plan(HALL_PLAN), gone).changes[uid] is RevisionChange.UNCHANGED
    back = publish(plan(HALL_PLAN, UP_PLAN), gone)
    assert back.changes[uid] is RevisionChange.RETURNED
    assert spans(back)["up"].uid == uid


def test_withdrawing_one_zone_lets_no_other_go() -> None:
    first = publish(plan(HALL_PLAN, UP_PLAN))
    other = replace(HALL_PLAN, zone=replace(HALL, id="loft", path="zone.0"))
    second = publish(plan(other), first, None, "up")
    assert second.left_standing == ("hall",)


@pytest.mark.parametrize("state", [State.STOPPED, State.NO_DATE, State.ON_HOLD])
def test_without_a_date_the_zone_is_kept_off_under_the_same_identity(state: State) -> None:
    first = publish(plan(HALL_PLAN))
    undated = replace(
        HALL_PLAN,
        state=state,
        energize=replace(HALL_PLAN.energize, window=None, owner_date=None),
    )
    second = publish(plan(undated), first)
    span, before = spans(second)["hall"], spans(first)["hall"]
    assert span.uid == before.uid
    assert span.sequence == 1
    assert ends_on(span) >= AS_OF.date() + timedelta(days=14)


def test_a_release_lets_the_entry_go_and_its_loss_brings_it_back() -> None:
    def kept_off(made: ZonePlan, before: Revised | None) -> tuple[Revised, bool]:
        found = publish(plan(made), before)
        return found, "hall" in spans(found)

    last: Revised | None = None
    numbers = []
    for made, off in (
        (HALL_PLAN, True),
        (released(), False),
        (replace(HALL_PLAN, state=State.STOPPED), True),
        (HALL_PLAN, True),
        (released(state=State.IN_SERVICE), False),
    ):
        last, found = kept_off(made, last)
        assert found is off
        uid = Feed.uid(
            feeds(plan(), rules=RULES)[2], EventKey(Audience.OWNER, "hall", "", "do not switch on")
        )
        numbers.append(one(last, uid).sequence)
    assert numbers == sorted(set(numbers))


def test_the_span_never_ends_with_its_day() -> None:
    """Whatever day it is, an entry left standing and one wanted reach past today alike."""
    start = date(2026, 12, 1)
    for days in range(200):
        today = start + timedelta(days=days)
        day = date(2027, 1, 8)
        ahead = day if day > today else None
        end_on, told = off_until(start_on=start, told_on=ahead, planned_on=day, today=today)
        assert end_on > today
        assert told is (today < date(2027, 1, 8))


def respelled(lines: Iterable[str]) -> list[str]:
    """The same event as another program spells it."""
    begin, *inside, end = lines
    flipped = []
    for line in reversed(inside[: inside.index("BEGIN:VALARM")]):
        name, _, rest = line.partition(":") if ";" not in line else line.partition(";")
        sign = line[len(name)]
        value = rest.replace("VALUE=DATE", 'value="DATE"').replace("\\n", "\\N")
        flipped.append(f"{name.lower()}{sign}{value}")
    alarm = inside[inside.index("BEGIN:VALARM") :]
    return [begin, "X-OTHER-PROGRAM;X-A=1:seen", *alarm, *flipped, "CREATED:20200101T000000Z", end]


def test_another_program_s_spelling_is_the_same_content() -> None:
    work = replace(A, description='one; two\nthree, "four" \\ five', location="7; back, left")
    first = step(None, AS_OF, work)
    other = replace(first.revisions[0], lines=tuple(respelled(first.revisions[0].lines)))
    assert other.lines != first.revisions[0].lines
    assert other.content == first.revisions[0].content
