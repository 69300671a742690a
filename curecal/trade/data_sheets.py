"""Data sheets: what a product needs, each wait with its rated conditions and its source."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import field
from enum import StrEnum

from curecal.records import Record, record
from curecal.trade.sources import Source


class Kind(StrEnum):
    """What a layer is made of, in the trade's words."""

    # Looked up a thousand times a plan: the text's own hash, not one of the name made in Python.
    __hash__ = str.__hash__

    CONCRETE = "concrete"
    SCREED = "screed"
    MORTAR_BED = "mortar bed"
    LEVELER = "leveler"
    GYPSUM_LEVELER = "gypsum leveler"
    THINSET = "thinset"
    GROUT = "grout"
    UNCOUPLING_SHEET = "uncoupling sheet"
    MEMBRANE = "membrane"
    PRIMER = "primer"
    BARRIER = "barrier"
    SEALER = "sealer"
    ADHESIVE = "adhesive"
    BACKER_BOARD = "backer board"
    CEMENT_BOARD = "cement board"
    GYPSUM_FIBER_BOARD = "gypsum-fiber board"
    FOAM_CORE_BOARD = "foam-core board"
    INSULATION_BOARD = "insulation board"
    WATERPROOFING_SHEET = "waterproofing sheet"
    DRY_SCREED = "dry screed"
    POURED_ASPHALT = "poured asphalt"
    POURED_FINISH = "poured finish"
    PLYWOOD = "plywood"
    MASTIC = "mastic"
    SILICONE = "silicone"
    PERIMETER_STRIP = "perimeter strip"


class Hardening(StrEnum):
    """How a product hardens; it decides which law its clock follows."""

    # Looked up a thousand times a plan: the text's own hash, not one of the name made in Python.
    __hash__ = str.__hash__

    CEMENT = "cement"
    DRYING = "drying"
    REACTION = "reaction"
    AT_ONCE = "at once"


class Milestone(StrEnum):
    """What a layer allows when it is reached. None is derived from another."""

    # Looked up a thousand times a plan: the text's own hash, not one of the name made in Python.
    __hash__ = str.__hash__

    WALK = "walk"
    GROUT = "grout"
    COVER = "cover"
    SEAL = "seal"
    WET = "wet"
    LOAD = "load"
    HEAT = "heat"
    BARE_HEAT = "bare_heat"


@record
class FixedWait(Record):
    """A time at the rated conditions."""

    wait_s: float


@record
class TableWait(Record):
    """Times by temperature as the sheet prints them: (°C, s), coldest first."""

    points: tuple[tuple[float, float], ...]


@record
class ThicknessWait(Record):
    """A time by the layer's deepest thickness: bands, or a rate with a floor, up to a limit.

    `bands` are (up to [m], s), thinnest first. Deeper than the last band or `limit_m` the
    sheet must say.
    """

    bands: tuple[tuple[float, float], ...] = ()
    at_least_s: float = 0.0
    per_m_s: float = 0.0
    limit_m: float | None = None


@record
class DryingWait(Record):
    """Drying by thickness: segments (to [m] or None, s per m) after a time under cover."""

    segments: tuple[tuple[float | None, float], ...]
    under_cover_s: float = 0.0


@record
class UntilTested(Record):
    """No time is known: a passed moisture test decides."""


@record
class SheetWait(Record):
    """The class has no number of its own: the product's sheet must state it."""


Amount = FixedWait | TableWait | ThicknessWait | DryingWait | UntilTested | SheetWait


@record
class Wait(Record):
    """One waiting time: how long, at which conditions, by which law, and who says so.

    `written` is the text as the sheet has it; `law` may differ from the sheet's own hardening
    (a cement screed's cover under vinyl is a drying time).
    """

    amount: Amount
    source: Source
    rated_c: float
    rated_rh: float
    law: Hardening
    written: str = ""


