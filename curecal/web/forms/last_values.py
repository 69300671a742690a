"""The last value of a field, and what a label or a limit says of it: beside the field."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curecal.material_classes.rules import load_rules
from curecal.planning.first_heat.first_heat import floor_limit
from curecal.planning.hold_points.cable_limits import label_resistance
from curecal.trade.entry_kinds import EntryKind
from curecal.trade.site_log import OPEN_OHM, Entry, Place, Reading, Resistance
from curecal.web.forms.form_types import EntryForm, FormField

if TYPE_CHECKING:
    from curecal.web.page_request import PageRequest

_FIELDS = {
    "conductor": "conductor_ohm",
    "insulation": "insulation_ohm",
    "sensor": "sensor_ohm",
}


def last_value(page: PageRequest, form: EntryForm, field: FormField) -> str:
    """Return what stands beside a field: the last value, or what the label wants; or nothing.

    Args:
        page: The request.
        form: The form.
        field: The field.
    """
    if form.kind.value in set(Place) and field.key == form.kind.value:
        return _last_temperature(page, Place(form.kind.value))
    if form.kind is EntryKind.RESISTANCE and field.key in _FIELDS:
        return _last_reading(page, field.key)
    if form.kind is EntryKind.THERMOSTAT and field.key == "limit":
        limits = {floor_limit(zone, load_rules())[0] for zone in page.job.zones}
        if len(limits) == 1:
            return page.text("forms.hint.limit", limit_c=limits.pop())
    return ""


def _last_temperature(page: PageRequest, place: Place) -> str:
    read = [
        entry
        for entry in page.here.facts.of(Reading)
        if entry.place is place and entry.temperature_c is not None
    ]
    if not read:
        return ""
    params = {"value_c": read[-1].temperature_c, "tested_at": read[-1].at}
    return page.text("forms.hint.last", **params)


def _last_reading(page: PageRequest, key: str) -> str:
    """Return the last figure of the only cable, else its label's."""
    cables = [cable for zone in page.job.zones for cable in zone.heating.cables]
    if len(cables) != 1:
        return ""
    read = [entry for entry in page.here.facts.of(Resistance) if _figure(entry, key) is not None]
    params: dict[str, object] = {}
    if read:
        params = {"last_ohm": _figure(read[-1], key), "tested_at": read[-1].at}
    rated = label_resistance(cables[0])
    if key == "conductor" and rated is not None:
        return page.text("forms.hint.label", label_ohm=rated, **{"last_ohm": None, **params})
    if key == "insulation":
        wanted = {"wanted_ohm": cables[0].insulation_ohm, "wanted_v": cables[0].insulation_at_v}
        return page.text("forms.hint.insulation", **wanted)
    return page.text("forms.hint.last-ohm", **params) if params else ""


def _figure(entry: Entry, key: str) -> float | None:
    """Return a figure of a test; an open line is none."""
    figure = getattr(entry, _FIELDS[key], None)
    return None if figure is None or (figure >= OPEN_OHM and key != "insulation") else figure
