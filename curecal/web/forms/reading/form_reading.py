"""What was sent with a form becomes an entry, or problems that the form shows beside its fields."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from curecal.instants import local_day, start_of_day
from curecal.planning.site_log.authority import ENTERERS
from curecal.records import Record, record
from curecal.site_log_files.visit_names import visit_named
from curecal.trade.entry_kinds import EntryKind
from curecal.trade.names import comparable_name
from curecal.trade.site_log import Origin
from curecal.web.entries import ENTRY_ID, PageEntry
from curecal.web.forms.form_choices import YES, signer_choices
from curecal.web.forms.form_notices import seen_mark
from curecal.web.forms.form_offers import choice_evidence, evidences_of, needs_picture, signers
from curecal.web.forms.form_types import EntryForm
from curecal.web.forms.reading.field_values import (
    FormProblem,
    FormReading,
    read_field,
    read_picture,
    resolved_at,
)
from curecal.web.forms.reading.typed_instants import OFF_AT_MOST, telephone_instant
from curecal.words.values import clean

if TYPE_CHECKING:
    from collections.abc import Sequence

    from curecal.trade.job import Person
    from curecal.web.page_request import PageRequest

LONGEST_TEXT = 500
"""What is typed into a field, at most; fields say so as well."""
_READINGS = frozenset({"conductor", "to_earth", "insulation", "sensor"})
_BESIDE_AN_ALARM = frozenset({"photo", "at", "clock", "by", "origin"})
# A telephone that was away keeps an entry for some days; what is older was not typed there.
_KEPT_AT_MOST = timedelta(days=31)
# Browsers keep nothing for longer unused; a telephone's clock put right meanwhile looks the same.
_SURELY_KEPT = timedelta(days=7)
WITHOUT_PICTURE = frozenset(
    {
        EntryKind.AIR,
        EntryKind.SURFACE,
        EntryKind.FLOOR,
        EntryKind.KEPT,
        EntryKind.NOTE,
        EntryKind.PHOTO,
        EntryKind.VISIT,
        EntryKind.RELEASE,
        EntryKind.ENERGIZED,
    }
)
"""Kinds of entries whose form takes no picture beside the entry."""


@record(kw_only=True)
class FilledForm(Record):
    """A form with what was typed: its entry, where one could be made of it, and what is wrong.

    `typed_at` is True where somebody typed when it happened: the clock gave it else.
    """

    form: EntryForm
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


def read_form(page: PageRequest, form: EntryForm) -> FilledForm:
    """Return what was sent with a form; nothing is judged by the log yet.

    Args:
        page: The request.
        form: The form.
    """
    typed = typed_texts(page)
    reading = FormReading(page, form, typed)
    entry_id = typed.get("entry_id", "")
    if not ENTRY_ID.fullmatch(entry_id):
        reading.refuse("entry_id", "id")
    for own in form.fields:
        read_field(reading, own)
    _read_zone(reading)
    by = _read_signer(reading)
    if form.kind not in WITHOUT_PICTURE:
        read_picture(reading, "photo")
    at = _read_at(reading)
    _check_choices(reading, by)
    if form.kind is EntryKind.RESISTANCE and not _READINGS & reading.values.keys():
        reading.refuse("conductor", "no-reading")
    if form.is_alarm:
        at = _taken_all_the_same(reading, at)
    values = visit_named(form.kind, {**form.fixed, **reading.values})
    if form.kind is EntryKind.DONE and (not typed.get("at") or typed.get("sure") == YES):
        # Nobody typed an hour that the clock gave, so by night too it is no slip of the pen.
        values["sure"] = True
    if typed.get("seen") and typed["seen"] != seen_mark(page, form, typed):
        reading.refuse("seen", "changed")
    if form.name == "release" and not _is_alike(typed.get("name", ""), page.link.person):
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


def typed_texts(page: PageRequest) -> dict[str, str]:
    """Return the texts that came with a form: lines stay, signs that nobody sees go.

    Args:
        page: The request.
    """
    sent = page.request.form
    return {
        clean(key): "\n".join(clean(line) for line in sent[key][:LONGEST_TEXT].splitlines())
        for key in sent
    }


def _read_zone(reading: FormReading) -> None:
    """Read the zone of an entry that no layer and no cable puts somewhere."""
    if not reading.form.asks_zone:
        return
    zones = reading.page.job.zones
    typed = reading.typed.get("zone", "")
    if len(zones) == 1:
        reading.values["zone"] = zones[0].id
    elif typed in {zone.id for zone in zones}:
        reading.values["zone"] = typed
    elif not reading.form.is_alarm:
        reading.refuse("zone", "missing")


def _read_signer(reading: FormReading) -> str:
    """Return who did it; how whoever types it knows comes with somebody else's work."""
    page = reading.page
    people = signers(page, reading.form)
    own = page.link.person
    choices = signer_choices(page, reading.form, "")
    wanted = reading.typed.get("by", "") or ("" if choices and not _is_among(people, own) else own)
    by = next((one.name for one in people if _is_alike(one.name, wanted)), "")
    if not by:
        reading.refuse("by", "missing" if not wanted else "choice")
        return own
    if _is_alike(by, own):
        return by
    origin = reading.typed.get("origin", "")
    if origin in set(Origin) and not page.roles.isdisjoint(ENTERERS):
        # "kept" has an instant of that name; it is known by the statement itself.
        if reading.form.kind is not EntryKind.KEPT:
            reading.values["from"] = origin
    else:
        reading.refuse("origin", "origin", name=by)
    return by


