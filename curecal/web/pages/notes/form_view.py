"""A form as the template shows it: fields with what was typed, what is wrong, what to choose."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from curecal.records import Record, record
from curecal.trade.names import comparable_name
from curecal.trade.site_log import Origin
from curecal.web.forms.form_choices import (
    Choice,
    field_choices,
    signer_choices,
    zone_choices,
)
from curecal.web.forms.form_notices import form_notices, seen_mark
from curecal.web.forms.form_offers import evidences_of, needs_picture, title_of
from curecal.web.forms.form_types import EntryForm, FieldType, FormField
from curecal.web.forms.last_values import last_value
from curecal.web.forms.reading.field_values import FormProblem
from curecal.web.forms.reading.form_reading import WITHOUT_PICTURE, FilledForm
from curecal.web.forms.reading.form_trial import TriedForm
from curecal.web.forms.reading.typed_instants import as_typed_instant
from curecal.web.forms.reading.typed_numbers import unit_beside
from curecal.web.rendering import render
from curecal.words.values import clean

if TYPE_CHECKING:
    from flask import Response

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
    only: Choice | None
    is_required: bool
    is_folded: bool
    is_open_line: bool
    problem: FormProblem | None


def shown_form(
    page: PageRequest, tried: TriedForm, *, entry_id: str, status: int = 200, changed: str = ""
) -> Response:
    """Return the page of a form.

    Args:
        page: The request.
        tried: The form, with what was typed and what is wrong with it.
        entry_id: The id of the entry that it makes.
        status: The status of the answer.
        changed: The entry that the form puts right; empty for a new one.
    """
    filled = tried.filled
    form = filled.form
    own = [_shown_field(page, form, one, filled) for one in form.fields]
    signed = () if changed else signer_choices(page, form, filled.typed.get("by", ""))
    asks_zone = form.asks_zone and not changed
    zones = zone_choices(page, filled.typed.get("zone", "")) if asks_zone else ()
    # What has no field of its own stands at the top.
    nowhere = ({"by", "origin"} if not signed else set()) | (set() if zones else {"zone"})
    problems = [
        one for one in filled.problems if one.key in nowhere or not _has_place(one.key, form, tried)
    ]
    title = title_of(page, form)
    return render(
        page,
        "form.html",
        status=status,
        job_name=clean(page.job.name),
        form=form,
        title=page.text("forms.change-title", what=title) if changed else title,
        fields=own,
        zones=zones,
        filled=filled,
        problems=problems,
        entry_id=entry_id,
        signers=_with_default(page, signed),
        origins=[
            Choice(
                one.value, page.words.name("origin", one.value), filled.typed.get("origin") == one
            )
            for one in Origin
        ],
        takes_picture=not changed and form.kind not in WITHOUT_PICTURE,
        has_time=not changed and form.has_time,
        is_change=bool(changed),
        wants_picture=needs_picture(evidences_of(page, form)),
        below=tried.below,
        asks_sure=tried.asks_sure,
        now_typed=as_typed_instant(page.now, page.job.tz),
        notices=() if changed else form_notices(page, form, filled.typed),
        seen="" if changed else seen_mark(page, form, filled.typed),
        signs_self=any(_is_own(page, one.value) for one in signed),
        send_label=page.text(f"forms.{_SEND.get(form.name, 'send')}"),
        action=f"{page.home}/{f'change/{changed}' if changed else f'note/{form.name}'}",
    )


def _is_own(page: PageRequest, name: str) -> bool:
    return comparable_name(name) == comparable_name(page.link.person)


def _with_default(page: PageRequest, choices: tuple[Choice, ...]) -> tuple[Choice, ...]:
    """Return who may have done it; whoever types did it, unless they say another."""
    if any(one.is_chosen for one in choices):
        return choices
    return tuple(replace(one, is_chosen=_is_own(page, one.value)) for one in choices)


def _has_place(key: str, form: EntryForm, tried: TriedForm) -> bool:
    """Return whether a problem is shown beside its field: all others stand at the top."""
    places = {"zone", "by", "origin", "photo", "at", "sure", "clock", "name"}
    return key in places or form.field_of(key) is not None or key in {q.key for q in tried.below}


def _shown_field(
    page: PageRequest, form: EntryForm, own: FormField, filled: FilledForm
) -> ShownField:
    choices = field_choices(page, form, own, filled.typed.get(own.key, ""))
    is_only = len(choices) == 1 and own.type in {FieldType.LAYER, FieldType.CABLE}
    return ShownField(
        key=own.key,
        type=own.type.value,
        label=_label(page, form, own),
        typed=filled.typed.get(own.key, ""),
        unit="" if own.unit is None else unit_beside(own.unit, page.job.units),
        hint=last_value(page, form, own),
        choices=choices,
        only=choices[0] if is_only else None,
        is_required=not own.is_optional,
        is_folded=own.is_folded,
        is_open_line=filled.typed.get(f"{own.key}.open") == "yes",
        problem=filled.problem_of(own.key),
    )


def _label(page: PageRequest, form: EntryForm, own: FormField) -> str:
    """Return a field's label: the form's own words for it where it has some."""
    key = f"forms.{form.name}.{own.key}"
    known = f"page.{key}" in page.words.catalogue
    return page.text(key if known else f"forms.field.{own.key}")
