"""What was sent with a form becomes an entry, or problems that the form shows beside its fields."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field, replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from curecal.instants import local_day, start_of_day
from curecal.planning.site_log.authority import ENTERERS
from curecal.records import Record, record
from curecal.site_log_files.visit_names import visit_named
from curecal.trade.names import comparable_name
from curecal.trade.site_log import Origin
from curecal.web.entries import ENTRY_ID, PageEntry
from curecal.web.forms.form_choices import YES, field_choices, places_of, signer_choices
from curecal.web.forms.form_offers import choice_evidence, evidences_of, needs_picture, signers
from curecal.web.forms.form_types import FieldType, Form, FormField
from curecal.web.forms.photos import Photo, PhotoRefused, read_photo
from curecal.web.forms.typed_instants import (
    OFF_AT_MOST,
    InstantGap,
    TypedInstant,
    telephone_instant,
    typed_instant,
)
from curecal.web.forms.typed_numbers import typed_number

if TYPE_CHECKING:
    from collections.abc import Sequence

    from curecal.trade.job import Person
    from curecal.web.page_request import PageRequest

OPEN_LINE = "open"
_LONGEST_TEXT = 500
_AHEAD = frozenset({"start", "end"})
# A telephone that was away keeps an entry for some days; what is older was not typed there.
_KEPT_AT_MOST = timedelta(days=31)
PICTURE_KEYS = frozenset({"photo", "file"})
WITHOUT_PICTURE = frozenset(
    {"air", "surface", "floor", "kept", "note", "photo", "visit", "release", "energized"}
)
"""Kinds of entries whose form takes no picture beside the entry."""
OPTIONAL_AT = "at"


@record
class FormProblem(Record):
    """What is wrong with a field, in the reader's words; `readings` are to choose between."""

    key: str
    text: str
    readings: tuple[tuple[str, str], ...] = ()


@record(kw_only=True)
class FilledForm(Record):
    """A form with what was typed: its entry, where one could be made of it, and what is wrong.

    `typed_at` is True where somebody typed when it happened: the clock gave it else.
    """

    form: Form
    typed: Mapping[str, str]
    entry: PageEntry | None = None
    problems: tuple[FormProblem, ...] = ()
    typed_at: bool = False

    def problem_of(self, key: str) -> FormProblem | None:
        """Return what is wrong with a field."""
        return next((one for one in self.problems if one.key == key), None)

    def with_problems(self, problems: Sequence[FormProblem]) -> FilledForm:
        """Return the form with what else is wrong."""
        return replace(self, problems=(*self.problems, *problems))


@record
class _Reading(Record):
    """A form as it is read: what was sent, and what becomes of it, field by field."""

    page: PageRequest
    form: Form
    typed: Mapping[str, str]
    problems: list[FormProblem] = field(default_factory=list)
    values: dict[str, object] = field(default_factory=dict)
    pictures: dict[str, bytes] = field(default_factory=dict)

    def refuse(self, key: str, code: str, **params: object) -> None:
        """Keep what is wrong with a field."""
        self.problems.append(FormProblem(key, self.page.text(f"forms.problem.{code}", **params)))


def read_form(page: PageRequest, form: Form) -> FilledForm:
    """Return what was sent with a form; nothing is judged by the log yet.

    Args:
        page: The request.
        form: The form.
    """
    sent = page.request.form
    typed = {key: sent.get(key, "")[:_LONGEST_TEXT] for key in sent}
    reading = _Reading(page, form, typed)
    entry_id = typed.get("entry_id", "")
    if not ENTRY_ID.fullmatch(entry_id):
        reading.refuse("entry_id", "id")
    for own in form.fields:
        _read_field(reading, own)
    _read_zone(reading)
    by = _read_signer(reading)
    _read_picture(reading, "photo", is_wanted=form.kind not in WITHOUT_PICTURE)
    at = _read_at(reading)
    _check_choices(reading, by)
    values = visit_named(form.kind, {**form.fixed, **reading.values})
    if form.kind == "done" and (not typed.get("at") or typed.get("sure") == YES):
        # Nobody typed an hour that the clock gave, so by night too it is no slip of the pen.
        values["sure"] = True
    if form.name == "release" and comparable_name(typed.get("name", "")) != comparable_name(
        page.link.person
    ):
        reading.refuse("name", "name", name=page.link.person)
    entry = PageEntry(
        entry_id=entry_id,
        kind=form.kind,
        by=by,
        values=values,
        at=at,
        pictures=reading.pictures,
    )
    return FilledForm(
        form=form,
        typed=typed,
        entry=None if reading.problems else entry,
        problems=tuple(reading.problems),
        typed_at=bool(typed.get("at")),
    )


