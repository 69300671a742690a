"""What became of an entry: what it says and means, what the floor may do now, what is next."""

from __future__ import annotations

from dataclasses import replace
from pathlib import PurePosixPath
from typing import TYPE_CHECKING

from flask import Response

from curecal.book.jobs.pictures import picture_of
from curecal.job_files.entry_lines import EntryRow, entry_text, rows
from curecal.planning.plan import State
from curecal.trade.names import comparable_name
from curecal.trade.site_log import Correction, Entry, Stopped
from curecal.web.forms.form_offers import is_offered, title_of
from curecal.web.forms.form_table import FORMS
from curecal.web.forms.reading.form_reading import is_today
from curecal.web.forms.reading.judgement import answer_of, meaning
from curecal.web.forms.reading.photos import FOLDER
from curecal.web.job_now import plan_now
from curecal.web.pages.notes.form_page import not_offered
from curecal.web.rendering import render
from curecal.web.site_work import first_steps
from curecal.words.values import clean

if TYPE_CHECKING:
    from collections.abc import Iterator

    from curecal.web.page_request import PageRequest


def show_noted(page: PageRequest) -> Response:
    """Answer with what an entry says, and what came of it."""
    here, wanted = page.here, page.values["entry"]
    row = row_of(page, wanted)
    if row is None:
        return not_offered(page)
    entry = next((one for one in here.facts.entries if one.id == row.id), row.entry)
    without = tuple(one for one in here.read.log if one.id != wanted)
    before = plan_now(here.job, replace(here.read, log=without), here.as_of)
    counts = entry is not None and row.withdrawn_by is None
    was, now = answer_of(page, before), answer_of(page, here)
    again = next(_forms_again(page, row.kind), None)
    return render(
        page,
        "noted.html",
        job_name=clean(page.job.name),
        what=shown_text(page, row, entry),
        is_withdrawn=row.withdrawn_by is not None,
        is_stop=isinstance(row.entry, Stopped),
        signed=signature_of(page, row.entry),
        picture=picture_address(page, row.entry),
        means=meaning(page, before, here, entry) if counts and entry is not None else (),
        answer=now,
        earlier="" if was == now else was,
        upcoming=[
            step
            for zone in here.plan.zones
            if zone.state is not State.STOPPED
            for step in first_steps(page, zone)
        ],
        again=again,
        may_change=may_change(page, row),
        entry_id=row.id,
    )


def show_picture(page: PageRequest) -> Response:
    """Answer with a picture of the link's own job, as what it is."""
    name = f"{FOLDER}/{page.values['file']}"
    with page.serving.book.reading() as connection:
        data = picture_of(connection, page.job.id, name)
    if data is None:
        return not_offered(page)
    response = Response(data, mimetype="image/jpeg")
    response.headers["Content-Disposition"] = "inline"
    response.headers["Cache-Control"] = "private, no-store"
    return response


def show_not_you(page: PageRequest) -> Response:
    """Answer whoever holds somebody else's link."""
    return render(page, "not_you.html", job_name=clean(page.job.name))


def row_of(page: PageRequest, entry_id: str) -> EntryRow | None:
    """Return an entry's row of the log; of a correction, the row of what it corrects.

    Args:
        page: The request.
        entry_id: The entry's id.
    """
    listed = rows(page.here.read)
    own = next((row for row in listed if row.id == entry_id), None)
    if own is not None:
        return own
    return next((row for row in listed if any(one.id == entry_id for one in row.corrections)), None)


def shown_text(page: PageRequest, row: EntryRow, entry: Entry | None) -> str:
    """Return what an entry says, with what was corrected in it.

    Args:
        page: The request, for its language.
        row: The entry's row.
        entry: The entry as it counts; None where it does not.
    """
    text = entry_text(row if entry is None else replace(row, entry=entry), page.job, page.words)
    return text[:1].upper() + text[1:]


def signature_of(page: PageRequest, entry: Entry | None) -> str:
    """Return when, by whom, and who typed it."""
    if entry is None:
        return ""
    typist = entry.entered_by
    return page.text(
        "forms.signed-by",
        happened_at=entry.at,
        by=clean(entry.by or "") or None,
        entered_by=clean(typist) if typist and typist != entry.by else None,
    )


def picture_address(page: PageRequest, entry: Entry | None) -> str:
    """Return where a picture that came with an entry is; empty for none of a page."""
    named = getattr(entry, "photo", None) or getattr(entry, "file", None) or ""
    path = PurePosixPath(str(named))
    ours = str(path.parent) == FOLDER and path.suffix == ".jpg"
    return f"{page.home}/picture/{path.name}" if ours else ""


def may_change(page: PageRequest, row: EntryRow) -> bool:
    """Return whether an entry is the link's person's own, of today, and still counts.

    Args:
        page: The request.
        row: The entry's row.
    """
    entry = row.entry
    if entry is None or row.withdrawn_by is not None or isinstance(entry, Correction):
        return False
    typist = comparable_name(entry.entered_by or entry.by or "")
    return typist == comparable_name(page.link.person) and is_today(page, entry.recorded)


def _forms_again(page: PageRequest, kind: str) -> Iterator[tuple[str, str]]:
    """Yield the form that such an entry comes from: readings come one after another."""
    for form in FORMS.values():
        if form.kind == kind and not form.is_alarm and not form.fixed and is_offered(page, form):
            yield form.name, title_of(page, form)
