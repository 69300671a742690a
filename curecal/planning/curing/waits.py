"""The waits of a layer's milestones: the sheet's own, and those the build-up adds."""

from __future__ import annotations

from dataclasses import replace

from curecal.instants import Window
from curecal.planning.curing.build_up import BuildUp, is_dense
from curecal.planning.curing.clocks import Clocks, WaitEnd, find_latest
from curecal.planning.plan import MilestonePlan, Step
from curecal.records import Record, record
from curecal.trade.data_sheets import (
    SHEETS_AND_BOARDS,
    FixedWait,
    Hardening,
    Kind,
    Milestone,
    Wait,
)
from curecal.trade.findings import Message
from curecal.trade.job import Layer
from curecal.trade.rules import Rules
from curecal.trade.sources import Basis

# What is gone into the floor without a hardening of its own, or is thin and dry by its cover time.
NO_HEAT_WAIT = frozenset(
    {
        *SHEETS_AND_BOARDS,
        Kind.MEMBRANE,
        Kind.PRIMER,
        Kind.BARRIER,
        Kind.DRY_SCREED,
        Kind.PLYWOOD,
    }
)
PLAIN_MILESTONES = (
    Milestone.WALK,
    Milestone.GROUT,
    Milestone.SEAL,
    Milestone.WET,
    Milestone.LOAD,
)
"""Milestones that only the layer's own waits decide: no test, no bare heat-up, no other layer."""
_LATER = (Milestone.WET, Milestone.SEAL, Milestone.LOAD)