def _is_among(people: Sequence[Person], name: str) -> bool:
    return any(_is_alike(one.name, name) for one in people)


def _is_alike(name: str, other: str) -> bool:
    return comparable_name(name) == comparable_name(other)


def _check_choices(reading: FormReading, by: str) -> None:
    """Refuse what somebody else did without the picture that has to stand for their word."""
    if _is_alike(by, reading.page.link.person):
        return
    wanted = [
        choice_evidence(reading.form, key, str(value))
        for key, value in reading.values.items()
        if key == "result"
    ] or list(evidences_of(reading.page, reading.form))
    kept = [one for one in wanted if one is not None]
    if needs_picture(kept) and "photo" not in reading.values:
        reading.refuse("photo", "photo", name=by)


def _read_at(reading: FormReading) -> datetime | None:
    """Return when it happened; None for now.

    A telephone that was away sends what it kept: then its own clock says when, if it is right.
    """
    page, typed = reading.page, reading.typed
    if not reading.form.has_time:
        # A release and an appointment are of the moment in which they are given.
        return None
    text = typed.get("at", "").strip()
    made = telephone_instant(typed.get("made_at", ""))
    sent = telephone_instant(typed.get("phone_at", ""))
    off = None if sent is None else sent - page.now
    is_off = off is not None and abs(off) > OFF_AT_MOST
    at: datetime | None = None
    if text:
        at = resolved_at(reading, "at", text)
    elif made is not None and sent is not None and abs(sent - made) > OFF_AT_MOST:
        # By the telephone's own clock it is so long ago, whatever that clock shows.
        at = (page.now - (sent - made)).replace(microsecond=0)
        if not timedelta(0) <= page.now - at <= _KEPT_AT_MOST:
            reading.refuse("at", "unreadable")
            return None
    if at is not None and not text and page.now - at > _SURELY_KEPT and typed.get("clock") != YES:
        reading.refuse("clock", "kept", made_at=at)
    if is_off and at is not None and sent is not None and typed.get("clock") != YES:
        reading.refuse("clock", "clock", phone=f"{sent.astimezone(page.job.tz):%H:%M}")
    if at is not None and at > page.now:
        if at - page.now < timedelta(minutes=1):
            # The field has no seconds.
            return None
        reading.refuse("at", "ahead", now_at=page.now)
    return at


def _taken_all_the_same(reading: FormReading, at: datetime | None) -> datetime | None:
    """Return when a stop holds from, without what was wrong beside it: no detail holds it up."""
    keys = {one.key for one in reading.problems}
    if "photo" in keys:
        reading.values["note"] = reading.page.text("forms.without-picture")
    reading.problems[:] = [one for one in reading.problems if one.key not in _BESIDE_AN_ALARM]
    return None if keys & {"at", "clock"} else at


def is_today(page: PageRequest, at: datetime) -> bool:
    """Return whether an instant is of the site's day that it is now."""
    tz = page.job.tz
    return at >= start_of_day(local_day(page.now, tz), tz)
