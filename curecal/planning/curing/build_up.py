"""A zone's build-up: which layer lies on which, what each waits for, what the order implies."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import field

from curecal.planning.repair import is_repair, mends
from curecal.planning.tolerances import HAIR
from curecal.records import Record, record
from curecal.trade.data_sheets import (
    BEDS,
    BESIDE_THE_FLOOR,
    DRYING_BASES,
    IMPERVIOUS,
    MAY_BE_IMPERVIOUS,
    POURED,
    SHEETS_AND_BOARDS,
    DryingWait,
    Hardening,
    Kind,
    Milestone,
    Wait,
)
from curecal.trade.job import Covering, CoveringFamily, CoveringKind, Layer, Zone
from curecal.trade.layers_below import layers_below, place_of
from curecal.trade.rules import Rules

# Tiles that let next to no water through: the mortar under them dries only through its joints.
_DENSE = frozenset({CoveringKind.PORCELAIN, CoveringKind.GLASS, CoveringKind.STONE})
# Coats so thin that a mortar neither gives its water to them nor through them to what is dense.
_FILMS = frozenset({Kind.PRIMER, Kind.SEALER})
_LETS_NO_WATER = IMPERVIOUS | MAY_BE_IMPERVIOUS
_BEDS_AND_FINISHES = BEDS | {Kind.POURED_FINISH}
_GYPSUM = frozenset({Kind.GYPSUM_LEVELER, Kind.GYPSUM_FIBER_BOARD, Kind.DRY_SCREED})
# What shuts the water of a base in for good.
_SHUTS_IN = frozenset({Kind.MEMBRANE, Kind.WATERPROOFING_SHEET, Kind.POURED_FINISH})


@record
class BuildUp(Record):
    """A zone's layers, bottom to top, with the questions the rules ask of their order.

    `embedding` is the layer that embeds the cable (R24), None in a zone without one.
    """

    zone: Zone
    _below: tuple[tuple[Layer, ...], ...] = field(init=False)
    _above: tuple[tuple[Layer, ...], ...] = field(init=False)
    _places: dict[int, int] = field(init=False)
    _covers: tuple[Wait | None, ...] = field(init=False)
    embedding: Layer | None = field(init=False)

    def __post_init__(self) -> None:
        layers = self.zone.layers
        below = tuple(layers_below(layers, layer) for layer in layers)
        places = {id(layer): place for place, layer in reversed([*enumerate(layers)])}
        above: list[list[Layer]] = [[] for _ in layers]
        for other, under in zip(layers, below, strict=True):
            if other.sheet.kind not in BESIDE_THE_FLOOR:
                for layer in under:
                    above[places[id(layer)]].append(other)
        # Every rule asks, of every layer, for every milestone.
        object.__setattr__(self, "_below", below)
        object.__setattr__(self, "_above", tuple([tuple(on_top) for on_top in above]))
        object.__setattr__(self, "_places", places)
        covers = (
            _cover_of(layer, on_top, self.zone.covering)
            for layer, on_top in zip(layers, self._above, strict=True)
        )
        object.__setattr__(self, "_covers", tuple(covers))
        object.__setattr__(self, "embedding", self._find_embedding())

    def below(self, layer: Layer) -> tuple[Layer, ...]:
        """Return what a layer sits on, nearest first.

        Rule: R28.

        Returns:
            The layers directly under it; empty for the lowest.
        """
        return self._below[self._place(layer)]

    def above(self, layer: Layer) -> tuple[Layer, ...]:
        """Return what sits directly on a layer, lowest first; joints and edges sit on nothing.

        Rule: R28.

        Returns:
            The layers directly on it; empty for the topmost.
        """
        return self._above[self._place(layer)]

    def _place(self, layer: Layer) -> int:
        # Nearly always it is one of the zone's own, and they live as long as this does.
        place = self._places.get(id(layer))
        return place_of(self.zone.layers, layer) if place is None else place

    def required_milestone(self, under: Layer, layer: Layer) -> Milestone | None:
        """Return the milestone of the layer under it that a layer waits for; None for none.

        Rule: R15.

        Args:
            under: the layer it sits on.
            layer: the layer that is to follow.

        Returns:
            The milestone, or None for what is laid into the fresh bed.
        """
        kind, on_top = under.sheet.kind, layer.sheet.kind
        if under.existing or on_top in BESIDE_THE_FLOOR:
            return None
        # Sheets and boards go into the fresh mortar; the mortar hardens under them.
        if kind in BEDS and on_top in SHEETS_AND_BOARDS:
            return None
        waits = under.sheet.waits
        # Some sheets give only the next trade's wait: the first given stands for covering. Where
        # none is, cover stays, and its missing wait is asked for.
        wanted = [Milestone.COVER, Milestone.GROUT, Milestone.SEAL]
        if kind in BEDS and on_top is Kind.GROUT:
            wanted = [Milestone.GROUT, Milestone.COVER]
        elif kind is Kind.GROUT and on_top is Kind.SEALER:
            wanted = [Milestone.SEAL, Milestone.COVER]
        for milestone in wanted:
            if milestone is Milestone.COVER and self.cover_wait(under) is not None:
                return milestone
            if milestone in waits:
                return milestone
        return Milestone.COVER

    def cover_wait(self, layer: Layer) -> Wait | None:
        """Return the cover wait that fits what comes on a layer.

        A sheet may give a time for what lies directly on it, or for the floor's finished
        surface; where it gives neither, its plain one.

        Rule: R15.

        Returns:
            The wait, or None where the sheet gives none.
        """
        return self._covers[self._place(layer)]

    def is_topmost_pour(self, layer: Layer) -> bool:
        """Return whether a part of a layer, at least, has no pour over it.

        Rule: R24b.
        """
        above = self.above(layer)
        return not above or any(
            other.sheet.kind not in POURED and self.is_topmost_pour(other) for other in above
        )

    def is_closed_by_pour(self, layer: Layer) -> bool:
        """Return whether a pour comes on a layer with nothing impervious between them.

        Rule: R24b.
        """
        return any(
            other.sheet.kind in POURED
            or (other.sheet.kind not in IMPERVIOUS and self.is_closed_by_pour(other))
            for other in self.above(layer)
        )

    def is_opened(self, layer: Layer) -> bool:
        """Return whether new work comes on a layer: not so where it was covered before the job.

        Rule: R18, R24b.
        """
        if not layer.existing:
            return True
        above = self.above(layer)
        was_covered = bool(above) and all(other.existing for other in above)
        return not was_covered and not is_repair(self.zone.layers)

    def wet_pours(self, layer: Layer) -> tuple[Layer, ...]:
        """Return a pour and those under it that must dry with it: one thickness, one clock.

        Rule: R11.

        Returns:
            The layer first, then the drying bases under it, down to what is impervious or old.
        """
        pours = [layer]
        if not self._dries(layer):
            return (layer,)
        under = self.below(layer)
        # Over several parts there is no one thickness to sum: each of them has its own clock.
        while len(under) == 1:
            other = under[0]
            if other.existing or other.sheet.kind in IMPERVIOUS:
                break
            if self._dries(other):
                pours.append(other)
            under = self.below(other)
        return tuple(pours)

    def _dries(self, layer: Layer) -> bool:
        wait = self.cover_wait(layer)
        return (
            layer.sheet.kind in POURED and wait is not None and isinstance(wait.amount, DryingWait)
        )

    def is_sealed_both_sides(self, layer: Layer, rules: Rules) -> bool:
        """Return whether a mortar can lose its water neither up nor down.

        Modified mortar that is not rapid, on an impervious layer, under dense tile with both
        edges long, or under another impervious layer; films between them part nothing.

        Rule: R12.
        """
        sheet = layer.sheet
        if sheet.kind is not Kind.THINSET or not sheet.modified or sheet.rapid or layer.existing:
            return False
        if self.impervious_below(layer) is None:
            return False
        # What else lies on it takes no water for good: the covering closes the floor all the same.
        return (
            is_dense(self.zone.covering, rules.sealed_mortar.edge_m)
            or self._find_impervious(self.above, layer) is not None
        )

    def impervious_below(self, layer: Layer) -> Layer | None:
        """Return the impervious layer that a mortar lies on, looking through films; else None.

        Rule: R12.
        """
        return self._find_impervious(self.below, layer)

    def closed_by(self, rules: Rules) -> str:
        """Return what closes a mortar above that is sealed on both sides.

        Rule: R12.
        """
        covering = self.zone.covering
        if not is_dense(covering, rules.sealed_mortar.edge_m):
            return "impervious layer"
        return "dense tile" if covering.is_named else "unnamed covering"

    def unnamed_board(self, layer: Layer) -> Layer | None:
        """Return the board under a mortar of which nobody said what it is made of; else None.

        Rule: R12.
        """
        under = self._through_films(self.below, layer)
        return next((other for other in under if other.sheet.kind is Kind.BACKER_BOARD), None)

    def _find_impervious(
        self, neighbors: Callable[[Layer], tuple[Layer, ...]], layer: Layer
    ) -> Layer | None:
        """Return the impervious layer that another meets on one side, looking through films."""
        met = self._through_films(neighbors, layer)
        return next((other for other in met if other.sheet.kind in _LETS_NO_WATER), None)

    def _through_films(
        self, neighbors: Callable[[Layer], tuple[Layer, ...]], layer: Layer
    ) -> Iterator[Layer]:
        """Give what a layer meets on one side, and what lies behind the films among it."""
        for other in neighbors(layer):
            yield other
            if other.sheet.kind in _FILMS:
                yield from self._through_films(neighbors, other)

    def is_drying_base(self, under: Layer, layer: Layer) -> bool:
        """Return whether covering this early shuts in water that must get out.

        Rule: R15.

        Args:
            under: the layer that is covered.
            layer: the layer that covers it.

        Returns:
            True for a base that hardens by drying, and for any base under a membrane, a poured
            finish, or glued wood or resilient flooring.
        """
        if under.sheet.hardens_by is Hardening.DRYING and under.sheet.kind in DRYING_BASES:
            return True
        if under.sheet.kind not in POURED:
            return False
        if layer.sheet.kind in _SHUTS_IN:
            return True
        return (
            self.zone.covering.kind.family is not CoveringFamily.TILE
            and layer.sheet.kind is Kind.ADHESIVE
        )

    def bases_under_films(self, layer: Layer) -> tuple[Layer, ...]:
        """Return the layers that another meets through films alone.

        A primer or a sealer bears nothing and lets a base dry on: what comes over it waits for the
        base as if it lay on it.

        Rule: R15.

        Args:
            layer: the layer that covers.
        """
        direct = self.below(layer)
        return tuple(base for base in self._through_films(self.below, layer) if base not in direct)

    def _find_embedding(self) -> Layer | None:
        """Return the layer that embeds the cable: the one the job names, else by our rule.

        Else what comes on an uncoupling sheet; else the first new pour; else the first new bed of
        mortar, or poured finish.
        """
        fresh = [
            layer
            for layer in self.zone.layers
            if not layer.existing and not mends(self.zone.layers, layer)
        ]
        for layer in fresh:
            if layer.over_cable:
                return layer
        for layer in fresh:
            if any(other.sheet.kind is Kind.UNCOUPLING_SHEET for other in self.below(layer)):
                return layer
        # Hot asphalt is not taken for it: that it may lie on the cable somebody has to say.
        for kinds in (POURED, _BEDS_AND_FINISHES):
            for layer in fresh:
                if layer.sheet.kind in kinds:
                    return layer
        return None

    def bed_under_covering(self) -> Layer | None:
        """Return the topmost mortar or adhesive: what the finished surface is laid in."""
        for layer in reversed(self.zone.layers):
            if layer.sheet.kind in BEDS and not layer.existing:
                return layer
        return None


def _cover_of(layer: Layer, above: Sequence[Layer], covering: Covering) -> Wait | None:
    """Return the cover wait of a layer's sheet that fits what comes on it."""
    covers = layer.sheet.covers
    for other in above:
        if other.sheet.kind in covers:
            return covers[other.sheet.kind]
    for key in (covering.kind, covering.kind.family, "any"):
        if key in covers:
            return covers[key]
    return None


def holds_sulfate(layer: Layer) -> bool:
    """Return whether a layer is calcium sulfate or gypsum, however it is said to harden.

    Rule: R24b.
    """
    sheet = layer.sheet
    is_drying = sheet.hardens_by is Hardening.DRYING and sheet.kind in DRYING_BASES
    return is_drying or sheet.kind in _GYPSUM


def is_dense(covering: Covering, edge_m: float) -> bool:
    """Return whether a covering lets no water up: dense tile with both edges long.

    Not so where its own sheet says that it takes up water.

    Rule: R12.

    Args:
        covering: the covering; of one nobody named the worst is taken.
        edge_m: from which edge on a tile is large [m].
    """
    if covering.is_named and (covering.kind not in _DENSE or covering.is_absorbent):
        return False
    if covering.size_m is None:
        # Size unknown: the long wait, rather than the guess that the tile is small.
        return True
    return min(covering.size_m) >= edge_m - HAIR
