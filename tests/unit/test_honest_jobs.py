"""Forty honest jobs of all kinds: none is held up by a doubt, none is nagged.

What each says was judged one by one, as the person who wrote it would: `TRUE` is what such a person
wants to be told. Everything else would be a nuisance.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

import pytest
from honest_jobs import NAMES, NEVER, honest_answer, text_of

from curecal.planning.plan import State

# What is worth knowing on any job: where a wait comes from, what to ask the maker.
KNOWN = frozenset({"heat-by-fallback", "heat-under-fallback"})
# What is worth knowing on this one job, and why.
TRUE: Mapping[str, frozenset[str]] = MappingProxyType(
    {
        # A room that may fall to 54 °F, and a resin that wants 50 °F over ground.
        "cold-laundry": frozenset({"may-fall-below-minimum"}),
        # Mortar shut in between a sheet and large porcelain: 60 days, unless the maker says less.
        "lanai-porcelain": frozenset({"sealed-both-sides"}),
        # A test that was never made stays in the record for good.
        "not-tested-on-delivery": frozenset({"embedded-untested"}),
        # Corrections that count stay visible for as long as the job lives.
        "slips-put-right": frozenset({"entry-corrected", "entry-withdrawn"}),
        # Two cables, and what a meter shows on both together.
        "kitchen-and-bay": frozenset({"cables-together"}),
        # When the floor has to be off while the covering is laid.
        "vinyl-on-old-slab": frozenset({"laying-vinyl"}),
        "linoleum-planned": frozenset({"laying-vinyl"}),
        "parquet-on-screed": frozenset({"laying-wood"}),
        "laminate-floating": frozenset({"laying-wood"}),
        "cork-glued": frozenset({"laying-wood"}),
    }
)
RELEASED = {"released-tonight": State.RELEASED, "upstairs-bath-in-service": State.IN_SERVICE}


def test_there_are_forty_of_them() -> None:
    assert len(NAMES) >= 40
    assert set(TRUE) | set(RELEASED) <= set(NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_an_honest_job_is_not_refused(name: str) -> None:
    assert honest_answer(name).errors == ()


@pytest.mark.parametrize("name", NAMES)
def test_an_honest_job_hears_only_what_it_wants_to_know(name: str) -> None:
    assert set(honest_answer(name).codes) - KNOWN == TRUE.get(name, frozenset())


@pytest.mark.parametrize("name", NAMES)
def test_an_honest_job_has_a_date_for_every_zone(name: str) -> None:
    for told in honest_answer(name).zones.values():
        assert told.earliest < NEVER
        # A room that may fall under a minimum has an early end only, and is told so.
        assert told.latest < NEVER or "may-fall-below-minimum" in TRUE.get(name, ())
        assert told.state not in {State.STOPPED, State.NO_DATE}


@pytest.mark.parametrize(("name", "state"), RELEASED.items())
def test_an_honest_job_with_all_on_record_is_released(name: str, state: State) -> None:
    assert {told.state for told in honest_answer(name).zones.values()} == {state}


def test_the_jobs_are_of_all_kinds() -> None:
    """Every covering, code, way of heating and kind of trouble is in some job's own words."""
    everything = "\n".join(text_of(name) for name in NAMES)
    wanted = [
        *("ceramic tile", "porcelain tile", "glass tile", "stone", "wood", "vinyl", "laminate"),
        *("cork", "linoleum", "carpet", "NEC", "CEC", "BS 7671", "other", "metric", "imperial"),
        *("water", "ground", "unheated", "outdoors", "heated room", "temporary", "kept", "owner"),
    ]
    missing = [word for word in wanted if f'"{word}"' not in everything]
    assert missing == []
    assert all(
        key in everything for key in ("repair = true", "part = ", "sure = true", "withdrawn = true")
    )
