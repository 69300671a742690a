"""Who may put their name to a hold point, and what of one instant decides."""

from __future__ import annotations

import pytest
from planning_log import READY, a_job, codes, courses, evidence, fact, hold, state, without
from planning_samples import DAY, START, item, layer, looked, plan, zone

from curecal.planning.plan import HoldState, State
from curecal.planning.site_log.said import may_say, newest, says_no
from curecal.trade.data_sheets import Milestone
from curecal.trade.job import Code, Person, Role
from curecal.trade.site_log import Connected, Entry, Protection, Result, ThermostatSet

PEOPLE = (
    Person(Role.CREW_LEAD, "Robin Mistral"),
    Person(Role.ELECTRICIAN, "Zoë Spark"),
    Person(Role.OWNER, "Ida Fennell"),
    Person(Role.OWNER, "Jo Both"),
    Person(Role.ELECTRICIAN, "Jo Both"),
)
CONNECTED = {"licence": "L 1", "locked": True, "tagged": True, "heating_leads": "not landed"}
LATE = READY + DAY
SLOT = "inspection-before-concealment"


@pytest.mark.parametrize(
    ("by", "expected"),
    [
        ("Zoë Spark", True),
        ("ZOE\u0308  SPARK", True),
        ("Jo Both", True),
        ("somebody of the electrician's", True),
        ("Ida Fennell", False),
        ("ida fennell", False),
        ("the owner", False),
        (None, False),
        (" ", False),
        ("nobody", False),
        ("-", False),
    ],
)
def test_the_owner_and_nobody_say_nothing(by: str | None, *, expected: bool) -> None:
    assert may_say(PEOPLE, by, barred=frozenset({Role.OWNER})) is expected


@pytest.mark.parametrize(
    ("text", "no"),
    [
        ("E 1234", False),
        ("No. 1234", False),
        ("no 1234", False),
        ("NA-1234", False),
        ("none", True),
        ("N/A", True),
        ("na", True),
        ("no licence", True),
        ("applied for, pending", True),
        ("aucune", True),
        ("keine", True),
        ("", True),
        (None, True),
    ],
)
def test_a_word_that_says_no_is_known(text: str | None, *, no: bool) -> None:
    assert says_no(text) is no


@pytest.mark.parametrize(
    ("more", "expected", "reason"),
    [
        ({"by": "Zoë Spark"}, "met", "connection-done"),
        ({"by": "a colleague"}, "met", "connection-done"),
        ({"by": "Ida Fennell"}, "unmet", "connection-who"),
        ({"by": "Robin Mistral"}, "unmet", "connection-who"),
        ({"by": None}, "unmet", "connection-who"),
        ({"by": "Zoë Spark", "licence": "none"}, "unmet", "connection-unlicensed"),
        # What is unsafe is unsafe whoever says so.
        ({"by": "Ida Fennell", "locked": False}, "failed", "connection-not-locked"),
    ],
)
def test_an_electrician_signs_the_connection(
    more: dict[str, object], expected: str, reason: str
) -> None:
    entry = fact(Connected, START, **{**CONNECTED, **more})
    point = hold(plan(a_job(people=PEOPLE), [entry]), "connection")
    assert point.state == expected
    assert point.reason is not None
    assert point.reason.code == reason


@pytest.mark.parametrize("result", [Result.PASSED, Result.NOT_REQUIRED])
@pytest.mark.parametrize("by", ["Ida Fennell", ""])
def test_the_owner_passes_no_inspection(result: Result, by: str) -> None:
    made = plan(a_job(code=Code.NEC, people=PEOPLE), [looked(START - DAY, result, by=by)])
    assert hold(made, SLOT).state is HoldState.UNMET
    assert "concealed-uninspected" in codes(made)
    real = [looked(START - DAY * 2, Result.PASSED, by="the inspector")]
    log = [*real, looked(START - DAY, result, by=by)]
    assert hold(plan(a_job(code=Code.NEC, people=PEOPLE), log), SLOT).state is HoldState.MET
    failed = [looked(START - DAY * 2, Result.FAILED, by="the inspector")]
    log = [*failed, looked(START - DAY, result, by=by)]
    assert hold(plan(a_job(code=Code.NEC, people=PEOPLE), log), SLOT).state is HoldState.FAILED


