"""Who may give which evidence, and what an entry lacks that does not count."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from planning_log import READY, a_job, codes, courses, evidence, fact, hold, measured, state
from planning_samples import ADA, DAY, START, item, layer, looked, plan, zone

from curecal.planning.plan import HoldState, State
from curecal.planning.site_log.authority import (
    MAY_GIVE,
    Evidence,
    Gap,
    evidence_of,
    gap,
    in_order,
    license_of,
    may_give,
    names_any,
    says_bad_news,
    signature_findings,
    speaks_as,
)
from curecal.planning.site_log.last_word import newest
from curecal.trade.data_sheets import Milestone
from curecal.trade.job import Code, Person, Role
from curecal.trade.site_log import (
    Connected,
    Continuity,
    Device,
    Done,
    Entry,
    Kept,
    LeadAlarm,
    Leads,
    MarkedPoints,
    Method,
    Mode,
    MoistureTest,
    NotTested,
    Origin,
    Protection,
    Release,
    Result,
    Resumed,
    Stage,
    ThermostatSet,
    TripTest,
)

LEAD, SPARK, OWNER = "Robin Mistral", "Zoë Spark", "Ida Fennell"
PEOPLE = (
    Person(Role.CREW_LEAD, LEAD),
    Person(Role.CREW, "Cy Crew"),
    Person(Role.ELECTRICIAN, SPARK, license="E 1"),
    Person(Role.INSPECTOR, "Ira Inspector"),
    Person(Role.TESTER, "Tess Tester"),
    Person(Role.OWNER, OWNER),
    Person(Role.OFFICE, "Ollie Office"),
)
CONNECTED = {"locked": True, "tagged": True, "leads": Leads.OFF}
LATE = READY + DAY
SLOT = "inspection-before-concealment"

# The table as the trade reads it, written out here a second time.
GIVEN_BY = {
    Evidence.CABLE_TEST: "crew lead, crew, electrician",
    Evidence.NOT_TESTED: "crew lead",
    Evidence.PROTECTION: "electrician",
    Evidence.THERMOSTAT: "electrician",
    Evidence.CONNECTION: "electrician",
    Evidence.INSPECTION: "inspector",
    Evidence.INSPECTION_NOT_REQUIRED: "electrician, inspector",
    Evidence.SOUND_LAYER: "crew lead, tester",
    Evidence.MOISTURE: "crew lead, tester",
    Evidence.MOISTURE_NOT_REQUIRED: "crew lead",
    Evidence.TEST_POINTS: "crew lead, crew, electrician, tester",
    Evidence.KEPT: "crew lead, crew",
    Evidence.RELEASE: "crew lead",
    Evidence.VISIT: "crew lead, crew, electrician, inspector, tester, office",
    Evidence.RESUMED: "crew lead, electrician",
    Evidence.RESUMED_ELECTRICAL: "electrician",
}
ENTRIES: list[tuple[Entry, Evidence | None]] = [
    (measured(START, Stage.LAID), Evidence.CABLE_TEST),
    (fact(NotTested, START, stage=Stage.LAID), Evidence.NOT_TESTED),
    (fact(Protection, START, device=Device.GFCI), Evidence.PROTECTION),
    (fact(ThermostatSet, START, mode=Mode.FLOOR), Evidence.THERMOSTAT),
    (fact(Connected, START, **CONNECTED), Evidence.CONNECTION),
    (looked(START, Result.PASSED), Evidence.INSPECTION),
    (looked(START, Result.NOT_REQUIRED), Evidence.INSPECTION_NOT_REQUIRED),
    (looked(START, Result.NOT_REQUIRED, "slab"), Evidence.MOISTURE_NOT_REQUIRED),
    (looked(START, Result.PASSED, "grout"), Evidence.SOUND_LAYER),
    (looked(START, Result.SOUND, "grout"), Evidence.SOUND_LAYER),
    (looked(START, Result.SOUND), Evidence.SOUND_LAYER),
    (looked(START, Result.FAILED), None),
    (looked(START, Result.REPLACE, "grout"), None),
    (
        fact(MoistureTest, START, layer="bed", method=Method.CARBIDE, value_fraction=0.01),
        Evidence.MOISTURE,
    ),
    (fact(MarkedPoints, START), Evidence.TEST_POINTS),
    (fact(Kept, START, above_c=20.0, from_at=START, to_at=START), Evidence.KEPT),
    (fact(Release, START), Evidence.RELEASE),
    (fact(Resumed, START, found="a loose wire"), Evidence.RESUMED),
    (fact(Done, START, layer="bed"), None),
    (fact(Continuity, START, state=LeadAlarm.SOUNDED), None),
]


@pytest.mark.parametrize("evidence", Evidence)
@pytest.mark.parametrize("role", Role)
def test_each_role_gives_what_the_table_says(role: Role, evidence: Evidence) -> None:
    assert may_give({role}, evidence) is (role.as_written in GIVEN_BY[evidence].split(", "))
    titles = [role.as_written for role in in_order(MAY_GIVE[evidence])]
    assert ", ".join(titles) == GIVEN_BY[evidence]


@pytest.mark.parametrize(("entry", "proves"), ENTRIES)
def test_each_entry_proves_one_thing(entry: Entry, proves: Evidence | None) -> None:
    assert evidence_of(entry) is proves


@pytest.mark.parametrize(("entry", "proves"), [pair for pair in ENTRIES if pair[1] is not None])
@pytest.mark.parametrize("person", PEOPLE, ids=lambda person: person.role.value)
def test_an_entry_counts_from_whose_role_may_say_it(
    person: Person, entry: Entry, proves: Evidence
) -> None:
    may = person.role in MAY_GIVE[proves]
    assert gap(PEOPLE, replace(entry, by=person.name), proves) is (None if may else Gap.ROLE)


@pytest.mark.parametrize(
    ("entry", "bad"),
    [
        (looked(START, Result.FAILED), True),
        (looked(START, Result.REPLACE), True),
        (looked(START, Result.NOT_REQUIRED), False),
        (fact(Protection, START, device=Device.GFCI, trip_test=TripTest.DID_NOT_TRIP), True),
        (fact(Protection, START, device=Device.GFCI, trip_test=TripTest.TRIPPED), False),
        (fact(Connected, START, **CONNECTED), False),
        (fact(Connected, START, leads=Leads.ON), True),
        (fact(Connected, START, locked=False), True),
        (fact(Connected, START, tagged=False), True),
        (fact(ThermostatSet, START, mode=Mode.FLOOR), False),
        (fact(ThermostatSet, START, mode=Mode.AIR), True),
        (fact(ThermostatSet, START, mode=Mode.AIR_WITH_FLOOR_LIMIT), True),
        (fact(Continuity, START, state=LeadAlarm.SOUNDED), True),
        (fact(Continuity, START, state=LeadAlarm.CONNECTED), False),
        (fact(Done, START, layer="bed"), False),
    ],
)
def test_what_fails_by_itself_is_bad_news(entry: Entry, *, bad: bool) -> None:
    assert says_bad_news(entry) is bad


def test_any_of_a_persons_roles_suffices() -> None:
    both = (Person(Role.OWNER, "Jo Both", roles=(Role.CREW_LEAD,)),)
    twice = (Person(Role.OWNER, "Jo Both"), Person(Role.CREW_LEAD, "jo  both"))
    for people in (both, twice):
        assert gap(people, fact(Release, START, by="Jo Both"), Evidence.RELEASE) is None
        assert names_any(people, {Role.CREW_LEAD}, START)
        assert speaks_as(people, fact(Release, START, by="JO BOTH"), {Role.CREW_LEAD})
    assert not names_any(both, {Role.TESTER}, START)
    ended = (Person(Role.CREW_LEAD, "Jo Both", until_at=START),)
    assert not names_any(ended, {Role.CREW_LEAD}, START)
    assert names_any(ended, {Role.CREW_LEAD}, START - DAY)


@pytest.mark.parametrize(
    ("by", "lacks"),
    [
        (None, Gap.UNSIGNED),
        ("", Gap.UNSIGNED),
        ("nobody", Gap.UNKNOWN),
        ("Robin Mistrel", Gap.UNKNOWN),
        (OWNER, Gap.ROLE),
        (LEAD, None),
        (" robin  MISTRAL ", None),
    ],
)
def test_a_signature_is_a_person_of_the_job(by: str | None, lacks: Gap | None) -> None:
    assert gap(PEOPLE, fact(Release, START, by=by), Evidence.RELEASE) is lacks
    assert gap((), fact(Release, START, by=by), Evidence.RELEASE) in {Gap.UNSIGNED, Gap.UNKNOWN}


def test_what_was_signed_before_a_role_ended_stands() -> None:
    gone = (replace(PEOPLE[0], until_at=START + DAY),)
    before, after = (fact(Release, START + DAY * days, by=LEAD) for days in (0, 1))
    assert gap(gone, before, Evidence.RELEASE) is None
    assert gap(gone, after, Evidence.RELEASE) is Gap.ENDED
    assert not speaks_as(gone, after, {Role.CREW_LEAD})
    # Written down afterwards, with a day before they left.
    late = replace(before, recorded=START + DAY)
    assert gap(gone, late, Evidence.RELEASE) is Gap.ENDED
    assert not speaks_as(gone, late, {Role.CREW_LEAD})


def test_a_connection_needs_a_license_that_is_in_the_job() -> None:
    entry = fact(Connected, START, by=SPARK, **CONNECTED)
    unlicensed = tuple(replace(person, license=None) for person in PEOPLE)
    assert gap(PEOPLE, entry, Evidence.CONNECTION) is None
    assert gap(unlicensed, entry, Evidence.CONNECTION) is Gap.LICENSE
    assert license_of(PEOPLE, SPARK) == "E 1"
    assert license_of(PEOPLE, "nobody") is None
    # A test needs no license.
    assert gap(unlicensed, measured(START, Stage.LAID, by=SPARK), Evidence.CABLE_TEST) is None


PHOTO = {"origin": Origin.PHOTO, "photo": "sticker.jpg"}


@pytest.mark.parametrize(
    ("evidence", "entered_by", "more", "lacks"),
    [
        (Evidence.CONNECTION, None, {}, None),
        (Evidence.CONNECTION, SPARK, {}, None),
        (Evidence.CONNECTION, "zoë spark", {}, None),
        (Evidence.CONNECTION, LEAD, PHOTO, None),
        (Evidence.CONNECTION, "Ollie Office", PHOTO, None),
        (Evidence.CONNECTION, "Ollie Office", {"origin": Origin.PHONE}, Gap.PHOTO),
        (Evidence.CONNECTION, LEAD, {"photo": "sticker.jpg"}, Gap.ORIGIN),
        (Evidence.CONNECTION, OWNER, PHOTO, Gap.ENTERED_BY),
        (Evidence.CONNECTION, "Cy Crew", PHOTO, Gap.ENTERED_BY),
        (Evidence.CONNECTION, "nobody", PHOTO, Gap.ENTERED_BY),
        (Evidence.INSPECTION, LEAD, {"origin": Origin.PAPER}, Gap.PHOTO),
        (Evidence.INSPECTION, LEAD, PHOTO, None),
        (Evidence.RESUMED_ELECTRICAL, LEAD, {"origin": Origin.SEEN}, Gap.PHOTO),
        (Evidence.PROTECTION, LEAD, {"origin": Origin.PHONE}, None),
        (Evidence.THERMOSTAT, LEAD, {}, Gap.ORIGIN),
        (Evidence.KEPT, "Ollie Office", {}, None),
        (Evidence.RELEASE, "Ollie Office", PHOTO, Gap.RELEASE),
    ],
)
def test_who_types_what_somebody_else_did(
    evidence: Evidence, entered_by: str | None, more: dict[str, object], lacks: Gap | None
) -> None:
    by = next(person.name for person in PEOPLE if person.role in MAY_GIVE[evidence])
    entry = fact(Done, START, layer="x", by=by, entered_by=entered_by, **more)
    assert gap(PEOPLE, entry, evidence) is lacks


@pytest.mark.parametrize("who", [person.name for person in PEOPLE])
def test_only_the_electrician_makes_the_connection(who: str) -> None:
    entry = fact(Connected, START, by=who, **CONNECTED)
    made = plan(a_job(people=PEOPLE), [entry])
    met = who == SPARK
    assert (hold(made, "connection").state is HoldState.MET) is met
    assert ("signature-role" in codes(made)) is not met


def test_each_signature_that_is_missing_is_said_once() -> None:
    log = [
        fact(Kept, START, by=None, above_c=20.0, from_at=START - DAY, to_at=START),
        fact(Connected, START, by="Zoe Spark", **CONNECTED),
        fact(Connected, START, by=OWNER, locked=False),
        fact(Done, START, by="Max", layer="grout"),
        fact(Done, START, by=None, layer="grout"),
        fact(Release, START, by=OWNER),
        fact(Resumed, START, by=OWNER, found="nothing"),
        looked(START, Result.PASSED, by="Ira Inspector"),
    ]
    found = signature_findings(PEOPLE, log)
    assert [finding.code for finding in found] == [
        "signature-unsigned",
        "signature-unknown",
        "signer-not-in-job",
    ]
    assert found[1].params["roles"] == (Role.ELECTRICIAN,)


@pytest.mark.parametrize("result", [Result.PASSED, Result.NOT_REQUIRED])
@pytest.mark.parametrize("by", [OWNER, LEAD, None])
def test_the_owner_passes_no_inspection(result: Result, by: str | None) -> None:
    people = (*PEOPLE, ADA)
    made = plan(a_job(code=Code.NEC, people=people), [looked(START - DAY, result, by=by)])
    assert hold(made, SLOT).state is HoldState.UNMET
    assert "concealed-uninspected" in codes(made)
    for before, expected in ((Result.PASSED, HoldState.MET), (Result.FAILED, HoldState.FAILED)):
        real = looked(START - DAY * 2, before, by="Ira Inspector")
        log = [real, looked(START - DAY, result, by=by)]
        assert hold(plan(a_job(code=Code.NEC, people=people), log), SLOT).state is expected


def test_of_entries_of_one_instant_the_worst_decides_whatever_their_ids() -> None:
    pairs: list[tuple[str, Entry, Entry]] = [
        (
            "protection",
            fact(Protection, LATE, id="m", device=Device.GFCI, trip_test=TripTest.TRIPPED),
            fact(Protection, LATE, device=Device.GFCI, trip_test=TripTest.DID_NOT_TRIP),
        ),
        (
            "thermostat",
            fact(ThermostatSet, LATE, id="m", mode=Mode.FLOOR, limit_c=25.0),
            fact(ThermostatSet, LATE, mode=Mode.AIR, limit_c=25.0),
        ),
        (
            "connection",
            fact(Connected, LATE, id="m", **CONNECTED),
            fact(Connected, LATE, **{**CONNECTED, "locked": False}),
        ),
    ]
    for code, good, bad in pairs:
        for entry_id in ("aa", "zz"):
            made = plan(a_job(), [*evidence(), good, replace(bad, id=entry_id)], LATE)
            assert hold(made, code).state is HoldState.FAILED
            assert hold(made, code).evidence == entry_id
    looks = [looked(START - DAY, Result.PASSED), looked(START - DAY, Result.FAILED)]
    for log in (looks, looks[::-1]):
        assert hold(plan(a_job(code=Code.NEC), log), SLOT).state is HoldState.FAILED


def test_the_newest_of_nothing_is_nothing() -> None:
    assert newest([]) == []


def test_a_layer_that_failed_its_last_inspection_has_no_date_until_the_next() -> None:
    failed = looked(READY, Result.FAILED, "grout", by="a neighbor")
    people = (*PEOPLE, ADA)
    made = plan(a_job(people=people), [*evidence(), failed], LATE)
    assert state(made) is State.NO_DATE
    assert item(made, "grout").milestones[Milestone.HEAT].window is None
    assert "layer-failed" in codes(made)
    for result, by, expected in (
        (Result.PASSED, "Tess Tester", State.CLEAR),
        (Result.SOUND, LEAD, State.CLEAR),
        (Result.SOUND, SPARK, State.NO_DATE),
        (Result.SOUND, OWNER, State.NO_DATE),
        (Result.SOUND, "a neighbor", State.NO_DATE),
        (Result.SOUND, None, State.NO_DATE),
    ):
        again = looked(LATE, result, "grout", by=by)
        later = plan(a_job(people=people), [*evidence(), failed, again], LATE + DAY)
        assert state(later) is expected
    # One that failed before the layer was laid anew says nothing of the new one.
    before = looked(START + DAY * 3, Result.FAILED, "grout")
    assert state(plan(a_job(), [*evidence(), before], LATE)) is State.CLEAR


def test_a_floor_that_is_to_be_replaced_is_stopped_until_found_sound() -> None:
    replaced = looked(READY, Result.REPLACE, by=None)
    made = plan(a_job(), [*evidence(), replaced], LATE)
    assert state(made) is State.STOPPED
    assert made.zones[0].why.code == "floor-condemned"
    sound = looked(LATE, Result.SOUND)
    assert state(plan(a_job(), [*evidence(), replaced, sound], LATE)) is State.CLEAR
    # The electrical inspection is another matter, and who may not say it lifts nothing.
    for other in (looked(LATE, Result.PASSED), looked(LATE, Result.SOUND, by=None)):
        assert state(plan(a_job(), [*evidence(), replaced, other], LATE)) is State.STOPPED


@pytest.mark.parametrize(
    ("result", "code"), [(Result.FAILED, "layer-failed"), (Result.REPLACE, "replace-layer")]
)
def test_an_old_base_that_failed_stops_the_floor(result: Result, code: str) -> None:
    base = layer("concrete", None, "slab", existing=True)
    job = a_job(zone(base, *courses()), people=(*PEOPLE, ADA))
    made = plan(job, [*evidence(), looked(READY, result, "slab", by=None)], LATE)
    assert state(made) is State.STOPPED
    assert made.zones[0].why.code == code
    bad = looked(READY, result, "slab", by="Ira Inspector")
    for by, expected in (
        (LEAD, State.CLEAR),
        ("Tess Tester", State.CLEAR),
        ("Ira Inspector", State.STOPPED),
        (OWNER, State.STOPPED),
    ):
        good = looked(LATE, Result.SOUND, "slab", by=by)
        assert state(plan(job, [*evidence(), bad, good], LATE + DAY)) is expected


def test_a_role_ends_with_the_day_it_names() -> None:
    last = datetime(2027, 3, 9, tzinfo=UTC)
    gone = replace(ADA, until_at=last)
    assert gone.is_on_the_job(last - timedelta(seconds=1))
    assert not gone.is_on_the_job(last)
    assert ADA.is_on_the_job(last)
