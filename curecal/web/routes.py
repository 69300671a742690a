"""Every address, with the method, who may open it, and what answers: one table, tested whole.

A GET changes no fact, no right and no message: mail scanners and previews open every link.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from curecal.book.link_purpose import LinkPurpose
from curecal.records import Record, record
from curecal.web.page_request import OFFICE_HOME
from curecal.web.pages import home_page, owner_page
from curecal.web.pages.notes.form_routes import FORM_ROUTES
from curecal.web.pages.office import job_papers
from curecal.web.pages.office.office_routes import OFFICE_ROUTES

if TYPE_CHECKING:
    from flask import Response

    from curecal.web.page_request import PageRequest

OWNER, CREW, ELECTRICIAN, OFFICE, FEED = LinkPurpose
OF_JOB = frozenset({OWNER, CREW, ELECTRICIAN})
"""Links that open the pages of one job."""

View = Callable[["PageRequest"], "Response"]


@record
class Route(Record):
    """One address: its method, its pattern, which links open it, and what answers.

    A pattern begins with `/p/<secret>` for a link of one job, or with `/office` for the office,
    whose secret comes in a cookie.
    """

    method: str
    pattern: str
    opens: frozenset[LinkPurpose]
    view: View


ROUTES: tuple[Route, ...] = (
    Route("GET", "/p/<secret>/", OF_JOB, home_page.show),
    Route("GET", "/p/<secret>/wrong", frozenset({OWNER}), owner_page.ask_what_is_wrong),
    Route("POST", "/p/<secret>/wrong", frozenset({OWNER}), owner_page.something_wrong),
    Route("GET", "/p/<secret>/sheet", frozenset({OWNER}), job_papers.owner_sheet_page),
    *(
        Route(method, f"{OFFICE_HOME}{pattern}", frozenset({OFFICE}), view)
        for method, pattern, view in OFFICE_ROUTES
    ),
    *(Route(*row) for row in FORM_ROUTES),
)
