"""The file of a job as the book has it, handing the floor over, and closing the job."""

from __future__ import annotations

from typing import TYPE_CHECKING

from flask import Response

from curecal.book.jobs.book_overview import names_by_id
from curecal.book.jobs.closed_jobs import close_job, closed_jobs, open_job_again
from curecal.book.jobs.jobs import content_of, newest_revision
from curecal.planning.plan import State
from curecal.web.page_request import job_address
from curecal.web.pages.office.office_parts import go_to
from curecal.web.rendering import render
from curecal.words.values import clean

if TYPE_CHECKING:
    from curecal.web.page_request import PageRequest


def show(page: PageRequest) -> Response:
    """Answer with the job's file, and what is left before it is handed over and closed."""
    return _page(page)


def download(page: PageRequest) -> Response:
    """Answer with the job's file as it came."""
    job_id = page.values["job_id"]
    with page.serving.book.reading() as connection:
        data = content_of(connection, newest_revision(connection, job_id).job_sha256)
    response = Response(data, mimetype="application/toml")
    response.headers["Content-Disposition"] = f'attachment; filename="{job_id}.toml"'
    return response


def close(page: PageRequest) -> Response:
    """Close a job whose floors are all in service; any other only where somebody insists."""
    job_id = page.values["job_id"]
    if _is_open(page) and page.request.form.get("sure") != "yes":
        return _page(page, problem=page.text("office.close-open"), status=422)
    with page.serving.book.writing() as connection:
        close_job(connection, job_id, by=page.link.person, now=page.now)
    return go_to(f"{job_address(job_id)}/file")


def reopen(page: PageRequest) -> Response:
    """Put a closed job back into the lists."""
    job_id = page.values["job_id"]
    with page.serving.book.writing() as connection:
        open_job_again(connection, job_id)
    return go_to(f"{job_address(job_id)}/file")


def _is_open(page: PageRequest) -> bool:
    """Return whether a floor of the job is not in service yet."""
    if page.job_now is None:
        return True
    return not all(zone.state is State.IN_SERVICE for zone in page.here.plan.zones)


def _page(page: PageRequest, *, problem: str = "", status: int = 200) -> Response:
    job_id = page.values["job_id"]
    with page.serving.book.reading() as connection:
        name = names_by_id(connection, job_id)[job_id]
        revision = newest_revision(connection, job_id)
        data = content_of(connection, revision.job_sha256)
        is_closed = job_id in closed_jobs(connection)
    zones = () if page.job_now is None else page.here.plan.zones
    return render(
        page,
        "office/job_file.html",
        status=status,
        job_name=clean(name),
        address=job_address(job_id),
        file=data.decode("utf-8", errors="replace"),
        revision=revision,
        is_closed=is_closed,
        is_open=_is_open(page),
        states=[(clean(zone.zone.name), page.words.state(zone.state)) for zone in zones],
        problem=problem,
    )
