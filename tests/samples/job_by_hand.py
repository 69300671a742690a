"""What a job file says, read a second time from its tables and compared with the job it gave.

`differences` names every place where the program understood something else than a person reads
there. It knows nothing of the program's readers: only its records, and which key fills which field.
"""

from __future__ import annotations

import math
import zoneinfo
from collections.abc import Callable, Iterator, Mapping
from datetime import datetime, time
from typing import Any

import read_by_hand as by_hand
from read_by_hand import Read

from curecal.trade.data_sheets import DryingWait, FixedWait, Milestone, TableWait

Table = Mapping[str, Any]
Reads = Callable[[object], Read]
NOT_READ = object()
LANGUAGES = frozenset({"de", "en", "es", "fr", "pl"})

_C = by_hand.quantity("temperature")
_LENGTH_HIGH = by_hand.quantity("length", "high")
_LENGTH_LOW = by_hand.quantity("length", "low")
_WAIT = by_hand.quantity("duration", "high")
_V = by_hand.quantity("voltage")
_COVERINGS = {"ceramic": "ceramic tile", "porcelain": "porcelain tile", "glass": "glass tile"}


def _covering(value: object) -> Read:
    word = by_hand.choice(value)
    return word and frozenset(_COVERINGS.get(str(one), one) for one in word)


def _language(value: object) -> Read:
    """Return a language; one that there are no texts in counts as none given, and that is said."""
    word = by_hand.choice(value)
    return word if word is None or word <= LANGUAGES else frozenset({None, "en"})


def _volts(value: object) -> Read:
    text = str(value).strip()
    for ending in ("DC", "AC", "dc", "ac"):
        text = text.removesuffix(ending).strip()
    return _V(text if isinstance(value, str) else value)


def _same(got: object, want: object) -> bool:
    """Return whether two values are alike, floats to what one rounding leaves."""
    if isinstance(got, float) and isinstance(want, int | float):
        return math.isclose(got, want, rel_tol=1e-9, abs_tol=1e-12)
    if isinstance(got, tuple) and isinstance(want, tuple):
        return len(got) == len(want) and all(map(_same, got, want))
    if isinstance(got, str) and isinstance(want, str):
        return got == want or str(got).casefold() == want
    return got == want


def _check(place: str, raw: Table, key: str, reads: Reads, got: object) -> Iterator[str]:
    """Yield what is wrong with one value: of a key that is there, it has to be what stands there."""
    if key not in raw:
        return
    want = reads(raw[key])
    if want is None or not any(_same(got, one) for one in want):
        yield f"{place}.{key}: {raw[key]!r} was read as {got!r}, and a person reads {want}"


def _all(place: str, raw: Table, rows: Mapping[str, tuple[Reads, object]]) -> Iterator[str]:
    for key, (reads, got) in rows.items():
        yield from _check(place, raw, key, reads, got)
    unknown = set(raw) - set(rows)
    if unknown:
        yield f"{place}: {sorted(unknown)} were passed over"


def _skip(_value: object) -> Read:
    return frozenset({NOT_READ})


_SKIPPED = (_skip, NOT_READ)


def differences(tree: Table, found: Any, zone: zoneinfo.ZoneInfo | None = None) -> list[str]:
    """Return where the job that was read differs from what its tables say."""
    return list(_job(tree, found.job, found.log))


def company_differences(tree: Table, job: Any) -> Iterator[str]:
    """Yield where a job that leaves all of it to its company differs from the company's tables."""
    yield from _all(
        "company",
        tree,
        {
            "language": (_language, job.language),
            **dict.fromkeys(("materials", "work", "people", "material", "sensor"), _SKIPPED),
            "reminders": _SKIPPED,
        },
    )
    yield from _work(tree.get("work", {}), job.work)
    yield from _people(tree.get("people", {}), job.people)
    yield from _materials(tree.get("material", {}), job)


