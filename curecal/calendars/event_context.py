"""What the builders of all three calendars look at, and questions they ask of a plan."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta, tzinfo

from curecal.calendars.event import Audience, Days, Event, EventKey
from curecal.calendars.purpose import Purpose, PurposeKind
from curecal.instants import local_day
from curecal.planning.plan import LayerPlan, Plan, ZonePlan
from curecal.planning.working_time.working_calendar import Calendar
from curecal.trade.job import Person, Role
from curecal.trade.names import says_name
from curecal.trade.site_log import Entry
from curecal.words.sentences import Words
from curecal.words.values import clean

DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class EventContext:
    """A plan with the words and working days it is shown with.

    `facts` are the log's entries by id, corrections folded in; empty where no log was handed in.
    """

    plan: Plan
    words: Words
    calendar: Calendar
    facts: Mapping[str, Entry] = field(default_factory=dict)

    @property
    def address(self) -> str | None:
        """The site's address in one line, without signs that turn its reading direction."""
        return clean(self.plan.job.address or "") or None

    @property
    def tz(self) -> tzinfo:
        """The zone of the site."""
        return self.plan.job.tz

    def say(self, key: str, params: Mapping[str, object]) -> str:
        """Return one of the events' texts, which may name the job, and its room beside it."""
        job = self.plan.job.name
        room = params.get("zone") or params.get("zones")
        if len(self.plan.zones) == 1 and says_name(job, str(room)):
            # The job's own name says it already.
            room = None
        own = {"job": job, "room": room}
        return self.words.text(f"event.{key}", {**own, **params})

    def text(self, group: str, parts: tuple[str, ...], params: Mapping[str, object]) -> str:
        """A description: the named parts of a group, one a line; those with nothing to say drop."""
        said = (self.say(f"{group}.{part}", params) for part in parts)
        return "\n".join(line for line in said if line)

    def zone_on(self, zone: ZonePlan) -> date:
        """The first local day of work in a zone: where its day-long spans begin."""
        starts = [local_day(at, self.tz) for layer in zone.layers if (at := _begins(layer))]
        starts += [local_day(at, self.tz) for hold in zone.holds if (at := hold.evidence_at)]
        return min(starts, default=self.monday())

    def first_on(self) -> date:
        """The first local day of work of the job."""
        return min((self.zone_on(zone) for zone in self.plan.zones), default=self.monday())

    def today(self) -> date:
        """The local day of the plan: it may move an end, and stands in no text."""
        return local_day(self.plan.as_of, self.tz)

    def monday(self) -> date:
        """The Monday of that week: for a job without any day, so that it moves once a week."""
        return self.today() - timedelta(days=self.today().weekday())

    def person(self, role: Role) -> Person | None:
        """The first person who has a role now."""
        return next(iter(self.plan.job.people_as(role, self.plan.as_of)), None)

    def contact(self) -> dict[str, object]:
        """Who answers questions: the crew lead, as far as the job names one."""
        lead = self.person(Role.CREW_LEAD)
        return {"contact": lead and lead.name, "phone": lead and lead.phone}

    def nothing(self, audience: Audience) -> Event:
        """The event of a calendar that has nothing to say yet: a calendar must hold one."""
        day = self.first_on()
        params = {"job": self.plan.job.name}
        return Event(
            EventKey(audience, "", "", Purpose(PurposeKind.NOTHING_YET).text),
            self.say("nothing.summary", params),
            self.say("nothing.text", params),
            Days(day, day + DAY),
        )


def layer_label(ctx: EventContext, plan: LayerPlan) -> str:
    """A layer's name, with its part where it covers only one."""
    layer = plan.layer
    return ctx.say("layer", {"layer": layer.name, "part": layer.part})


def once(keys: list[EventKey], key: EventKey) -> EventKey:
    """A key that no earlier one of a list is like, for what may come more than once.

    Args:
        keys: The keys so far; the new one is added.
        key: The key wanted.

    Returns:
        The key, from the second of its kind on with a number behind its purpose.
    """
    count = keys.count(key) + 1
    keys.append(key)
    if count == 1:
        return key
    return replace(key, purpose=f"{key.purpose}, {count}")


def _begins(plan: LayerPlan) -> datetime | None:
    """When work on a new layer was done, or when a person wrote that it is to be done.

    A start that nobody wrote down is "now": a span that began there would leave today out.
    """
    layer = plan.layer
    if layer.existing:
        return None
    if plan.planned:
        return layer.planned_start_at or layer.planned_finish_at
    return plan.finish.earliest if plan.finish else None
