"""A plan to the three calendars of its job."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from datetime import datetime

from curecal.calendars.content_lines import refuse_controls
from curecal.calendars.event import READERS, Audience, Event, Feed, Stamp
from curecal.calendars.event_context import EventContext
from curecal.calendars.events.crew import crew_events
from curecal.calendars.events.electrician import electrician_events
from curecal.calendars.events.owner import owner_events
from curecal.calendars.events.removal_reason import removal_reasons
from curecal.calendars.ical.ical_writer import render
from curecal.calendars.ical.round_trip_check import refuse_unfaithful
from curecal.calendars.revisions.revise import Goes
from curecal.calendars.stable_dates.event_hours import day_off_of
from curecal.instants import local_day
from curecal.planning.plan import Plan
from curecal.planning.site_log.log_at_instant import facts_at
from curecal.planning.working_time.working_calendar import Calendar, DayOff
from curecal.trade.job import Job
from curecal.trade.rules import Rules
from curecal.trade.site_log import Entry
from curecal.words.reader_language import language_of
from curecal.words.sentences import Words, words_for

_BUILDERS: dict[Audience, Callable[[EventContext], tuple[Event, ...]]] = {
    Audience.CREW: crew_events,
    Audience.ELECTRICIAN: electrician_events,
    Audience.OWNER: owner_events,
}


def feeds(
    plan: Plan,
    *,
    rules: Rules,
    day_off: DayOff | None = None,
    log: Iterable[Entry] = (),
) -> tuple[Feed, ...]:
    """The calendars of a job as values: one for the crew, the electrician and the owner.

    Args:
        plan: The plan.
        rules: The rules, whose titles people read.
        day_off: Knows weekends and holidays; else the job's own working week.
        log: The log the plan was made from, for the readings the electrician is shown.

    Returns:
        The three, none of them empty.

    Raises:
        ValueRefused: a name holds a control character (`control-character`).
    """
    _refuse_controls(plan)
    job = plan.job
    calendar = Calendar(job.work, job.tz, day_off or day_off_of(job.work))
    facts = {entry.id: entry for entry in facts_at(log, plan.as_of, plan.job.people).entries}
    made = []
    for audience, events in _BUILDERS.items():
        words = _words(plan, rules, audience)
        ctx = EventContext(plan, words, calendar, facts)
        name = calendar_name(job, audience, words)
        wanted = events(ctx) or (ctx.nothing(audience),)
        entries = tuple(_cautioned(event, ctx, audience) for event in wanted)
        made.append(Feed(audience, job.id, name, entries))
    return tuple(made)


def calendar_name(job: Job, audience: Audience, words: Words) -> str:
    """What a calendar of a job is called.

    Args:
        job: The job.
        audience: Whose it is.
        words: Its readers' language.
    """
    return words.text(f"event.calendar.{audience.value}", {"job": job.name})


def _cautioned(event: Event, ctx: EventContext, audience: Audience) -> Event:
    """An event with the cautions no output goes without, last in its text.

    A calendar program shows one entry at a time, so each carries them.
    """
    caution = ctx.say(f"caution.{audience.value}", {})
    return replace(event, description=f"{event.description}\n{caution}".strip())


def build(
    plan: Plan,
    *,
    rules: Rules,
    day_off: DayOff | None = None,
    stamped_at: datetime | None = None,
    log: Iterable[Entry] = (),
) -> dict[str, bytes]:
    """The calendars of a job as files of its first publishing, read back and compared.

    Args:
        plan: The plan.
        rules: The rules, whose titles people read.
        day_off: Knows weekends and holidays; else the job's own working week.
        stamped_at: When the data last changed; else the plan's own instant.
        log: The log the plan was made from, for the readings the electrician is shown.

    Returns:
        The octets by file name: `crew.ics`, `electrician.ics`, `owner.ics`.

    Raises:
        ValueRefused: a name holds a control character (`control-character`).
        CurecalError: the octets do not say what the plan says; our own fault.
    """
    files: dict[str, bytes] = {}
    for feed in feeds(plan, rules=rules, day_off=day_off, log=log):
        stamp = Stamp(0, stamped_at or plan.as_of)
        data = render(feed, {feed.uid(event.key): stamp for event in feed.events})
        refuse_unfaithful(feed, data)
        files[feed.file_name] = data
    return files


def goes(plan: Plan, *, rules: Rules, withdrawn: Iterable[str] = ()) -> Goes:
    """How entries of a job go that its plan no longer has.

    Args:
        plan: The plan.
        rules: The rules, whose titles people read.
        withdrawn: Zones that a person says may leave the calendars without a release.

    Returns:
        What `revise` asks for.
    """
    words = {audience: _words(plan, rules, audience) for audience in _BUILDERS}
    job = {"job": plan.job.name}

    def text(audience: Audience, key: str) -> str:
        said = words[audience].text(f"event.{key}.text", job)
        return said + "\n" + words[audience].text(f"event.caution.{audience.value}", {})

    def title(audience: Audience, key: str, params: Mapping[str, object]) -> str:
        return words[audience].text(f"event.{key}.summary", params)

    released = (zone.zone.id for zone in plan.zones if zone.is_released)
    return Goes(
        frozenset((*released, *withdrawn)),
        local_day(plan.as_of, plan.job.tz),
        lambda audience, summary: title(audience, "cancelled", {"title": summary}),
        lambda audience: text(audience, "cancelled"),
        removal_reasons(plan),
        lambda audience, summary: title(audience, "done", {"title": summary}),
        frozenset(zone.zone.id for zone in plan.zones),
        lambda audience: text(audience, "left-standing"),
        lambda audience, zone: title(audience, "withdrawn", {"id": zone, **job}),
        lambda audience: text(audience, "withdrawn"),
    )


def _words(plan: Plan, rules: Rules, audience: Audience) -> Words:
    """Return the words of a calendar's readers."""
    language = language_of(plan.job, READERS[audience], plan.as_of)
    return words_for(plan.job, rules, language=language)


def _refuse_controls(plan: Plan) -> None:
    """Refuse control characters in what people typed, named by its place in the job file.

    Words drop such characters without a word; in a calendar they would be a property more.
    """
    job = plan.job
    typed = [("job.id", job.id), ("job.name", job.name), ("job.address", job.address)]
    for zone in job.zones:
        typed += [(f"{zone.path}.id", zone.id), (f"{zone.path}.name", zone.name)]
        typed.append((f"{zone.path}.heating.protection", zone.heating.protection))
        for cable in zone.heating.cables:
            typed.append((f"{zone.path}.heating.cable.name", cable.name))
        for layer in zone.layers:
            typed += [
                (f"{layer.path}.id", layer.id),
                (f"{layer.path}.name", layer.name),
                (f"{layer.path}.part", layer.part),
            ]
    for person in job.people:
        typed += [
            (f"people.{person.role.value}.name", person.name),
            (f"people.{person.role.value}.phone", person.phone),
        ]
    for field, text in typed:
        refuse_controls(text or "", field)
