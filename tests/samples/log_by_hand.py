"""What a log says, read a second time from its tables and compared with the entries it gave."""

from __future__ import annotations

import zoneinfo
from collections.abc import Iterator
from typing import Any

import read_by_hand as by_hand
from compare_by_hand import CELSIUS, LENGTH_HIGH, SKIPPED, Reads, Table, check_all, volts
from instants_by_hand import instant
from read_by_hand import Read


def _name_of(text: str | None) -> str | None:
    """Return a name as it is compared: people's names are written as the job writes them."""
    return None if text is None else " ".join(text.casefold().split())


def _name(value: object) -> Read:
    word = by_hand.word(value)
    return word and frozenset(_name_of(str(one)) for one in word)


_FIELDS: dict[tuple[str, str], tuple[Reads, str]] = {
    **{(kind, kind): (CELSIUS, "temperature_c") for kind in ("air", "surface", "floor")},
    **{(kind, "low"): (CELSIUS, "low_c") for kind in ("air", "surface", "floor")},
    **{(kind, "humidity"): (by_hand.humidity, "humidity") for kind in ("air", "surface", "floor")},
    ("kept", "above"): (CELSIUS, "above_c"),
    ("resistance", "stage"): (by_hand.choice, "stage"),
    ("resistance", "insulation_at"): (volts, "insulation_at_v"),
    ("resistance", "floor"): (CELSIUS, "floor_c"),
    ("resistance", "meter"): (by_hand.word, "meter"),
    ("moisture", "value"): (by_hand.moisture, "figure"),
    ("moisture", "method"): (by_hand.choice, "method"),
    ("moisture", "depth"): (LENGTH_HIGH, "depth_m"),
    ("moisture", "points"): (by_hand.whole, "points"),
    ("moisture", "heating_off_for"): (by_hand.quantity("duration", "low"), "heating_off_s"),
    ("moisture", "air"): (CELSIUS, "air_c"),
    ("moisture", "humidity"): (by_hand.humidity, "humidity"),
    ("inspection", "result"): (by_hand.choice, "result"),
    ("protection", "device"): (by_hand.choice, "device"),
    ("protection", "trips_at"): (by_hand.quantity("current"), "trips_at_a"),
    ("protection", "trip_test"): (by_hand.choice, "trip_test"),
    ("protection", "trip_time"): (by_hand.quantity("duration"), "trip_s"),
    ("connected", "locked"): (by_hand.flag, "locked"),
    ("connected", "tagged"): (by_hand.flag, "tagged"),
    ("connected", "leads"): (by_hand.choice, "leads"),
    ("continuity", "state"): (by_hand.choice, "state"),
    ("thermostat", "mode"): (by_hand.choice, "mode"),
    ("thermostat", "limit"): (CELSIUS, "limit_c"),
    ("thermostat", "schedule"): (by_hand.choice, "schedule"),
    ("visit", "visit"): (by_hand.word, "visit"),
    ("visit", "for"): (by_hand.choice, "purpose"),
    ("visit", "state"): (by_hand.choice, "state"),
    ("visit", "who"): (by_hand.word, "who"),
    ("heat_step", "to"): (CELSIUS, "to_c"),
    ("stopped", "cause"): (by_hand.choice, "cause"),
    ("stopped", "reason"): (by_hand.word, "reason"),
    ("resumed", "found"): (by_hand.word, "found"),
    ("note", "text"): (by_hand.word, "text"),
    ("not_tested", "stage"): (by_hand.choice, "stage"),
    ("done", "lot"): (by_hand.word, "lot"),
    ("done", "sure"): (by_hand.flag, "sure"),
}
_INSTANTS = {
    ("kept", "from"): "from_at",
    ("kept", "to"): "to_at",
    ("visit", "start"): "start_at",
    ("visit", "end"): "end_at",
}
_READINGS = {"conductor": "conductor_ohm", "sensor": "sensor_ohm"}


# More than any label says.
OPEN_OHM = 1e6


def log_differences(rows: list[Table], log: Any, site: zoneinfo.ZoneInfo) -> Iterator[str]:
    """Yield where the log that was read differs from what its tables say."""
    entries = {entry.id: entry for entry in log}
    mended = {str(row.get("of")).strip() for row in rows if row.get("kind") == "correction"}
    for row in rows:
        name = str(row.get("id", "")).strip()
        if not name or name in mended or row["kind"] in {"readings", "photo", "correction"}:
            continue
        if name in entries:
            yield from check_all(f"log.{name}", row, _told(row, entries[name], site))
        else:
            yield f"log: {name} was passed over"


def _told(row: Table, entry: Any, site: zoneinfo.ZoneInfo) -> dict[str, tuple[Reads, object]]:
    """Return what reads each key of an entry, and what was read of it."""
    at, kind = instant(site), row["kind"]
    # Written down in time to come it counts from when it happened.
    recorded = SKIPPED if entry.recorded == entry.at else (at, entry.recorded)
    told: dict[str, tuple[Reads, object]] = {
        **dict.fromkeys(("kind", "layer", "part", "cable"), SKIPPED),
        "id": (by_hand.word, entry.id),
        "at": (at, entry.at),
        "recorded": recorded,
        "by": (_name, _name_of(entry.by)),
        "entered_by": (_name, _name_of(entry.entered_by)),
        "photo": (by_hand.word, entry.photo),
        "note": (by_hand.word, entry.note),
        "zone": SKIPPED if entry.zone is not None else (by_hand.word, None),
        "from": (by_hand.choice, entry.origin and entry.origin.value),
    }
    for key in row:
        if (kind, key) in _INSTANTS:
            told[key] = (at, getattr(entry, _INSTANTS[kind, key]))
        elif (kind, key) in _FIELDS:
            reads, name = _FIELDS[kind, key]
            told[key] = (reads, getattr(entry, name))
    if kind == "floor":
        heating = {(True, False): "off", (False, True): "on"}
        was = heating.get((entry.heating_off, entry.heating_on))
        told["heating"] = (by_hand.choice, was)
    return {**told, **_meter(row, entry)} if kind == "resistance" else told


def _meter(row: Table, entry: Any) -> dict[str, tuple[Reads, object]]:
    """Return the readings of a cable: an open conductor is more than any label says."""

    def exact(value: object) -> Read:
        found = by_hand.resistance_reading(value)
        if found is None or any(beyond for _, beyond in found):
            return None
        return frozenset(OPEN_OHM if ohm is None else ohm for ohm, _ in found)

    told: dict[str, tuple[Reads, object]] = {
        key: (exact, getattr(entry, name)) for key, name in _READINGS.items() if key in row
    }
    told["to_earth"] = (by_hand.resistance_reading, (entry.to_earth_ohm, entry.to_earth_at_least))

    def insulated(value: object) -> Read:
        both = by_hand.insulation(str(value).lstrip("> "))
        if both is not None:
            return frozenset((ohm, ">" in str(value)) for ohm, _ in both)
        return by_hand.resistance_reading(value)

    told["insulation"] = (insulated, (entry.insulation_ohm, entry.insulation_at_least))
    return told
