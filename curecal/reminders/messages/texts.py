"""A reminder's words: subject and body of a mail, and a text message, in its reader's language."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime

from curecal.planning.plan import HeatUp
from curecal.records import PlainTable, PlainView, Record, names_of, record
from curecal.reminders.reminder_types import Reminder
from curecal.trade.job import Job, Role
from curecal.trade.names import says_name
from curecal.trade.rules import Rules
from curecal.words.reader_language import reader_language
from curecal.words.sentences import Words, words_for
from curecal.words.values import clean


@record
class Composed(Record):
    """A message in words: each line of `body` is one part; `short` is for a text message."""

    subject: str
    body: str
    short: str


@record
class WordedReminder(Record):
    """A reminder in words, to stand alone or as a line among others.

    `head` names job and zone, `parts` say what is to be said, `closing` whom to ask and the
    cautions; `late` and `short_late` are added where it comes late.
    """

    subject: str
    head: str
    parts: tuple[str, ...]
    closing: tuple[str, ...]
    short: str
    late: str
    short_late: str

    def kept(self) -> PlainTable:
        """Return it as plain values, as JSON takes them."""
        return {name: _plain_value(getattr(self, name)) for name in names_of(WordedReminder)}

    @classmethod
    def read(cls, kept: PlainView) -> WordedReminder:
        """Return it from the plain values it was kept as.

        Raises:
            LookupError, TypeError: what stands there was never kept by this program.
        """
        values = {name: kept[name] for name in names_of(WordedReminder)}
        values = {name: tuple(v) if isinstance(v, list) else str(v) for name, v in values.items()}
        return cls(**values)


def _plain_value(value: object) -> object:
    return list(value) if isinstance(value, tuple) else value


def reader_words(job: Job, rules: Rules, wish: str | None, at: datetime | None = None) -> Words:
    """Return the words a person reads: the language they wish for, else the job's.

    Args:
        job: the job.
        rules: the rules, whose titles people read.
        wish: the reader's own language; None or empty where none is known.
        at: when: days near it are shown without their year.

    Returns:
        The words.
    """
    return words_for(job, rules, language=reader_language(job, wish), as_of=at)


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
    return joined([(say(reminder, words, role=role, reach=reach), late)])


def say(
    reminder: Reminder,
    words: Words,
    *,
    role: Role,
    reach: Mapping[str, object] | None = None,
) -> WordedReminder:
    """Return a reminder's words, to be joined with others of its reader.

    Args:
        reminder: the reminder, of the plan of now.
        words: the words of its reader.
        role: what its reader is on the job, for the cautions.
        reach: how the crew lead is reached, from `reach_of`.

    Returns:
        The words; no line of them holds a control character.
    """
    silent = {"phone": None, "mail": None, "due_at": reminder.due_at}
    params = {**silent, **(reach or {}), **_params(reminder.params, words)}
    # A notice names the time of the message it is about; late is its own.
    meant = {**params, "due_at": reminder.due_at}
    key = f"remind.{reminder.kind}"
    head, place = "", {**params, "place": params.get("job")}
    if "zone" in params:
        head = words.text(f"remind.common.head{'-job' if _names_zone(params) else ''}", params)
        place["place"] = head
    closing = [words.text(f"remind.common.caution-{role.value}", params)]
    if "contact" in params:
        closing.insert(0, words.text("remind.common.contact", params))
    # Who has several jobs tells them apart by the subject, which may be all that a phone shows.
    return WordedReminder(
        subject=_line(words.text(_form(words, key, "subject", reminder.parts), place)),
        head=_line(head),
        parts=_lines(words.text(f"{key}.{part}", place) for part in reminder.parts),
        closing=_lines(closing),
        short=_line(words.text(_form(words, key, "sms", reminder.parts), place)),
        late=_line(words.text("remind.common.late", meant)),
        short_late=_line(words.text("remind.common.sms-late", meant)),
    )


def joined(lines: Sequence[tuple[WordedReminder, bool]]) -> Composed:
    """Return one message of what is to be said to one person.

    Args:
        lines: what is to be said, in its reader's language, and whether each of it comes late.

    Returns:
        The message: alone as it is; of several each under its own head, what closes them once. How
        many more there are stands in the subject as a number, which every language reads.
    """
    first = lines[0][0]
    subject = first.subject
    if len(lines) > 1:
        subject = f"{subject} (+{len(lines) - 1})"
    blocks = _paragraphs(lines)
    closing = dict.fromkeys(line for said, _ in lines for line in said.closing)
    blocks.append("\n".join(closing))
    gap = "\n\n" if len(lines) > 1 else "\n"
    return Composed(_line(subject), gap.join(blocks), "\n".join(_shorts(lines)))


def _paragraphs(lines: Sequence[tuple[WordedReminder, bool]]) -> list[str]:
    """Return the paragraphs of a message: what is said alike of several floors is said once."""
    heads: dict[tuple[str, tuple[str, ...], int], list[str]] = {}
    for number, (said, late) in enumerate(lines):
        # What names no floor in a head says of which job it is, and stands by itself.
        key = (said.late if late else "", said.parts, 0 if said.head else number + 1)
        heads.setdefault(key, []).append(said.head)
    found: dict[tuple[str, str, int], list[str]] = {}
    for (late_text, parts, number), named in heads.items():
        head = _PLACES.join(dict.fromkeys(named))
        found.setdefault((late_text, head, number), []).extend(parts)
    return [
        "\n".join(line for line in (late_text, head, *parts) if line)
        for (late_text, head, _), parts in found.items()
    ]


def _shorts(lines: Sequence[tuple[WordedReminder, bool]]) -> list[str]:
    """Return the lines of a text message: what is said alike of several floors is said once."""
    found: dict[str, list[str]] = {}
    for said, late in lines:
        short = f"{said.short} {said.short_late}" if late else said.short
        named = f"{said.head}: " if said.head else ""
        places = found.setdefault(short.removeprefix(named), [])
        if named and short.startswith(named):
            places.append(said.head)
    return [
        f"{_PLACES.join(dict.fromkeys(places))}: {text}" if places else text
        for text, places in found.items()
    ]


_PLACES = "; "


def _line(text: str) -> str:
    return clean(text).strip()


def _lines(texts: Iterable[str]) -> tuple[str, ...]:
    return tuple(line for text in texts if (line := _line(text)))


def _names_zone(params: Mapping[str, object]) -> bool:
    """Return whether a job is named by its only zone, which needs no word beside it then."""
    return bool(params.get("only_zone")) and says_name(str(params["job"]), str(params["zone"]))


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
