"""All jobs: today's list, who is waited for, what is at risk and why, and every job by page."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING
from urllib.parse import urlencode

from curecal.book.jobs.closed_jobs import closed_jobs
from curecal.book.meta import held_jobs, hold_of
from curecal.book.outbox.unsent import unsent_by_job
from curecal.instants import local_day
from curecal.overview.kept_answers import Answered
from curecal.planning.plan import RELEASED_STATES
from curecal.records import Record, record
from curecal.trade.names import comparable_name, told_apart
from curecal.web.page_request import OFFICE_HOME, job_address, zone_named
from curecal.web.pages.office.office_parts import page_of_list, today_of
from curecal.web.rendering import render
from curecal.words.sentences import whole
from curecal.words.values import clean

if TYPE_CHECKING:
    from flask import Response

    from curecal.web.page_request import PageRequest

MOST = 50
"""Jobs on a page of the list; a list before them is cut there as well."""
_MOST_RISKY = 20
_LONGEST_SEARCH = 100


@record
class JobLine(Record):
    """A job with a sentence about it."""

    name: str
    address: str
    said: str


@record
class RiskyJob(Record):
    """A job at risk, and each reason."""

    name: str
    address: str
    reasons: tuple[str, ...]


@record
class WaitedFor(Record):
    """Somebody whom jobs wait for, each job with what for; `more` were left off."""

    who: str
    lines: tuple[JobLine, ...]
    more: int


def show(page: PageRequest) -> Response:
    """Answer with the list of jobs, or with those that were looked for."""
    asked = page.request.args
    wanted = clean(asked.get("q", ""))[:_LONGEST_SEARCH].strip()
    answers = page.serving.answers.answers(page.language)
    jobs = _jobs(page, answers.jobs, is_closed="closed" in asked)
    left = answers.left_count
    if "closed" in asked:
        return _listed(page, jobs, page.text("office.closed-jobs"), {"closed": "1"}, left)
    if wanted:
        found = [job for job in jobs if _is_like(job, wanted)]
        title = page.text("office.found", count=len(found), wanted=wanted)
        return _listed(page, found, title, {"q": wanted}, left)
    reasons = _reasons(page, jobs)
    risky = [
        RiskyJob(job.name, job_address(job.job_id), reasons[job.job_id])
        for job in sorted(jobs, key=_urgency)
        if reasons[job.job_id]
    ]
    without_sheets = _without_sheets(jobs)
    if "at_risk" in asked:
        return render(
            page,
            "office/at_risk.html",
            left=left,
            risky=page_of_list(page, risky, most=MOST),
            without_sheets=page_of_list(page, without_sheets, most=MOST),
        )
    today = list(_today(page, jobs))
    return render(
        page,
        "office/jobs.html",
        left=left,
        today_on=today_of(page),
        count=len(jobs) + left,
        today=today[:MOST],
        more_today=max(0, len(today) - MOST),
        waits=_waits(page, jobs),
        risky=risky[:_MOST_RISKY],
        without_sheets=without_sheets[:_MOST_RISKY],
        more_risky=max(0, len(risky) - _MOST_RISKY, len(without_sheets) - _MOST_RISKY),
        everything=page_of_list(page, [_line(page, job) for job in jobs], most=MOST),
    )


def _listed(
    page: PageRequest, jobs: Sequence[Answered], title: str, asked: dict[str, str], left: int
) -> Response:
    return render(
        page,
        "office/found.html",
        name=title,
        wanted=asked.get("q", ""),
        left=left,
        found=page_of_list(page, [_line(page, job) for job in jobs], most=MOST),
        address=f"{OFFICE_HOME}/?{urlencode(asked)}&",
    )


def _jobs(page: PageRequest, found: Sequence[Answered], *, is_closed: bool) -> list[Answered]:
    """Return the open jobs by name, or the closed ones: no two called alike."""
    with page.serving.book.reading() as connection:
        closed = closed_jobs(connection)
    jobs = [job for job in found if _is_closed(job, closed) == is_closed]
    names = told_apart({job.job_id: clean(job.name) for job in jobs})
    named = [_renamed(job, names[job.job_id]) for job in jobs]
    return sorted(named, key=lambda job: job.name.casefold())


def _is_closed(job: Answered, closed: frozenset[str]) -> bool:
    # A floor that somebody has stopped stands in the list, closed or not.
    return job.job_id in closed and not job.answer.has_problem


def _renamed(job: Answered, name: str) -> Answered:
    return Answered(job.job_id, name, job.timezone, job.answer, job.days, job.is_kept)


def _urgency(job: Answered) -> tuple[bool, str, str]:
    on = job.answer.start_on
    return not job.answer.has_problem, on.isoformat() if on else "9", job.name.casefold()


def _line(page: PageRequest, job: Answered) -> JobLine:
    is_released = job.answer.may_energize or job.answer.state in RELEASED_STATES
    answer = page.text("clock.order") if page.clock_doubt and is_released else job.answer.answer
    return JobLine(job.name, job_address(job.job_id), answer)


def _is_like(job: Answered, wanted: str) -> bool:
    """Return whether each word that was typed stands in the name, the address or a person's."""
    told = [job.name, job.job_id, job.answer.address or ""]
    told += [person.name for person in job.answer.people]
    known = comparable_name(" ".join(told))
    return all(word in known for word in comparable_name(wanted).split())


