"""What each key of a log entry becomes in the entry: field names of `curecal.trade.site_log`."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from enum import StrEnum
from types import MappingProxyType
from typing import Any

from curecal.errors import ValueRefused
from curecal.records import PlainTable, PlainView
from curecal.toml_files.log_schema import KINDS
from curecal.toml_files.meter_values import fits_method
from curecal.toml_files.shown import shorten
from curecal.toml_files.spans import UNHEATED_C, is_unheated, not_in_span
from curecal.toml_files.table_reader import Read
from curecal.trade.site_log import (
    OPEN_OHM,
    Booking,
    Cause,
    Device,
    LeadAlarm,
    Leads,
    Method,
    Mode,
    Place,
    Result,
    Schedule,
    Stage,
    TripTest,
    VisitFor,
)
from curecal.units import Moisture, ResistanceReading

Fields = PlainTable

_RENAMED: Mapping[tuple[str, str], str] = MappingProxyType(
    {
        ("kept", "above"): "above_c",
        ("kept", "from"): "from_at",
        ("kept", "to"): "to_at",
        ("readings", "from"): "from_at",
        ("readings", "until"): "until_at",
        ("resistance", "insulation_at"): "insulation_at_v",
        ("resistance", "floor"): "floor_c",
        ("moisture", "depth"): "depth_m",
        ("moisture", "heating_off_for"): "heating_off_s",
        ("moisture", "air"): "air_c",
        ("protection", "trips_at"): "trips_at_a",
        ("protection", "trip_time"): "trip_s",
        ("thermostat", "limit"): "limit_c",
        ("heat_step", "to"): "to_c",
        ("visit", "start"): "start_at",
        ("visit", "end"): "end_at",
    }
)


def _as(name: str) -> Callable[[Any, Read], Fields]:
    return lambda value, _read: {name: value}


def _one_of(name: str, choices: type[StrEnum]) -> Callable[[Any, Read], Fields]:
    return lambda value, _read: {name: choices(value)}


def _nothing(_value: object, _read: Read) -> Fields:
    return {}


def _exact(name: str) -> Callable[[Any, Read], Fields]:
    """Return a reading with a figure; an open line is more than any label says."""

    def fields(value: ResistanceReading, read: Read) -> Fields:
        if value.at_least:
            raise ValueRefused("reading-not-exact", text=shorten(read.raw.get(name)))
        return {f"{name}_ohm": OPEN_OHM if value.ohm is None else value.ohm}

    return fields


def _to_earth(value: ResistanceReading, _read: Read) -> Fields:
    return {
        "to_earth_ohm": value.ohm,
        "earth_open": value.ohm is None,
        "to_earth_at_least": value.at_least,
    }


def _insulation(value: tuple[float, float | None, bool], read: Read) -> Fields:
    ohm, volt, beyond = value
    fields: Fields = {"insulation_ohm": ohm, "insulation_at_least": beyond}
    if volt is None:
        return fields
    if "insulation_at" in read:
        raise ValueRefused("insulation-voltage-twice", text=shorten(read.raw.get("insulation")))
    return {**fields, "insulation_at_v": volt}


def _moisture(value: Moisture, read: Read) -> Fields:
    """Return a moisture value with its method: of the entry, else of its unit."""
    stated = read.get("method")
    if stated is not None and not fits_method(value, stated):
        raise ValueRefused("moisture-method", text=shorten(read.raw.get("value")), method=stated)
    method = stated or (None if value.kind == "plain" else value.kind)
    fields: Fields = {"value_fraction": value.fraction, "value_kgm2s": value.evaporated_kgm2s}
    return fields if method is None else {**fields, "method": Method(method)}


def _floor(value_c: float, read: Read) -> Fields:
    """Return a floor's temperature; only a floor that is said to be heated can be hot."""
    if read.get("heating") != "on" and not is_unheated(value_c):
        raise not_in_span("floor-hot-unheated", read.raw.get("floor"), *UNHEATED_C)
    return {"temperature_c": value_c}


def _understood(_value: object, read: Read) -> Fields:
    """Return a logger's file as a remark; the readings in it are counted later."""
    keys = ("rows", "first", "last", "sha256", "understood")
    said = [f"{key} {shorten(read.raw[key])}" for key in keys if key in read]
    return {"file": read.get("file"), "text": ", ".join(["readings", *said])}


_SPECIAL: Mapping[tuple[str, str], Callable[[Any, Read], Fields]] = MappingProxyType(
    {
        ("floor", "heating"): lambda value, _read: {
            "heating_off": value == "off",
            "heating_on": value == "on",
        },
        ("resistance", "stage"): _one_of("stage", Stage),
        ("not_tested", "stage"): _one_of("stage", Stage),
        ("resistance", "conductor"): _exact("conductor"),
        ("resistance", "sensor"): _exact("sensor"),
        ("resistance", "to_earth"): _to_earth,
        ("resistance", "insulation"): _insulation,
        ("moisture", "value"): _moisture,
        ("moisture", "method"): _one_of("method", Method),
        ("inspection", "result"): _one_of("result", Result),
        ("protection", "device"): _one_of("device", Device),
        ("protection", "trip_test"): _one_of("trip_test", TripTest),
        ("connected", "leads"): _one_of("leads", Leads),
        ("continuity", "state"): _one_of("state", LeadAlarm),
        ("visit", "for"): _one_of("purpose", VisitFor),
        ("visit", "state"): _one_of("state", Booking),
        ("thermostat", "mode"): _one_of("mode", Mode),
        ("thermostat", "schedule"): _one_of("schedule", Schedule),
        ("stopped", "cause"): _one_of("cause", Cause),
        ("readings", "file"): _understood,
        ("readings", "place"): _one_of("place", Place),
        **{("readings", key): _nothing for key in ("rows", "first", "last", "understood")},
        **{(place.value, place.value): _as("temperature_c") for place in Place},
        ("floor", "floor"): _floor,
        **{(place.value, "low"): _as("low_c") for place in Place},
    }
)

FIELDS: Mapping[tuple[str, str], Callable[[Any, Read], Fields]] = MappingProxyType(
    {
        (kind, key.name): _SPECIAL.get((kind, key.name))
        or _as(_RENAMED.get((kind, key.name), key.name))
        for kind, keys in KINDS.items()
        for key in keys
    }
)
"""For a kind and one of its keys, what makes fields of the value."""

REPEATED: Mapping[str, PlainView] = MappingProxyType(
    {place.value: {"place": place} for place in Place}
)
"""Fields that the kind alone gives."""
