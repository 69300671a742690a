"""What a field offers to choose from: layers, cables, zones, people, and the log's own words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curecal.records import Record, record
from curecal.site_log_files.entry_fields import FIELDS
from curecal.toml_files.table_reader import Read
from curecal.trade.entry_kinds import EntryKind
from curecal.trade.job import Role
from curecal.trade.names import comparable_name
from curecal.web.forms.form_offers import choices_offered, signers
from curecal.web.forms.form_types import EntryForm, FieldType, FormField
from curecal.words.log_entries import parts_of
from curecal.words.values import clean

if TYPE_CHECKING:
    from collections.abc import Iterator

    from curecal.trade.job import Cable, Layer, Zone
    from curecal.web.page_request import PageRequest

YES, NO = "yes", "no"
# An owner is there already, and the office comes to no floor.
_STAYS = frozenset({Role.OWNER, Role.OFFICE})
_NOTHING_READ = Read({}, {}, "")


@record
class Choice(Record):
    """One thing to choose: what the form sends, what people read, and whether it is chosen."""

    value: str
    label: str
    is_chosen: bool = False


@record
class ChoicePlace(Record):
    """A zone with the layer or the cable in it that a choice means."""

    zone: Zone
    layer: Layer | None = None
    cable: Cable | None = None

    @property
    def value(self) -> str:
        """What a form sends."""
        name = self.layer.id if self.layer else self.cable.name if self.cable else ""
        return f"{self.zone.id}/{name}"


def places_of(page: PageRequest, form: EntryForm, field: FormField) -> tuple[ChoicePlace, ...]:
    """Return what a field of a layer or a cable can mean, what comes next first.

    Args:
        page: The request.
        form: The form.
        field: The field.
    """
    zones = page.job.zones
    if field.type is FieldType.CABLE:
        return tuple(
            ChoicePlace(zone, cable=cable)
            for zone in zones
            for cable in (zone.heating.cables or (None,))
        )
    return tuple(
        ChoicePlace(zone, layer=layer)
        for zone in zones
        for layer in zone.layers
        if form.kind is not EntryKind.DONE or _is_next(page, zone, layer)
    )


def field_choices(
    page: PageRequest, form: EntryForm, field: FormField, typed: str
) -> tuple[Choice, ...]:
    """Return what a field offers; empty for a field that is typed.

    Args:
        page: The request.
        form: The form.
        field: The field.
        typed: What was chosen already.
    """
    return tuple(
        Choice(value, label, typed == value) for value, label in _offered(page, form, field)
    )


def zone_choices(page: PageRequest, typed: str) -> tuple[Choice, ...]:
    """Return the zones of a job; empty where there is only one."""
    zones = page.job.zones
    if len(zones) == 1:
        return ()
    return tuple(Choice(zone.id, clean(zone.name), typed == zone.id) for zone in zones)


def signer_choices(page: PageRequest, form: EntryForm, typed: str) -> tuple[Choice, ...]:
    """Return who may have done it, where there is anybody to choose from.

    Args:
        page: The request.
        form: The form.
        typed: Who was chosen already.
    """
    people = signers(page, form)
    own = comparable_name(page.link.person)
    if [comparable_name(one.name) for one in people] == [own]:
        return ()
    return tuple(
        Choice(
            one.name,
            page.text("forms.person", name=clean(one.name), role=page.words.person(one.role.value)),
            typed == one.name,
        )
        for one in people
    )


def label_of_choice(page: PageRequest, kind: str, key: str, value: object) -> str:
    """Return what a choice says, as every output prints it: "After laying".

    Args:
        page: The request.
        kind: The kind of the entry.
        key: The key.
        value: The choice.
    """
    make = FIELDS[kind, key]
    said = parts_of(make(value, _NOTHING_READ), page.job, page.words)
    text = ", ".join(said)
    return text[:1].upper() + text[1:]


def _offered(page: PageRequest, form: EntryForm, field: FormField) -> Iterator[tuple[str, str]]:
    if field.type is FieldType.CHOICE:
        for value in choices_offered(page, form, field.key, field.choices):
            yield value, label_of_choice(page, form.kind, field.key, value)
    elif field.type is FieldType.YES_NO:
        for value, is_so in ((YES, True), (NO, False)):
            yield value, label_of_choice(page, form.kind, field.key, is_so)
    elif field.type is FieldType.PERSON:
        for person in page.job.people:
            if person.is_on_the_job(page.now) and not person.every_role <= _STAYS:
                role = page.words.person(person.role.value)
                name = clean(person.name)
                yield person.name, page.text("forms.person", name=name, role=role)
    elif field.type in {FieldType.LAYER, FieldType.CABLE}:
        for place in places_of(page, form, field):
            yield place.value, _label(page, place)


def _label(page: PageRequest, place: ChoicePlace) -> str:
    if place.layer is not None:
        own = clean(place.layer.title)
    elif place.cable is not None and place.cable.name:
        own = clean(place.cable.name)
    else:
        return clean(place.zone.name)
    if len(page.job.zones) == 1:
        return own
    return page.text("forms.in-zone", what=own, zone=clean(place.zone.name))


def _is_next(page: PageRequest, zone: Zone, layer: Layer) -> bool:
    """Return whether a layer is still to be finished by all that is logged."""
    if layer.existing:
        return False
    planned = {
        item.layer.id
        for own in page.here.plan.zones
        if own.zone.id == zone.id
        for item in own.layers
        if item.planned
    }
    return layer.id in planned
