"""What the builders of reminders look at: a plan, its people, what they heard, the working days."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import field
from datetime import date, datetime, timedelta

from curecal.instants import end_of_day, local_day
from curecal.planning.plan import Plan, ZonePlan
from curecal.planning.site_log.log_at_instant import facts_at
from curecal.planning.working_time.working_calendar import Calendar
from curecal.planning.zone.stable_day import crew_day, is_ahead, owner_day
from curecal.records import Record, record
from curecal.reminders.recipients import recipients
from curecal.reminders.reminder_types import (
    MAY_NOT,
    Channel,
    Heard,
    KindRule,
    MessageKind,
    Occasion,
    Recipient,
    Reminder,
    ReminderRules,
    Told,
    Topic,
)
from curecal.reminders.timing.sending_hours import later, proper_at, rounds, wish_at
from curecal.trade.findings import Params
from curecal.trade.job import Person, Role
from curecal.trade.site_log import Entry

_DAY = timedelta(days=1)
# A week less some hours: what is said each week is wanted before the hour it was said at.
_AGAIN = timedelta(days=6, hours=12)


@record
class Ask(Record):
    """One thing to say to everybody of a role, before it is known who that is.

    `due_at` is when it is wanted, before quiet hours and days off; `sliding` marks an occasion
    that is a day, and moves on by itself while nothing is recorded: it is not said again each day.
    `only` is the one person of the role it is for; empty for all of them. What goes `alone` does
    not wait for the day's message.
    """

    kind: MessageKind
    due_at: datetime
    zone_id: str = ""
    subject: str = ""
    occasion: Occasion = Occasion()
    parts: tuple[str, ...] = ("text",)
    params: Params = field(default_factory=dict)
    topic: Topic = Topic.NONE
    day_on: date | None = None
    until_at: datetime | None = None
    sliding: bool = False
    only: str = ""
    alone: bool = False


class ReminderContext:
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
        self.people = recipients(people, plan.as_of)
        self.told = Told(told)
        self.calendar = calendar
        self.tz = plan.job.tz
        self.as_of = plan.as_of
        self.local_on = local_day(plan.as_of, self.tz)
        self.log = facts_at(log, plan.as_of, plan.job.people).entries
        # The entry that changed the day last: corrections stand in the log, not in the facts.
        written = [max(entry.at, entry.recorded) for entry in log]
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
        return next((person.roles for person in self.people if person.id == recipient), ())

    def rule(self, kind: MessageKind) -> KindRule:
        """Return the rule of a kind."""
        return self.rules.kinds[kind]

    def day_at(self, day: date, kind: MessageKind | None = None) -> datetime:
        """Return when a kind is said on a day; without a kind, the start of work."""
        wall = self.rules.kinds[kind].at if kind else None
        return wish_at(day, wall or self.calendar.work.start, self.tz)

    def rounds(
        self, kind: MessageKind, zone_id: str, first: date, every: int, subject: str = ""
    ) -> tuple[date, date]:
        """Return the last round at or before today and the next one.

        They are counted from the last time it was said since the first round: what was said late
        is not said again a few days after.
        """
        said = [
            local_day(heard.told_at, self.tz)
            for person in self.people
            for heard in self.told.about(person.id, zone_id, kind, subject)
        ]
        last = max([day for day in said if day >= first], default=None)
        return rounds(first if last is None else last + every * _DAY, self.local_on, every)

    def zone_facts(self, zone: ZonePlan) -> dict[str, object]:
        """Return what every text about a zone may name."""
        lead = next((person for person in self.people if Role.CREW_LEAD in person.roles), None)
        phones = [address for way, address in lead.ways if way is not Channel.EMAIL] if lead else []
        job = self.plan.job
        leads = job.people_as(Role.CREW_LEAD, self.as_of)
        by = [person.phone for person in leads if person.phone]
        return {
            "job": job.name,
            "zone": zone.zone.name,
            "only_zone": len(self.plan.zones) == 1,
            "who": zone.first_switched_on_by.value,
            "contact": lead and lead.name,
            "phone": next(iter([*by, *phones]), None),
        }

    def owner_day(self, zone: ZonePlan) -> date | None:
        """Return the one day an owner is told; None where none may be promised."""
        return owner_day(zone, self.as_of, self.calendar)

    def crew_day(self, zone: ZonePlan) -> date | None:
        """Return the day that crew and electrician are told."""
        return crew_day(zone, self.as_of, self.calendar)

    def is_ahead(self, day_on: date | None) -> bool:
        """Return whether a day is one to tell: it has not come yet."""
        return is_ahead(day_on, self.as_of, self.calendar)

    def expand(self, asks: Iterable[Ask], role: Role) -> Iterator[Reminder]:
        """Give a reminder for each person of a role and each way they are reached.

        Who is told something in an earlier role of theirs is not told it again in this one.
        """
        for ask in asks:
            rule = self.rules.kinds[ask.kind]
            if rule.off or role not in rule.to:
                continue
            for person in self.people:
                first = next((one_role for one_role in person.roles if one_role in rule.to), None)
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
                alone=rule.urgent or rule.alone or ask.alone,
                language=person.language or "",
            )

    def _heard(self, ask: Ask, person: Recipient) -> bool:
        """Return whether a person heard this already, and nothing since that undid it."""
        about = self.told.about(person.id, ask.zone_id, ask.kind, ask.subject)
        if not about:
            return False
        occasion = [heard for heard in about if heard.occasion == ask.occasion]
        last = (occasion or about)[-1]
        undoing = _UNDOING.get(ask.kind, _NOTHING)
        since = self.told.of(person.id, ask.zone_id)
        undone = any(
            message.told_at > last.told_at and message.kind in undoing for message in since
        )
        if occasion:
            return not undone
        if not ask.sliding:
            return False
        said_on, new_on = last.occasion.on, ask.occasion.on
        if said_on is None or new_on is None:
            return False
        soon = self.calendar.next_working(end_of_day(self.local_on, self.tz)) or self.as_of
        slides = said_on <= min(new_on, self.local_on) and new_on <= local_day(soon, self.tz)
        return slides and self.as_of - last.told_at < _AGAIN and not undone


_OVER = frozenset({MessageKind.STOP_OVER, MessageKind.RELEASED})
# What was said once is said again where something in between took it back.
_UNDOING: Mapping[MessageKind, frozenset[MessageKind]] = {
    MessageKind.EVENING_BEFORE: MAY_NOT | {MessageKind.MOVED},
    MessageKind.RELEASED: MAY_NOT,
    MessageKind.HEAT_DAY: MAY_NOT,
    MessageKind.STOPPED: _OVER,
    MessageKind.EARLY_SWITCH_ON: _OVER,
}
_NOTHING: frozenset[MessageKind] = frozenset()


def begun_at(zone: ZonePlan) -> datetime | None:
    """Return when the first new layer of a zone was finished.

    Args:
        zone: the zone.

    Returns:
        The instant; None before that.
    """
    done = [at for item in zone.layers if not item.layer.existing and (at := item.layer.done_at)]
    return min(done, default=None)
