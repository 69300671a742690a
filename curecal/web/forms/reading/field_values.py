"""The fields of a form, one by one: what was sent becomes a value of the log, or a problem."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import field
from datetime import datetime
from types import MappingProxyType
from typing import TYPE_CHECKING

from curecal.instants import local_day, start_of_day
from curecal.records import Record, record
from curecal.web.forms.form_choices import YES, field_choices, places_of
from curecal.web.forms.form_types import EntryForm, FieldType, FormField
from curecal.web.forms.reading.photos import PhotoError, read_photo
from curecal.web.forms.reading.typed_instants import InstantGap, TypedInstant, typed_instant
from curecal.web.forms.reading.typed_numbers import typed_number
from curecal.words.values import clean

if TYPE_CHECKING:
    from curecal.web.page_request import PageRequest

OPEN_LINE = "open"
_LONGEST_COUNT = 18
_AHEAD = frozenset({"start", "end"})


@record
class FormProblem(Record):
    """What is wrong with a field, in the reader's words; `readings` are to choose between."""

    key: str
    text: str
    readings: tuple[tuple[str, str], ...] = ()


@record
class FormReading(Record):
    """A form as it is read: what was sent, and what becomes of it, field by field."""

    page: PageRequest
    form: EntryForm
    typed: Mapping[str, str]
    problems: list[FormProblem] = field(default_factory=list)
    values: dict[str, object] = field(default_factory=dict)
    pictures: dict[str, bytes] = field(default_factory=dict)

    def refuse(self, key: str, code: str, **params: object) -> None:
        """Keep what is wrong with a field."""
        self.problems.append(FormProblem(key, self.page.text(f"forms.problem.{code}", **params)))


def read_field(reading: FormReading, own: FormField) -> None:
    """Read one field: its value goes to the others, what is wrong with it to the problems.

    Args:
        reading: The form as far as it is read.
        own: The field.
    """
    text = reading.typed.get(own.key, "").strip()
    is_open = reading.typed.get(f"{own.key}.{OPEN_LINE}") == YES
    if own.type is FieldType.PICTURE:
        read_picture(reading, own.key, is_required=not own.is_optional)
    elif own.type is FieldType.METER and is_open:
        if text:
            reading.refuse(own.key, "open-and-figure")
        reading.values[own.key] = OPEN_LINE
    elif text:
        _READERS.get(own.type, _read_text)(reading, own, text)
    elif not own.is_optional:
        reading.refuse(own.key, "missing")


def _read_text(reading: FormReading, own: FormField, text: str) -> None:
    lines = own.type is FieldType.LONG_TEXT
    reading.values[own.key] = text if lines else clean(text)


def _read_count(reading: FormReading, own: FormField, text: str) -> None:
    # More digits than a file holds stay a text, and are refused as one.
    is_count = text.isascii() and text.isdecimal() and len(text) <= _LONGEST_COUNT
    reading.values[own.key] = int(text) if is_count else text


def _read_number(reading: FormReading, own: FormField, text: str) -> None:
    if own.unit is None:
        return
    meant = reading.typed.get(f"{own.key}.meant", "")
    number = typed_number(text, own.unit, reading.page.job.units, meant=meant)
    if number.readings:
        said = reading.page.text("forms.problem.which", text=text)
        readings = tuple((one, one) for one in number.readings)
        reading.problems.append(FormProblem(own.key, said, readings))
        return
    reading.values[own.key] = number.text


def _read_choice(reading: FormReading, own: FormField, text: str) -> None:
    offered = {one.value for one in field_choices(reading.page, reading.form, own, text)}
    if text not in offered:
        reading.refuse(own.key, "choice")
    elif own.type is FieldType.YES_NO:
        reading.values[own.key] = text == YES
    else:
        reading.values[own.key] = text


def _read_place(reading: FormReading, own: FormField, text: str) -> None:
    places = places_of(reading.page, reading.form, own)
    place = next((one for one in places if one.value == text), None)
    if place is None:
        reading.refuse(own.key, "choice")
        return
    reading.values["zone"] = place.zone.id
    if place.layer is not None:
        reading.values["layer"] = place.layer.id
    if place.cable is not None and place.cable.name:
        reading.values["cable"] = place.cable.name


def _read_visit(reading: FormReading, own: FormField, text: str) -> None:
    stands = {visit.id: visit.stands for visit in reading.page.here.plan.appointments}
    if not stands.get(text):
        reading.refuse(own.key, "changed" if text in stands else "choice")
    else:
        reading.values[own.key] = text


def read_picture(reading: FormReading, key: str, *, is_required: bool = False) -> None:
    """Read a picture: taken just now, or chosen among those of the telephone.

    Args:
        reading: The form as far as it is read.
        key: The key that names it in the log.
        is_required: Whether the form wants one.
    """
    files = reading.page.request.files
    sent = next(
        (one for name in (key, f"{key}.chosen") if (one := files.get(name)) and one.filename),
        None,
    )
    if sent is None:
        if is_required:
            reading.refuse(key, "no-picture")
        return
    # A form is read once more where the log moved meanwhile.
    sent.stream.seek(0)
    try:
        photo = read_photo(sent.stream)
    except PhotoError as refused:
        reading.refuse(key, refused.code)
        return
    reading.values[key] = photo.name
    reading.pictures[photo.name] = photo.data


def _read_instant(reading: FormReading, own: FormField, text: str) -> None:
    at = resolved_at(reading, own.key, text)
    if at is None:
        return
    if at > reading.page.now and own.key not in _AHEAD:
        reading.refuse(own.key, "ahead", now_at=reading.page.now)
    elif own.key in _AHEAD and at < _today(reading):
        reading.refuse(own.key, "past", now_at=reading.page.now)
    else:
        reading.values[own.key] = at.astimezone(reading.page.job.tz)


def _today(reading: FormReading) -> datetime:
    """Return when the site's day began: nobody agrees on one that is over."""
    tz = reading.page.job.tz
    return start_of_day(local_day(reading.page.now, tz), tz)


def resolved_at(reading: FormReading, key: str, text: str) -> datetime | None:
    """Return an instant as typed in the time of the site; else keep why it is none.

    Args:
        reading: The form as far as it is read.
        key: The field's key.
        text: What was typed.
    """
    tz = reading.page.job.tz
    found = typed_instant(text, tz, which=reading.typed.get(f"{key}.meant", ""))
    if found.gap is InstantGap.TWICE:
        said = reading.page.text("forms.problem.twice")
        reading.problems.append(FormProblem(key, said, _both(reading, found)))
    elif found.gap is not None:
        reading.refuse(key, found.gap.value)
    return found.at


def _both(reading: FormReading, found: TypedInstant) -> tuple[tuple[str, str], ...]:
    tz = reading.page.job.tz
    shown = [f"{at.astimezone(tz):%H:%M %Z}" for at in found.both]
    return tuple(zip(("first", "second"), shown, strict=True))


_READERS: Mapping[FieldType, Callable[[FormReading, FormField, str], None]] = MappingProxyType(
    {
        FieldType.NUMBER: _read_number,
        FieldType.METER: _read_number,
        FieldType.COUNT: _read_count,
        FieldType.INSTANT: _read_instant,
        FieldType.LAYER: _read_place,
        FieldType.CABLE: _read_place,
        FieldType.CHOICE: _read_choice,
        FieldType.YES_NO: _read_choice,
        FieldType.PERSON: _read_choice,
        FieldType.HIDDEN: _read_visit,
    }
)