def read_value(
    page: PageRequest, form: Form, own: FormField, typed: Mapping[str, str]
) -> tuple[object, tuple[FormProblem, ...]]:
    """Return the value of one field, None where it was left empty, and what is wrong with it.

    Args:
        page: The request.
        form: The form.
        own: The field.
        typed: What was sent.
    """
    reading = _Reading(page, form, typed)
    _read_field(reading, own)
    return reading.values.get(own.key), tuple(reading.problems)


def _read_field(reading: _Reading, own: FormField) -> None:
    text = reading.typed.get(own.key, "").strip()
    if own.type is FieldType.PICTURE:
        _read_picture(reading, own.key, is_wanted=True, is_required=not own.is_optional)
        return
    if own.type is FieldType.METER and reading.typed.get(f"{own.key}.{OPEN_LINE}") == YES:
        if text:
            reading.refuse(own.key, "open-and-figure")
        reading.values[own.key] = OPEN_LINE
        return
    if not text:
        if not own.is_optional:
            reading.refuse(own.key, "missing")
        return
    match own.type:
        case FieldType.NUMBER | FieldType.METER:
            _read_number(reading, own, text)
        case FieldType.COUNT:
            reading.values[own.key] = int(text) if text.isascii() and text.isdecimal() else text
        case FieldType.INSTANT:
            _read_instant(reading, own, text)
        case FieldType.LAYER | FieldType.CABLE:
            _read_place(reading, own, text)
        case FieldType.CHOICE | FieldType.YES_NO | FieldType.PERSON:
            _read_choice(reading, own, text)
        case FieldType.HIDDEN:
            _read_visit(reading, own, text)
        case _:
            reading.values[own.key] = text


def _read_number(reading: _Reading, own: FormField, text: str) -> None:
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


def _read_choice(reading: _Reading, own: FormField, text: str) -> None:
    offered = {one.value for one in field_choices(reading.page, reading.form, own, text)}
    if text not in offered:
        reading.refuse(own.key, "choice")
    elif own.type is FieldType.YES_NO:
        reading.values[own.key] = text == YES
    else:
        reading.values[own.key] = text


def _read_place(reading: _Reading, own: FormField, text: str) -> None:
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


def _read_visit(reading: _Reading, own: FormField, text: str) -> None:
    known = {visit.id for visit in reading.page.here.plan.appointments}
    if text not in known:
        reading.refuse(own.key, "choice")
    else:
        reading.values[own.key] = text


def _read_zone(reading: _Reading) -> None:
    """Read the zone of an entry that no layer and no cable puts somewhere."""
    if not reading.form.asks_zone:
        return
    zones = reading.page.job.zones
    typed = reading.typed.get("zone", "")
    if len(zones) == 1:
        reading.values["zone"] = zones[0].id
    elif typed in {zone.id for zone in zones}:
        reading.values["zone"] = typed
    elif not reading.form.is_alarm or reading.form.name == "release":
        reading.refuse("zone", "missing")


def _read_signer(reading: _Reading) -> str:
    """Return who did it; how whoever types it knows comes with somebody else's work."""
    page = reading.page
    people = signers(page, reading.form)
    own = page.link.person
    choices = signer_choices(page, reading.form, "")
    wanted = reading.typed.get("by", "") or ("" if choices and not _is_among(people, own) else own)
    by = next((one.name for one in people if one.name == wanted), "")
    if not by:
        reading.refuse("by", "missing" if not wanted else "choice")
        return own
    if comparable_name(by) == comparable_name(own):
        return own
    origin = reading.typed.get("origin", "")
    if origin in set(Origin) and not page.roles.isdisjoint(ENTERERS):
        # "kept" has an instant of that name; it is known by the statement itself.
        if reading.form.kind != "kept":
            reading.values["from"] = origin
    else:
        reading.refuse("origin", "origin", name=by)
    return by


