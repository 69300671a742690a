"""The days that each output tells of a zone, read from the outputs themselves."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, datetime, timedelta, tzinfo
from typing import TYPE_CHECKING, Any

from planning_samples import RULES

from curecal.calendars import Audience, Days, Event, Timed, feeds
from curecal.instants import end_of_day, local_day
from curecal.planning.working_time.working_calendar import Calendar
from curecal.reminders.builders.build_reminders import build_reminders
from curecal.reminders.reminder_rules import shipped_rules
from curecal.trade.job import Person, Role
from curecal.words.json.plan_json import plan_json
from curecal.words.sentences import words_for

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from curecal.planning.plan import Plan
    from curecal.planning.working_time.working_calendar import DayOff
    from curecal.reminders.reminder_types import Reminder
    from curecal.trade.site_log import Entry

PEOPLE = (
    Person(Role.CREW_LEAD, "Robin Mistral", email="robin@crew.example"),
    Person(Role.ELECTRICIAN, "Sam Okoro-Lind", email="sam@sparks.example"),
    Person(Role.OWNER, "Ida Fennell", email="ida@home.example"),
)
# The owner's entry without a day, and that of a stopped floor, say so in these words.
_UNDATED = ("We cannot promise a date yet", "Please leave it switched off.")

DaysTold = dict[str, set[date]]


@dataclass(frozen=True, slots=True)
class Output:
    """Everything that is said of one plan of one zone."""

    plan: Plan
    document: dict[str, Any]
    events: dict[tuple[Audience, str, str], Event]
    reminders: tuple[Reminder, ...]
    next_workday: date

    @property
    def today(self) -> date:
        """The local day of the plan."""
        return local_day(self.plan.as_of, self.plan.job.tz)

    @property
    def energize(self) -> dict[str, Any]:
        """What `plan --json` says of the date."""
        found: dict[str, Any] = self.document["zones"][0]["energize"]
        return found

    def event(self, audience: Audience, purpose: str, layer_id: str = "") -> Event | None:
        """Return an entry of a calendar."""
        return self.events.get((audience, layer_id, purpose))

    def kinds(self, *kinds: str) -> Iterator[Reminder]:
        """Give the reminders of some kinds."""
        return (reminder for reminder in self.reminders if reminder.kind in kinds)

    def first_days(self) -> DaysTold:
        """Return the first day to energize, as crew and electrician are told it."""
        told: DaysTold = defaultdict(set)
        for purpose in ("first heat", "after repair"):
            event = self.event(Audience.CREW, f"heat-up {purpose}")
            # Once released its days are the plan's own: nobody may read a day that is over.
            if event and isinstance(event.when, Days) and not self.plan.zones[0].is_released:
                told["crew's calendar"].add(event.when.start_on)
        visit = self.event(Audience.ELECTRICIAN, "visit energize")
        if visit:
            told["electrician's calendar"].add(_first_day(visit, self.plan.job.tz))
        # Who hears of a visit only after its first day is told the next day it is possible.
        is_late = visit is not None and _first_day(visit, self.plan.job.tz) < self.today
        for reminder in self.reminders:
            on = reminder.day_on
            if reminder.kind in {"visit-booked", "released"} and is_late:
                assert on is not None
                assert on >= self.today
                continue
            if on and reminder.topic in {"crew", "visit energize"}:
                told[f"message {reminder.kind}"].add(on)
        return dict(told)

    def owner_days(self) -> DaysTold:
        """Return the day an owner is told; an output that tells there is none stands empty."""
        told: DaysTold = defaultdict(set)
        off = self.event(Audience.OWNER, "do not switch on")
        may = self.event(Audience.OWNER, "may switch on")
        if may and isinstance(may.when, Days):
            told["owner's calendar"] = {may.when.start_on}
        elif off and isinstance(off.when, Days):
            dated = not any(words in off.description for words in _UNDATED)
            told["owner's calendar"] = {off.when.end_on} if dated else set()
        for reminder in self.kinds("still-curing", "evening-before", "released"):
            if reminder.topic != "owner":
                continue
            if reminder.kind == "evening-before" and reminder.day_on == self.today:
                # Late, on the morning itself: that the day they know is no permission.
                continue
            came = [day for day in told["owner's calendar"] if day < self.today]
            if reminder.kind == "released" and came:
                # Its day came and nobody was told: they hear the next one, and never a day gone by.
                assert reminder.day_on is not None
                assert reminder.day_on >= self.today
                continue
            words = reminder.parts[0]
            undated = reminder.kind == "still-curing" and words not in {"dated", "bare-dated"}
            told[f"message {reminder.kind}"] |= (
                set() if undated or reminder.day_on is None else {reminder.day_on}
            )
        return dict(told)


def output(plan: Plan, log: Iterable[Entry], day_off: DayOff) -> Output:
    """Return all outputs of a plan of one zone."""
    entries = tuple(log)
    words = words_for(plan.job, RULES)
    made = feeds(plan, rules=RULES, day_off=day_off, log=entries)
    return Output(
        plan,
        plan_json(plan, (), words=words, version="0", tzdata="0"),
        {
            (feed.audience, event.key.layer_id, str(event.key.purpose)): event
            for feed in made
            for event in feed.events
        },
        build_reminders(plan, PEOPLE, shipped_rules(), (), log=entries, day_off=day_off),
        _next_workday(plan, day_off),
    )


def _next_workday(plan: Plan, day_off: DayOff) -> date:
    """Return the first day after the plan's own on which somebody works."""
    calendar = Calendar(plan.job.work, plan.job.tz, day_off)
    opens = calendar.next_working(end_of_day(local_day(plan.as_of, plan.job.tz), plan.job.tz))
    assert opens is not None
    return local_day(opens, plan.job.tz)


