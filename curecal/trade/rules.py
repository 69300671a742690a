"""The rules as data: titles, sources and numbers; computation is in `curecal.planning`.

A number is in SI and its name ends in its unit: `fallback_s`, `rated_c`, `limit_rh`, `step_k`;
`_count` is a whole number of days or pieces.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum

from curecal.records import Record, record
from curecal.trade.data_sheets import DataSheet, Kind
from curecal.trade.hold_codes import Gate, HoldCode
from curecal.trade.job import Role
from curecal.trade.sources import Source


class RuleId(StrEnum):
    """Ids of rules that something asks for; all others are only named."""

    OWN_WAITS = "R10"


@record
class Rule(Record):
    """One rule: its id, its title, and where its numbers come from."""

    id: str
    title: str
    source: Source


@record(kw_only=True)
class CementRule(Record):
    """Cement hardening: above which air it dries out. Rule R1."""

    hot_c: float


@record(kw_only=True)
class SpotReadingsRule(Record):
    """How far a look at a thermometer reaches, and which jumps no room makes. Rule R5."""

    apart_s: float
    lone_s: float
    jump_k: float
    jump_s: float
    warmer_k: float
    warmer_s: float
    before_s: float


@record(kw_only=True)
class UnmeasuredRule(Record):
    """What counts where nobody measured, and how far a reading bounds it. Rule R6."""

    near_s: float
    colder_k: float
    humidity_rh: float
    damper_rh: float
    dampest_rh: float
    apart_s: float
    within_s: float


@record(kw_only=True)
class BedRule(Record):
    """How much colder the bed is than the air. Rule R7."""

    colder_k: float
    warmer_k: float
    together_s: float
    known_s: float
    night_from_s: float
    night_until_s: float


@record(kw_only=True)
class RatingRule(Record):
    """Conditions of a sheet that names none, and the least that is not asked about. Rule R9.

    `makers_c` is for the waits of the heating's and the covering's makers.
    """

    rated_c: float
    makers_c: float
    least_c: float
    rated_rh: float


@record(kw_only=True)
class HeatWaitRule(Record):
    """The wait before heat where no sheet gives one. Rule R10."""

    fallback_s: float
    rated_c: float


@record(kw_only=True)
class SealedMortarRule(Record):
    """Mortar between two impervious faces. Rule R12."""

    heat_s: float
    grout_s: float
    edge_m: float


@record(kw_only=True)
class BareScreedRule(Record):
    """A bare screed's own heat-up. Rule R14."""

    flow_c: float
    flow_count: int
    flow_most_count: int
    flow_limit_c: float
    flow_step_k: float
    middle_c: float
    middle_count: int
    most_c: float
    most_count: int
    step_k: float


@record(kw_only=True)
class FrostRule(Record):
    """When frost harms a fresh layer. Rule R16."""

    surface_c: float
    air_c: float
    age_s: float


@record(kw_only=True)
class MinimumRule(Record):
    """A product's minimum where its sheet names none. Rule R17."""

    minimum_c: float


@record(kw_only=True)
class RepairRule(Record):
    """A floor under repair. Rule R18."""

    off_s: float
    chisel_s: float


@record(kw_only=True)
class FirstHeatRule(Record):
    """The first heat of a finished floor. Rule R19."""

    step_k: float
    vinyl_step_k: float
    wood_step_k: float
    hold_count: int
    living_space_c: float
    bathroom_c: float
    perimeter_c: float
    wood_resilient_c: float
    below_air_k: float
    fresh_s: float
    reached_k: float
    target_c: float
    cold_k: float


@record(kw_only=True)
class MoistureRule(Record):
    """When a moisture test counts. Rule R24."""

    depth_fraction: float
    least_age_s: float
    least_humidity_rh: float
    least_carbide_fraction: float
    plausible_fraction: float
    fall_fraction: float
    fall_s: float
    again_s: float
    heating_off_s: float
    old_base_s: float


@record(kw_only=True)
class ElectricalRule(Record):
    """Readings of cables, and protection. Rule R25."""

    earth_ohm: float
    sensor_k: float
    step_fraction: float
    step_ohm: float
    supply_fraction: float
    fall_count: int
    trip_milliampere_count: int
    class_a_milliampere_count: int
    trip_s: float


@record(kw_only=True)
class CableLayingRule(Record):
    """How a heating cable usually lies. Rule R25a."""

    closest_m: float
    usual_least_m: float
    usual_most_m: float
    drains_m: float
    strapping_m: float


@record
class HoldPoint(Record):
    """A hold point as data: what it gates, who meets it, under which codes it is needed."""

    code: HoldCode
    gates: Gate
    by: Role
    per_cable: bool = False
    stage: str | None = None
    codes: tuple[str, ...] = ()
    repair: bool = False


@record
class Need(Record):
    """Something a covering needs above the cable: its name, and the kinds any of which is it."""

    name: str
    kinds: frozenset[Kind]


@record(kw_only=True)
class Rules(Record):
    """Everything the planner takes from data.

    `needs` is what a covering needs above the cable, by the family of coverings. Rule R24a.
    """

    by_id: Mapping[str, Rule]
    classes: Mapping[str, DataSheet]
    needs: Mapping[str, tuple[Need, ...]]
    holds: tuple[HoldPoint, ...]
    cautions: tuple[str, ...]
    cement: CementRule
    spot_readings: SpotReadingsRule
    unmeasured: UnmeasuredRule
    bed: BedRule
    rating: RatingRule
    heat_wait: HeatWaitRule
    sealed_mortar: SealedMortarRule
    bare_screed: BareScreedRule
    frost: FrostRule
    minimum: MinimumRule
    repair: RepairRule
    first_heat: FirstHeatRule
    moisture: MoistureRule
    electrical: ElectricalRule
    cable_laying: CableLayingRule

    def source(self, rule: str) -> Source:
        """Return a rule's source."""
        return self.by_id[rule].source
