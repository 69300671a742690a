"""A reminder's words: subject and body of a mail, and a text message, in its reader's language."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import datetime

from curecal.planning.plan import HeatUp
from curecal.records import Record, record
from curecal.reminders.reminder_types import Recipient, Reminder
from curecal.trade.job import Job, Role
from curecal.trade.rules import Rules
from curecal.words.catalogue import DEFAULT_LANGUAGE, languages
from curecal.words.sentences import Words, words_for
from curecal.words.values import clean


@record
class Composed(Record):
    """A message in words: each line of `body` is one part; `short` is for a text message."""

    subject: str
    body: str
    short: str


def reader_words(job: Job, rules: Rules, person: Recipient | None) -> Words:
    """Return the words a person reads: their own language, else the job's, as far as known.

    Args:
        job: the job.
        rules: the rules, whose titles people read.
        person: who reads.

    Returns:
        The words.
    """
    known = languages()
    wished = (person.language if person else None, job.language)
    language = next((choice for choice in wished if choice in known), DEFAULT_LANGUAGE)
    return words_for(job, rules, language=language)


def reach_of(job: Job, at: datetime) -> dict[str, object]:
    """Return how the crew lead is reached by who has a question: a number, else a mail address.

    Args:
        job: the job.
        at: the instant of the plan.

    Returns:
        Parameters of texts.
    """
    leads = job.people_as(Role.CREW_LEAD, at)
    phone = next((lead.phone for lead in leads if lead.phone), None)
    mail = next((lead.email for lead in leads if lead.email), None)
    return {"phone": phone, "mail": None if phone else mail}


def compose(
    reminder: Reminder,
    words: Words,
    *,
    role: Role,
    late: bool = False,
    reach: Mapping[str, object] | None = None,
) -> Composed:
    """Return a reminder in words.

    Args:
        reminder: the reminder, of the plan of now.
        words: the words of its reader.
        role: what its reader is on the job, for the cautions.
        late: whether to say that it comes late.
        reach: how the crew lead is reached, from `reach_of`.

    Returns:
        The message; no line of it holds a control character.
    """
    silent = {"phone": None, "mail": None, "due_at": reminder.due_at}
    params = {**silent, **(reach or {}), **_params(reminder.params, words)}
    # A notice names the time of the message it is about; late is its own.
    meant = {**params, "due_at": reminder.due_at}
    key = f"remind.{reminder.kind}"
    lines = [words.text(f"{key}.{part}", params) for part in reminder.parts]
    place = params
    if "zone" in params:
        head = words.text(f"remind.common.head{'-job' if _names_zone(params) else ''}", params)
        lines.insert(0, head)
        place = {**params, "zone": head}
    if late:
        lines.insert(0, words.text("remind.common.late", meant))
    if "contact" in params:
        lines.append(words.text("remind.common.contact", params))
    lines.append(words.text(f"remind.common.caution-{role.value}", params))
    # Who has several jobs tells them apart by the subject, which may be all that a phone shows.
    subject = words.text(_form(words, key, "subject", reminder.parts), place)
    short = words.text(_form(words, key, "sms", reminder.parts), params)
    if late:
        short = f"{short} {words.text('remind.common.sms-late', meant)}"
    body = "\n".join(said for line in lines if (said := clean(line).strip()))
    return Composed(clean(subject).strip(), body, clean(short).strip())


def _names_zone(params: Mapping[str, object]) -> bool:
    """Return whether a job is named by its only zone, which needs no word beside it then."""
    zone, job = (f" {' '.join(_WORD.findall(str(params[name]).casefold()))} " for name in _NAMES)
    return bool(params.get("only_zone")) and zone in job


_NAMES = ("zone", "job")
_WORD = re.compile(r"\w+")


def _form(words: Words, key: str, name: str, parts: tuple[str, ...]) -> str:
    own = f"{key}.{name}-{parts[0]}" if parts else ""
    return own if own in words.catalogue else f"{key}.{name}"


def _params(params: Mapping[str, object], words: Words) -> dict[str, object]:
    """Return parameters as texts take them: a heat-up's number as its reader reads it."""
    found = dict(params)
    heat_up, index = found.pop("heat_up", None), found.pop("index", None)
    if isinstance(heat_up, HeatUp) and isinstance(index, int):
        found["setting"] = words.settings(heat_up)[index]
    if isinstance(found.get("who"), str):
        found["who"] = words.person(str(found["who"]))
    found.setdefault("limit_c", None)
    return found
