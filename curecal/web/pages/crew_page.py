"""The page of the crew: what comes next on each floor, what must be done first, what to log."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curecal.web.forms.form_offers import is_offered
from curecal.web.forms.form_table import FORMS
from curecal.web.rendering import render
from curecal.words.values import clean

if TYPE_CHECKING:
    from flask import Response

    from curecal.web.page_request import PageRequest


def show_crew(page: PageRequest) -> Response:
    """Answer with the crew's page."""
    offered = [form for form in FORMS.values() if is_offered(page, form)]
    return render(
        page,
        "crew.html",
        job_name=clean(page.job.name),
        forms=[(form, page.text(f"forms.{form.name}.title")) for form in offered],
    )
