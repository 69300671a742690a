"""How a value that was read is compared with what a person reads in it."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from typing import Any

import read_by_hand as by_hand
from read_by_hand import Read

Table = Mapping[str, Any]
Reads = Callable[[object], Read]
NOT_READ = object()

CELSIUS = by_hand.quantity("temperature")
LENGTH_HIGH = by_hand.quantity("length", "high")
LENGTH_LOW = by_hand.quantity("length", "low")
WAIT = by_hand.quantity("duration", "high")
_V = by_hand.quantity("voltage")
COVERINGS = {"ceramic": "ceramic tile", "porcelain": "porcelain tile", "glass": "glass tile"}


def volts(value: object) -> Read:
    text = str(value).strip()
    for ending in ("DC", "AC", "dc", "ac"):
        text = text.removesuffix(ending).strip()
    return _V(text if isinstance(value, str) else value)


def same(got: object, want: object) -> bool:
    """Return whether two values are alike, floats to what one rounding leaves."""
    if isinstance(got, float) and isinstance(want, int | float):
        return math.isclose(got, want, rel_tol=1e-9, abs_tol=1e-12)
    if isinstance(got, tuple) and isinstance(want, tuple):
        return len(got) == len(want) and all(map(same, got, want))
    if isinstance(got, str) and isinstance(want, str):
        return got == want or str(got).casefold() == want
    return got == want


def check(place: str, raw: Table, key: str, reads: Reads, got: object) -> Iterator[str]:
    """Yield what is wrong with the value of a key: it has to be what stands there."""
    if key not in raw:
        return
    want = reads(raw[key])
    if want is None or not any(same(got, one) for one in want):
        yield f"{place}.{key}: {raw[key]!r} was read as {got!r}, and a person reads {want}"


def check_all(place: str, raw: Table, rows: Mapping[str, tuple[Reads, object]]) -> Iterator[str]:
    """Yield what is wrong with a table's values, and which of them nobody read."""
    for key, (reads, got) in rows.items():
        yield from check(place, raw, key, reads, got)
    unknown = set(raw) - set(rows)
    if unknown:
        yield f"{place}: {sorted(unknown)} were passed over"


def skip(_value: object) -> Read:
    """Return what a value is taken for that is compared elsewhere, or not at all."""
    return frozenset({NOT_READ})


SKIPPED = (skip, NOT_READ)
