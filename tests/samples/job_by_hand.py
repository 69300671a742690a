"""What a job file says, read a second time from its tables and compared with the job it gave.

`differences` names every place where the program understood something else than a person reads
there. It knows nothing of the program's readers: only its records, and which key fills which field.
"""

from __future__ import annotations

import zoneinfo
from collections.abc import Iterator
from datetime import time
from typing import Any

import read_by_hand as by_hand
from compare_by_hand import (
    CELSIUS,
    COVERINGS,
    LENGTH_HIGH,
    LENGTH_LOW,
    SKIPPED,
    WAIT,
    Reads,
    Table,
    check_all,
    skip,
    volts,
)
from instants_by_hand import instant
from log_by_hand import log_differences
from read_by_hand import Read
from sheet_by_hand import fixed_s, materials_differences

LANGUAGES = frozenset({"de", "en", "es", "fr", "pl"})


def _covering(value: object) -> Read:
    word = by_hand.choice(value)
    return word and frozenset(COVERINGS.get(str(one), one) for one in word)


def _language(value: object) -> Read:
    """Return a language; one that there are no texts in counts as none given, and that is said."""
    word = by_hand.choice(value)
    return word if word is None or word <= LANGUAGES else frozenset({None, "en"})


def differences(tree: Table, found: Any) -> list[str]:
    """Return where the job that was read differs from what its tables say."""
    return list(_job(tree, found.job, found.log))


def company_differences(tree: Table, job: Any) -> Iterator[str]:
    """Yield where a job that leaves all of it to its company differs from the company's tables."""
    yield from check_all(
        "company",
        tree,
        {
            "language": (_language, job.language),
            **dict.fromkeys(("materials", "work", "people", "material", "sensor"), SKIPPED),
            "reminders": SKIPPED,
        },
    )
    yield from _work(tree.get("work", {}), job.work)
    yield from _people(tree.get("people", {}), job.people)
    yield from materials_differences(tree.get("material", {}), job)