def _job(tree: Table, job: Any, log: Any) -> Iterator[str]:
    head = tree["job"]
    site = zoneinfo.ZoneInfo(str(job.tz))
    yield from _all(
        "job",
        head,
        {
            "id": (by_hand.word, job.id),
            "name": (by_hand.word, job.name),
            "address": (by_hand.word, job.address),
            "timezone": (by_hand.word, job.timezone),
            "units": (by_hand.choice, job.units.value),
            "code": (by_hand.choice, job.code.value),
            "language": (_language, job.language),
            "company": _SKIPPED,
        },
    )
    expected = job.expected
    yield from _all(
        "expected",
        tree["expected"],
        {
            "air": (_C, expected.air_c),
            "humidity": (by_hand.humidity, expected.humidity),
            "coldest": (_C, expected.coldest_c),
            "dampest": (by_hand.humidity, expected.dampest),
            "below": (by_hand.choice, expected.below and expected.below.value),
            "heated_by": (by_hand.choice, expected.heated_by.value),
        },
    )
    yield from _work(tree.get("work", {}), job.work)
    yield from _people(tree.get("people", {}), job.people)
    zones = tree.get("zone", [])
    if len(zones) != len(job.zones):
        yield f"{len(zones)} zones were read as {len(job.zones)}"
    for index, (raw, zone) in enumerate(zip(zones, job.zones, strict=False)):
        yield from _zone(f"zone.{index}", raw, zone, job, site)
    yield from _materials(tree.get("material", {}), job)
    yield from log_differences(tree.get("log", []), log, site)
    unknown = set(tree) - {
        "job", "expected", "work", "people", "zone", "material", "sensor", "log",
    }  # fmt: skip
    if unknown:
        yield f"{sorted(unknown)} were passed over"


_DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


def _days(value: object) -> Read:
    """Return the weekdays of "Mon-Fri, Sun"; Monday is 0."""
    found: set[int] = set()
    for text in value if isinstance(value, list) else [value]:
        plain = str(text).casefold().replace("–", "-").replace("—", "-").replace("−", "-")
        for part in plain.replace(" to ", "-").replace("&", ",").replace(" and ", ",").split(","):
            days = [day.strip().rstrip(".") for day in part.split("-")]
            if len(days) > 2 or not all(
                any(len(day) > 1 and name.startswith(day[:3]) for name in _DAYS) for day in days
            ):
                return None
            ends = [next(i for i, name in enumerate(_DAYS) if name.startswith(day[:3])) for day in days]
            found |= {(ends[0] + step) % 7 for step in range((ends[-1] - ends[0]) % 7 + 1)}
    return frozenset({frozenset(found)})


def _hours(value: object) -> Read:
    text = str(value).strip()
    for dash in "–—−‐":
        text = text.replace(dash, "-")
    try:
        start, end = (time.fromisoformat(part.strip().rjust(5, "0")) for part in text.split("-"))
    except ValueError:
        return None
    return frozenset({(start, end)})


def _work(raw: Table, work: Any) -> Iterator[str]:
    yield from _all(
        "work",
        raw,
        {
            "days": (_days, work.days),
            "hours": (_hours, (work.start, work.end)),
            "holidays": (by_hand.choice, work.holidays),
            "days_off": _SKIPPED,
        },
    )


def _people(raw: Table, people: Any) -> Iterator[str]:
    for role, rows in raw.items():
        own = [person for person in people if person.role.value == role]
        rows = rows if isinstance(rows, list) else [rows]
        if len(own) != len(rows):
            yield f"people.{role}: {len(rows)} were read as {len(own)}"
        for row, person in zip(rows, own, strict=False):
            yield from _all(
                f"people.{role}",
                row,
                {
                    "name": (by_hand.word, person.name),
                    "email": (by_hand.word, person.email),
                    "phone": (by_hand.word, person.phone),
                    "license": (by_hand.word, person.license),
                    "language": (_language, person.language),
                    "reach_by": _SKIPPED,
                    "roles": _SKIPPED,
                    "until": _SKIPPED,
                },
            )


