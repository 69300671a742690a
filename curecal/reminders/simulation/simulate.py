"""A whole job played forward on a clock of its own: every message each person would get.

Facts come as planned: work is done at its planned finish, tests pass, the floor is released once
it is clear, and heated as planned. Nothing is read or written but the job.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from datetime import date, datetime, timedelta

from curecal.errors import CurecalError
from curecal.instants import end_of_day, local_day
from curecal.planning.make_plan import plan_ahead
from curecal.planning.plan import Plan, State
from curecal.planning.working_time.working_calendar import Calendar, DayOff
from curecal.records import Record, record
from curecal.reminders.builders.build_reminders import build_reminders
from curecal.reminders.messages.digest import released_together
from curecal.reminders.recipients import recipients
from curecal.reminders.reminder_types import Heard, Reminder, ReminderRules
from curecal.reminders.simulation.simulated_facts import SimulatedSite, with_stand_in
from curecal.reminders.timing.sending_hours import message_at, proper_at
from curecal.science.age import KeptAges
from curecal.trade.job import Expected, Job
from curecal.trade.rules import Rules
from curecal.trade.site_log import Entry

# Two years: what is not over by then has no end.
_MOST_DAYS = 731
# The owner hears on the day after that the floor is in service.
_AFTER = timedelta(days=2)


@record
class Played(Record):
    """What would be said, and when; what has one `message` number goes out as one message."""

    at: datetime
    reminder: Reminder
    message: int = 0


@record
class Simulation(Record):
    """What a job would say, in order; `plan` is the last one."""

    played: tuple[Played, ...]
    plan: Plan
    log: tuple[Entry, ...]


def simulate(
    job: Job,
    log: tuple[Entry, ...],
    start: datetime,
    *,
    rules: Rules,
    reminder_rules: ReminderRules,
    day_off: DayOff,
    cold: bool = False,
    progress: Callable[[int, int], None] | None = None,
) -> Simulation:
    """Return what everybody would be told from an instant to the floor in service.

    Args:
        job: the job.
        log: its log so far.
        start: from when to play.
        rules: the rules of the date.
        reminder_rules: the rules of the reminders.
        day_off: knows weekends and holidays.
        cold: whether the air turns as cold as the job expects at worst.
        progress: told how many days of about how many have been played.

    Returns:
        The messages in order.

    Raises:
        CurecalError: the play comes to no end.
    """
    ahead = _ahead(job.expected, cold=cold)
    known = log
    now = start
    last_day = local_day(start, job.tz) + timedelta(days=_MOST_DAYS)
    over_since: datetime | None = None
    # What is on record for later than the start comes as it was; then all goes as planned.
    written = [max(entry.at, entry.recorded) for entry in log]
    written += [at for zone in job.zones for item in zone.layers if (at := item.done_at)]
    calendar = Calendar(job.work, job.tz, day_off)
    site = SimulatedSite(rules, ahead, calendar)
    # Whom the job does not name yet signs all the same once they have come.
    site_job = replace(job, people=with_stand_in(job.people))
    post = _Post(job, reminder_rules, calendar)
    kept = KeptAges()
    while True:
        plan = plan_ahead(
            site_job, known, now, rules=rules, day_off=day_off, ahead=ahead, kept=kept
        )
        want = build_reminders(
            plan, job.people, reminder_rules, post.told, log=known, day_off=day_off
        )
        due = post.leaving(want, now)
        if due:
            post.send(due, now)
            continue
        if _is_over(plan):
            over_since = over_since or now
            if now - over_since >= _AFTER:
                return Simulation(tuple(post.played), plan, known)
        later = [at for at in written if at > now]
        fresh: list[Entry] = []
        if not later:
            fresh, later = site.coming(plan, now)
        if fresh:
            # Known from now on, whenever it happened: nobody is told the past anew.
            known += tuple(replace(entry, recorded=now) for entry in fresh)
            continue
        if progress is not None:
            progress((now - start).days, _days_to_play(plan, start))
        later += [at for reminder in want if (at := post.goes_at(reminder, now)) > now]
        now = min([end_of_day(local_day(now, job.tz), job.tz), *later])
        if local_day(now, job.tz) > last_day:
            raise CurecalError("simulation-endless")


def _days_to_play(plan: Plan, start: datetime) -> int:
    """Return about how many days a play takes, as its plan of now has it."""
    ends = [heat_up.ends_on for zone in plan.zones for heat_up in zone.heat_ups]
    last = max(ends, default=local_day(plan.as_of, plan.job.tz))
    return (last - local_day(start, plan.job.tz)).days + _AFTER.days + 1


class _Post:
    """What goes out in a play: what each person was told, and when their day's message left."""

    def __init__(self, job: Job, rules: ReminderRules, calendar: Calendar) -> None:
        self.told: list[Heard] = []
        self.played: list[Played] = []
        self._rules, self._calendar = rules, calendar
        self._roles = {person.id: person.roles for person in recipients(job.people)}
        self._left_on: dict[tuple[str, str], date] = {}

    def goes_at(self, reminder: Reminder, now: datetime) -> datetime:
        """Return when a reminder that is due goes out: not in the night, but for an emergency."""
        at = max(reminder.due_at, now)
        if reminder.urgent:
            return at
        roles = self._roles[reminder.recipient]
        if reminder.alone:
            return proper_at(at, roles, self._rules, self._calendar)
        return message_at(
            reminder.due_at,
            at,
            reminder.until_at,
            roles,
            self._rules,
            self._calendar,
            left_on=self._left_on.get((reminder.recipient, reminder.channel)),
        )

    def leaving(self, want: Iterable[Reminder], now: datetime) -> list[Reminder]:
        """Return what goes out now: where a person's message leaves, all that is wanted by now."""
        want = tuple(want)
        goes = {id(reminder) for reminder in want if self.goes_at(reminder, now) <= now}
        going = [reminder for reminder in want if id(reminder) in goes]
        joint = released_together(going)
        readers = {
            (reminder.recipient, reminder.channel)
            for reminder in going
            if not reminder.alone or reminder.key in joint
        }

        def goes_along(reminder: Reminder) -> bool:
            reader = (reminder.recipient, reminder.channel)
            return not reminder.alone and reminder.due_at <= now and reader in readers

        return [reminder for reminder in want if id(reminder) in goes or goes_along(reminder)]

    def send(self, due: Iterable[Reminder], now: datetime) -> None:
        """Let reminders go out: those of one person that are no messages of their own as one."""
        due = tuple(due)
        joint = released_together(due)
        numbers: dict[tuple[str, str], int] = {}
        for reminder in due:
            number = len(self.told)
            reader = (reminder.recipient, reminder.channel)
            is_line = not reminder.alone or reminder.key in joint
            message = numbers.setdefault(reader, number) if is_line else number
            self.played.append(Played(now, reminder, message))
            self.told.append(heard(reminder, now, number=number))
        self._left_on |= dict.fromkeys(numbers, local_day(now, self._calendar.tz))