@record
class DataSheet(Record):
    """A product or a shipped class, complete: what its sheet leaves out, its class fills in.

    `covers` is keyed by what covers ("tile", "wood", "vinyl", a layer kind, or "any").
    `no_later` holds latest times for what must follow (a primer's open time), in seconds of
    plain elapsed time. `frost_age_s` is the equivalent age after which frost no longer harms.
    """

    name: str
    kind: Kind
    hardens_by: Hardening
    source: Source
    rated_c: float
    rated_rh: float
    minimum_c: float
    minimum_source: Source
    modified: bool = True
    rapid: bool = False
    doubling_k: float | None = None
    drying_limit_rh: float = 0.75
    waits: Mapping[Milestone, Wait] = field(default_factory=dict)
    covers: Mapping[str, Wait] = field(default_factory=dict)
    heat_sealed: Wait | None = None
    bare_heat: Wait | None = None
    final_cure: Wait | None = None
    no_later: Mapping[Milestone, tuple[float, Source]] = field(default_factory=dict)
    frost_age_s: float = 72 * 3600.0
    moisture_limits: tuple[MoistureLimit, ...] = ()

    @property
    def puts_off_heat(self) -> bool:
        """Return whether the floor waits for it: for what lies beside it only by its own sheet."""
        return self.kind not in BESIDE_THE_FLOOR or Milestone.HEAT in self.waits

    @property
    def is_resin_grout(self) -> bool:
        """Return whether it is a grout that hardens by reaction: it takes up no sealer."""
        return self.kind is Kind.GROUT and self.hardens_by is Hardening.REACTION

    @property
    def is_dispersion(self) -> bool:
        """Return whether it is an adhesive that hardens as its water leaves."""
        return self.kind is Kind.ADHESIVE and self.hardens_by is Hardening.DRYING


@record
class MoistureLimit(Record):
    """The most moisture a test may find by one method, which is converted into no other.

    By calcium chloride it is what evaporates [kg/(m²·s)], by any other method a fraction.
    """

    method: str
    limit_fraction: float | None
    source: Source
    limit_kgm2s: float | None = None

    @property
    def figure(self) -> float:
        """The limit, in the unit of its method."""
        told = self.limit_fraction if self.limit_kgm2s is None else self.limit_kgm2s
        return told or 0.0


def strictest(limits: Iterable[MoistureLimit]) -> tuple[MoistureLimit, ...]:
    """Return the strictest limit of each method."""
    found: dict[str, MoistureLimit] = {}
    for limit in limits:
        known = found.setdefault(limit.method, limit)
        found[limit.method] = min(known, limit, key=lambda one: one.figure)
    return tuple(found.values())


# What lies under one of these, or between two, cannot give its water up through it.
IMPERVIOUS = frozenset(
    {
        Kind.UNCOUPLING_SHEET,
        Kind.WATERPROOFING_SHEET,
        Kind.MEMBRANE,
        Kind.BARRIER,
        Kind.FOAM_CORE_BOARD,
        Kind.POURED_ASPHALT,
    }
)
# Boards of which some let water through and some do not: each time the worse is taken.
MAY_BE_IMPERVIOUS = frozenset({Kind.BACKER_BOARD, Kind.INSULATION_BOARD})
# Coats harden by drying as well, and are no base whose water a covering would shut in.
DRYING_BASES = frozenset({Kind.SCREED, Kind.GYPSUM_LEVELER})
POURED = frozenset({Kind.CONCRETE, Kind.SCREED, Kind.MORTAR_BED, Kind.LEVELER, Kind.GYPSUM_LEVELER})
# What tiles, sheets and boards are laid in.
BEDS = frozenset({Kind.THINSET, Kind.ADHESIVE})
SHEETS_AND_BOARDS = frozenset(
    {
        Kind.UNCOUPLING_SHEET,
        Kind.WATERPROOFING_SHEET,
        Kind.BACKER_BOARD,
        Kind.CEMENT_BOARD,
        Kind.GYPSUM_FIBER_BOARD,
        Kind.FOAM_CORE_BOARD,
        Kind.INSULATION_BOARD,
    }
)
# Joints and edges: nothing lies on them, and they lie on nothing.
BESIDE_THE_FLOOR = frozenset({Kind.SILICONE, Kind.PERIMETER_STRIP})
SPLIT_OVER_A_NIGHT = frozenset(
    {
        *BEDS,
        *SHEETS_AND_BOARDS,
        *BESIDE_THE_FLOOR,
        Kind.GROUT,
        Kind.DRY_SCREED,
        Kind.PLYWOOD,
    }
)