def _zone(place: str, raw: Table, zone: Any, job: Any, site: zoneinfo.ZoneInfo) -> Iterator[str]:
    yield from _all(
        place,
        raw,
        {
            "id": (by_hand.word, zone.id),
            "name": (by_hand.word, zone.name),
            "room": (by_hand.choice, zone.room.value),
            "floor_area": (by_hand.quantity("area"), zone.floor_area_m2),
            "energized_by": (by_hand.choice, zone.energized_by.value),
            "covering": _SKIPPED,
            "heating": _SKIPPED,
            "heat_up": _SKIPPED,
            "layer": _SKIPPED,
        },
    )
    covering = raw.get("covering", {})
    yield from _covering_of(
        f"{place}.covering",
        covering if isinstance(covering, dict) else {"kind": covering},
        zone.covering,
    )
    yield from _heating(f"{place}.heating", raw.get("heating", {}), zone.heating)
    wish = zone.heat_up
    yield from _all(
        f"{place}.heat_up",
        raw.get("heat_up", {}),
        {
            "target": (_C, wish.target_c),
            "step": (by_hand.heat_step, wish.step_k),
            "hold": (_WAIT, wish.hold_days and wish.hold_days * 86_400.0),
            "flow": _SKIPPED,
        },
    )
    layers = raw.get("layer", [])
    if len(layers) != len(zone.layers):
        yield f"{place}: {len(layers)} layers were read as {len(zone.layers)}"
    for index, (row, layer) in enumerate(zip(layers, zone.layers, strict=False)):
        yield from _layer(f"{place}.layer.{index}", row, layer, job.work, site)


def _layer(place: str, raw: Table, layer: Any, work: Any, site: zoneinfo.ZoneInfo) -> Iterator[str]:
    at = by_hand.instant(site)
    duration = by_hand.working_time(work.shift_s, len(work.days))
    name = by_hand.word if "name" in raw else _skip
    yield from _all(
        place,
        raw,
        {
            "id": (by_hand.word, layer.id),
            "name": (name, layer.name),
            "material": (by_hand.word, raw.get("material", "").strip() if layer.sheet else None),
            "thickness": (_LENGTH_HIGH, layer.thickness_m),
            "done": (by_hand.instant(site, midnight_is_a_day=True), layer.done_at),
            "sure": (by_hand.flag, layer.sure),
            "planned_start": (at, layer.planned_start_at),
            "planned_finish": (at, layer.planned_finish_at),
            "duration": (duration, layer.duration_s),
            "part": (by_hand.word, layer.part),
            "existing": (by_hand.flag, layer.existing),
            "since": (at, layer.since_at),
            "repair": (by_hand.flag, layer.repair),
            "heat_before_covering": (by_hand.flag, layer.heat_before_covering),
            "over_cable": (by_hand.flag, layer.over_cable),
        },
    )


def _fixed(wait: Any) -> object:
    return wait.amount.wait_s if wait is not None and isinstance(wait.amount, FixedWait) else wait


def _rated(place: str, raw: Table, wait: Any) -> Iterator[str]:
    if wait is not None:
        yield from _all(
            f"{place}.rated",
            raw,
            {
                "temperature": (by_hand.rated, wait.rated_c),
                "humidity": (by_hand.humidity, wait.rated_rh),
            },
        )


def _covering_of(place: str, raw: Table, covering: Any) -> Iterator[str]:
    yield from _all(
        place,
        raw,
        {
            "kind": (_covering, covering.kind.value),
            "size": (by_hand.size, covering.size_m),
            "laid": (by_hand.choice, "floating" if covering.is_floating else "glued"),
            "joints": (by_hand.choice, "grouted" if covering.has_joints else "none"),
            "absorbent": (by_hand.flag, covering.is_absorbent),
            "limit": (_C, covering.limit_c),
            "wait": (_WAIT, _fixed(covering.wait)),
            "moisture": _SKIPPED,
            "rated": _SKIPPED,
            "data_sheet": (by_hand.word, covering.source and covering.source.text),
        },
    )
    yield from _rated(place, raw.get("rated", {}), covering.wait)


