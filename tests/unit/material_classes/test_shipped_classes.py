"""What each shipped class is, what it gives with whose word, and what it leaves to its sheet.

Published: BS 5385-3 (screed 3 weeks before tile; 1 mm a day to 40 mm, then half), as quoted by the
trade; EN 1264-4 (a cement screed is heated from 21 days); 28 days where no sheet is found. Common
practice, no source: water waits, two-part adhesive 7 days. What has neither is asked of the sheet.
"""

from __future__ import annotations

import re

import pytest

from curecal.material_classes.rules import classes_by_use, load_rules, may_be_heated, usable_classes
from curecal.trade.data_sheets import (
    DryingWait,
    FixedWait,
    Hardening,
    Kind,
    Milestone,
    SheetWait,
    Wait,
)
from curecal.trade.sources import Basis

CLASSES = load_rules().classes
H, D = 3600.0, 86400.0
AT_ONCE, CEMENT = Hardening.AT_ONCE, Hardening.CEMENT
REACTION, DRYING = Hardening.REACTION, Hardening.DRYING


def fixed_s(wait: Wait) -> float:
    assert isinstance(wait.amount, FixedWait)
    return wait.amount.wait_s


@pytest.mark.parametrize(
    ("name", "kind", "hardens_by", "rapid"),
    [
        ("rapid-drying screed", Kind.SCREED, CEMENT, True),
        ("poured asphalt", Kind.POURED_ASPHALT, AT_ONCE, False),
        ("dry gypsum-fiber screed", Kind.DRY_SCREED, AT_ONCE, False),
        ("semi-rapid grout", Kind.GROUT, CEMENT, False),
        ("rapid grout", Kind.GROUT, CEMENT, True),
        ("resin grout", Kind.GROUT, REACTION, False),
        ("cement slurry waterproofing", Kind.MEMBRANE, CEMENT, False),
        ("reaction waterproofing", Kind.MEMBRANE, REACTION, False),
        ("bonded waterproofing sheet", Kind.WATERPROOFING_SHEET, AT_ONCE, False),
        ("calcium-sulfate primer", Kind.PRIMER, DRYING, False),
        ("backer board", Kind.BACKER_BOARD, AT_ONCE, False),
        ("cement board", Kind.CEMENT_BOARD, AT_ONCE, False),
        ("gypsum-fiber board", Kind.GYPSUM_FIBER_BOARD, AT_ONCE, False),
        ("foam-core board", Kind.FOAM_CORE_BOARD, AT_ONCE, False),
        ("insulation board", Kind.INSULATION_BOARD, AT_ONCE, False),
        ("adhesive", Kind.ADHESIVE, REACTION, False),
        ("dispersion adhesive", Kind.ADHESIVE, DRYING, False),
        ("microcement", Kind.POURED_FINISH, CEMENT, False),
        ("terrazzo", Kind.POURED_FINISH, CEMENT, False),
        ("resin floor", Kind.POURED_FINISH, REACTION, False),
        ("silicone", Kind.SILICONE, REACTION, False),
        ("perimeter strip", Kind.PERIMETER_STRIP, AT_ONCE, False),
        ("plywood", Kind.PLYWOOD, AT_ONCE, False),
    ],
)
def test_what_a_class_is(name: str, kind: Kind, hardens_by: Hardening, rapid: bool) -> None:  # noqa: FBT001 - parameters of a table
    made = CLASSES[name]
    assert (made.kind, made.hardens_by, made.rapid) == (kind, hardens_by, rapid)