def on(text: str | None) -> date | None:
    """Return a day of a document."""
    return date.fromisoformat(text) if text else None


def assert_one_day(found: Output) -> None:
    """Assert that all outputs tell one first day, one owner's day, and one day of each visit."""
    _assert_first_day(found)
    _assert_owner_day(found)
    _assert_visits(found)
    _assert_tests(found)
    _assert_next_step(found)


def _assert_first_day(found: Output) -> None:
    told = found.first_days()
    days = set().union(*told.values())
    assert len(days) <= 1, told
    planned_on = on(found.energize["start_on"])
    for day in days:
        assert planned_on is not None, told
        # A day that has come and was not kept stands; the plan's own goes on.
        assert day == planned_on or day <= min(found.today, planned_on), (told, planned_on)


def _assert_owner_day(found: Output) -> None:
    told = found.owner_days()
    assert len({frozenset(days) for days in told.values()}) <= 1, told
    released = found.plan.zones[0].is_released
    planned_on = on(found.energize["start_on" if released else "owner_date"])
    for day in set().union(*told.values()):
        assert planned_on is not None, told
        assert day == planned_on or (released and day <= planned_on), (told, planned_on)
        assert released or day > found.today, told


def _first_day(event: Event, tz: tzinfo) -> date:
    if isinstance(event.when, Days):
        return event.when.start_on
    return local_day(event.when.start_at, tz)


def _last_day(event: Event, tz: tzinfo) -> date:
    if isinstance(event.when, Days):
        return event.when.end_on - timedelta(days=1)
    return local_day(event.when.end_at, tz)


def _assert_visits(found: Output) -> None:
    tz = found.plan.job.tz
    for reminder in found.kinds("visit-booked"):
        event = found.event(Audience.ELECTRICIAN, f"visit {reminder.subject}")
        assert event is not None, reminder
        # The day told stands as long as the window holds it; what is past is told by nobody. A
        # visit whose window is over is still possible on the next day of work.
        if reminder.day_on >= found.today:
            last = max(_last_day(event, tz), found.next_workday)
            assert _first_day(event, tz) <= reminder.day_on <= last, reminder


def _assert_tests(found: Output) -> None:
    for reminder in found.kinds("reading-due"):
        code, _, layer_id = reminder.subject.partition(" ")
        event = found.event(Audience.CREW, code, layer_id)
        assert event is not None, reminder
        assert isinstance(event.when, Days)
        assert event.when.start_on == reminder.params["due_on"], reminder
    for reminder in found.kinds("inspection-due"):
        slot = found.event(Audience.CREW, reminder.subject)
        if slot is not None:
            due_on = reminder.params["due_on"]
            assert isinstance(due_on, date)
            # The slot ends with the working day before a pour that begins in the morning.
            last = _last_day(slot, found.plan.job.tz)
            assert last <= due_on, reminder
            assert due_on - last < timedelta(days=30), reminder


def _assert_next_step(found: Output) -> None:
    for reminder in found.kinds("next-step"):
        event = found.event(Audience.CREW, "step", reminder.subject)
        assert event is not None, reminder
        assert isinstance(event.when, Timed)
        start_at = reminder.params["start_at"]
        assert isinstance(start_at, datetime)
        assert event.when.start_at == start_at, reminder
