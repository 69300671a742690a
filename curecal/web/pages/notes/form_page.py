"""The form as a page: shown, sent, judged while it is typed; and what became of an entry."""

from __future__ import annotations

import json
import secrets
from dataclasses import replace
from typing import TYPE_CHECKING

from flask import Response

from curecal.errors import BookError, ErrorCode
from curecal.job_files.entry_lines import entry_text, rows
from curecal.web.entries import (
    PageEntryRefusedError,
    are_there,
    looked_again,
    with_own_id,
    write_entries,
)
from curecal.web.forms.form_offers import offered_form
from curecal.web.forms.reading.form_reading import FilledForm, read_form
from curecal.web.forms.reading.form_trial import TriedForm, try_form
from curecal.web.forms.reading.judgement import meaning
from curecal.web.job_now import JobNow
from curecal.web.pages.notes.form_view import shown_form
from curecal.web.rendering import render
from curecal.words.values import clean

if TYPE_CHECKING:
    from curecal.web.page_request import PageRequest


def show_form(page: PageRequest) -> Response:
    """Answer with an empty form; what the address names is chosen already."""
    form = offered_form(page, page.values["form"])
    if form is None:
        return not_offered(page)
    # An address chooses what the form asks for, and answers no question of it.
    chosen = {own.key for own in form.fields} | {"zone"}
    asked = page.request.args
    typed = {key: clean(asked[key][:200]) for key in asked if key in chosen}
    filled = FilledForm(form=form, typed=typed)
    return shown_form(page, TriedForm(filled=filled), entry_id=f"c-{secrets.token_hex(16)}")


def send_form(page: PageRequest) -> Response:
    """Write what a form says, once; or show it again with what is wrong beside each field."""
    return looked_again(page, _answer_sent)


def _answer_sent(page: PageRequest) -> Response:
    form = offered_form(page, page.values["form"])
    entry_id = page.request.form.get("entry_id", "")
    is_alarm = form is not None and form.is_alarm
    if entry_id and not is_alarm and are_there(page, [entry_id]):
        return to_noted(page, entry_id)
    if form is None:
        return not_offered(page)
    filled = read_form(page, form)
    if is_alarm and filled.entry is not None:
        stop = with_own_id(page, filled.entry)
        entry_id, filled = stop.entry_id, replace(filled, entry=stop)
        if are_there(page, [entry_id]):
            return to_noted(page, entry_id)
    tried = write_unless_wrong(page, filled)
    if tried is None:
        return to_noted(page, entry_id)
    known = tried.filled.entry or tried.filled.typed.get("entry_id", "")
    fresh = known if isinstance(known, str) else known.entry_id
    if tried.filled.problem_of("entry_id"):
        fresh = f"c-{secrets.token_hex(16)}"
    return shown_form(page, tried, entry_id=fresh, status=422)


def write_unless_wrong(page: PageRequest, filled: FilledForm) -> TriedForm | None:
    """Write what a form says.

    Args:
        page: The request.
        filled: The form as it was read.

    Returns:
        None once it is in the log; else the form with what is wrong.

    Raises:
        LogMovedError: it was sent for what stood above it, and that may be something else by now.
        BookError: the book cannot be read or written.
    """
    try:
        tried = try_form(page, filled)
        if tried.after is None:
            return tried
        write_entries(page, tried.entries, as_seen=bool(filled.typed.get("seen")))
    except PageEntryRefusedError:
        # Somebody else wrote in between: what is to be said now, the next look finds.
        return try_form(page, filled)
    except BookError as error:
        # Sent twice at once: the first one is in the log.
        if error.code != ErrorCode.BOOK_ENTRY_CONTRADICTS:
            raise
    return None


def judge_form(page: PageRequest) -> Response:
    """Answer a script with what a form would mean; nothing is written."""
    form = offered_form(page, page.values["form"])
    if form is None:
        return _json({"problems": [{"key": "", "text": page.text("forms.not-offered")}]}, 404)
    tried = try_form(page, read_form(page, form))
    problems = [
        {"key": one.key, "text": one.text, "readings": [value for value, _ in one.readings]}
        for one in tried.filled.problems
    ]
    said = () if tried.after is None or tried.entry is None else _meaning(page, tried)
    understood = "" if tried.after is None else _text_of(page, tried)
    return _json({"problems": problems, "understood": understood, "means": list(said)}, 200)


def not_offered(page: PageRequest) -> Response:
    """Answer that this form or entry is not there for whoever asks."""
    return render(page, "not_offered.html", status=404, job_name=clean(page.job.name))


def _meaning(page: PageRequest, tried: TriedForm) -> tuple[str, ...]:
    if tried.after is None or tried.entry is None:
        return ()
    return meaning(page, page.here, tried.after, tried.entry)


def _text_of(page: PageRequest, tried: TriedForm) -> str:
    """Return how a form was understood, as the log will show it."""
    after: JobNow | None = tried.after
    if after is None:
        return ""
    own = tried.entries[-1].entry_id
    row = next((one for one in rows(after.read) if one.id == own), None)
    return "" if row is None else _capital(entry_text(row, after.job, page.words))


def to_noted(page: PageRequest, entry_id: str) -> Response:
    """Answer a form that was written: what became of it has an address of its own.

    Args:
        page: The request.
        entry_id: The entry.
    """
    return Response(status=303, headers={"Location": f"{page.home}/noted/{entry_id}"})


def _json(document: dict[str, object], status: int) -> Response:
    text = json.dumps(document, ensure_ascii=False)
    return Response(text, status=status, mimetype="application/json")


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
