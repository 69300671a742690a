"""The form as a page: shown, sent, judged while it is typed; and what became of an entry."""

from __future__ import annotations

import json
import secrets
from dataclasses import replace
from typing import TYPE_CHECKING

from flask import Response

from curecal.job_files.entry_lines import entry_text, rows
from curecal.records import Record, record
from curecal.trade.site_log import Origin
from curecal.web.entries import EntryRefused, are_there, write_entries
from curecal.web.forms.form_choices import (
    Choice,
    field_choices,
    signer_choices,
    zone_choices,
)
from curecal.web.forms.form_notices import form_notices
from curecal.web.forms.form_offers import evidences_of, needs_picture, offered_form
from curecal.web.forms.form_reading import (
    WITHOUT_PICTURE,
    FilledForm,
    FormProblem,
    read_form,
)
from curecal.web.forms.form_trial import TriedForm, try_form
from curecal.web.forms.form_types import FieldType, Form, FormField
from curecal.web.forms.judgement import meaning
from curecal.web.forms.last_values import last_value
from curecal.web.forms.typed_instants import as_typed_instant
from curecal.web.forms.typed_numbers import unit_beside
from curecal.web.job_now import JobNow
from curecal.web.rendering import render
from curecal.words.values import clean

if TYPE_CHECKING:
    from curecal.web.page_request import PageRequest


_SEND = {"stop": "send-stop", "release": "send-release", "visit-confirm": "send-confirm"}


@record(kw_only=True)
class ShownField(Record):
    """A field as the template shows it."""

    key: str
    type: str
    label: str
    typed: str
    unit: str
    hint: str
    choices: tuple[Choice, ...]
    is_required: bool
    is_folded: bool
    is_open_line: bool
    problem: FormProblem | None


def show_form(page: PageRequest) -> Response:
    """Answer with an empty form; what the address names is chosen already."""
    form = offered_form(page, page.values["form"])
    if form is None:
        return not_offered(page)
    typed = {key: page.request.args[key][:200] for key in page.request.args}
    filled = FilledForm(form=form, typed=typed)
    return _shown(page, TriedForm(filled=filled), entry_id=f"c-{secrets.token_hex(16)}")


def send_form(page: PageRequest) -> Response:
    """Write what a form says, once; or show it again with what is wrong beside each field."""
    form = offered_form(page, page.values["form"])
    entry_id = page.request.form.get("entry_id", "")
    if entry_id and are_there(page, [entry_id]):
        return _to_noted(page, entry_id)
    if form is None:
        return not_offered(page)
    tried = try_form(page, read_form(page, form))
    if tried.after is not None:
        try:
            write_entries(page, tried.entries)
        except EntryRefused:
            # Somebody else wrote in between: what is to be said now, the next look finds.
            tried = try_form(page, tried.filled)
        else:
            return _to_noted(page, tried.entries[-1].entry_id)
    known = tried.filled.entry or tried.filled.typed.get("entry_id", "")
    fresh = known if isinstance(known, str) else known.entry_id
    if tried.filled.problem_of("entry_id"):
        fresh = f"c-{secrets.token_hex(16)}"
    return _shown(page, tried, entry_id=fresh, status=422)


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


def _to_noted(page: PageRequest, entry_id: str) -> Response:
    return Response(status=303, headers={"Location": f"{page.home}/noted/{entry_id}"})


def _json(document: dict[str, object], status: int) -> Response:
    text = json.dumps(document, ensure_ascii=False)
    return Response(text, status=status, mimetype="application/json")


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _shown(page: PageRequest, tried: TriedForm, *, entry_id: str, status: int = 200) -> Response:
    filled = tried.filled
    form = filled.form
    own = [_shown_field(page, form, one, filled) for one in form.fields]
    problems = [one for one in filled.problems if not _has_place(one.key, form, tried)]
    signed = signer_choices(page, form, filled.typed.get("by", ""))
    return render(
        page,
        "form.html",
        status=status,
        job_name=clean(page.job.name),
        form=form,
        title=page.text(f"forms.{form.name}.title"),
        fields=own,
        zones=zone_choices(page, filled.typed.get("zone", "")) if form.asks_zone else (),
        filled=filled,
        problems=problems,
        entry_id=entry_id,
        signers=_with_default(signed, page.link.person),
        origins=[
            Choice(
                one.value, page.words.name("origin", one.value), filled.typed.get("origin") == one
            )
            for one in Origin
        ],
        takes_picture=form.kind not in WITHOUT_PICTURE,
        wants_picture=needs_picture(evidences_of(page, form)),
        below=tried.below,
        asks_sure=tried.asks_sure,
        now_typed=as_typed_instant(page.now, page.job.tz),
        notices=form_notices(page, form, filled.typed.get("zone", "")),
        signs_self=any(one.value == page.link.person for one in signed),
        send_label=page.text(f"forms.{_SEND.get(form.name, 'send')}"),
        action=f"{page.home}/note/{form.name}",
    )


def _with_default(choices: tuple[Choice, ...], name: str) -> tuple[Choice, ...]:
    """Return who may have done it; whoever types did it, unless they say another."""
    if any(one.is_chosen for one in choices):
        return choices
    return tuple(replace(one, is_chosen=one.value == name) for one in choices)


def _has_place(key: str, form: Form, tried: TriedForm) -> bool:
    """Return whether a problem is shown beside its field: all others stand at the top."""
    places = {"zone", "by", "origin", "photo", "at", "sure", "clock", "name"}
    return key in places or form.field_of(key) is not None or key in {q.key for q in tried.below}


def _shown_field(page: PageRequest, form: Form, own: FormField, filled: FilledForm) -> ShownField:
    choices = field_choices(page, form, own, filled.typed.get(own.key, ""))
    if len(choices) == 1 and own.type in {FieldType.LAYER, FieldType.CABLE}:
        choices = (replace(choices[0], is_chosen=True),)
    return ShownField(
        key=own.key,
        type=own.type.value,
        label=_label(page, form, own),
        typed=filled.typed.get(own.key, ""),
        unit="" if own.unit is None else unit_beside(own.unit, page.job.units),
        hint=last_value(page, form, own),
        choices=choices,
        is_required=not own.is_optional,
        is_folded=own.is_folded,
        is_open_line=filled.typed.get(f"{own.key}.open") == "yes",
        problem=filled.problem_of(own.key),
    )


def _label(page: PageRequest, form: Form, own: FormField) -> str:
    """Return a field's label: the form's own words for it where it has some."""
    key = f"forms.{form.name}.{own.key}"
    known = f"page.{key}" in page.words.catalogue
    return page.text(key if known else f"forms.field.{own.key}")
