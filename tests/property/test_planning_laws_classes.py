"""Laws of the shipped classes: one more layer of any of them never brings a date nearer."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import assume, given
from hypothesis import strategies as st
from planning_jobs import Case, cases, only, windows
from planning_samples import RULES, layer

from curecal.instants import Window
from curecal.job_files.layer_order import may_lie_on
from curecal.planning.curing.build_up import BuildUp
from curecal.planning.plan import HoldState
from curecal.trade.data_sheets import (
    BESIDE_THE_FLOOR,
    IMPERVIOUS,
    POURED,
    DataSheet,
    Hardening,
    Kind,
)
from curecal.trade.hold_codes import HoldCode
from curecal.trade.layers_below import layers_below

_CLASSES = tuple({made.name: made for made in RULES.classes.values()}.values())
_BESIDE = tuple(made for made in _CLASSES if made.kind in BESIDE_THE_FLOOR)
_FILMS = frozenset({Kind.PRIMER, Kind.SEALER})
classes = st.sampled_from(_CLASSES)


def _with_one_more(case: Case, made: DataSheet, index: int, *, part: str | None) -> Case:
    """Return a case with a layer put in: done where what lies on it is, else still to come."""
    above = case.layers[index] if index < len(case.layers) else None
    done_at = None if above is None else above.done_at
    more = layer(made, done_at, "one more", thickness_m=0.006, part=part, sure=True)
    return case.with_layers([*case.layers[:index], more, *case.layers[index:]])


def _never_before(old: Window | None, new: Window | None) -> None:
    if new is None:
        return
    assert old is not None
    assert new.earliest >= old.earliest
    assert new.latest is None or (old.latest is not None and new.latest >= old.latest)


def _energize(case: Case) -> Window | None:
    return only(case.plan()).energize.window


@given(case=cases(), made=classes, data=st.data(), part=st.sampled_from([None, None, "bay"]))
def test_one_more_layer_of_any_class_is_never_earlier(
    case: Case, made: DataSheet, data: st.DataObject, part: str | None
) -> None:
    index = data.draw(st.integers(0, len(case.layers)))
    more = _with_one_more(case, made, index, part=part)
    assume(_may_be_built(more))
    assume(not _is_laid_to_part(case, more, made, index))
    _never_before(_energize(case), _energize(more))


def _may_be_built(case: Case) -> bool:
    borne = [each for each in case.layers if each.sheet.kind not in BESIDE_THE_FLOOR]
    return all(
        may_lie_on(under.sheet.kind, upper.sheet.kind)
        for upper in borne
        for under in layers_below(borne, upper)
    )


def _is_laid_to_part(case: Case, more: Case, made: DataSheet, index: int) -> bool:
    """Return whether a layer keeps apart what made the others slow: it is laid for that.

    What is impervious lets a pour dry by itself; a course of its own under a mortar takes it off
    the membrane; a sheet or a board goes into the fresh mortar and carries the next course at
    once, which on the bare mortar would wait. A film, a joint or an edge does none of that.
    """
    if made.kind in BESIDE_THE_FLOOR | _FILMS:
        return False
    if made.hardens_by is Hardening.AT_ONCE and _goes_into_fresh_mortar(case, index):
        return True
    if made.kind in IMPERVIOUS and any(below.sheet.kind in POURED for below in case.layers[:index]):
        return True
    before, after = (BuildUp(one.job.zones[0]) for one in (case, more))
    return any(
        before.is_sealed_both_sides(mortar, RULES) and not after.is_sealed_both_sides(mortar, RULES)
        for mortar in case.layers
    )


def _goes_into_fresh_mortar(case: Case, index: int) -> bool:
    return any(below.sheet.kind is Kind.THINSET for below in case.layers[:index])


@given(
    case=cases(),
    made=st.sampled_from(_BESIDE),
    data=st.data(),
    state=st.sampled_from(["done", "planned"]),
)
def test_what_lies_beside_the_floor_moves_no_date(
    case: Case, made: DataSheet, data: st.DataObject, state: str
) -> None:
    index = data.draw(st.integers(0, len(case.layers)))
    more = _with_one_more(case, made, index, part=None)
    if state == "planned":
        layers = [
            replace(each, done_at=None) if each.name == "one more" else each for each in more.layers
        ]
        more = more.with_layers(layers)
    before, after = case.plan(), more.plan()
    told = windows(after)
    assert {name: told[name] for name in windows(before)} == windows(before)
    assert only(before).state is only(after).state


@given(case=cases(), made=st.sampled_from(_BESIDE))
def test_a_joint_or_an_edge_completes_no_list(case: Case, made: DataSheet) -> None:
    held = [_lacks(one) for one in (case, _with_one_more(case, made, 0, part=None))]
    assert held[0] == held[1]


def _lacks(case: Case) -> bool:
    return any(
        hold.code is HoldCode.COMPLETE_LIST and hold.state is HoldState.UNMET
        for hold in only(case.plan()).holds
    )