def _cable(raw: Table, cable: Any) -> dict[str, tuple[Reads, object]]:
    laying = cable.laying
    return {
        "voltage": (_volts, cable.voltage_v),
        "power": (by_hand.quantity("power"), cable.power_w),
        "resistance": (by_hand.quantity("resistance"), cable.resistance_ohm),
        "tolerance": (by_hand.tolerance, (cable.below_fraction, cable.above_fraction)),
        "insulation": (by_hand.insulation, (cable.insulation_ohm, cable.insulation_at_v)),
        "sensor": _SKIPPED,
        "serial": (by_hand.word, cable.serial),
        "heated_area": (by_hand.quantity("area"), laying.heated_area_m2),
        "spacing": (_LENGTH_LOW, laying.spacing_m),
        "clearance_walls": (_LENGTH_LOW, laying.clearance_walls_m),
        "clearance_drains": (_LENGTH_LOW, laying.clearance_drains_m),
        "strapping": (_LENGTH_HIGH, laying.strapping_m),
        "sensor_place": (by_hand.choice, laying.sensor_place and laying.sensor_place.value),
    }


def _heating(place: str, raw: Table, heating: Any) -> Iterator[str]:
    own = {
        "kind": (by_hand.choice, heating.kind.value),
        "wait": (_WAIT, _fixed(heating.wait)),
        "wait_from": _SKIPPED,
        "rated": _SKIPPED,
        "floor_limit": (_C, heating.floor_limit_c),
        "data_sheet": (by_hand.word, heating.source and heating.source.text),
        "supply": (_volts, heating.supply_v),
        "breaker": (by_hand.quantity("current"), heating.breaker_a),
        "protection": (by_hand.word, heating.protection),
        "protection_source": (by_hand.word, heating.protection_source),
        "circuit": (by_hand.word, heating.circuit),
        "cable": _SKIPPED,
    }
    rows = raw.get("cable", [])
    if not rows and heating.cables:
        own |= _cable(raw, heating.cables[0])
    elif rows:
        own |= dict.fromkeys(_cable(raw, heating.cables[0]), _SKIPPED)
    yield from _all(place, raw, own)
    yield from _rated(place, raw.get("rated", {}), heating.wait)
    if rows and len(rows) != len(heating.cables):
        yield f"{place}: {len(rows)} cables were read as {len(heating.cables)}"
    for row, cable in zip(rows, heating.cables, strict=False):
        yield from _all(
            f"{place}.cable", row, {"name": (by_hand.word, cable.name), **_cable(row, cable)}
        )


def _materials(raw: Table, job: Any) -> Iterator[str]:
    """Compare the sheets that a layer of the job is made of."""
    for zone in job.zones:
        for layer in zone.layers:
            if layer.sheet.name in raw:
                name = layer.sheet.name
                yield from _sheet(f"material.{name}", raw[name], layer.sheet)


def _wait(value: object, wait: Any) -> tuple[Reads, object]:
    """Return what reads a wait of any form, and what was read of it."""
    if value == "drying":
        return by_hand.word, "drying" if isinstance(wait.amount, DryingWait) else wait
    if isinstance(value, dict):
        rows = [(_C(warm), _WAIT(time_s)) for warm, time_s in value.items()]
        if not isinstance(wait.amount, TableWait) or any(None in row for row in rows):
            return (lambda _value: None), wait
        told = tuple(sorted((min(warm), min(time_s)) for warm, time_s in rows))
        return (lambda _value: frozenset({told})), wait.amount.points
    return _WAIT, _fixed(wait)


