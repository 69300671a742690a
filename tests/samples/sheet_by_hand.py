"""What a file says of its materials, read a second time and compared with the sheets it gave."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import read_by_hand as by_hand
from compare_by_hand import CELSIUS, COVERINGS, SKIPPED, WAIT, Reads, Table, check, check_all, same

from curecal.trade.data_sheets import DryingWait, FixedWait, Milestone, TableWait


def materials_differences(raw: Table, job: Any) -> Iterator[str]:
    """Compare the sheets that a layer of the job is made of."""
    for zone in job.zones:
        for layer in zone.layers:
            if layer.sheet.name in raw:
                name = layer.sheet.name
                yield from _sheet(f"material.{name}", raw[name], layer.sheet)


def fixed_s(wait: Any) -> object:
    """Return how long a plain wait is [s]; of another form the wait itself."""
    return wait.amount.wait_s if wait is not None and isinstance(wait.amount, FixedWait) else wait


def _wait(value: object, wait: Any) -> tuple[Reads, object]:
    """Return what reads a wait of any form, and what was read of it."""
    if value == "drying":
        return by_hand.word, "drying" if isinstance(wait.amount, DryingWait) else wait
    if isinstance(value, dict):
        rows = [(CELSIUS(warm), WAIT(time_s)) for warm, time_s in value.items()]
        if not isinstance(wait.amount, TableWait) or any(None in row for row in rows):
            return (lambda _value: None), wait
        told = tuple(sorted((min(warm), min(time_s)) for warm, time_s in rows))
        return (lambda _value: frozenset({told})), wait.amount.points
    return WAIT, fixed_s(wait)


def _sheet(place: str, raw: Table, sheet: Any) -> Iterator[str]:
    rated = raw.get("rated", {})
    drying = next(
        (one.amount for one in sheet.covers.values() if isinstance(one.amount, DryingWait)), None
    )
    yield from check_all(
        place,
        raw,
        {
            "kind": (by_hand.choice, sheet.kind.value),
            "hardens_by": (by_hand.choice, sheet.hardens_by.value),
            "modified": (by_hand.flag, sheet.modified),
            "rapid": (by_hand.flag, sheet.rapid),
            "data_sheet": (by_hand.word, sheet.source.text),
            "rated": SKIPPED,
            "sure": SKIPPED,
            "minimum": (by_hand.quantity("temperature", "high"), sheet.minimum_c),
            "doubling": (by_hand.quantity("difference"), sheet.doubling_k),
            "drying": (by_hand.drying, drying.segments) if drying else SKIPPED,
            "moisture": SKIPPED,
            "cured_under_cover": (WAIT, drying.under_cover_s) if drying else SKIPPED,
            "wait": SKIPPED,
            "no_later": SKIPPED,
        },
    )
    moisture = raw.get("moisture")
    if isinstance(moisture, str):
        limits = {limit.method: limit.figure for limit in sheet.moisture_limits}
        want = by_hand.moisture(moisture)
        if want is None or not any(same(got, one) for got in limits.values() for one in want):
            yield f"{place}.moisture: {moisture!r} was read as {limits}"
    yield from check_all(
        f"{place}.rated",
        rated,
        {
            "temperature": (by_hand.rated, sheet.rated_c),
            "humidity": (by_hand.humidity, sheet.rated_rh),
        },
    )
    waits = raw.get("wait", {})
    rows: dict[str, tuple[Reads, object]] = {}
    for key, value in waits.items():
        if key == "cover":
            rows[key] = SKIPPED
            yield from _covers(f"{place}.wait.cover", value, sheet)
        elif key == "heat_sealed":
            rows[key] = _wait(value, sheet.heat_sealed)
        elif key == "cure":
            rows[key] = (WAIT, fixed_s(sheet.final_cure))
        elif key == "frost":
            rows[key] = (WAIT, sheet.frost_age_s)
        elif key in set(Milestone) - {"bare_heat", "cover"}:
            rows[key] = _wait(value, sheet.waits.get(Milestone(key)))
    yield from check_all(f"{place}.wait", waits, rows)
    later = {milestone.value: told[0] for milestone, told in sheet.no_later.items()}
    soonest = by_hand.quantity("duration", "low")
    yield from check_all(
        f"{place}.no_later",
        raw.get("no_later", {}),
        {key: (soonest, later.get(key)) for key in ("grout", "cover", "seal")},
    )


def _covers(place: str, value: object, sheet: Any) -> Iterator[str]:
    by_name = isinstance(value, dict) and all(CELSIUS(name) is None for name in value)
    told = value if by_name and isinstance(value, dict) else {"any": value}
    for name, wait in told.items():
        found = sheet.covers.get(COVERINGS.get(name, name))
        if found is None:
            yield f"{place}.{name}: {wait!r} was passed over"
            continue
        reads, got = _wait(wait, found)
        yield from check(place, {name: wait}, name, reads, got)
