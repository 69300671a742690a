"""How `curecal jobs` shows the book: a table of jobs, a board of days, or machine output."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING

from curecal.planning.plan import State
from curecal.words.json.record_json import encode
from curecal.words.layout import TextRun, bullet, paragraph, table, wrap
from curecal.words.values import clean, is_far, short_day

if TYPE_CHECKING:
    from collections.abc import Sequence

    from curecal.overview.job_answer import DayEvent, JobAnswer, NextThing
    from curecal.overview.kept_answers import Answered
    from curecal.records import PlainTable
    from curecal.words.layout import Line
    from curecal.words.sentences import Words

# Of 80 columns; what a wider terminal has more goes to the three that hold names.
_JOB, _NEXT, _VISIT = 18, 14, 13
_NARROW = 80
_COLUMNS = ("job", "now", "owner", "next", "visit", "waiting")


def job_order(job: Answered) -> tuple[bool, date, str]:
    """Return where a job stands in the list: at risk first, then by its day."""
    answer = job.answer
    on = answer.start_on or (answer.next_step.on if answer.next_step else None)
    return not answer.risks, on or date.max, job.name.casefold()


def jobs_lines(
    jobs: Sequence[Answered], *, words: Words, width: int, today: date, title: str
) -> list[Line]:
    """Return the jobs, each in a line of a table, and under it why some are at risk."""
    lines = paragraph(title, width, style="head")
    spare = max(0, width - _NARROW)
    widths = (_JOB + spare // 3, _NEXT + spare // 3, _VISIT + spare // 3)
    head = [words.text(f"jobs.column-{name}") for name in _COLUMNS]
    lines += [(), *table(head, [_row(job, words, widths, today) for job in jobs], width)]
    risky = [job for job in jobs if job.answer.risks]
    if risky:
        lines += [(), (TextRun(words.text("jobs.at-risk"), "head"),)]
    for job in risky:
        for risk in job.answer.risks:
            text = words.text("jobs.risk-of", {"job": job.name, "why": risk.why})
            lines += bullet(text, width, style="warn")
    return lines


def _row(job: Answered, words: Words, widths: tuple[int, int, int], today: date) -> list[list[str]]:
    answer = job.answer
    mark = "! " if answer.risks else ""
    for_job, for_next, for_visit = widths
    return [
        wrap(mark + clean(job.name), for_job),
        [_now(answer, words), *_short(answer.start_on, words, today)],
        _short(answer.owner_on, words, today),
        _thing(answer.next_step, words, for_next, today),
        _thing(answer.next_visit, words, for_visit, today),
        [words.person(role) for role in answer.waiting_for],
    ]


def _now(answer: JobAnswer, words: Words) -> str:
    if answer.may_energize:
        return words.text("jobs.yes")
    if answer.state == State.STOPPED.value:
        return words.text("jobs.stopped")
    return words.text("jobs.no-date" if answer.state == State.NO_DATE.value else "jobs.no")


def _thing(thing: NextThing | None, words: Words, width: int, today: date) -> list[str]:
    if thing is None:
        return []
    return [*wrap(clean(thing.what), width), *_short(thing.on, words, today)]


def _short(day: date | None, words: Words, today: date) -> list[str]:
    """Return a day as it stands in a column: "4 Jan", with its year under it where that is far."""
    if day is None:
        return []
    text = short_day(day, words.catalogue)
    return [text, str(day.year)] if is_far(day, today) else [text]


def board_lines(
    jobs: Sequence[Answered], *, words: Words, width: int, first: date, count: int
) -> list[Line]:
    """Return what each of the next days holds over all jobs; a day with nothing is left out."""
    title = words.text("jobs.title-days", {"first_on": first, "count": count})
    lines = paragraph(title, width, style="head")
    by_day = _by_day(jobs, first, count)
    for day, events in by_day.items():
        lines += [(), *paragraph(words.day(day), width, style="head")]
        for job, event in events:
            text = words.text("jobs.day-event", {"job": job.name, "what": event.what})
            lines += bullet(text, width)
    if not by_day:
        lines += [(), *paragraph(words.text("jobs.day-nothing", {"count": count}), width)]
    return lines


def _by_day(
    jobs: Sequence[Answered], first: date, count: int
) -> dict[date, list[tuple[Answered, DayEvent]]]:
    last = first + timedelta(days=count - 1)
    found: dict[date, list[tuple[Answered, DayEvent]]] = {}
    events = [(event.on, job, event) for job in jobs for event in job.days]
    for on, job, event in sorted(events, key=lambda one: (one[0], one[1].name.casefold())):
        if first <= on <= last:
            found.setdefault(on, []).append((job, event))
    return found


def job_json(job: Answered) -> PlainTable:
    """Return a job's answer as machine output."""
    return {
        "job_id": job.job_id,
        "job": job.name,
        "timezone": job.timezone,
        **encode(job.answer),
        "at_risk": bool(job.answer.risks),
    }


def board_json(jobs: Sequence[Answered], first: date, count: int) -> list[PlainTable]:
    """Return what the next days hold over all jobs as machine output."""
    return [
        {
            "on": day,
            "events": [
                {"job_id": job.job_id, "job": job.name, "kind": event.kind, "what": event.what}
                for job, event in events
            ],
        }
        for day, events in _by_day(jobs, first, count).items()
    ]
