"""Laws of revisions: numbers and stamps only grow, nothing is lost, "off" stays until release."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable
from datetime import UTC, date, datetime, timedelta
from functools import cache

import icalendar
import pytest
from hypothesis import given
from hypothesis import strategies as st
from planning_samples import DAY, RULES, job, layer, plan, sheet, weekdays, zone
from planning_site import CLIMATE, FIRST, Morning, Site, at_hour

from curecal.calendars import (
    STANDS_PROPERTY,
    Alarm,
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
    Timed,
    document,
    drafts,
    faults,
    feeds,
    goes,
    head,
    revise,
)
from curecal.calendars.content_lines import LONGEST, unfold
from curecal.planning.plan import Plan, State
from curecal.trade.job import Job
from curecal.trade.site_log import Release

AS_OF = datetime(2026, 12, 2, 20, tzinfo=UTC)
TODAY = date(2026, 12, 2)
GOES = Goes(frozenset(), TODAY, lambda _, title: f"Cancelled: {title}", "off, {}".format)
ZONES = ("hall", "up")


def known(revised: Revised | None) -> dict[str, Revision]:
    return {each.uid: each for each in revised.revisions} if revised else {}


@st.composite
def edits(draw: st.DrawFn) -> tuple[Event, ...]:
    """What a plan may want of one person: any of six entries, at any time, in any words."""
    made = []
    for number in draw(st.sets(st.integers(0, 5), min_size=1)):
        start = datetime(2026, 12, 3, 12, tzinfo=UTC) + draw(st.integers(0, 3)) * DAY
        days = Days(start.date(), start.date() + DAY)
        keeps = ZONES[number - 4] if number > 3 else None
        alarm = (Alarm(start - DAY, "eve"),) if draw(st.booleans()) and keeps is None else ()
        made.append(
            Event(
                EventKey(Audience.CREW, "hall", "", f"event {number}"),
                draw(st.sampled_from(["Work; now", "Wörk, \\N later"])),
                draw(st.sampled_from(["one\ntwo", "x" * 200])),
                days if keeps or draw(st.booleans()) else Timed(start, start + DAY),
                alarms=alarm,
                keeps_off=keeps,
            )
        )
    return tuple(made)


STEPS = st.tuples(edits(), st.integers(-100, 100), st.sets(st.sampled_from(ZONES)))


@given(st.lists(STEPS, min_size=1, max_size=8))
def test_whatever_plans_say_revisions_grow_and_none_is_lost(
    steps: list[tuple[tuple[Event, ...], int, set[str]]],
) -> None:
    before: dict[str, Revision] = {}
    for events, hours, released in steps:
        feed = Feed(Audience.CREW, "alder", "Alder", events)
        how = Goes(frozenset(released), GOES.local_on, GOES.title, GOES.text)
        now = AS_OF + timedelta(hours=hours)
        revised = revise(drafts(feed), History("", before), now, goes=how)
        after = known(revised)
        assert after.keys() == before.keys() | {feed.uid(event.key) for event in events}
        wanted = {draft.uid: draft for draft in drafts(feed)}
        for uid, each in after.items():
            change, last = revised.changes[uid], before.get(uid)
            if uid in wanted:
                assert each.content == wanted[uid].content
                assert not each.cancelled
            if last is None:
                assert change is RevisionChange.NEW
                assert (each.sequence, each.changed_at) == (0, now)
                continue
            if change is RevisionChange.UNCHANGED:
                assert (each.sequence, each.changed_at) == (last.sequence, last.changed_at)
                assert each.content == last.content
                continue
            assert each.content != last.content
            assert each.sequence == last.sequence + 1
            assert each.changed_at == max(now, last.changed_at + timedelta(seconds=1))
            assert (change is RevisionChange.RETURNED) is (last.cancelled and uid in wanted)
            kept_off = last.value(STANDS_PROPERTY)
            if uid not in wanted and kept_off:
                assert each.cancelled is (kept_off in released)
        data = document(head(feed), revised.revisions)
        assert faults(data) == ()
        before = after


def bathroom() -> Job:
    layers = [
        layer("leveler", thickness_m=0.004, duration_s=10_800.0),
        layer(sheet("thinset", heat_d=21.0)),
        layer(sheet("cement grout", heat_d=14.0)),
        layer("sealer", duration_s=7200.0),
    ]
    return job(zone(*layers), climate=CLIMATE)


def screed() -> Job:
    layers = [
        layer("sand-cement screed", thickness_m=0.05, heat_before_covering=True),
        layer(sheet("thinset", heat_d=14.0), name="tile bed"),
        layer(sheet("cement grout", heat_d=10.0)),
    ]
    return job(zone(*layers), climate=CLIMATE)


def comes(day: date) -> bool:
    return not FIRST + 2 * DAY <= day < FIRST + 12 * DAY


@cache
def life(name: str) -> tuple[Morning, ...]:
    made = {"bathroom": bathroom, "screed": screed}[name]()
    return tuple(Site(made, weather=lambda day: 15.0 + day.day % 6, works=comes).mornings())


def publish(made: Plan, before: Revised | None, now: datetime, log: Iterable[object]) -> Revised:
    told = feeds(made, rules=RULES, day_off=weekdays, log=log)  # type: ignore[arg-type]
    wanted = [draft for feed in told for draft in drafts(feed)]
    return revise(wanted, History("", known(before)), now, goes=goes(made, rules=RULES))


@pytest.mark.parametrize("name", ["bathroom", "screed"])
@pytest.mark.parametrize("back_hours", [0, 1, 700])
def test_a_whole_life_only_grows_and_keeps_off_until_release(name: str, back_hours: int) -> None:
    """The clock of every third day stands some hours behind."""
    last: Revised | None = None
    seen: set[str] = set()
    for count, morning in enumerate(life(name)):
        made = morning.told
        now = made.as_of - timedelta(hours=back_hours * (count % 3 == 0))
        revised = publish(made, last, now, morning.log)
        before, after = known(last), known(revised)
        assert seen <= after.keys()
        seen |= after.keys()
        for uid in before:
            old, new = before[uid], after[uid]
            if old == new:
                assert revised.changes[uid] is RevisionChange.UNCHANGED
            else:
                assert new.sequence == old.sequence + 1
                assert new.changed_at > old.changed_at
                assert new.content != old.content
        released = any(isinstance(entry, Release) for entry in morning.log)
        off = [each for each in after.values() if each.value(STANDS_PROPERTY)]
        assert len(off) == (not made.zones[0].is_released)
        assert released or off
        for each in off:
            assert not each.cancelled
            assert (each.value("DTEND") or "") > f"{morning.day:%Y%m%d}"
        last = revised
    assert life(name)[-1].floor.state is State.IN_SERVICE


@pytest.mark.parametrize("name", ["bathroom", "screed"])
def test_no_file_of_a_whole_life_breaks_the_form(name: str) -> None:
    last: Revised | None = None
    for morning in life(name)[::5]:
        last = publish(morning.told, last, morning.told.as_of, morning.log)
        for feed in feeds(morning.told, rules=RULES, day_off=weekdays, log=morning.log):
            mine = [each for each in last.revisions if each.audience is feed.audience]
            data = document(head(feed), mine)
            assert faults(data) == ()
            rest = data.replace(b"\r\n", b"")
            assert b"\r" not in rest
            assert b"\n" not in rest
            assert max(map(len, data.split(b"\r\n"))) <= LONGEST
            names = [line.partition(":")[0] for line in unfold(data)]
            assert not [each for each in names if "TZID" in each]
            assert "BEGIN:VTIMEZONE" not in unfold(data)
            read = icalendar.Calendar.from_ical(data).walk("VEVENT")
            assert {str(part["UID"]) for part in read} == {each.uid for each in mine}


def half_laid() -> Morning:
    return life("bathroom")[2]


def not_begun() -> Morning:
    """A job of which nothing was laid on its first week's days."""
    site = Site(screed(), weather=lambda _: 16.0, works=lambda _: False)
    return next(morning for morning in site.mornings() if morning.day == FIRST + 5 * DAY)


@pytest.mark.slow
# Where a layer under it hardens while the work waits, the morning and the noon each tell a day.
@pytest.mark.parametrize(("start", "most"), [(half_laid, 2), (not_begun, 1)])
def test_late_work_that_nobody_wrote_down_moves_an_entry_rarely(
    start: Callable[[], Morning], most: int
) -> None:
    """Planned anew every hour of nine days without a fact."""
    site = start()
    last: Revised | None = None
    told: Counter[tuple[date, str]] = Counter()
    for hours in range(24 * 9):
        at = at_hour(site.day, 0) + timedelta(hours=hours)
        made = plan(site.told.job, site.log, at, weekdays)
        before, last = last, publish(made, last, at, site.log)
        told.update((at.date(), each.uid) for each in last.told if before)
    # The work does slide: a law about nothing would prove nothing.
    assert 0 < max(told.values()) <= most
    days = Counter(day for day, _ in told)
    assert max(days.values()) <= len(known(last))