def _today(page: PageRequest, jobs: Sequence[Answered]) -> Iterator[JobLine]:
    """Yield what today holds, by the clock of each site."""
    for job in jobs:
        today = local_day(page.now, zone_named(job.timezone))
        for event in job.days:
            if event.on == today:
                yield JobLine(job.name, job_address(job.job_id), event.what)


def _waits(page: PageRequest, jobs: Sequence[Answered]) -> list[WaitedFor]:
    """Return whom jobs wait for, whoever holds up most first."""
    by_person: dict[str, list[JobLine]] = {}
    for job in jobs:
        for to_do in job.answer.to_do:
            names = [clean(one.name) for one in job.answer.people if to_do.by in one.roles]
            role = page.words.person(to_do.by)
            who = page.text("office.who", name=names[0] if names else None, role=role)
            line = JobLine(job.name, job_address(job.job_id), to_do.what)
            by_person.setdefault(who, []).append(line)
    ordered = sorted(by_person.items(), key=lambda one: (-len(one[1]), one[0].casefold()))
    return [
        WaitedFor(who, tuple(lines[:MOST]), max(0, len(lines) - MOST))
        for who, lines in ordered[:MOST]
    ]


def _reasons(page: PageRequest, jobs: Sequence[Answered]) -> dict[str, tuple[str, ...]]:
    """Return why each job is at risk, by its plan and its messages."""
    with page.serving.book.reading() as connection:
        unsent, held = unsent_by_job(connection, now=page.now), held_jobs(connection)
        everything_held = hold_of(connection)
    found = {}
    for job in jobs:
        reasons = [whole(risk.why) for risk in job.answer.risks]
        if job.job_id in held:
            reasons.append(page.text("office.held", why=hold_reason(page, held[job.job_id])))
        elif everything_held is None and (count := unsent.get(job.job_id)):
            reasons.append(page.text("office.unsent", count=count))
        found[job.job_id] = tuple(reasons)
    return found


def _without_sheets(jobs: Sequence[Answered]) -> list[JobLine]:
    """Return the jobs that wait longer than they might have to: they lack data sheets."""
    return [
        JobLine(
            job.name,
            job_address(job.job_id),
            ", ".join(map(clean, job.answer.without_sheet)),
        )
        for job in jobs
        if job.answer.without_sheet
    ]


def hold_reason(page: PageRequest, code: str) -> str:
    """Return why messages are on hold, in words.

    Args:
        page: The request.
        code: The reason as the book has it.
    """
    key = f"name.remind-hold.{code}"
    return page.words.text(key) if key in page.words.catalogue else clean(code)
