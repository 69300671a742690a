"""A change of the job's climate, its products, its order, its days, as somebody types it."""

from __future__ import annotations

import copy
from collections.abc import Callable, Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any

from curecal.errors import UsageError
from curecal.records import Record, record
from curecal.toml_files.shown import nearest
from curecal.trade.job import Job, Layer, Zone
from curecal.trade.names import comparable_name
from curecal.words.values import clean

if TYPE_CHECKING:
    from curecal.records import PlainTable

CLIMATE = ("air", "humidity", "coldest", "dampest")
WORK = ("days", "hours")
_START = (" start", " planned_start")
_ORDER = "order"
EARLIEST = "earliest"
"""What a start is moved to that waits for nothing but the layers under it."""


@record
class Change(Record):
    """One change: what was said, what of the job it is about, and the content after it.

    Two changes of one `target` do not go together.
    """

    said: str
    target: str
    edit: Callable[[PlainTable], PlainTable]


Typed = Callable[[str], datetime]
"""Reads an instant that somebody typed, by the clock of the site."""


def change_of(text: str, job: Job, as_of: datetime, typed: Typed) -> Change:
    """Return the change that a text asks for: `air=70 °F`, `thinset=rapid thinset`.

    Args:
        text: as typed.
        job: the job with the log folded in: what the log says is laid is laid.
        as_of: now; nothing starts before it.
        typed: reads when work is to start.

    Raises:
        UsageError: it has no "=", names nothing of the job, or what it changes is laid already.
    """
    left, equals, value = (part.strip() for part in text.partition("="))
    if not (left and equals and value):
        raise UsageError("compare-unreadable", text=clean(text))
    said = f"{clean(left)} = {clean(value)}"
    key = comparable_name(left)
    if key in CLIMATE:
        return Change(said, f"expected.{key}", _setting("expected", key, value))
    layers = _layers(left, job)
    if layers:
        return _product(said, value, layers, job)
    if key in WORK:
        return Change(said, f"work.{key}", _setting("work", key, value))
    for ending in _START:
        layers = _layers(left[: -len(ending)], job) if key.endswith(ending) else []
        if layers:
            return _start(said, value, _still_to_lay(layers, job), as_of, typed)
    if key == _ORDER or key.endswith(f" {_ORDER}"):
        return _order(said, value, _zone(left[: -len(_ORDER)], job))
    raise _unknown(left, job)


def _setting(table: str, key: str, value: str) -> Callable[[PlainTable], PlainTable]:
    def edit(raw: PlainTable) -> PlainTable:
        found = copy.deepcopy(raw)
        found.setdefault(table, {})[key] = value
        return found

    return edit


def _layers(name: str, job: Job) -> list[Layer]:
    """Return the layers of a name or an id, of all zones, or of the one named before a colon."""
    zone_name, colon, rest = name.partition(":")
    wanted = comparable_name(name)
    found = [layer for zone in job.zones for layer in zone.layers if wanted in _names(layer)]
    if found or not colon:
        return found
    zone = [one for one in job.zones if comparable_name(zone_name) in _names(one)]
    return [layer for one in zone for layer in one.layers if comparable_name(rest) in _names(layer)]


def _names(thing: Layer | Zone) -> set[str]:
    return {comparable_name(thing.id), comparable_name(thing.name)}


def _still_to_lay(layers: Sequence[Layer], job: Job) -> list[Layer]:
    """Return the layers that can still be another way; none is a refusal with its reason."""
    free = [layer for layer in layers if layer.done_at is None and not layer.existing]
    if free:
        return free
    first = layers[0]
    if first.done_at is None:
        raise UsageError("compare-existing", layer=first.title)
    raise UsageError(
        "compare-laid",
        layer=first.title,
        done=f"{first.done_at.astimezone(job.tz):%Y-%m-%d %H:%M}",
    )


def _product(said: str, value: str, layers: Sequence[Layer], job: Job) -> Change:
    """Return the change of a product; the layer keeps its name, by which the log knows it."""
    free = _still_to_lay(layers, job)

    def edit(raw: PlainTable) -> PlainTable:
        found = copy.deepcopy(raw)
        for layer in free:
            table = _at(found, layer.path)
            table.update({"id": layer.id, "name": layer.name, "material": value})
        return found

    return Change(said, f"material.{free[0].path}", edit)


def _start(said: str, value: str, free: Sequence[Layer], as_of: datetime, typed: Typed) -> Change:
    at = None if comparable_name(value) == EARLIEST else typed(value)
    if at is not None and at < as_of:
        raise UsageError("compare-past", layer=free[0].title, text=clean(value))

    def edit(raw: PlainTable) -> PlainTable:
        found = copy.deepcopy(raw)
        for layer in free:
            table = _at(found, layer.path)
            # A finish planned before would hold the layer where it was.
            table.pop("planned_finish", None)
            table.pop("planned_start", None)
            if at is not None:
                table["planned_start"] = at
        return found

    return Change(said, f"start.{free[0].path}", edit)


def _zone(name: str, job: Job) -> Zone:
    """Return the zone of a name; without a name the only one."""
    wanted = comparable_name(name.rstrip(": "))
    found = [zone for zone in job.zones if not wanted or wanted in _names(zone)]
    if len(found) == 1:
        return found[0]
    names = ", ".join(clean(zone.name) for zone in job.zones)
    raise UsageError("compare-which-zone", text=clean(name.strip()), known=names)


def _order(said: str, value: str, zone: Zone) -> Change:
    """Return the change of the order, bottom to top, in which layers still to be laid lie."""
    free = [layer for layer in zone.layers if layer.done_at is None and not layer.existing]
    # What is laid stays; between laid layers nothing can be put.
    top = zone.layers[len(zone.layers) - len(free) :]
    asked = [comparable_name(name) for name in value.split(",")]
    wanted = [layer for name in asked for layer in free if name in _names(layer)]
    if list(top) != free or len(wanted) != len(asked) or _paths(wanted) != _paths(free):
        names = ", ".join(clean(layer.name) for layer in free)
        raise UsageError("compare-order", zone=clean(zone.name), known=names)

    def edit(raw: PlainTable) -> PlainTable:
        found = copy.deepcopy(raw)
        tables = _at(found, zone.path)["layer"]
        for layer in free:
            _at(found, layer.path).update({"id": layer.id, "name": layer.name})
        moved = [_at(found, layer.path) for layer in wanted]
        tables[len(tables) - len(free) :] = moved
        return found

    return Change(said, f"order.{zone.path}", edit)


def _paths(layers: Sequence[Layer]) -> list[str]:
    return sorted(layer.path for layer in layers)


def _at(raw: PlainTable, path: str) -> Any:
    """Return the table at a place such as `zone.0.layer.2`."""
    found: Any = raw
    for part in path.split("."):
        found = found[int(part)] if isinstance(found, list) else found[part]
    return found


def _unknown(left: str, job: Job) -> UsageError:
    names = [layer.name for zone in job.zones for layer in zone.layers]
    known = [*CLIMATE, *WORK, *dict.fromkeys(names), _ORDER]
    return UsageError(
        "compare-unknown",
        text=clean(left),
        nearest=nearest(left, known),
        known=", ".join(clean(name) for name in known),
    )
