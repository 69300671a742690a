"""The rules as data: titles, numbers and sources; computation is in `curecal.planning`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from curecal.records import Record
from curecal.trade.data_sheets import DataSheet
from curecal.trade.sources import Source


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Rule(Record):
    """One rule: its id, where its numbers come from, and the numbers in SI by name.

    A number's name ends in its unit: `fallback_s`, `rated_c`, `limit_rh`, `step_k`.
    """

    id: str
    title: str
    source: Source
    numbers: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class HoldPoint(Record):
    """A hold point as data: what it gates, who meets it, under which codes it is needed."""

    code: str
    gates: str
    by: str
    per_cable: bool = False
    stage: str | None = None
    codes: tuple[str, ...] = ()
    repair: bool = False


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Rules(Record):
    """Everything the planner takes from data."""

    by_id: Mapping[str, Rule]
    classes: Mapping[str, DataSheet]
    holds: tuple[HoldPoint, ...]
    cautions: tuple[str, ...]

    def number(self, rule: str, name: str) -> float:
        """A rule's number in SI. Raises `KeyError` for a name the data does not hold."""
        return self.by_id[rule].numbers[name]

    def source(self, rule: str) -> Source:
        """A rule's source."""
        return self.by_id[rule].source