def test_of_entries_of_one_instant_the_worst_decides_whatever_their_ids() -> None:
    pairs: list[tuple[str, Entry, Entry]] = [
        (
            "protection",
            fact(Protection, LATE, id="m", type="GFCI", trip_test="ok"),
            fact(Protection, LATE, type="GFCI", trip_test="failed"),
        ),
        (
            "thermostat",
            fact(ThermostatSet, LATE, id="m", mode="floor", limit_c=25.0),
            fact(ThermostatSet, LATE, mode="air", limit_c=25.0),
        ),
        (
            "connection",
            fact(Connected, LATE, id="m", **CONNECTED),
            fact(Connected, LATE, **{**CONNECTED, "locked": False}),
        ),
    ]
    for code, good, bad in pairs:
        for entry_id in ("aa", "zz"):
            worse = fact(type(bad), LATE, **{**fields_of(bad), "id": entry_id})
            made = plan(a_job(), [*evidence(), good, worse], LATE)
            assert hold(made, code).state is HoldState.FAILED
            assert hold(made, code).evidence == entry_id
    looks = [looked(START - DAY, Result.PASSED), looked(START - DAY, Result.FAILED)]
    for log in (looks, looks[::-1]):
        assert hold(plan(a_job(code=Code.NEC), log), SLOT).state is HoldState.FAILED


def fields_of(entry: Entry) -> dict[str, object]:
    skipped = {"id", "at", "recorded"}
    return {
        name: getattr(entry, name)
        for kind in type(entry).__mro__
        for name in getattr(kind, "__slots__", ())
        if name not in skipped
    }


def test_the_newest_of_nothing_is_nothing() -> None:
    assert newest([]) == []


def test_a_layer_that_failed_its_last_inspection_has_no_date_until_the_next() -> None:
    failed = looked(READY, Result.FAILED, "grout", by="the inspector")
    made = plan(a_job(), [*evidence(), failed], LATE)
    assert state(made) is State.NO_DATE
    assert item(made, "grout").milestones[Milestone.HEAT].window is None
    assert "layer-failed" in codes(made)
    for result, by, expected in (
        (Result.PASSED, "the inspector", State.CLEAR),
        (Result.SOUND, "Robin Mistral", State.CLEAR),
        (Result.SOUND, "Ida Fennell", State.NO_DATE),
        (Result.SOUND, "a neighbor", State.NO_DATE),
        (Result.SOUND, "", State.NO_DATE),
    ):
        again = looked(LATE, result, "grout", by=by)
        later = plan(a_job(people=PEOPLE), [*evidence(), failed, again], LATE + DAY)
        assert state(later) is expected
    # One that failed before the layer was laid anew says nothing of the new one.
    before = looked(START + DAY * 3, Result.FAILED, "grout")
    assert state(plan(a_job(), [*evidence(), before], LATE)) is State.CLEAR


def test_a_floor_that_is_to_be_replaced_is_stopped_until_found_sound() -> None:
    replace = looked(READY, Result.REPLACE)
    made = plan(a_job(), [*evidence(), replace], LATE)
    assert state(made) is State.STOPPED
    assert made.zones[0].why.code == "floor-condemned"
    sound = looked(LATE, Result.SOUND)
    assert state(plan(a_job(), [*evidence(), replace, sound], LATE)) is State.CLEAR
    # The electrical inspection is another matter, and the owner's word none.
    for other in (looked(LATE, Result.PASSED), looked(LATE, Result.SOUND, by="the owner")):
        assert state(plan(a_job(), [*evidence(), replace, other], LATE)) is State.STOPPED


@pytest.mark.parametrize(
    ("result", "code"), [(Result.FAILED, "layer-failed"), (Result.REPLACE, "replace-layer")]
)
def test_an_old_base_that_failed_stops_the_floor(result: Result, code: str) -> None:
    base = layer("concrete", None, "slab", existing=True)
    job = a_job(zone(base, *courses()))
    made = plan(job, [*evidence(), looked(READY, result, "slab")], LATE)
    assert state(made) is State.STOPPED
    assert made.zones[0].why.code == code
    good = looked(READY, Result.PASSED, "slab")
    assert state(plan(job, [*evidence(), good], LATE)) is State.CLEAR
    named = a_job(zone(base, *courses()), people=PEOPLE)
    bad = looked(READY, result, "slab", by="the inspector")
    for by, expected in (
        ("Robin Mistral", State.CLEAR),
        ("the inspector", State.CLEAR),
        ("a neighbor", State.STOPPED),
        ("", State.STOPPED),
    ):
        again = looked(LATE, Result.SOUND, "slab", by=by)
        assert state(plan(named, [*evidence(), bad, again], LATE + DAY)) is expected


def test_without_evidence_the_connection_is_missing() -> None:
    made = plan(a_job(), without(evidence(), Connected), READY)
    assert hold(made, "connection").state is HoldState.UNMET
