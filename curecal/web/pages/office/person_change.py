"""A person changed everywhere: in each job that names them, as a new revision of its file.

What somebody signed stands under the name they signed with: a name is changed only where the log
has none of it yet.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from curecal.book.jobs.book_overview import names_by_id
from curecal.book.jobs.import_job import revise_files
from curecal.book.jobs.job_sources import Sources
from curecal.book.jobs.jobs import newest_revision, read_laid_out, sources_of
from curecal.book.jobs.log_entries import entries_of
from curecal.errors import CurecalError
from curecal.job_files.file_edits.person_edit import KEYS, edit_person, names_person
from curecal.overview.told_plan import told_plan
from curecal.planning.site_log.authority import persons_named
from curecal.records import Record, record
from curecal.trade.findings import Severity
from curecal.trade.job import Person
from curecal.trade.names import comparable_name, told_apart
from curecal.trade.site_log import VisitNote
from curecal.web.page_request import OFFICE_HOME, job_address
from curecal.web.rendering import LANGUAGE_NAMES, render
from curecal.words.sentences import whole
from curecal.words.values import clean

if TYPE_CHECKING:
    from flask import Response

    from curecal.job_files import ReadJob
    from curecal.web.page_request import PageRequest

_LONGEST = 200
_NAME = "name"
_WHOLE_S = 3600.0


@record(kw_only=True)
class ChangedJob(Record):
    """A job that a change is made in; where it cannot be, `why` says so."""

    job_id: str
    name: str
    address: str
    why: str

    @property
    def edited(self) -> bool:
        """Whether it can be made there."""
        return not self.why


class _NotEditedError(Exception):
    """A job's files cannot be changed, for a reason in words."""


def show(page: PageRequest) -> Response:
    """Answer with the form, filled with what the first job that names the person says of them."""
    return _page(page, _named(page.request.args.get(_NAME, "")), {})


def send(page: PageRequest) -> Response:
    """Show in which jobs it can be changed; write it once that was confirmed."""
    form = page.request.form
    name = _named(form.get("person", ""))
    changes = {key: value for key in KEYS if (value := clean(form.get(key, ""))[:_LONGEST].strip())}
    known = _known(page, name)
    if known is not None:
        changes = {key: value for key, value in changes.items() if value != _of(known, key)}
    if known is None or not changes:
        return _page(page, name, changes, problem=page.text("office.person-nothing"), status=422)
    jobs = list(_changed_jobs(page, name, changes))
    if form.get("confirm") == "yes":
        jobs = [_written(page, one, name, changes) for one in jobs]
        page.serving.written()
        return _page(page, changes.get(_NAME, name), {}, jobs=jobs, is_done=True)
    return _page(page, name, changes, jobs=jobs)


def _named(name: str) -> str:
    return clean(name)[:_LONGEST].strip()


def _of(person: Person, key: str) -> str:
    return str(getattr(person, key) or "")


def _jobs_of(page: PageRequest, name: str) -> list[tuple[str, str]]:
    """Return the jobs that name a person, by id and name."""
    wanted = comparable_name(name)
    # All of them, however long that takes: a job left out would keep the old address.
    found = page.serving.answers.answers(page.language, patience_s=_WHOLE_S).jobs
    own = {
        job.job_id: clean(job.name)
        for job in found
        if any(comparable_name(one.name) == wanted for one in job.answer.people)
    }
    return sorted(told_apart(own).items(), key=lambda one: one[1].casefold())


def _known(page: PageRequest, name: str) -> Person | None:
    for job_id, _ in _jobs_of(page, name):
        job = page.serving.jobs.read(job_id).job
        found = () if job is None else persons_named(job.people, name)
        if found:
            return found[0]
    return None


def _changed_jobs(page: PageRequest, name: str, changes: Mapping[str, str]) -> Iterator[ChangedJob]:
    for job_id, job_name in _jobs_of(page, name):
        yield ChangedJob(
            job_id=job_id,
            name=job_name,
            address=job_address(job_id),
            why=_why_not(page, job_id, name, changes),
        )


def _why_not(page: PageRequest, job_id: str, name: str, changes: Mapping[str, str]) -> str:
    """Return why a person cannot be changed in a job; empty where they can."""
    with page.serving.book.reading() as connection:
        sources = sources_of(connection, job_id, newest_revision(connection, job_id))
        entries = entries_of(connection, job_id)
    try:
        after = read_laid_out(_edited(page, sources, name, changes), entries)
        _refuse_signed(page, after, name, changes)
    except _NotEditedError as refused:
        return str(refused)
    if after.job is None:
        errors = [one for one in after.findings if one.severity is Severity.ERROR]
        said, do = page.words.finding(errors[0])
        return f"{whole(said)} {do}".strip()
    return ""


def _edited(page: PageRequest, sources: Sources, name: str, changes: Mapping[str, str]) -> Sources:
    """Return a job's files with a person changed."""
    files = []
    found = [data for data in (sources.job, sources.company) if data]
    if not any(names_person(data, name) for data in found):
        raise _NotEditedError(page.text("office.person-moved"))
    for data in (sources.job, sources.company):
        if data is None or not names_person(data, name):
            files.append(data)
            continue
        made = edit_person(data, name, changes)
        if made.data is None:
            raise _NotEditedError(page.text("office.person-by-hand", line=made.line))
        files.append(made.data)
    return replace(sources, job=files[0] or sources.job, company=files[1])


def _refuse_signed(page: PageRequest, read: ReadJob, name: str, changes: Mapping[str, str]) -> None:
    if _NAME in changes and _has_signed(read, name):
        raise _NotEditedError(page.text("office.person-signed", name=name))


def _has_signed(read: ReadJob, name: str) -> bool:
    """Return whether the log has a name: signed with it, typed by it, or expected to come."""
    wanted = comparable_name(name)
    signed = {comparable_name(who) for one in read.log for who in (one.by, one.entered_by) if who}
    coming = {
        comparable_name(one.who) for one in read.log if isinstance(one, VisitNote) and one.who
    }
    return wanted in signed | coming


def _written(
    page: PageRequest, one: ChangedJob, name: str, changes: Mapping[str, str]
) -> ChangedJob:
    """Write a job's changed files; what stands in the way by now is said of it."""
    if one.why:
        return one
    try:
        # Looked at as the only one who changes the job: its files may be others than were shown.
        revise_files(
            page.serving.book,
            one.job_id,
            lambda sources: _edited(page, sources, name, changes),
            now=page.now,
            told=lambda read: told_plan(read, page.now),
            check=lambda read: _refuse_signed(page, read, name, changes),
        )
    except _NotEditedError as refused:
        return replace(one, why=str(refused))
    except CurecalError:
        return replace(one, why=page.text("office.not-written"))
    return one


def _page(
    page: PageRequest,
    name: str,
    changes: Mapping[str, str],
    *,
    jobs: list[ChangedJob] | None = None,
    problem: str = "",
    is_done: bool = False,
    status: int = 200,
) -> Response:
    known = _known(page, name) if name else None
    now = {key: "" if known is None else _of(known, key) for key in KEYS}
    with page.serving.book.reading() as connection:
        has_jobs = bool(names_by_id(connection))
    return render(
        page,
        "office/person.html",
        status=status,
        name=name,
        known=known is not None,
        values={**now, **changes},
        changes=[(page.text(f"office.person.{key}"), value) for key, value in changes.items()],
        sent=dict(changes),
        jobs=jobs,
        problem=problem,
        is_done=is_done,
        languages_known=sorted(LANGUAGE_NAMES.items()),
        has_jobs=has_jobs,
        home=OFFICE_HOME,
    )
