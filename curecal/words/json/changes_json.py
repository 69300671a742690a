"""The differences between two plans as machine output."""

from __future__ import annotations

from curecal.planning.comparison.attribution import ShiftCause
from curecal.planning.comparison.date_shifts import Shift
from curecal.planning.comparison.plan_comparison import PlanComparison, ZoneComparison
from curecal.planning.comparison.plan_snapshot import Decider
from curecal.records import PlainTable, Record, record
from curecal.trade.findings import Message
from curecal.words.json.record_json import encode
from curecal.words.sentences import Words, whole


@record
class _CauseFacts(Record):
    """A cause, with the messages behind its two sentences."""

    code: str
    entries: tuple[str, ...]
    energize: PlainTable | None
    dates: list[PlainTable]
    state: PlainTable | None
    what_facts: Message
    may_facts: Message | None


def comparison_json(comparison: PlanComparison, words: Words | None = None) -> PlainTable:
    """Return the differences between two plans as `json.dumps` takes them.

    Args:
        comparison: the differences.
        words: the language of the causes; None for facts alone.

    Returns:
        A table; shifts are in seconds, later is positive.
    """

    def beside(facts: Record) -> PlainTable:
        match facts:
            case Decider(rule_id=rule_id) if words is not None and rule_id in words.titles:
                return {"rule": words.rule(rule_id)}
            case _CauseFacts(what_facts=what, may_facts=may) if words is not None:
                # What a cause is stands in sentences of its reader's own.
                clause = words.message(what).rstrip(". ")
                return {"what": clause, "may": whole(words.message(may)) if may else None}
            case _:
                return {}

    document: PlainTable = encode(
        {
            "since": comparison.since,
            "until": comparison.until,
            "by_log": comparison.by_log,
            "zones": [_zone(zone) for zone in comparison.zones],
            "new_zones": [zone.id for zone in comparison.new_zones],
            "gone_zones": [zone.id for zone in comparison.gone_zones],
            "visits": comparison.visits,
        },
        beside,
    )
    return document


def _zone(zone: ZoneComparison) -> PlainTable:
    before, after = zone.before, zone.after
    days = {name: _pair(*pair) for name, pair in zone.days.items()}
    return {
        "id": after.id,
        "name": after.name,
        "moved": zone.has_changed,
        "state": _pair(before.state, after.state),
        "may_energize": _pair(before.may_energize, after.may_energize),
        "energize": None if zone.energize is None else _shift(zone.energize),
        **{name: days.get(name) for name in ("start_on", "owner_date")},
        "governed_by": None if zone.deciders is None else _pair(*zone.deciders),
        "holds": zone.holds,
        "layers": [
            {
                "id": layer.layer_id,
                "name": layer.layer,
                "dates": [_dated(shift) for shift in layer.shifts],
            }
            for layer in zone.layers
        ],
        "changes": zone.changes,
        "causes": [_cause(cause) for cause in zone.causes],
    }


def _cause(cause: ShiftCause) -> _CauseFacts:
    return _CauseFacts(
        code=cause.what.code,
        entries=cause.entries,
        energize=None if cause.energize is None else _shift(cause.energize),
        dates=[{"layer_id": layer_id, **_dated(shift)} for layer_id, shift in cause.dates],
        state=None if cause.states is None else _pair(*cause.states),
        what_facts=cause.what,
        may_facts=cause.may,
    )


def _dated(shift: Shift) -> PlainTable:
    return {"date": shift.what, **_shift(shift)}


def _shift(shift: Shift) -> PlainTable:
    elapsed = {"earliest_s": shift.earliest_s, "latest_s": shift.latest_s}
    return {**_pair(shift.before, shift.after), **elapsed}


def _pair(before: object, after: object) -> dict[str, object]:
    return {"before": before, "after": after}
