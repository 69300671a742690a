"""What the builders of reminders look at: a plan, its people, what they heard, the working days."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import field
from datetime import date, datetime, timedelta

from curecal.instants import end_of_day, local_day
from curecal.planning.plan import Plan, State, ZonePlan
from curecal.planning.site_log.log_at_instant import facts_at
from curecal.planning.working_time.working_calendar import Calendar
from curecal.records import Record, record
from curecal.reminders.recipients import recipients
from curecal.reminders.reminder_types import (
    MAY_NOT,
    Channel,
    Heard,
    KindRule,
    Recipient,
    Reminder,
    ReminderRules,
    Told,
)
from curecal.reminders.timing.sending_hours import later, proper_at, wish_at
from curecal.trade.findings import Params
from curecal.trade.job import Person, Role
from curecal.trade.site_log import Entry

_DAY = timedelta(days=1)
_AGAIN = timedelta(days=7)
# An occasion that is a day begins with it.
_DATE = 10


@record
class Ask(Record):
    """One thing to say to everybody of a role, before it is known who that is.

    `due_at` is when it is wanted, before quiet hours and days off; `sliding` marks an occasion
    that is a day, and moves on by itself while nothing is recorded: it is not said again each day.
    `only` is the one person of the role it is for; empty for all of them.
    """

    kind: str
    due_at: datetime
    zone_id: str = ""
    subject: str = ""
    occasion: str = ""
    parts: tuple[str, ...] = ("text",)
    params: Params = field(default_factory=dict)
    topic: str = ""
    day_on: date | None = None
    until_at: datetime | None = None
    sliding: bool = False
    only: str = ""


class Scene:
    """The plan with everything that decides who hears what of it."""

    def __init__(
        self,
        plan: Plan,
        people: Iterable[Person],
        rules: ReminderRules,
        told: Iterable[Heard],
        log: Iterable[Entry],
        calendar: Calendar,
    ) -> None:
        self.plan = plan
        self.rules = rules
        self.people = recipients(people)
        self.told = Told(told)
        self.calendar = calendar
        self.tz = plan.job.tz
        self.as_of = plan.as_of
        self.local_on = local_day(plan.as_of, self.tz)
        self.log = facts_at(log, plan.as_of, plan.job.people).entries
        # The entry that changed the day last: corrections stand in the log, not in the facts.
        written = [max(each.at, each.recorded) for each in log]
        known = [at for at in written if at <= plan.as_of]
        done = [at for zone in plan.zones for item in zone.layers if (at := item.layer.done_at)]
        self.fact_at = max([*known, *done], default=self.day_at(self.local_on))
        self._facts = sorted([*known, *done])

    def settled_at(self) -> datetime:
        """Return when a change may be told: a while after the last fact.

        Facts that keep coming do not put it off for ever.
        """
        first_at = self.fact_at
        for at in reversed(self._facts):
            if later(at, self.rules.settle_s) < first_at:
                break
            first_at = at
        due_at = later(self.fact_at, self.rules.settle_s)
        return min(due_at, max(self.fact_at, later(first_at, self.rules.patience_s)))

    def roles_of(self, recipient: str) -> tuple[Role, ...]:
        """Return what a person is on the job; nothing for who is none of its people."""
        return next((each.roles for each in self.people if each.id == recipient), ())

    def rule(self, kind: str) -> KindRule:
        """Return the rule of a kind."""
        return self.rules.kinds[kind]

    def day_at(self, day: date, kind: str = "") -> datetime:
        """Return when a kind is said on a day; without a kind, the start of work."""
        wall = self.rules.kinds[kind].at if kind else None
        return wish_at(day, wall or self.calendar.work.start, self.tz)

    def zone_facts(self, zone: ZonePlan) -> dict[str, object]:
        """Return what every text about a zone may name."""
        lead = next((each for each in self.people if Role.CREW_LEAD in each.roles), None)
        phones = [address for way, address in lead.ways if way is not Channel.EMAIL] if lead else []
        job = self.plan.job
        by = [each.phone for each in job.people if each.role is Role.CREW_LEAD and each.phone]
        return {
            "job": job.name,
            "zone": zone.zone.name,
            "only_zone": len(self.plan.zones) == 1,
            "who": zone.first_switched_on_by.value,
            "contact": lead and lead.name,
            "phone": next(iter([*by, *phones]), None),
        }

    def owner_day(self, zone: ZonePlan) -> date | None:
        """Return the one day an owner is told; None where none may be promised.

        A day that came and was not kept stands: it would be another one each day.
        """
        if zone.state in {State.STOPPED, State.NO_DATE}:
            return None
        window = zone.energize.window
        end = window.latest if window else None
        return self._standing(zone, end, zone.energize.owner_date)

    def crew_day(self, zone: ZonePlan) -> date | None:
        """Return the first day by the clocks, unmoved while it is merely not kept."""
        if zone.state in {State.STOPPED, State.NO_DATE}:
            return None
        window = zone.energize.window
        return self._standing(zone, window.earliest if window else None, zone.energize.start_on)

    def _standing(self, zone: ZonePlan, end: datetime | None, told_on: date | None) -> date | None:
        if end is None or told_on is None:
            return None
        at = zone.released_at
        counted = max(end, at) if at and zone.is_released else end
        if self.as_of <= counted:
            return told_on
        first_on = self._first_on(zone, counted)
        return None if first_on is None else min(first_on, told_on)

    def _first_on(self, zone: ZonePlan, at: datetime) -> date | None:
        """Return the first day from an instant on which a floor may be energized."""
        visit = zone.first_switched_on_by is Role.ELECTRICIAN
        return self.calendar.start_on(at, working_day=visit)

    def worst_day(self, zone: ZonePlan) -> date | None:
        """Return the first day at the worst expected climate; None where that gives none."""
        latest = zone.energize.window.latest if zone.energize.window else None
        return None if latest is None else self._first_on(zone, latest)

    def slid(self, zone: ZonePlan) -> bool:
        """Return whether the owner's day has come and was not kept."""
        told_on = zone.energize.owner_date
        return told_on is not None and self.owner_day(zone) != told_on

    def expand(self, asks: Iterable[Ask], role: Role) -> Iterator[Reminder]:
        """Give a reminder for each person of a role and each way they are reached.

        Who is told something in an earlier role of theirs is not told it again in this one.
        """
        for ask in asks:
            rule = self.rules.kinds[ask.kind]
            if rule.off or role not in rule.to:
                continue
            for person in self.people:
                first = next((each for each in person.roles if each in rule.to), None)
                if first is role and ask.only in {"", person.id}:
                    yield from self._for(ask, rule, person)

    def expand_to(self, ask: Ask, person: Recipient) -> Iterator[Reminder]:
        """Give a reminder for one person, whatever their role: it undoes what they heard."""
        rule = self.rules.kinds[ask.kind]
        if not rule.off:
            yield from self._for(ask, rule, person)

    def _for(self, ask: Ask, rule: KindRule, person: Recipient) -> Iterator[Reminder]:
        if self._heard(ask, person):
            return
        due_at = ask.due_at
        if not rule.urgent:
            due_at = proper_at(due_at, person.roles, self.rules, self.calendar)
        until_at = ask.until_at
        if until_at is None and rule.keeps_s is not None:
            until_at = later(due_at, rule.keeps_s)
        if until_at is not None:
            until_at = max(until_at, due_at)
            if until_at <= self.as_of:
                return
        sent = [way for way in person.ways if way[0] is not Channel.PHONE]
        ways = (sent if rule.urgent else sent[:1]) or list(person.ways[:1])
        for channel, address in ways:
            yield Reminder(
                kind=ask.kind,
                zone_id=ask.zone_id,
                subject=ask.subject,
                occasion=ask.occasion,
                recipient=person.id,
                channel=channel,
                address=address,
                due_at=due_at,
                until_at=until_at,
                parts=ask.parts,
                params=ask.params,
                topic=ask.topic,
                day_on=ask.day_on,
                urgent=rule.urgent,
            )

    def _heard(self, ask: Ask, person: Recipient) -> bool:
        """Return whether a person heard this already, and nothing since that undid it."""
        about = self.told.about(person.id, ask.zone_id, ask.kind, ask.subject)
        if not about:
            return False
        occasion = [each for each in about if each.occasion == ask.occasion]
        last = (occasion or about)[-1]
        undoing = _UNDOING.get(ask.kind, _NOTHING)
        since = self.told.of(person.id, ask.zone_id)
        undone = any(each.told_at > last.told_at and each.kind in undoing for each in since)
        if occasion:
            return not undone
        if not ask.sliding:
            return False
        said_on, new_on = (
            date.fromisoformat(each[:_DATE]) for each in (last.occasion, ask.occasion)
        )
        soon = self.calendar.next_working(end_of_day(self.local_on, self.tz)) or self.as_of
        slides = said_on <= min(new_on, self.local_on) and new_on <= local_day(soon, self.tz)
        return slides and self.as_of - last.told_at < _AGAIN and not undone


# What was said once is said again where something in between took it back.
_UNDOING: Mapping[str, frozenset[str]] = {
    "evening-before": MAY_NOT | {"moved"},
    "released": MAY_NOT,
    "heat-day": MAY_NOT,
    "stopped": frozenset({"moved", "released"}),
    "early-switch-on": frozenset({"moved", "released"}),
}
_NOTHING: frozenset[str] = frozenset()


def begun_at(zone: ZonePlan) -> datetime | None:
    """Return when the first new layer of a zone was finished.

    Args:
        zone: the zone.

    Returns:
        The instant; None before that.
    """
    done = [at for item in zone.layers if not item.layer.existing and (at := item.layer.done_at)]
    return min(done, default=None)
