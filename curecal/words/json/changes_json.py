"""What moved as machine output, and an earlier plan read back from its own machine output."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Any, TypeVar

from curecal.errors import InstantRefused, SourceError
from curecal.instants import instant
from curecal.planning.comparison.attribution import Cause
from curecal.planning.comparison.date_shifts import Shift
from curecal.planning.comparison.plan_comparison import Moved, ZoneMoved
from curecal.planning.comparison.plan_snapshot import (
    Decider,
    Ends,
    LayerTold,
    Told,
    VisitTold,
    ZoneTold,
)
from curecal.words.json.plan_json import SCHEMA, stamp
from curecal.words.report.plan_changes import moved_what
from curecal.words.sentences import Words, whole

T = TypeVar("T")
_NO_PLAN = "moved-unreadable"


def moved_json(moved: Moved, words: Words) -> dict[str, Any]:
    """Return what moved as `json.dumps` takes it; shifts in seconds, later is positive."""
    return {
        "since": stamp(moved.since),
        "until": stamp(moved.until),
        "by_log": moved.by_log,
        "zones": [_zone(zone, words) for zone in moved.zones],
        "new_zones": [zone.id for zone in moved.new_zones],
        "gone_zones": [zone.id for zone in moved.gone_zones],
        "visits": [
            {
                "kind": visit.kind,
                "zones": list(visit.zone_ids),
                "before": None if visit.before is None else _ends(visit.before),
                "after": None if visit.after is None else _ends(visit.after),
            }
            for visit in moved.visits
        ],
    }


def _zone(zone: ZoneMoved, words: Words) -> dict[str, Any]:
    days = {
        name: {"before": _day(before), "after": _day(after)}
        for name, (before, after) in zone.days.items()
    }
    deciders = zone.deciders
    return {
        "id": zone.after.id,
        "name": zone.after.name,
        "moved": zone.anything,
        "state": {"before": zone.before.state, "after": zone.after.state},
        "may_energize": {"before": zone.before.may_energize, "after": zone.after.may_energize},
        "energize": None if zone.own is None else _shift(zone.own),
        **{name: days.get(name) for name in ("start_on", "owner_date")},
        "governed_by": None
        if deciders is None
        else {"before": _decider(deciders[0]), "after": _decider(deciders[1])},
        "holds": [
            {
                "code": hold.code,
                "cable": hold.cable or None,
                "layer_id": hold.layer_id or None,
                "before": hold.before or None,
                "after": hold.after or None,
                "evidence": hold.evidence,
            }
            for hold in zone.holds
        ],
        "layers": [
            {
                "id": layer.layer_id,
                "name": layer.layer,
                "dates": [{"date": each.what, **_shift(each)} for each in layer.shifts],
            }
            for layer in zone.layers
        ],
        "changes": [
            {"change": each.change.value, "layer_id": each.layer_id, "layer": each.layer}
            for each in zone.changes
        ],
        "causes": [_cause(cause, words) for cause in zone.causes],
    }


def _cause(cause: Cause, words: Words) -> dict[str, Any]:
    return {
        "code": cause.what.code,
        "what": moved_what(cause, words),
        "entries": list(cause.entries),
        "energize": None if cause.own is None else _shift(cause.own),
        "dates": [
            {"layer_id": layer_id, "date": each.what, **_shift(each)}
            for layer_id, each in cause.dates
        ],
        "state": None
        if cause.states is None
        else {"before": cause.states[0], "after": cause.states[1]},
        "may": None if cause.may is None else whole(words.message(cause.may)),
    }


def _shift(shift: Shift) -> dict[str, Any]:
    return {
        "before": _ends(shift.before),
        "after": _ends(shift.after),
        "earliest_s": shift.earliest_s,
        "latest_s": shift.latest_s,
    }


def _ends(ends: Ends) -> dict[str, str | None]:
    return {"earliest": stamp(ends.earliest), "latest": stamp(ends.latest)}


def _day(day: date | None) -> str | None:
    return None if day is None else day.isoformat()


def _decider(decider: Decider | None) -> dict[str, str] | None:
    if decider is None:
        return None
    return {
        "layer_id": decider.layer_id,
        "layer": decider.layer,
        "milestone": decider.milestone,
        "rule_id": decider.rule,
    }


class _Reader:
    """Reads one document: what it lacks or holds wrongly ends in one error with the place."""

    def __init__(self, path: str) -> None:
        self._path = path

    def refused(self, place: str, key: str) -> SourceError:
        return SourceError(_NO_PLAN, path=self._path, what=f"{place}{key}")

    def get(self, table: Mapping[str, Any], key: str, kind: type[T], place: str) -> T:
        value = table.get(key)
        # A truth value is a whole number to Python, and not to us.
        if not isinstance(value, kind) or (isinstance(value, bool) and kind is not bool):
            raise self.refused(place, key)
        return value

    def maybe(self, table: Mapping[str, Any], key: str, kind: type[T], place: str) -> T | None:
        return None if table.get(key) is None else self.get(table, key, kind, place)

    def tables(self, table: Mapping[str, Any], key: str, place: str) -> list[dict[str, Any]]:
        items = self.get(table, key, list, place)
        if not all(isinstance(item, dict) for item in items):
            raise self.refused(place, key)
        return items

    def at(self, table: Mapping[str, Any], key: str, place: str) -> datetime | None:
        text = self.maybe(table, key, str, place)
        if text is None:
            return None
        try:
            return instant(datetime.fromisoformat(text))
        except (ValueError, InstantRefused):
            raise self.refused(place, key) from None

    def day(self, table: Mapping[str, Any], key: str, place: str) -> date | None:
        text = self.maybe(table, key, str, place)
        try:
            return None if text is None else date.fromisoformat(text)
        except ValueError:
            raise self.refused(place, key) from None

    def ends(self, table: Mapping[str, Any], place: str) -> Ends:
        earliest, latest = self.at(table, "earliest", place), self.at(table, "latest", place)
        if latest is not None and (earliest is None or latest < earliest):
            raise self.refused(place, "latest")
        return Ends(earliest, latest)


def read_told(document: object, path: str) -> Told:
    """Return what a plan told, from its own machine output; keys added since do no harm.

    Args:
        document: What `json.loads` gave.
        path: The file, for the error.

    Returns:
        What it told.

    Raises:
        SourceError: It is no such output, of another schema, or something in it is not as it was
            written.
    """
    reader = _Reader(path)
    if not isinstance(document, dict) or "schema" not in document:
        raise reader.refused("", "schema")
    if document["schema"] != SCHEMA:
        raise SourceError("moved-schema", path=path, found=document["schema"], wanted=SCHEMA)
    as_of = reader.at(document, "as_of", "")
    if as_of is None:
        # What is printed of a job that is not understood has a schema and no plan.
        raise reader.refused("", "as_of")
    zones = reader.tables(document, "zones", "")
    ids = [reader.get(zone, "id", str, f"zones.{index}.") for index, zone in enumerate(zones)]
    if len(set(ids)) < len(ids):
        raise reader.refused("", "zones")
    return Told(
        reader.get(document, "job_id", str, ""),
        as_of,
        tuple(_zone_told(reader, zone, f"zones.{index}.") for index, zone in enumerate(zones)),
        tuple(
            _visit_told(reader, visit, f"visits.{index}.")
            for index, visit in enumerate(reader.tables(document, "visits", ""))
        ),
    )


def _zone_told(reader: _Reader, zone: Mapping[str, Any], place: str) -> ZoneTold:
    energize: dict[str, Any] = reader.get(zone, "energize", dict, place)
    here = f"{place}energize."
    governed: dict[str, Any] | None = reader.maybe(energize, "governed_by", dict, here)
    decider = None
    if governed is not None:
        at = f"{here}governed_by."
        decider = Decider(
            reader.get(governed, "layer_id", str, at),
            reader.get(governed, "layer", str, at),
            reader.get(governed, "milestone", str, at),
            reader.maybe(governed, "rule_id", str, at) or "",
        )
    holds: dict[tuple[str, str, str], str] = {}
    for index, hold in enumerate(reader.tables(zone, "holds", place)):
        at = f"{place}holds.{index}."
        key = (
            reader.get(hold, "code", str, at),
            reader.maybe(hold, "cable", str, at) or "",
            reader.maybe(hold, "layer_id", str, at) or "",
        )
        holds[key] = reader.get(hold, "state", str, at)
    layers = reader.tables(zone, "layers", place)
    return ZoneTold(
        id=reader.get(zone, "id", str, place),
        name=reader.get(zone, "name", str, place),
        state=reader.get(zone, "state", str, place),
        may_energize=reader.get(zone, "may_energize", bool, place),
        ends=reader.ends(energize, here),
        start_on=reader.day(energize, "start_on", here),
        owner_date=reader.day(energize, "owner_date", here),
        decider=decider,
        holds=holds,
        layers=tuple(
            _layer_told(reader, layer, f"{place}layers.{index}.")
            for index, layer in enumerate(layers)
        ),
    )


def _layer_told(reader: _Reader, layer: Mapping[str, Any], place: str) -> LayerTold:
    part = reader.maybe(layer, "part", str, place)
    name = reader.get(layer, "name", str, place)
    planned = reader.get(layer, "planned", bool, place)
    dates: dict[str, Ends] = {}
    for key in ("start", "finish") if planned else ("finish",):
        table: dict[str, Any] | None = reader.maybe(layer, key, dict, place)
        if table is not None:
            dates[key] = reader.ends(table, f"{place}{key}.")
    waits: dict[str, tuple[str, str, str]] = {}
    milestones: dict[str, Any] = reader.get(layer, "milestones", dict, place)
    for key in milestones:
        here = f"{place}milestones."
        milestone: dict[str, Any] = reader.get(milestones, key, dict, here)
        dates[key] = reader.ends(milestone, f"{here}{key}.")
        said = [reader.maybe(milestone, each, str, here) for each in ("rule_id", "basis", "source")]
        waits[key] = (said[0] or "", said[1] or "", said[2] or "")
    return LayerTold(
        reader.get(layer, "id", str, place),
        f"{name} ({part})" if part else name,
        planned,
        reader.maybe(layer, "existing", bool, place) or False,
        reader.at(layer, "done", place),
        dates,
        waits,
    )


def _visit_told(reader: _Reader, visit: Mapping[str, Any], place: str) -> VisitTold:
    zones: Sequence[Any] = reader.get(visit, "zones", list, place)
    if not all(isinstance(zone, str) for zone in zones):
        raise reader.refused(place, "zones")
    return VisitTold(reader.get(visit, "kind", str, place), tuple(zones), reader.ends(visit, place))
