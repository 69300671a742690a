"""Every form there is: one closed table. What is not in it, no page can write."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from curecal.book.link_purpose import LinkPurpose
from curecal.planning.site_log.authority import Evidence
from curecal.trade.entry_kinds import EntryKind
from curecal.trade.site_log import (
    Booking,
    Cause,
    Device,
    LeadAlarm,
    Leads,
    Method,
    Mode,
    Result,
    Schedule,
    Stage,
    TripTest,
    VisitFor,
)
from curecal.web.forms.form_types import EntryForm, FieldType, FormField, UnitOf

_BOTH = frozenset({LinkPurpose.CREW, LinkPurpose.ELECTRICIAN})
_INSPECTION = (
    Evidence.INSPECTION,
    Evidence.INSPECTION_NOT_REQUIRED,
)


def _number(key: str, unit: UnitOf, *, is_optional: bool = False) -> FormField:
    return FormField(key=key, type=FieldType.NUMBER, unit=unit, is_optional=is_optional)


def _meter(key: str, unit: UnitOf) -> FormField:
    return FormField(key=key, type=FieldType.METER, unit=unit, is_optional=True)


def _choice(key: str, choices: tuple[str, ...], *, is_optional: bool = False) -> FormField:
    return FormField(key=key, type=FieldType.CHOICE, choices=choices, is_optional=is_optional)


def _text(key: str, *, is_optional: bool = False, is_folded: bool = False) -> FormField:
    return FormField(key=key, type=FieldType.TEXT, is_optional=is_optional, is_folded=is_folded)


_LAYER = FormField(key="layer", type=FieldType.LAYER)
_CABLE = FormField(key="cable", type=FieldType.CABLE)
_VISIT = FormField(key="visit", type=FieldType.HIDDEN)
_LOW = FormField(
    key="low",
    type=FieldType.NUMBER,
    unit=UnitOf.TEMPERATURE,
    is_optional=True,
    is_folded=True,
)
_HUMIDITY = _number("humidity", UnitOf.HUMIDITY, is_optional=True)
_START = FormField(key="start", type=FieldType.INSTANT)
_END = FormField(key="end", type=FieldType.INSTANT, is_optional=True)
_PICTURE = FormField(key="file", type=FieldType.PICTURE)

_CLIMATE = (
    EntryForm(
        name="air",
        kind=EntryKind.AIR,
        fields=(_number("air", UnitOf.TEMPERATURE), _HUMIDITY, _LOW),
        purposes=_BOTH,
    ),
    EntryForm(
        name="surface", kind=EntryKind.SURFACE, fields=(_number("surface", UnitOf.TEMPERATURE),)
    ),
    EntryForm(
        name="floor",
        kind=EntryKind.FLOOR,
        fields=(
            _number("floor", UnitOf.TEMPERATURE),
            _choice("heating", ("off", "on"), is_optional=True),
        ),
        purposes=_BOTH,
    ),
    EntryForm(
        name="kept",
        kind=EntryKind.KEPT,
        fields=(
            _number("above", UnitOf.TEMPERATURE),
            FormField(key="from", type=FieldType.INSTANT),
            FormField(key="to", type=FieldType.INSTANT),
        ),
        evidence=(Evidence.KEPT,),
    ),
)
_WORK = (
    EntryForm(name="done", kind=EntryKind.DONE, fields=(_LAYER, _text("lot", is_optional=True))),
    EntryForm(
        name="points",
        kind=EntryKind.TEST_POINTS,
        fields=(_LAYER,),
        evidence=(Evidence.TEST_POINTS,),
    ),
    EntryForm(
        name="moisture",
        kind=EntryKind.MOISTURE,
        fields=(
            _LAYER,
            _choice("method", tuple(Method)),
            _number("value", UnitOf.MOISTURE),
            _number("depth", UnitOf.LENGTH, is_optional=True),
            FormField(key="points", type=FieldType.COUNT, is_optional=True),
            _number("heating_off_for", UnitOf.HOUR, is_optional=True),
            _number("air", UnitOf.TEMPERATURE, is_optional=True),
            _HUMIDITY,
        ),
        evidence=(Evidence.MOISTURE,),
    ),
    EntryForm(
        name="sound",
        kind=EntryKind.INSPECTION,
        fields=(
            _LAYER,
            _choice("result", (Result.SOUND, Result.REPLACE)),
        ),
        evidence=(Evidence.SOUND_LAYER,),
    ),
    EntryForm(
        name="moisture-not-required",
        kind=EntryKind.INSPECTION,
        fields=(_LAYER, FormField(key="note", type=FieldType.LONG_TEXT)),
        evidence=(Evidence.MOISTURE_NOT_REQUIRED,),
        fixed=MappingProxyType({"result": Result.NOT_REQUIRED.value}),
    ),
    EntryForm(
        name="photo",
        kind=EntryKind.PHOTO,
        fields=(_PICTURE, _text("text", is_optional=True)),
        purposes=_BOTH,
    ),
    EntryForm(
        name="note",
        kind=EntryKind.NOTE,
        fields=(FormField(key="text", type=FieldType.LONG_TEXT),),
        purposes=_BOTH,
    ),
)
_ELECTRICAL = (
    EntryForm(
        name="test",
        kind=EntryKind.RESISTANCE,
        fields=(
            _CABLE,
            _choice("stage", tuple(Stage)),
            _meter("conductor", UnitOf.OHM),
            _meter("to_earth", UnitOf.MEGAOHM),
            _number("insulation", UnitOf.MEGAOHM, is_optional=True),
            _number("insulation_at", UnitOf.VOLT, is_optional=True),
            _meter("sensor", UnitOf.KILOOHM),
            _number("floor", UnitOf.TEMPERATURE, is_optional=True),
            _text("meter", is_optional=True),
        ),
        purposes=_BOTH,
        evidence=(Evidence.CABLE_TEST,),
    ),
    EntryForm(
        name="not-tested",
        kind=EntryKind.NOT_TESTED,
        fields=(_CABLE, _choice("stage", (Stage.DELIVERY, Stage.LAID))),
        evidence=(Evidence.NOT_TESTED,),
    ),
    EntryForm(
        name="leads",
        kind=EntryKind.CONTINUITY,
        fields=(_CABLE, _choice("state", tuple(LeadAlarm))),
        purposes=_BOTH,
    ),
    EntryForm(
        name="inspection",
        kind=EntryKind.INSPECTION,
        fields=(
            _choice("result", (Result.PASSED, Result.FAILED, Result.NOT_REQUIRED)),
            _text("note", is_optional=True),
        ),
        purposes=_BOTH,
        evidence=_INSPECTION,
    ),
    EntryForm(
        name="protection",
        kind=EntryKind.PROTECTION,
        fields=(
            _choice("device", tuple(Device)),
            _number("trips_at", UnitOf.MILLIAMPERE, is_optional=True),
            _choice("trip_test", tuple(TripTest)),
            _number("trip_time", UnitOf.MILLISECOND, is_optional=True),
        ),
        purposes=_BOTH,
        evidence=(Evidence.PROTECTION,),
    ),
    EntryForm(
        name="thermostat",
        kind=EntryKind.THERMOSTAT,
        fields=(
            _choice("mode", tuple(Mode)),
            _number("limit", UnitOf.TEMPERATURE),
            _choice("schedule", tuple(Schedule), is_optional=True),
        ),
        purposes=_BOTH,
        evidence=(Evidence.THERMOSTAT,),
    ),
    EntryForm(
        name="connected",
        kind=EntryKind.CONNECTED,
        fields=(
            _choice("leads", tuple(Leads)),
            FormField(key="locked", type=FieldType.YES_NO),
            FormField(key="tagged", type=FieldType.YES_NO),
        ),
        purposes=_BOTH,
        evidence=(Evidence.CONNECTION,),
    ),
    EntryForm(name="switched-on", kind=EntryKind.ENERGIZED, purposes=_BOTH),
    EntryForm(
        name="step",
        kind=EntryKind.HEAT_STEP,
        fields=(_number("to", UnitOf.TEMPERATURE),),
        purposes=_BOTH,
    ),
)
_DECISIONS = (
    EntryForm(
        name="stop",
        kind=EntryKind.STOPPED,
        fields=(_choice("cause", tuple(Cause)), _text("reason", is_optional=True)),
        purposes=_BOTH,
        is_alarm=True,
    ),
    EntryForm(
        name="lift",
        kind=EntryKind.RESUMED,
        fields=(FormField(key="found", type=FieldType.LONG_TEXT),),
        purposes=_BOTH,
        evidence=(Evidence.RESUMED,),
    ),
    EntryForm(
        name="release",
        kind=EntryKind.RELEASE,
        evidence=(Evidence.RELEASE,),
    ),
)
_APPOINTMENTS = (
    EntryForm(
        name="visit",
        kind=EntryKind.VISIT,
        fields=(
            _choice("for", tuple(VisitFor)),
            FormField(key="who", type=FieldType.PERSON, is_optional=True),
            _START,
            _END,
        ),
        purposes=_BOTH,
        evidence=(Evidence.VISIT,),
        fixed=MappingProxyType({"state": Booking.BOOKED.value}),
    ),
    EntryForm(
        name="visit-confirm",
        kind=EntryKind.VISIT,
        fields=(_VISIT,),
        purposes=_BOTH,
        evidence=(Evidence.VISIT,),
        fixed=MappingProxyType({"state": Booking.CONFIRMED.value}),
        is_for_job=True,
    ),
    EntryForm(
        name="visit-move",
        kind=EntryKind.VISIT,
        fields=(_VISIT, _START, _END),
        purposes=_BOTH,
        evidence=(Evidence.VISIT,),
        fixed=MappingProxyType({"state": Booking.BOOKED.value}),
        is_for_job=True,
    ),
    EntryForm(
        name="visit-done",
        kind=EntryKind.VISIT,
        fields=(_VISIT, _text("note", is_optional=True)),
        purposes=_BOTH,
        evidence=(Evidence.VISIT,),
        fixed=MappingProxyType({"state": Booking.DONE.value}),
        is_for_job=True,
    ),
    EntryForm(
        name="visit-decline",
        kind=EntryKind.VISIT,
        fields=(_VISIT, _text("note", is_optional=True)),
        purposes=_BOTH,
        # Bad news counts from anybody; whoever comes or waits says it here.
        evidence=(Evidence.VISIT,),
        fixed=MappingProxyType({"state": Booking.DECLINED.value}),
        is_for_job=True,
    ),
)

FORMS: Mapping[str, EntryForm] = MappingProxyType(
    {form.name: form for form in (*_CLIMATE, *_WORK, *_ELECTRICAL, *_DECISIONS, *_APPOINTMENTS)}
)
"""Every form by its name in the address."""
