"""What is published of a job, moved and cancelled, for what the readers are given."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import timedelta
from typing import TYPE_CHECKING

from calendar_samples import AS_OF, RULES, plan

from curecal.calendars import (
    Days,
    Event,
    Feed,
    History,
    Revised,
    Timed,
    drafts,
    feeds,
    goes,
    revise,
)

if TYPE_CHECKING:
    from reading import Seen

PLAN = plan()
GOES = goes(PLAN, rules=RULES)
CREW, ELECTRICIAN = feeds(PLAN, rules=RULES)[:2]
HOUR = timedelta(hours=1)


def published(feed: Feed, before: Revised | None, hours: int) -> Revised:
    known = {each.uid: each for each in before.revisions} if before else {}
    return revise(drafts(feed), History("1", known), AS_OF + hours * HOUR, goes=GOES)


def moved(event: Event) -> Event:
    when = event.when
    if isinstance(when, Days):
        later: Days | Timed = Days(when.start_on, when.end_on + timedelta(days=3))
    else:
        later = Timed(when.start_at + 2 * HOUR, when.end_at + 50 * HOUR)
    return replace(event, when=later)


def off(seen: Seen, feed: Feed) -> Seen:
    """How an event is to be seen once it is off: by its title too, and without its alarms."""
    title, text = GOES.title(feed.audience, seen.summary), GOES.text(feed.audience)
    return replace(seen, sequence=1, status="CANCELLED", summary=title, description=text, alarms=())


def by_uid(events: Iterable[Seen]) -> tuple[Seen, ...]:
    return tuple(sorted(events, key=lambda seen: seen.uid))