def _job(tree: Table, job: Any, log: Any) -> Iterator[str]:
    head = tree["job"]
    site = zoneinfo.ZoneInfo(str(job.tz))
    yield from check_all(
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
            "company": SKIPPED,
        },
    )
    expected = job.expected
    yield from check_all(
        "expected",
        tree["expected"],
        {
            "air": (CELSIUS, expected.air_c),
            "humidity": (by_hand.humidity, expected.humidity),
            "coldest": (CELSIUS, expected.coldest_c),
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
    yield from materials_differences(tree.get("material", {}), job)
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
        plain = (
            str(text)
            .casefold()
            .replace("–", "-")
            .replace("—", "-")
            .replace("−", "-")
            .replace("‐", "-")
        )
        for part in plain.replace(" to ", "-").replace("&", ",").replace(" and ", ",").split(","):
            days = [day.strip().rstrip(".") for day in part.split("-")]
            if len(days) > 2 or not all(
                any(len(day) > 1 and name.startswith(day[:3]) for name in _DAYS) for day in days
            ):
                return None
            ends = [
                next(i for i, name in enumerate(_DAYS) if name.startswith(day[:3])) for day in days
            ]
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
    yield from check_all(
        "work",
        raw,
        {
            "days": (_days, work.days),
            "hours": (_hours, (work.start, work.end)),
            "holidays": (by_hand.choice, work.holidays),
            "days_off": SKIPPED,
        },
    )


def _people(raw: Table, people: Any) -> Iterator[str]:
    for role, told in raw.items():
        own = [person for person in people if person.role.value == role]
        rows = told if isinstance(told, list) else [told]
        if len(own) != len(rows):
            yield f"people.{role}: {len(rows)} were read as {len(own)}"
        for row, person in zip(rows, own, strict=False):
            yield from check_all(
                f"people.{role}",
                row,
                {
                    "name": (by_hand.word, person.name),
                    "email": (by_hand.word, person.email),
                    "phone": (by_hand.word, person.phone),
                    "license": (by_hand.word, person.license),
                    "language": (_language, person.language),
                    "reach_by": SKIPPED,
                    "roles": SKIPPED,
                    "until": SKIPPED,
                },
            )


def _zone(place: str, raw: Table, zone: Any, job: Any, site: zoneinfo.ZoneInfo) -> Iterator[str]:
    yield from check_all(
        place,
        raw,
        {
            "id": (by_hand.word, zone.id),
            "name": (by_hand.word, zone.name),
            "room": (by_hand.choice, zone.room.value),
            "floor_area": (by_hand.quantity("area"), zone.floor_area_m2),
            "energized_by": (by_hand.choice, zone.energized_by.value),
            "covering": SKIPPED,
            "heating": SKIPPED,
            "heat_up": SKIPPED,
            "layer": SKIPPED,
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
    yield from check_all(
        f"{place}.heat_up",
        raw.get("heat_up", {}),
        {
            "target": (CELSIUS, wish.target_c),
            "step": (by_hand.heat_step, wish.step_k),
            "hold": (WAIT, wish.hold_days and wish.hold_days * 86_400.0),
            "flow": SKIPPED,
        },
    )
    layers = raw.get("layer", [])
    if len(layers) != len(zone.layers):
        yield f"{place}: {len(layers)} layers were read as {len(zone.layers)}"
    for index, (row, layer) in enumerate(zip(layers, zone.layers, strict=False)):
        yield from _layer(f"{place}.layer.{index}", row, layer, job.work, site)


def _layer(place: str, raw: Table, layer: Any, work: Any, site: zoneinfo.ZoneInfo) -> Iterator[str]:
    at = instant(site)
    duration = by_hand.working_time(work.shift_s, len(work.days))
    name = by_hand.word if "name" in raw else skip
    yield from check_all(
        place,
        raw,
        {
            "id": (by_hand.word, layer.id),
            "name": (name, layer.name),
            "material": (by_hand.word, raw.get("material", "").strip() if layer.sheet else None),
            "thickness": (LENGTH_HIGH, layer.thickness_m),
            "done": (instant(site, midnight_is_a_day=True), layer.done_at),
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


def _rated(place: str, raw: Table, wait: Any) -> Iterator[str]:
    if wait is not None:
        yield from check_all(
            f"{place}.rated",
            raw,
            {
                "temperature": (by_hand.rated, wait.rated_c),
                "humidity": (by_hand.humidity, wait.rated_rh),
            },
        )


def _covering_of(place: str, raw: Table, covering: Any) -> Iterator[str]:
    yield from check_all(
        place,
        raw,
        {
            "kind": (_covering, covering.kind.value),
            "size": (by_hand.size, covering.size_m),
            "laid": (by_hand.choice, "floating" if covering.is_floating else "glued"),
            "joints": (by_hand.choice, "grouted" if covering.has_joints else "none"),
            "absorbent": (by_hand.flag, covering.is_absorbent),
            "limit": (CELSIUS, covering.limit_c),
            "wait": (WAIT, fixed_s(covering.wait)),
            "moisture": SKIPPED,
            "rated": SKIPPED,
            "data_sheet": (by_hand.word, covering.source and covering.source.text),
        },
    )
    yield from _rated(place, raw.get("rated", {}), covering.wait)


def _cable(cable: Any) -> dict[str, tuple[Reads, object]]:
    laying = cable.laying
    return {
        "voltage": (volts, cable.voltage_v),
        "power": (by_hand.quantity("power"), cable.power_w),
        "resistance": (by_hand.quantity("resistance"), cable.resistance_ohm),
        "tolerance": (by_hand.tolerance, (cable.below_fraction, cable.above_fraction)),
        "insulation": (by_hand.insulation, (cable.insulation_ohm, cable.insulation_at_v)),
        "sensor": SKIPPED,
        "serial": (by_hand.word, cable.serial),
        "heated_area": (by_hand.quantity("area"), laying.heated_area_m2),
        "spacing": (LENGTH_LOW, laying.spacing_m),
        "clearance_walls": (LENGTH_LOW, laying.clearance_walls_m),
        "clearance_drains": (LENGTH_LOW, laying.clearance_drains_m),
        "strapping": (LENGTH_HIGH, laying.strapping_m),
        "sensor_place": (by_hand.choice, laying.sensor_place and laying.sensor_place.value),
    }


def _heating(place: str, raw: Table, heating: Any) -> Iterator[str]:
    own = {
        "kind": (by_hand.choice, heating.kind.value),
        "wait": (WAIT, fixed_s(heating.wait)),
        "wait_from": SKIPPED,
        "rated": SKIPPED,
        "floor_limit": (CELSIUS, heating.floor_limit_c),
        "data_sheet": (by_hand.word, heating.source and heating.source.text),
        "supply": (volts, heating.supply_v),
        "breaker": (by_hand.quantity("current"), heating.breaker_a),
        "protection": (by_hand.word, heating.protection),
        "protection_source": (by_hand.word, heating.protection_source),
        "circuit": (by_hand.word, heating.circuit),
        "cable": SKIPPED,
    }
    rows = raw.get("cable", [])
    if not rows and heating.cables:
        own |= _cable(heating.cables[0])
    elif rows:
        own |= dict.fromkeys(_cable(heating.cables[0]), SKIPPED)
    yield from check_all(place, raw, own)
    yield from _rated(place, raw.get("rated", {}), heating.wait)
    if rows and len(rows) != len(heating.cables):
        yield f"{place}: {len(rows)} cables were read as {len(heating.cables)}"
    for row, cable in zip(rows, heating.cables, strict=False):
        yield from check_all(
            f"{place}.cable", row, {"name": (by_hand.word, cable.name), **_cable(cable)}
        )