def _sheet(place: str, raw: Table, sheet: Any) -> Iterator[str]:
    rated = raw.get("rated", {})
    under = next(
        (one.amount.under_cover_s for one in sheet.covers.values() if isinstance(one.amount, DryingWait)),
        None,
    )
    segments = next(
        (one.amount.segments for one in sheet.covers.values() if isinstance(one.amount, DryingWait)),
        None,
    )
    yield from _all(
        place,
        raw,
        {
            "kind": (by_hand.choice, sheet.kind.value),
            "hardens_by": (by_hand.choice, sheet.hardens_by.value),
            "modified": (by_hand.flag, sheet.modified),
            "rapid": (by_hand.flag, sheet.rapid),
            "data_sheet": (by_hand.word, sheet.source.text),
            "rated": _SKIPPED,
            "sure": _SKIPPED,
            "minimum": (by_hand.quantity("temperature", "high"), sheet.minimum_c),
            "doubling": (by_hand.quantity("difference"), sheet.doubling_k),
            "drying": (by_hand.drying, segments) if segments is not None else _SKIPPED,
            "moisture": _SKIPPED,
            "cured_under_cover": (_WAIT, under) if under is not None else _SKIPPED,
            "wait": _SKIPPED,
            "no_later": _SKIPPED,
        },
    )
    moisture = raw.get("moisture")
    if isinstance(moisture, str):
        limits = {limit.method: limit.figure for limit in sheet.moisture_limits}
        want = by_hand.moisture(moisture)
        if want is None or not any(_same(got, one) for got in limits.values() for one in want):
            yield f"{place}.moisture: {moisture!r} was read as {limits}"
    yield from _all(
        f"{place}.rated",
        rated,
        {"temperature": (by_hand.rated, sheet.rated_c), "humidity": (by_hand.humidity, sheet.rated_rh)},
    )
    waits = raw.get("wait", {})
    rows: dict[str, tuple[Reads, object]] = {}
    for key, value in waits.items():
        if key == "cover":
            rows[key] = _SKIPPED
            yield from _covers(f"{place}.wait.cover", value, sheet)
        elif key == "heat_sealed":
            rows[key] = _wait(value, sheet.heat_sealed)
        elif key == "cure":
            rows[key] = (_WAIT, _fixed(sheet.final_cure))
        elif key == "frost":
            rows[key] = (_WAIT, sheet.frost_age_s)
        elif key in set(Milestone) - {"bare_heat", "cover"}:
            rows[key] = _wait(value, sheet.waits.get(Milestone(key)))
    yield from _all(f"{place}.wait", waits, rows)
    later = {milestone.value: told[0] for milestone, told in sheet.no_later.items()}
    soonest = by_hand.quantity("duration", "low")
    yield from _all(
        f"{place}.no_later",
        raw.get("no_later", {}),
        {key: (soonest, later.get(key)) for key in ("grout", "cover", "seal")},
    )


def _covers(place: str, value: object, sheet: Any) -> Iterator[str]:
    by_name = isinstance(value, dict) and all(_C(name) is None for name in value)
    told = value if by_name and isinstance(value, dict) else {"any": value}
    for name, wait in told.items():
        found = sheet.covers.get(_COVERINGS.get(name, name))
        if found is None:
            yield f"{place}.{name}: {wait!r} was passed over"
            continue
        reads, got = _wait(wait, found)
        yield from _check(place, {name: wait}, name, reads, got)


def _name_of(text: str | None) -> str | None:
    """Return a name as it is compared: people's names are written as the job writes them."""
    return None if text is None else " ".join(text.casefold().split())


def _name(value: object) -> Read:
    word = by_hand.word(value)
    return word and frozenset(_name_of(str(one)) for one in word)


