"""Putting right an entry of one's own, of today: its values are changed, or it is withdrawn.

The log keeps both: a correction is an entry that names the one it puts right.
"""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from curecal.job_files.entry_lines import EntryRow, at_path
from curecal.records import PlainTable
from curecal.trade.entry_kinds import EntryKind
from curecal.web.entries import ENTRY_ID, PageEntry, are_there
from curecal.web.forms.form_choices import NO, YES
from curecal.web.forms.form_table import FORMS
from curecal.web.forms.form_types import EntryForm, FieldType, FormField
from curecal.web.forms.reading.field_values import (
    OPEN_LINE,
    FormProblem,
    FormReading,
    read_field,
)
from curecal.web.forms.reading.form_reading import FilledForm, typed_texts
from curecal.web.forms.reading.form_trial import TriedForm
from curecal.web.pages.notes.form_page import not_offered, to_noted, write_unless_wrong
from curecal.web.pages.notes.form_view import shown_form
from curecal.web.pages.notes.noted_page import may_change, row_of

if TYPE_CHECKING:
    from flask import Response

    from curecal.web.page_request import PageRequest

# What an entry is about stays: another layer or another hour is another entry.
_CHANGED = frozenset(
    {
        FieldType.NUMBER,
        FieldType.METER,
        FieldType.COUNT,
        FieldType.CHOICE,
        FieldType.YES_NO,
        FieldType.TEXT,
        FieldType.LONG_TEXT,
    }
)


def show_change(page: PageRequest) -> Response:
    """Answer with an entry's form, its values filled in."""
    row = _own_row(page)
    if row is None:
        return not_offered(page)
    filled = FilledForm(form=_form_of(row), typed=_as_typed(_form_of(row), _values(page, row)))
    fresh = f"c-{secrets.token_hex(16)}"
    return shown_form(page, TriedForm(filled=filled), entry_id=fresh, changed=row.id)


def send_change(page: PageRequest) -> Response:
    """Write the correction of an entry; or show the form again with what is wrong."""
    sent = page.request.form
    entry_id = sent.get("entry_id", "")
    if ENTRY_ID.fullmatch(entry_id) and are_there(page, [entry_id]):
        return to_noted(page, entry_id)
    row = _own_row(page)
    if row is None:
        return not_offered(page)
    if not ENTRY_ID.fullmatch(entry_id):
        entry_id = f"c-{secrets.token_hex(16)}"
    tried = write_unless_wrong(page, _read(page, row, entry_id))
    if tried is None:
        return to_noted(page, entry_id)
    return shown_form(page, tried, entry_id=entry_id, status=422, changed=row.id)


def _own_row(page: PageRequest) -> EntryRow | None:
    row = row_of(page, page.values["entry"])
    return row if row is not None and may_change(page, row) else None


def _form_of(row: EntryRow) -> EntryForm:
    """Return the form of an entry's kind, with the fields that can be put right."""
    fitting = [
        form
        for form in FORMS.values()
        if form.kind == row.kind
        and all(row.raw.get(key) == value for key, value in form.fixed.items())
        and (form.field_of("layer") is not None) == ("layer" in row.raw)
    ]
    kept = [own for own in fitting[0].fields if own.type in _CHANGED] if fitting else []
    base = fitting[0] if fitting else EntryForm(name="note", kind=EntryKind(row.kind))
    return replace(base, fields=tuple(kept), is_for_job=True)


def _values(page: PageRequest, row: EntryRow) -> PlainTable:
    """Return an entry's values as typed, corrections laid over them in their order."""
    values = dict(row.raw)
    for correction in row.corrections:
        if correction.id not in row.taken_back:
            values |= at_path(page.here.read.raw, correction.path)
    return values


def _as_typed(form: EntryForm, values: Mapping[str, object]) -> dict[str, str]:
    """Return values as the fields of a form show them."""
    typed: dict[str, str] = {}
    for own in form.fields:
        value = values.get(own.key)
        if own.type is FieldType.METER and value == OPEN_LINE:
            typed[f"{own.key}.{OPEN_LINE}"] = YES
        elif own.type is FieldType.YES_NO and value is not None:
            typed[own.key] = YES if value else NO
        elif value is not None:
            typed[own.key] = str(value)
    return typed


def _read(page: PageRequest, row: EntryRow, entry_id: str) -> FilledForm:
    """Return what was sent as a correction: only what was changed, or that it is withdrawn."""
    form = _form_of(row)
    typed = typed_texts(page)
    values: dict[str, object] = {"of": row.id}
    problems: list[FormProblem] = []
    if typed.get("withdrawn") == YES:
        values["withdrawn"] = True
    else:
        reading = FormReading(page, form, typed)
        old = _values(page, row)
        for own in form.fields:
            read_field(reading, _as_kept(own, old))
        problems = reading.problems
        values |= {key: value for key, value in reading.values.items() if value != old.get(key)}
        if len(values) == 1 and not problems:
            problems = [FormProblem("", page.text("forms.change-nothing"))]
    entry = PageEntry(entry_id=entry_id, kind="correction", by=page.link.person, values=values)
    return FilledForm(
        form=form,
        typed=typed,
        entry=None if problems else entry,
        problems=tuple(problems),
    )


def _as_kept(own: FormField, old: Mapping[str, object]) -> FormField:
    """Return a field; what the entry says can be changed, and not left out."""
    return replace(own, is_optional=own.key not in old)
