"""Ways a floor could be switched on sooner than it may: none of them works."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

import pytest
from planning_log import (
    HOUR,
    READY,
    a_job,
    codes,
    courses,
    evidence,
    fact,
    floor,
    hold,
    measured,
    released,
    state,
    without,
)
from planning_samples import (
    ADA,
    DAY,
    SHEET,
    START,
    daily,
    expected,
    job,
    layer,
    looked,
    plan,
    reading,
    sheet,
    zone,
)

from curecal.instants import Window
from curecal.planning.plan import HoldState, Plan, State
from curecal.trade.data_sheets import FixedWait, Hardening, Wait
from curecal.trade.job import Below, Cable, Expected, Heating, Person, Role
from curecal.trade.site_log import (
    Correction,
    Done,
    Entry,
    Kept,
    Place,
    Reading,
    Release,
    Resistance,
    Result,
    Series,
    Stage,
)


def window(made: Plan) -> Window | None:
    return made.zones[0].energize.window


def correcting(name: str, of: str, at: datetime, **more: object) -> Correction:
    return fact(Correction, at, id=name, of=of, **more)


def test_a_withdrawal_withdrawn_lets_the_correction_stand() -> None:
    # 26 Ω to earth was corrected in; its withdrawal was a mistake and is withdrawn.
    log: list[Entry] = [
        *without(evidence(), Resistance),
        measured(START + DAY * 5, Stage.CONNECTION, id="test", by="Ada"),
        correcting("c1", "test", START + DAY * 5 + HOUR, changes={"to_earth_ohm": 26.0}),
    ]
    withdrawn = correcting("c2", "c1", START + DAY * 5 + HOUR * 2, withdrawn=True)
    again = correcting("c3", "c2", START + DAY * 5 + HOUR * 3, withdrawn=True)
    wanted = [
        (log, HoldState.FAILED),
        ([*log, withdrawn], HoldState.MET),
        ([*log, withdrawn, again], HoldState.FAILED),
        ([again, withdrawn, *reversed(log)], HoldState.FAILED),
    ]
    for entries, told in wanted:
        made = plan(a_job(), entries, READY)
        assert hold(made, "test-before-connection").state is told


def test_two_facts_that_share_an_id_both_count() -> None:
    # A look at freezing must not vanish behind another entry of the same name.
    cold = replace(reading(START + HOUR, -2.0), id="same", by="Ada")
    mild = replace(reading(START + HOUR * 2, 20.0), id="same", by="Ada")
    made = job(zone(layer("thinset", START, "mortar")))
    for log in ([cold, mild], [mild, cold], [cold, mild, cold]):
        found = plan(made, log, START + HOUR * 3)
        assert "frost" in codes(found)
        assert found.zones[0].state is State.NO_DATE
    gone = correcting("c", "same", START + HOUR * 2, withdrawn=True)
    assert "frost" not in codes(plan(made, [cold, mild, gone], START + HOUR * 3))


def test_facts_that_share_all_but_their_content_are_ordered_all_the_same() -> None:
    made = job(zone(layer("thinset", START, "mortar")))
    good = measured(START + HOUR, Stage.DELIVERY, id="same")
    bad = replace(good, conductor_ohm=9.0)
    told = {
        hold(plan(made, log, START + DAY), "test-on-delivery").state
        for log in ([good, bad], [bad, good])
    }
    assert len(told) == 1


def test_nobody_signs_for_what_is_still_to_come() -> None:
    # Signed on day 4 for the whole month: it proves nothing after day 4, where the grout begins.
    signed = fact(
        Kept,
        START + DAY * 4,
        by="Ada",
        above_c=20.0,
        from_at=START,
        to_at=START + DAY * 30,
    )
    made = plan(a_job(), [*without(evidence(), Reading), signed], READY + DAY)
    assert hold(made, "cure").state is HoldState.UNMET
    ahead = replace(signed, from_at=START + DAY * 5)
    made = plan(a_job(), [*without(evidence(), Reading), ahead], READY + DAY)
    assert hold(made, "cure").state is HoldState.UNMET


def bed_offset(*log: Entry) -> float:
    """Return what the bed over ground is taken to be under the air [K], by its earliest date."""
    made = job(
        zone(layer("thinset", START, "mortar")),
        climate=Expected(20.0, 0.5, 20.0, 0.5, below=Below.GROUND),
    )
    found = window(plan(made, log, START))
    assert found is not None
    wanted = {
        offset_k: window(
            plan(
                job(zone(layer("thinset", START, "mortar")), climate=expected(20.0 + offset_k)),
                as_of=START,
            )
        )
        for offset_k in (0.0, -1.0, -2.0, -3.0, -4.0, -6.0)
    }
    return next(offset_k for offset_k, each in wanted.items() if each == found)


BEFORE = START - DAY * 2
QUARTER = HOUR / 4


def together(*over_air_k: float) -> list[Entry]:
    """Return looks at air of 20 °C and at the surface, twelve hours apart from midnight on."""
    return [
        look
        for index, over_k in enumerate(over_air_k)
        for look in (
            reading(BEFORE - HOUR * 12 * index, 20.0, Place.AIR),
            reading(BEFORE - HOUR * 12 * index + QUARTER, 20.0 + over_k),
        )
    ]


def loggers(hours: int, least_k: float, lower: Place = Place.SURFACE) -> list[Entry]:
    """Return two loggers, on the wall and on the floor, of which one missed its last reading."""
    found = []
    for place, values in (
        (Place.AIR, [20.0] * hours),
        (lower, [*([19.0] * (hours - 2)), 20.0 + least_k, None]),
    ):
        points = tuple(
            (BEFORE - HOUR * (hours - index), value_c, None) for index, value_c in enumerate(values)
        )
        found.append(
            fact(Series, BEFORE, place=place, device="logger", interval_s=3600.0, points=points)
        )
    return found


@pytest.mark.parametrize(
    ("log", "offset_k"),
    [
        ([], -3.0),
        (together(-2.0), -3.0),
        (together(-2.0, -2.0), -3.0),
        # Over a day and a night: the least of them.
        (together(-1.0, -2.0, -1.0), -2.0),
        (together(-1.0, -4.0, -1.0), -4.0),
        # Sixteen minutes apart is not together.
        (
            [
                replace(look, at=look.at + (HOUR / 60 if look.place is Place.SURFACE else 0 * HOUR))
                for look in together(-1.0, -2.0, -1.0)
                if isinstance(look, Reading)
            ],
            -3.0,
        ),
        # Of two looks at the air beside one at the surface the warmer is held against it.
        ([*together(-1.0, -1.0, -1.0), reading(BEFORE + HOUR / 2, 23.0, Place.AIR)], -4.0),
        # "At or above 18" is no air temperature: nothing is learned from it.
        (
            [
                fact(Kept, BEFORE + HOUR, above_c=18.0, from_at=BEFORE - DAY, to_at=BEFORE + HOUR),
                *(reading(BEFORE - HOUR * 12 * index, 18.0) for index in range(3)),
            ],
            -3.0,
        ),
        # A surface warmer than the air gives no credit.
        (together(2.0, 2.0, 2.0), 0.0),
        # Two loggers, on the wall and on the floor: the least difference counts.
        (loggers(30, -6.0), -6.0),
        (loggers(6, -1.0), -3.0),
        # A sensor deep in the floor says nothing of the surface.
        (loggers(30, -1.0, Place.FLOOR), -3.0),
    ],
)
def test_how_much_colder_than_its_air_a_bed_is_taken_to_be(
    log: list[Entry], offset_k: float
) -> None:
    assert bed_offset(*log) == offset_k


def test_a_release_before_a_temperature_was_on_record_does_not_count_later() -> None:
    log = [*without(evidence(), Reading), *released()[-1:]]
    assert state(plan(a_job(), log, READY + DAY)) is State.ON_HOLD
    told_later = fact(Kept, READY + DAY, by="Ada", above_c=20.0, from_at=START, to_at=READY + DAY)
    made = plan(a_job(), [*log, told_later], READY + DAY * 2)
    assert hold(made, "cure").state is HoldState.MET
    assert "release-before-evidence" in codes(made)
    assert state(made) is State.CLEAR
    assert not made.is_released


def test_a_release_at_the_coldest_assumed_too_early_does_not_count_once_it_was_warm() -> None:
    # Nobody knew at the release that the room had been warm; said a day later, it is not undone
    # backwards.
    cold = a_job(climate=expected(20.0, coldest_c=13.0))
    log = [*without(evidence(), Reading), reading(START + DAY * 5, 20.0), *released()[-1:]]
    told_later = fact(Kept, READY + DAY, by="Ada", above_c=20.0, from_at=START, to_at=READY + DAY)
    made = plan(cold, [*log, told_later], READY + DAY * 2)
    assert hold(made, "cure").state is HoldState.MET
    assert state(made) is State.CLEAR


def test_a_release_counts_by_what_was_on_record_when_it_was_written() -> None:
    # Released on the day after the last clock; a day later it is written down that the grout was
    # laid two days before, which would have made a release two days earlier right too.
    early = fact(Release, READY - DAY)
    told = fact(Done, START + DAY * 4, id="told", layer="grout")
    earlier = correcting("c", "told", READY + HOUR, changes={"at": START + DAY * 2})
    *below, grout = courses()
    logged = a_job(floor(layers=(*below, replace(grout, done_at=None))))
    log = [*evidence(), early, told, earlier]
    made = plan(logged, log, READY + HOUR * 2)
    assert "release-before-evidence" in codes(made)
    assert state(made) is State.CLEAR
    # All of it written down later, in the order in which it happened: that counts.
    synced = [replace(entry, recorded=READY + DAY) for entry in evidence()]
    released_at = fact(Release, READY + HOUR, recorded=READY + DAY)
    assert plan(a_job(), [*synced, released_at], READY + DAY * 2).is_released
    # A test corrected only after the release had failed when it was given.
    bad = measured(START + DAY * 5, Stage.CONNECTION, id="test", conductor_ohm=9.0, by="Ada")
    others = [entry for entry in evidence() if getattr(entry, "stage", 0) is not Stage.CONNECTION]
    mended = correcting("c", "test", READY + DAY, changes={"conductor_ohm": 90.0})
    log = [*others, bad, fact(Release, READY + HOUR), mended]
    made = plan(a_job(), log, READY + DAY * 2)
    assert "release-over-fault" in codes(made)
    assert state(made) is State.CLEAR


def test_a_release_that_nobody_signed_does_not_count() -> None:
    made = plan(a_job(), released(by=None), READY + DAY)
    assert state(made) is State.CLEAR
    assert "signature-unsigned" in codes(made)


@pytest.mark.parametrize("by", ["Olga", "Sam"])
def test_where_no_crew_lead_is_named_nobody_with_another_role_releases(by: str) -> None:
    people = (
        Person(Role.OWNER, "Olga"),
        Person(Role.ELECTRICIAN, "Sam"),
        replace(ADA, role=Role.CREW, roles=tuple(set(Role) - {Role.CREW_LEAD})),
    )
    made = plan(a_job(people=people), released(by=by), READY + DAY)
    assert state(made) is State.CLEAR
    assert {"signature-role", "release-unnamed"} <= set(codes(made))


def test_cold_again_after_the_makers_answer_is_asked_again() -> None:
    made = job(zone(layer("thinset", START, "mortar")))
    log = [
        reading(START + HOUR, 9.0),
        looked(START + HOUR * 6, Result.SOUND, "mortar"),
        reading(START + HOUR * 30, 9.0),
    ]
    assert hold(plan(made, log[:2], START + DAY), "ask-the-maker").state is HoldState.MET
    again = plan(made, log, START + HOUR * 40)
    assert hold(again, "ask-the-maker").state is HoldState.UNMET
    settled = [*log, looked(START + HOUR * 35, Result.SOUND, "mortar")]
    assert hold(plan(made, settled, START + HOUR * 40), "ask-the-maker").state is HoldState.MET


def test_a_base_covered_wet_leaves_no_date_until_somebody_decides() -> None:
    # 50 mm need 60 days; mortar came after ten.
    base = layer("calcium-sulfate screed", START, "screed", thickness_m=0.050)
    own = replace(base, sheet=sheet("calcium-sulfate screed", 20.0))
    made = job(
        zone(own, layer(sheet("thinset", 10.0), START + DAY * 10, "mortar")),
        climate=expected(20.0, humidity=0.6, dampest=0.6),
    )
    found = plan(made, as_of=START + DAY * 20)
    assert found.zones[0].state is State.NO_DATE
    assert found.zones[0].why.code == "covered-wet"
    governed = found.zones[0].energize.governed_by
    assert governed is not None
    assert (governed.layer_id, governed.rule) == ("screed", "R15")
    failed = looked(START + DAY * 12, Result.FAILED, "screed")
    assert window(plan(made, [failed], START + DAY * 20)) is None
    sound = looked(START + DAY * 12, Result.SOUND, "screed")
    dated = window(plan(made, [sound], START + DAY * 20))
    assert dated is not None
    assert dated.earliest == START + DAY * 60


def test_the_heating_makers_wait_starts_again_at_the_thaw() -> None:
    # Frost on the first day, found sound: the layer begins anew, and what counts from it too.
    makers = Wait(FixedWait(30 * 86400.0), SHEET, 20.0, 0.5, Hardening.CEMENT)
    made = job(
        zone(
            layer(sheet("thinset", 10.0), START, "mortar"),
            heating=Heating(cables=(Cable("mat"),), wait=makers, wait_from="mortar"),
        )
    )
    log = [
        reading(START + HOUR, -1.0),
        reading(START + HOUR * 5, 20.0),
        *daily(START + HOUR * 6, 2, 20.0),
        looked(START + HOUR * 8, Result.SOUND, "mortar"),
    ]
    found = window(plan(made, log, START + DAY * 2))
    assert found is not None
    # Between the looks the colder holds, so the thaw is the look at 20 °C.
    assert found.earliest == START + HOUR * 5 + DAY * 30


@pytest.mark.parametrize(
    ("stage", "at", "code", "told"),
    [
        (Stage.EMBEDDED, START - HOUR, "test-after-embedding", HoldState.UNMET),
        (Stage.EMBEDDED, START, "test-after-embedding", HoldState.MET),
        (Stage.CONNECTION, START + DAY, "test-before-connection", HoldState.UNMET),
        (Stage.CONNECTION, START + DAY * 2, "test-before-connection", HoldState.MET),
    ],
)
def test_a_test_proves_nothing_of_work_that_came_after_it(
    stage: Stage, at: datetime, code: str, told: HoldState
) -> None:
    # The leveler over the cable is poured at the start, the tile laid two days later.
    kept = [entry for entry in evidence() if getattr(entry, "stage", None) is not stage]
    found = hold(plan(a_job(), [*kept, measured(at, stage)], READY), code)
    assert found.state is told
    assert found.reason is not None
    assert (found.reason.code == "test-too-soon") is (told is HoldState.UNMET)


def test_a_test_before_a_planned_embedding_proves_nothing_either() -> None:
    ahead = zone(layer("leveler", None, "leveler", thickness_m=0.005), layer("thinset", None))
    log = [measured(START, Stage.EMBEDDED), measured(START, Stage.CONNECTION)]
    made = plan(a_job(ahead), log, START + DAY)
    assert hold(made, "test-after-embedding").state is HoldState.UNMET
    assert hold(made, "test-before-connection").state is HoldState.UNMET
    # A fault is a fault whenever it was found.
    bad = measured(START, Stage.EMBEDDED, to_earth_ohm=26.0, earth_open=False)
    assert state(plan(a_job(ahead), [bad], START + DAY)) is State.STOPPED


def test_a_floor_without_mortar_or_bed_is_tested_when_it_is() -> None:
    made = plan(
        a_job(zone(layer("cement grout", START, "grout"))),
        [measured(START, Stage.CONNECTION)],
        START + DAY,
    )
    assert hold(made, "test-before-connection").state is HoldState.MET


def test_calling_a_new_floor_a_repair_spares_no_test() -> None:
    mended = layer(sheet("thinset", 3.0), START, "mortar", repair=True)
    old = layer("mortar bed", None, "old floor", existing=True)
    alone = plan(a_job(zone(mended)), as_of=START + DAY)
    assert hold(alone, "test-before-connection").state is HoldState.UNMET
    assert hold(alone, "connection").state is HoldState.UNMET
    repaired = plan(a_job(zone(old, mended)), as_of=START + DAY)
    assert hold(repaired, "test-before-connection").state is HoldState.NOT_NEEDED