@record
class Waits(Record):
    """A zone's waits: what each layer's milestones wait for."""

    build_up: BuildUp
    rules: Rules

    def waits_of(self, layer: Layer, milestone: Milestone) -> tuple[tuple[str, Wait], ...]:
        """Return the waits of one milestone, each with the id of the rule that makes it count.

        Rule: R10, R12, R14, R15.

        Args:
            layer: a layer with a clock.

        Returns:
            (rule id, wait) pairs; empty where the layer has no such milestone.
        """
        sheet = layer.sheet
        match milestone:
            case Milestone.COVER:
                cover = self.build_up.cover_wait(layer)
                return () if cover is None else (("R15", cover),)
            case Milestone.BARE_HEAT:
                return () if sheet.bare_heat is None else (("R14", sheet.bare_heat),)
            case Milestone.HEAT:
                return self._heat(layer)
            case _:
                own = sheet.waits.get(milestone)
                waits = [] if own is None else [("R9", own)]
                if (
                    milestone is Milestone.GROUT
                    and sheet.heat_sealed is None
                    and self._sealed(layer)
                ):
                    wait_s = self.rules.sealed_mortar.grout_s
                    waits.append(("R12", self._sealed_wait(layer, wait_s, milestone)))
                return tuple(waits)

    def _heat(self, layer: Layer) -> tuple[tuple[str, Wait], ...]:
        sheet = layer.sheet
        if not sheet.puts_off_heat:
            return ()
        waits: list[tuple[str, Wait]] = []
        heat = sheet.waits.get(Milestone.HEAT)
        # A screed heated bare is gated by that, its cooling down and its test; what its own sheet
        # asks for counts all the same.
        if heat is not None and (
            not layer.heat_before_covering or heat.source.basis is Basis.DATA_SHEET
        ):
            waits.append(("R10", heat))
        # What a class says of water, sealing and load is no word of this sheet's maker against its
        # heat; a class's own heat is never before them.
        for milestone in _LATER:
            later = sheet.waits.get(milestone)
            if later is not None and later.source is sheet.source:
                waits.append(("R10", later))
        if self._sealed(layer):
            if sheet.heat_sealed is not None:
                waits.append(("R12", sheet.heat_sealed))
            else:
                waits.append(
                    (
                        "R12",
                        self._sealed_wait(layer, self.rules.sealed_mortar.heat_s, Milestone.HEAT),
                    )
                )
        return tuple(waits)

    def _sealed(self, layer: Layer) -> bool:
        return self.build_up.is_sealed_both_sides(layer, self.rules)

    def _sealed_wait(self, layer: Layer, wait_s: float, milestone: Milestone) -> Wait:
        """Return the long wait between two impervious faces, rated as the sheet's own wait is."""
        own = layer.sheet.waits.get(milestone)
        rated_c = layer.sheet.rated_c if own is None else own.rated_c
        return Wait(
            FixedWait(wait_s),
            self.rules.source("R12"),
            rated_c,
            layer.sheet.rated_rh,
            Hardening.CEMENT,
        )

    def end_waits(
        self, clocks: Clocks, layer: Layer, milestone: Milestone, start: Window
    ) -> tuple[WaitEnd, ...]:
        """Return every wait of a milestone run from a start.

        Rule: R10.

        Args:
            start: where its clocks run from.
        """
        if milestone is Milestone.COVER:
            pours = self.build_up.wet_pours(layer)
            if len(pours) > 1 and all(pour.thickness_m is not None for pour in pours):
                return self._summed(clocks, layer, pours, start)
        waits = self.waits_of(layer, milestone)
        if not waits:
            return ()
        return tuple(
            clocks.end_wait(
                rule=rule, wait=wait, sheet=layer.sheet, thickness_m=layer.thickness_m, start=start
            )
            for rule, wait in waits
        )

    def _summed(
        self, clocks: Clocks, layer: Layer, pours: tuple[Layer, ...], start: Window
    ) -> tuple[WaitEnd, ...]:
        """Return the drying of several pours as one thickness, by each of their rules.

        What a passed test found dry under a later pour is not counted again.
        """
        total_m = sum(pour.thickness_m or 0.0 for pour in pours)
        waits = [self.build_up.cover_wait(pour) for pour in pours]
        return tuple(
            clocks.end_wait(
                rule="R15", wait=wait, sheet=layer.sheet, thickness_m=total_m, start=start
            )
            for wait in waits
            if wait is not None
        )

    def plan_milestone(
        self,
        clocks: Clocks,
        layer: Layer,
        milestone: Milestone,
        start: Window,
        lead: tuple[Step, ...] = (),
    ) -> MilestonePlan | None:
        """Return a milestone's date: the latest of its waits, with all their steps.

        Rule: R10.

        Args:
            start: where its clocks run from.
            lead: steps that come first: when the layer was done, what the site did to it.

        Returns:
            The milestone, or None where the layer has none.
        """
        dues = self.end_waits(clocks, layer, milestone, start)
        if not dues:
            return self._without_wait(layer, milestone, start, lead)
        window, governing = find_latest(dues)
        steps = [*lead]
        for due in dues:
            if due.wait.source is self.rules.source("R12"):
                steps.append(self._why_sealed(layer, due.wait))
            steps.extend(due.steps)
        if len(dues) > 1 and window is not None:
            steps.append(_longest(len(dues), governing, window))
        return MilestonePlan(
            milestone,
            window,
            governing.rule,
            governing.wait.source,
            tuple(steps),
            governing.blocked,
            # Only the wait before a covering stands for a moisture that nobody has measured yet.
            estimate=milestone is Milestone.COVER and governing.wait.law is Hardening.DRYING,
            informative=milestone is Milestone.WALK,
        )

    def plan_heat(
        self,
        clocks: Clocks,
        layer: Layer,
        start: Window,
        lead: tuple[Step, ...],
        cover: MilestonePlan | None,
    ) -> MilestonePlan | None:
        """Return when a layer may be heated: its heat waits, and never before its own cover.

        Rule: R10.

        Args:
            start: where its clocks run from.
            lead: steps that come first.
            cover: the layer's cover milestone as tests and bare heat-up left it.

        Returns:
            The milestone, or None where the layer has none.
        """
        own = self.plan_milestone(clocks, layer, Milestone.HEAT, start, lead)
        if own is None or own.window is None or cover is None:
            return own
        if cover.window is None:
            return replace(own, window=None, blocked=cover.blocked, rule=cover.rule)
        window = own.window.later(cover.window)
        if cover.window.earliest <= own.window.earliest:
            return own if window == own.window else replace(own, window=window)
        params = {"earliest_at": window.earliest}
        last = Step("heat-after-cover", cover.rule, cover.source, params)
        steps = (*own.steps, *cover.steps[len(lead) :], last)
        return replace(own, window=window, rule=cover.rule, source=cover.source, steps=steps)

    def _why_sealed(self, layer: Layer, wait: Wait) -> Step:
        """Return why a mortar waits so long, and the ways out that are left."""
        covering = self.build_up.zone.covering
        is_tile = is_dense(covering, self.rules.sealed_mortar.edge_m)
        under = self.build_up.impervious_below(layer)
        params = {
            "layer": layer.name,
            "under": "" if under is None else under.name,
            "closed_by": self.build_up.closed_by(self.rules),
            # Smaller tile than this does not close the floor, but nobody said how large it is.
            "small": "tile" if is_tile and covering.is_named and not covering.size_m else None,
            "not_laid": layer.name if layer.done_at is None else None,
        }
        return Step("sealed", "R12", wait.source, params)

    def _without_wait(
        self, layer: Layer, milestone: Milestone, start: Window, lead: tuple[Step, ...]
    ) -> MilestonePlan | None:
        """Return what holds where no wait is given: at once, ask for the sheet, or nothing."""
        sheet = layer.sheet
        if milestone is Milestone.HEAT:
            if not sheet.puts_off_heat:
                return None
            if sheet.kind in NO_HEAT_WAIT or layer.heat_before_covering:
                bare = layer.heat_before_covering
                code, rule = ("heated-bare-first", "R14") if bare else ("no-wait", "R29")
                step = Step(code, rule, self.rules.source(rule), {"layer": layer.name})
                return MilestonePlan(milestone, start, rule, step.source, (*lead, step))
            message = Message("needs-sheet", {"layer": layer.name})
            return MilestonePlan(milestone, None, "R10", self.rules.source("R10"), lead, message)
        if milestone is Milestone.COVER and self._gates_what_follows(layer):
            if sheet.hardens_by is Hardening.AT_ONCE:
                step = Step("no-wait", "R29", self.rules.source("R29"), {"layer": layer.name})
                return MilestonePlan(
                    milestone, start, "R15", self.rules.source("R15"), (*lead, step)
                )
            sealed = sheet.is_resin_grout and any(
                other.sheet.kind is Kind.SEALER for other in self.build_up.above(layer)
            )
            message = Message("needs-sheet", {"layer": layer.name})
            if sealed:
                message = Message("grout-not-sealed", {"layer": layer.name})
            return MilestonePlan(milestone, None, "R15", self.rules.source("R15"), lead, message)
        return None

    def _gates_what_follows(self, layer: Layer) -> bool:
        """Return whether anything on a layer waits until that may be covered."""
        required = self.build_up.required_milestone
        return any(
            required(layer, other) is Milestone.COVER for other in self.build_up.above(layer)
        )


def _longest(count: int, governing: WaitEnd, window: Window) -> Step:
    params = {"count": count, "governing": governing.rule, "earliest_at": window.earliest}
    return Step("longest", governing.rule, governing.wait.source, params)