_FIELDS: dict[tuple[str, str], tuple[Reads, str]] = {
    **{(kind, kind): (_C, "temperature_c") for kind in ("air", "surface", "floor")},
    **{(kind, "low"): (_C, "low_c") for kind in ("air", "surface", "floor")},
    **{(kind, "humidity"): (by_hand.humidity, "humidity") for kind in ("air", "surface", "floor")},
    ("kept", "above"): (_C, "above_c"),
    ("resistance", "stage"): (by_hand.choice, "stage"),
    ("resistance", "insulation_at"): (_volts, "insulation_at_v"),
    ("resistance", "floor"): (_C, "floor_c"),
    ("resistance", "meter"): (by_hand.word, "meter"),
    ("moisture", "value"): (by_hand.moisture, "figure"),
    ("moisture", "method"): (by_hand.choice, "method"),
    ("moisture", "depth"): (_LENGTH_HIGH, "depth_m"),
    ("moisture", "points"): (by_hand.whole, "points"),
    ("moisture", "heating_off_for"): (by_hand.quantity("duration", "low"), "heating_off_s"),
    ("moisture", "air"): (_C, "air_c"),
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
    ("thermostat", "limit"): (_C, "limit_c"),
    ("thermostat", "schedule"): (by_hand.choice, "schedule"),
    ("visit", "visit"): (by_hand.word, "visit"),
    ("visit", "for"): (by_hand.choice, "purpose"),
    ("visit", "state"): (by_hand.choice, "state"),
    ("visit", "who"): (by_hand.word, "who"),
    ("heat_step", "to"): (_C, "to_c"),
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


def log_differences(rows: list[Table], log: Any, site: zoneinfo.ZoneInfo) -> Iterator[str]:
    """Yield where the log that was read differs from what its tables say."""
    entries = {entry.id: entry for entry in log}
    at = by_hand.instant(site)
    with_id = [row for row in rows if "id" in row]
    mended = {str(row.get("of")).strip() for row in rows if row.get("kind") == "correction"}
    for row in with_id:
        entry = entries.get(row["id"].strip())
        if row["id"].strip() in mended:
            continue
        if entry is None:
            yield f"log: {row['id']} was passed over"
            continue
        kind = row["kind"]
        place = f"log.{row['id']}"
        told: dict[str, tuple[Reads, object]] = {
            "id": (by_hand.word, entry.id),
            "kind": _SKIPPED,
            "at": (at, entry.at),
            "recorded": _SKIPPED if "recorded" in row and entry.recorded == entry.at else (at, entry.recorded),
            "by": (_name, _name_of(entry.by)),
            "entered_by": (_name, _name_of(entry.entered_by)),
            "photo": (by_hand.word, entry.photo),
            "note": (by_hand.word, entry.note),
            "zone": _SKIPPED if entry.zone is not None else (by_hand.word, None),
            "from": (by_hand.choice, entry.origin and entry.origin.value),
        }
        for key in row:
            if (kind, key) in _INSTANTS:
                told[key] = (at, getattr(entry, _INSTANTS[kind, key]))
            elif (kind, key) in _FIELDS:
                reads, name = _FIELDS[kind, key]
                told[key] = (reads, getattr(entry, name))
            elif key in {"layer", "part", "cable"}:
                told[key] = _SKIPPED
        if kind == "floor":
            told["heating"] = (
                by_hand.choice,
                "on" if entry.heating_on else "off" if entry.heating_off else None,
            )
        if kind == "resistance":
            told |= _meter(row, entry)
        if kind == "correction":
            told |= dict.fromkeys(row, _SKIPPED)
        if kind in {"readings", "photo"}:
            continue
        yield from _all(place, row, told)


def _meter(row: Table, entry: Any) -> dict[str, tuple[Reads, object]]:
    """Return the readings of a cable: an open conductor is more than any label says."""

    def exact(value: object) -> Read:
        found = by_hand.resistance_reading(value)
        if found is None or any(beyond for _, beyond in found):
            return None
        return frozenset(1e12 if ohm is None else ohm for ohm, _ in found)

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


