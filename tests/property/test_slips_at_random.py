"""A slip of the pen in an honest job is refused or named, or it moves no date nearer.

What cannot be told from the truth is listed with its reason: a wait of 14 days typed as 12 is a
wait that some other maker states.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from types import MappingProxyType

from honest_jobs import NAMES, answer, honest_answer, is_named, seen_at, text_of, what_came_nearer
from hypothesis import given, settings
from hypothesis import strategies as st
from systematic_slips import Slip, slips

# What nobody but who was there can know, by the key the slip happened at.
_STATED: Mapping[str, str] = MappingProxyType(
    {
        "timezone": "a job of another city; only its code and holidays can contradict",
        "below": "what lies below is told by nothing else",
        "days": "another crew's week",
        "kind": "another product or covering of the trade",
        "material": "another product that goes by the same name",
        "hardens_by": "another glue",
        "modified": "another mortar",
        "wait": "a wait that some other maker states",
        "duration": "only meant: the date follows when the work is done",
        "planned_finish": "only meant: the date follows when the work is done",
        "air": "a colder look more or less is a look that somebody may have made or not",
        "surface": "a colder look more or less is a look that somebody may have made or not",
        "from": "a time kept warm that begins later says less; silence counts as expected",
        "to": "a time kept warm that ends earlier says less; silence counts as expected",
        "at": "a reading by another day or hour is one made then",
        "done": "a finish some days or hours earlier is one that could have been",
    }
)
# Told from the truth wherever they stand, for all the reasons above.
_TOLD = frozenset(
    {
        *("year", "minus", "another unit", "fraction", "decimal point", "digit doubled"),
        *("another milestone", "waits swapped", "repair added", "over_cable added"),
        *("heat_before_covering added", "unmodified added", "planned_finish for done"),
    }
)
_ONLY_MEANT = frozenset({"duration"})
_BLOCKS = (
    "removed [[zone.layer]]",
    "doubled [[zone.layer]]",
    "removed [[log]]",
    "swapped [[zone.layer]]",
)


def why_not_told(slip: Slip) -> str:
    """Return why a slip cannot be told from the truth; none where it can."""
    if slip.what in _TOLD and slip.key not in _ONLY_MEANT:
        return ""
    if slip.what == "removed [[log]]" and any(
        f'kind = "{kind}"' in slip.line for kind in ("air", "surface", "kept")
    ):
        return "a look that was never made: silence counts as expected"
    if slip.what == "removed [[zone.layer]]":
        return "a floor built without that course" if _is_spare(slip) else ""
    if slip.what.endswith("]]"):
        return ""
    return _STATED.get(slip.key, "")


def _is_spare(slip: Slip) -> bool:
    """Return whether a floor may do without a layer: no covering asks for it."""
    return any(word in slip.line for word in ("leveler", "membrane", "barrier", "board", "slab"))


@cache
def _slips_of(name: str) -> tuple[Slip, ...]:
    return tuple(slips(text_of(name)))


@st.composite
def slips_made(draw: st.DrawFn) -> tuple[str, Slip]:
    name = draw(st.sampled_from(NAMES))
    # By kind first, so that the many dates of a long log do not crowd out the rest.
    found = _slips_of(name)
    what = draw(st.sampled_from(sorted({slip.what for slip in found})))
    return name, draw(st.sampled_from([slip for slip in found if slip.what == what]))


_DRAWN = settings().max_examples


@settings(max_examples={10: 75, 60: 400}.get(_DRAWN, _DRAWN))
@given(slips_made())
def test_a_slip_is_named_or_moves_no_date_nearer(made: tuple[str, Slip]) -> None:
    name, slip = made
    found, honest = answer(slip.text, seen_at(text_of(name))), honest_answer(name)
    if is_named(found, honest):
        return
    nearer = what_came_nearer(found, honest)
    assert not nearer or why_not_told(slip), f"{name}: {slip}: {nearer}"


def test_the_list_of_what_cannot_be_told_is_no_blank_check() -> None:
    def told(what: str, key: str, line: str = "") -> bool:
        return not why_not_told(Slip(what, key, line, "", ""))

    assert told("year", "done")
    assert told("another unit", "wait")
    assert told("year", "at")
    assert told("minus", "air")
    assert told("decimal point", "thickness")
    assert told("digits turned", "rated")
    assert told("another choice", "covering")
    assert told("existing added", "existing")
    assert told("another choice", "stage")
    assert told("another by", "by")
    assert told("removed [[zone.layer]]", "name", 'name = "grout" material = "cement grout"')
    assert told("removed [[log]]", "at", 'kind = "resistance"')
    assert all(told(what, "", "") for what in ("doubled [[log]]", "swapped [[zone.layer]]"))


def test_a_slip_of_every_kind_can_be_made() -> None:
    kinds = {slip.what for name in NAMES[:6] for slip in _slips_of(name)}
    assert {"decimal point", "another unit", "year", "day and month", "twelve hours"} <= kinds
    assert {"another milestone", "waits swapped", "minus", "fraction", "left out"} <= kinds
    assert set(_BLOCKS) <= kinds