@pytest.mark.parametrize(
    ("name", "milestone", "wait_s", "basis"),
    [
        *(
            (name, Milestone.WET, 7 * D, Basis.COMMON_PRACTICE)
            for name in (
                *("thinset", "unmodified thinset", "rapid thinset"),
                *("cement grout", "semi-rapid grout", "rapid grout"),
            )
        ),
        ("membrane", Milestone.WET, 72 * H, Basis.COMMON_PRACTICE),
        ("silicone", Milestone.WET, 48 * H, Basis.COMMON_PRACTICE),
        ("adhesive", Milestone.HEAT, 7 * D, Basis.COMMON_PRACTICE),
        *(
            (name, milestone, 72 * H, Basis.COMMON_PRACTICE)
            for name in ("semi-rapid grout", "rapid grout")
            for milestone in (Milestone.WALK, Milestone.SEAL)
        ),
        *(
            (name, Milestone.HEAT, 28 * D, Basis.FALLBACK)
            for name in (
                *("semi-rapid grout", "rapid grout", "rapid-drying screed"),
                *("cement slurry waterproofing", "microcement", "terrazzo"),
            )
        ),
    ],
)
def test_the_waits_that_have_a_source(
    name: str, milestone: Milestone, wait_s: float, basis: Basis
) -> None:
    wait = CLASSES[name].waits[milestone]
    assert (fixed_s(wait), wait.source.basis, wait.rated_c) == (wait_s, basis, 20.0)


def test_a_rapid_screed_has_the_published_times_of_an_ordinary_one() -> None:
    rapid, ordinary = CLASSES["rapid-drying screed"], CLASSES["sand-cement screed"]
    assert fixed_s(rapid.covers["tile"]) == 21 * D
    assert rapid.covers["tile"].source.basis is Basis.PUBLISHED
    for covering in ("wood", "vinyl"):
        assert isinstance(rapid.covers[covering].amount, DryingWait)
        assert rapid.covers[covering].amount == ordinary.covers[covering].amount
    assert rapid.bare_heat is not None
    assert fixed_s(rapid.bare_heat) == 21 * D
    # 1.8 CM-%, 75 %: heated cement screed, German concrete-industry data pages; British limit.
    assert rapid.moisture_limits == ordinary.moisture_limits


@pytest.mark.parametrize(
    "name",
    [
        *("poured asphalt", "dry gypsum-fiber screed", "cement slurry waterproofing"),
        *("reaction waterproofing", "calcium-sulfate primer"),
    ],
)
def test_the_time_before_what_follows_is_asked_of_the_sheet(name: str) -> None:
    assert list(CLASSES[name].covers) == ["any"]
    assert isinstance(CLASSES[name].covers["any"].amount, SheetWait)


@pytest.mark.parametrize("name", ["resin grout", "resin floor", "poured asphalt"])
def test_the_time_before_heat_is_asked_of_the_sheet(name: str) -> None:
    assert isinstance(CLASSES[name].waits[Milestone.HEAT].amount, SheetWait)


@pytest.mark.parametrize(
    ("name", "milestones"),
    [
        ("adhesive", {Milestone.HEAT}),
        ("resin grout", {Milestone.HEAT}),
        ("silicone", {Milestone.WET}),
        ("microcement", {Milestone.HEAT}),
        ("calcium-sulfate primer", set()),
        ("dispersion adhesive", set()),
    ],
)
def test_a_class_gives_nothing_that_has_no_source(name: str, milestones: set[Milestone]) -> None:
    made = CLASSES[name]
    assert set(made.waits) == milestones
    assert made.no_later == {}


def test_every_class_has_a_use_and_says_what_it_is() -> None:
    listed = [one for classes in classes_by_use().values() for one in classes]
    names = [name for one in listed for name in one.names]
    assert sorted(names) == sorted(CLASSES)
    assert all(CLASSES[name] is one.sheet for one in listed for name in one.names)
    assert all(re.fullmatch(r"[a-z0-9][^.\n]+", one.means) for one in listed)
    assert len({one.means for one in listed}) == len(listed)
    assert list(classes_by_use())[:2] == ["bases", "levelers"]


def test_what_does_not_stand_heat_is_not_offered() -> None:
    refused = {name for name, sheet in CLASSES.items() if not may_be_heated(sheet)}
    assert refused == {"mastic", "dispersion adhesive", "ready-mixed adhesive"}
    assert set(usable_classes()) == set(CLASSES) - refused


def test_a_class_that_asks_says_that_its_sheet_gives_the_time() -> None:
    asking = [
        one
        for classes in classes_by_use().values()
        for one in classes
        if any(isinstance(wait.amount, SheetWait) for wait in one.sheet.covers.values())
    ]
    assert len(asking) == 5
    assert all("sheet" in one.means and "time" in one.means for one in asking)
