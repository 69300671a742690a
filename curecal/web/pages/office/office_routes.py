"""The office's addresses below `/office`: method, pattern, and what answers."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from curecal.web.pages.notes import change_page, form_page, noted_page
from curecal.web.pages.office import (
    job_file_page,
    job_papers,
    job_sheet,
    link_forms,
    logger_upload,
    message_pages,
    new_job_page,
    person_change,
    what_if_page,
)
from curecal.web.pages.office.lists import day_list, job_list, sheet_list

if TYPE_CHECKING:
    from flask import Response

    from curecal.web.page_request import PageRequest

View = Callable[["PageRequest"], "Response"]
# What can be done of a job that cannot be planned: its messages, its file, closing it.
_OF_ANY_JOB = frozenset(
    {
        message_pages.show_job,
        message_pages.pause,
        message_pages.resume,
        job_file_page.show,
        job_file_page.download,
        job_file_page.close,
        job_file_page.reopen,
    }
)


def _understood(view: View) -> View:
    """Return a view that answers, of a job that cannot be planned, what is wrong with it."""

    def answer(page: PageRequest) -> Response:
        return job_sheet.not_understood(page) if page.job_now is None else view(page)

    return answer


_ROUTES: tuple[tuple[str, str, View], ...] = (
    ("GET", "/", job_list.show),
    ("GET", "/days", day_list.show),
    ("GET", "/days.csv", day_list.as_csv),
    ("GET", "/messages", message_pages.show),
    ("POST", "/messages/pause", message_pages.pause),
    ("POST", "/messages/resume", message_pages.resume),
    ("GET", "/new", new_job_page.ask),
    ("POST", "/new", new_job_page.send),
    ("GET", "/sheets", sheet_list.show),
    ("GET", "/person", person_change.show),
    ("POST", "/person", person_change.send),
    ("GET", "/links", link_forms.show),
    ("POST", "/links", link_forms.make),
    ("POST", "/links/revoke", link_forms.revoke),
    ("GET", "/job/<job_id>", job_sheet.show),
    ("GET", "/job/<job_id>/file", job_file_page.show),
    ("GET", "/job/<job_id>/file.toml", job_file_page.download),
    ("POST", "/job/<job_id>/close", job_file_page.close),
    ("POST", "/job/<job_id>/open", job_file_page.reopen),
    ("GET", "/job/<job_id>/log", job_sheet.show_log),
    ("GET", "/job/<job_id>/note/<form>", form_page.show_form),
    ("POST", "/job/<job_id>/note/<form>", form_page.send_form),
    ("POST", "/job/<job_id>/note/<form>/judge", form_page.judge_form),
    ("GET", "/job/<job_id>/noted/<entry>", noted_page.show_noted),
    ("GET", "/job/<job_id>/change/<entry>", change_page.show_change),
    ("POST", "/job/<job_id>/change/<entry>", change_page.send_change),
    ("GET", "/job/<job_id>/not-you", noted_page.show_not_you),
    ("GET", "/job/<job_id>/picture/<file>", noted_page.show_picture),
    ("GET", "/job/<job_id>/links", link_forms.show),
    ("POST", "/job/<job_id>/links", link_forms.make),
    ("POST", "/job/<job_id>/links/revoke", link_forms.revoke),
    ("GET", "/job/<job_id>/paper/<kind>", job_papers.show),
    ("POST", "/job/<job_id>/paper/<kind>/pdf", job_papers.as_pdf),
    ("GET", "/job/<job_id>/readings", logger_upload.ask),
    ("POST", "/job/<job_id>/readings", logger_upload.send),
    ("GET", "/job/<job_id>/what-if", what_if_page.show),
    ("GET", "/job/<job_id>/messages", message_pages.show_job),
    ("POST", "/job/<job_id>/messages/pause", message_pages.pause),
    ("POST", "/job/<job_id>/messages/resume", message_pages.resume),
)

OFFICE_ROUTES: tuple[tuple[str, str, View], ...] = tuple(
    (
        method,
        pattern,
        view if "<job_id>" not in pattern or view in _OF_ANY_JOB else _understood(view),
    )
    for method, pattern, view in _ROUTES
)