def heard(reminder: Reminder, at: datetime, *, number: int = 0) -> Heard:
    """Return what a person heard when a reminder reached them.

    Args:
        reminder: the reminder.
        at: when it reached them.
        number: which it was of what came at one instant.

    Returns:
        What `wanted` asks for.
    """
    return Heard(
        reminder.kind,
        reminder.zone_id,
        reminder.subject,
        reminder.occasion,
        reminder.recipient,
        at,
        reminder.topic,
        reminder.day_on,
        number,
        reminder.channel.value,
        reminder.address,
        reminder.language,
    )


def _is_over(plan: Plan) -> bool:
    """Return whether nothing more will happen by itself."""
    return all(
        zone.state in {State.IN_SERVICE, State.STOPPED, State.NO_DATE} for zone in plan.zones
    )


def _ahead(expected: Expected, *, cold: bool) -> Expected:
    """Return the climate to play with; the coldest stays what the owner's day counts with."""
    if not cold or expected.coldest_c is None:
        air_c = expected.air_c - 5.0 if cold else expected.air_c
        return replace(expected, air_c=air_c)
    return replace(expected, air_c=expected.coldest_c)


def messages_of_play(simulation: Simulation) -> Mapping[int, int]:
    """Return the messages of a play by number, each with how many things it says.

    Args:
        simulation: the play.

    Returns:
        Counts by message.
    """
    return Counter(played.message for played in simulation.played)
