"""A new job in small steps, from a common build-up: what was typed travels with the form."""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from datetime import timedelta
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from curecal.book.jobs.book_overview import names_by_id
from curecal.book.jobs.import_job import add_ready
from curecal.book.jobs.job_sources import sha256
from curecal.book.jobs.jobs import revisions_of
from curecal.book.jobs.validated_job import ready_job
from curecal.errors import JobRefused, ValueRefused
from curecal.job_files import ReadJob
from curecal.job_files.job_keys import fresh_id, slug
from curecal.job_files.job_reader import read_draft
from curecal.job_files.new_job.job_text import job_text
from curecal.overview.told_plan import told_plan
from curecal.records import PlainTable
from curecal.trade.findings import Finding, Severity
from curecal.web.page_request import job_address
from curecal.web.pages.office.new_job_steps import (
    STEPS,
    Typed,
    draft_of,
    questions_of,
)
from curecal.web.pages.office.office_parts import go_to
from curecal.web.rendering import render
from curecal.words.values import clean

if TYPE_CHECKING:
    from flask import Response
    from sqlalchemy import Connection

    from curecal.web.page_request import PageRequest


class _TakenError(Exception):
    """There is another job of that id."""


# A page that is sent again comes soon; later the same answers are those of another floor, and the
# log of the first one must not be taken for its own.
_SENT_AGAIN = timedelta(hours=1)
_LONGEST = 200
_MOST_FIELDS = 80
_LAST = "look"


def ask(page: PageRequest) -> Response:
    """Answer with the first step."""
    return _step(page, STEPS[0], {}, {})


def send(page: PageRequest) -> Response:
    """Go a step on or back; after the last one look at it all, and write it once confirmed."""
    form = page.request.form
    typed = _typed(page)
    step, way = form.get("step", STEPS[0]), form.get("go", "next")
    every = (*STEPS, _LAST)
    here = every.index(step) if step in every else 0
    if way == "back":
        return _step(page, every[max(0, here - 1)], typed, {})
    if step == _LAST:
        return _write(page, typed) if way == "write" else _look(page, typed)
    problems = _problems(page, every[here], typed)
    if problems:
        return _step(page, every[here], typed, problems)
    target = every[here + 1]
    # A build-up that asks nothing of its layers has no step for them.
    if target in STEPS and not questions_of(page, target, typed):
        target = every[here + 2]
    return _look(page, typed) if target == _LAST else _step(page, target, typed, {})


def _typed(page: PageRequest) -> dict[str, str]:
    """Return what was typed, by place in the job file; nothing else of the form."""
    tables = ("job.", "expected.", "zone.0.", "people.")
    form = page.request.form
    found = {
        place: clean(form[place])[:_LONGEST].strip()
        for place in list(form)[:_MOST_FIELDS]
        if place.startswith(tables)
    }
    known = {question.place for step in STEPS for question in questions_of(page, step, found)}
    return {place: value for place, value in found.items() if place in known}


def _read(page: PageRequest, typed: Typed) -> tuple[PlainTable, ReadJob]:
    job = draft_of(typed, page.link.person)
    with page.serving.book.reading() as connection:
        taken = names_by_id(connection)
    name = str(job.get("job", {}).get("name", ""))
    job.setdefault("job", {})["id"] = fresh_id(slug(name, "job"), taken)
    with tempfile.TemporaryDirectory() as folder:
        return job, read_draft(job, Path(folder), clock=page.now)


def _problems(page: PageRequest, step: str, typed: Typed) -> dict[str, str]:
    """Return what is wrong with a step's fields, by place."""
    found = {}
    _, read = _read(page, typed)
    for question in questions_of(page, step, typed):
        if not question.typed:
            if question.is_needed:
                found[question.place] = page.text("office.please-answer")
            continue
        own = [one for one in read.findings if _is_of(one, question.place)]
        if own:
            said, do = page.words.finding(own[0])
            found[question.place] = f"{said[:1].upper()}{said[1:]}. {do}".strip()
    return found


def _is_of(finding: Finding, place: str) -> bool:
    # A role's only person stands first in a list of one.
    path, own = finding.path.replace(".0.", "."), place.replace(".0.", ".")
    is_error = finding.severity is Severity.ERROR
    return is_error and (path == own or path.startswith(f"{own}."))


def _step(page: PageRequest, step: str, typed: Typed, problems: dict[str, str]) -> Response:
    asked = questions_of(page, step, typed)
    own = {question.place for question in asked}
    return render(
        page,
        "office/new_job.html",
        status=422 if problems else 200,
        step=step,
        number=STEPS.index(step) + 1,
        step_count=len(STEPS),
        asked=asked,
        problems=problems,
        carried=[(place, value) for place, value in typed.items() if place not in own and value],
        is_first=step == STEPS[0],
    )


def _look(page: PageRequest, typed: Typed, problem: str = "") -> Response:
    """Show the whole job before it is written."""
    job, read = _read(page, typed)
    errors = [one for one in read.findings if one.severity is Severity.ERROR]
    others = [one for one in read.findings if one.severity is not Severity.ERROR]
    return render(
        page,
        "office/new_job_look.html",
        status=422 if errors or problem else 200,
        job_name=clean(str(job["job"].get("name", ""))),
        told=_told(page, typed),
        layers=[clean(str(layer.get("name", ""))) for layer in job["zone"][0]["layer"]],
        carried=[(place, value) for place, value in typed.items() if value],
        errors=[page.words.finding(one) for one in errors],
        others=[page.words.finding(one) for one in others],
        problem=problem,
    )


def _told(page: PageRequest, typed: Typed) -> Sequence[tuple[str, str]]:
    told = []
    for step in STEPS:
        for question in questions_of(page, step, typed):
            labels = dict(question.choices)
            if question.typed:
                told.append((question.label, labels.get(question.typed, question.typed)))
    return told


def _write(page: PageRequest, typed: Typed) -> Response:
    while True:
        job, read = _read(page, typed)
        if read.job is None:
            return _look(page, typed)
        try:
            job_id = _written_before(page, job) or _added(page, job)
        except _TakenError:
            # Somebody else's job has that id by now: this one gets the next.
            continue
        except (JobRefused, ValueRefused):
            return _look(page, typed, page.text("office.not-written"))
        return go_to(job_address(job_id))


def _written_before(page: PageRequest, job: PlainTable) -> str:
    """Return the id of the job just made of the very same file: a button was pressed twice.

    Args:
        page: The request.
        job: The job, with an id that none has.

    Returns:
        The id; empty where there is no such job.
    """
    wanted = slug(str(job["job"].get("name", "")), "job")
    others: list[str] = []
    with page.serving.book.reading() as connection:
        while (job_id := fresh_id(wanted, others)) != job["job"]["id"]:
            text = job_text({**job, "job": {**job["job"], "id": job_id}})
            first = revisions_of(connection, job_id)[0]
            is_recent = page.now - first.recorded_at < _SENT_AGAIN
            if is_recent and first.job_sha256 == sha256(text.encode()):
                return job_id
            others.append(job_id)
    return ""


def _added(page: PageRequest, job: PlainTable) -> str:
    def refuse_taken(connection: Connection) -> None:
        if len(revisions_of(connection, job["job"]["id"])) > 1:
            raise _TakenError

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "job.toml"
        path.write_text(job_text(job), encoding="utf-8")
        ready = ready_job(path, now=page.now, clock=page.now)
    told = partial(told_plan, now=page.now)
    book = page.serving.book
    added = add_ready(book, ready, now=page.now, clock=page.now, told=told, also=refuse_taken)
    page.serving.written()
    return added.job_id