def _is_among(people: Sequence[Person], name: str) -> bool:
    return any(comparable_name(one.name) == comparable_name(name) for one in people)


def _check_choices(reading: _Reading, by: str) -> None:
    """Refuse what somebody else did without the picture that has to stand for their word."""
    if comparable_name(by) == comparable_name(reading.page.link.person):
        return
    wanted = [
        choice_evidence(reading.form, key, str(value))
        for key, value in reading.values.items()
        if key == "result"
    ] or list(evidences_of(reading.page, reading.form))
    kept = [one for one in wanted if one is not None]
    if needs_picture(kept) and "photo" not in reading.values:
        reading.refuse("photo", "photo", name=by)


def _read_picture(
    reading: _Reading, key: str, *, is_wanted: bool, is_required: bool = False
) -> None:
    """Read a picture: taken just now, or chosen among those of the telephone."""
    if not is_wanted:
        return
    files = reading.page.request.files
    sent = next(
        (one for name in (key, f"{key}.chosen") if (one := files.get(name)) and one.filename),
        None,
    )
    if sent is None:
        if is_required:
            reading.refuse(key, "no-picture")
        return
    try:
        photo: Photo = read_photo(sent.stream)
    except PhotoRefused as refused:
        reading.refuse(key, refused.code)
        return
    reading.values[key] = photo.name
    reading.pictures[photo.name] = photo.data


def _read_instant(reading: _Reading, own: FormField, text: str) -> None:
    at = _resolved(reading, own.key, text)
    if at is None:
        return
    if at > reading.page.now and own.key not in _AHEAD:
        reading.refuse(own.key, "ahead", now_at=reading.page.now)
    else:
        reading.values[own.key] = at.astimezone(reading.page.job.tz)


def _resolved(reading: _Reading, key: str, text: str) -> datetime | None:
    """Return an instant as typed in the time of the site; else keep why it is none."""
    tz = reading.page.job.tz
    found = typed_instant(text, tz, which=reading.typed.get(f"{key}.meant", ""))
    if found.gap is InstantGap.TWICE:
        said = reading.page.text("forms.problem.twice")
        reading.problems.append(FormProblem(key, said, _both(reading, found)))
    elif found.gap is not None:
        reading.refuse(key, found.gap.value)
    return found.at


def _both(reading: _Reading, found: TypedInstant) -> tuple[tuple[str, str], ...]:
    tz = reading.page.job.tz
    shown = [f"{at.astimezone(tz):%H:%M %Z}" for at in found.both]
    return tuple(zip(("first", "second"), shown, strict=True))


def _read_at(reading: _Reading) -> datetime | None:
    """Return when it happened; None for now.

    A telephone that was away sends what it kept: then its own clock says when, if it is right.
    """
    page, typed = reading.page, reading.typed
    text = typed.get("at", "").strip()
    made = telephone_instant(typed.get("made_at", ""))
    sent = telephone_instant(typed.get("phone_at", ""))
    off = None if sent is None else sent - page.now
    is_off = off is not None and abs(off) > OFF_AT_MOST
    at: datetime | None = None
    if text:
        at = _resolved(reading, "at", text)
    elif made is not None and sent is not None and abs(sent - made) > OFF_AT_MOST:
        # By the telephone's own clock it is so long ago, whatever that clock shows.
        at = (page.now - (sent - made)).replace(microsecond=0)
        if not timedelta(0) <= page.now - at <= _KEPT_AT_MOST:
            reading.refuse("at", "unreadable")
            return None
    if is_off and at is not None and sent is not None and typed.get("clock") != YES:
        reading.refuse("clock", "clock", phone=f"{sent.astimezone(page.job.tz):%H:%M}")
    if at is not None and at > page.now:
        if at - page.now < timedelta(minutes=1):
            # The field has no seconds.
            return None
        reading.refuse("at", "ahead", now_at=page.now)
    return at


def is_today(page: PageRequest, at: datetime) -> bool:
    """Return whether an instant is of the site's day that it is now."""
    tz = page.job.tz
    return at >= start_of_day(local_day(page.now, tz), tz)
