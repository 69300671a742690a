"""Codes to sentences: places, optional parts, plurals, electrical words, titles, errors."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import pytest
from plan_samples import AS_OF, HOLDS, RULES, SHEET, TZ, job, zone

from curecal.errors import CurecalError, SourceError, UsageError
from curecal.planning.plan import Hold, HoldState, State, Step
from curecal.trade.findings import Finding, Message, Severity
from curecal.trade.hold_codes import Gate, HoldCode
from curecal.trade.job import Code, Role, Units
from curecal.words.catalogue import Catalogue, Text, catalogue
from curecal.words.job_places import names_of, place
from curecal.words.sentences import Words, plain_words, whole, words_for
from curecal.words.values import Reader

WORDS = words_for(job(zone()), RULES)


def words_of(**texts: str) -> Words:
    own = {key: Text(text) for key, text in texts.items()}
    return Words(Catalogue("en", {**catalogue("en").texts, **own}), Reader())


def test_the_reader_is_the_job() -> None:
    assert WORDS.reader == Reader(Units.IMPERIAL, TZ, Code.NEC)
    assert words_for(job(zone()), RULES, units=Units.METRIC).reader.units is Units.METRIC
    assert words_for(job(zone()), RULES, language="en").catalogue is catalogue("en")


def test_optional_parts_stand_only_where_they_say_something() -> None:
    words = words_of(a="Done[? by {by}?][?, {note}?].")
    assert words.text("a", {"by": "Kim", "note": ""}) == "Done by Kim."
    assert words.text("a", {"by": None}) == "Done."
    assert words.text("a", {"by": "Kim", "note": "late"}) == "Done by Kim, late."


def test_zero_is_something_to_say() -> None:
    assert words_of(a="[?{step_k}?]").text("a", {"step_k": 0.0}) == "0 °C"


def test_a_place_without_a_parameter_is_an_error() -> None:
    with pytest.raises(CurecalError, match="text-place-empty"):
        words_of(a="At {bed_c}.").text("a", {})


def test_braces_people_typed_stay_what_they_are() -> None:
    assert words_of(a="{name}").text("a", {"name": "{other} {word_earth}"}) == (
        "{other} {word_earth}"
    )


def test_a_count_chooses_the_form() -> None:
    assert WORDS.text("report.hold-days", {"count": 1}) == "1 day"
    assert WORDS.text("report.hold-days", {"count": 3}) == "3 days"


def test_a_message_may_stand_in_a_sentence() -> None:
    finding = Finding(
        Severity.WARNING,
        "target-over-limit",
        params={
            "wish_c": 35.0,
            "limit_c": 29.0,
            "why": Message("limit-room", {"room_kind": "bathroom"}),
        },
    )
    said, do = WORDS.finding(finding)
    limit = "at most 84 °F (29 °C) is allowed: the limit for this room (bathroom)"
    assert said == f"the job asks for 95 °F; {limit}"
    assert do == "The limit is used. Lower the target."


def test_a_rule_is_named_by_its_title_and_never_by_its_id() -> None:
    assert WORDS.rule("R1") == "Cement cures slower in the cold"
    step = Step("longest", "R10", SHEET, {"count": 2, "governing": "R10", "earliest_at": AS_OF})
    assert "R10" not in WORDS.step(step)
    assert RULES.by_id["R10"].title in WORDS.step(step)
    with pytest.raises(CurecalError, match="rule-unknown"):
        WORDS.rule("R99")


def test_names_of_states_people_and_sources() -> None:
    assert WORDS.state(State.CLEAR) == "ready for release"
    assert WORDS.hold_state(HoldState.NOT_NEEDED) == "not needed"
    assert WORDS.person("crew_lead") == "crew lead"
    assert WORDS.source(SHEET) == "data sheet: rev. 2026-02, p. 2"


@pytest.mark.parametrize("state", list(State))
def test_every_state_has_a_name_and_every_hold_state(state: State) -> None:
    assert WORDS.state(state)
    assert [WORDS.hold_state(each) for each in HoldState]


def test_a_hold_names_its_cable() -> None:
    assert WORDS.hold(HOLDS[0]) == "cable test before connection, mat 1"
    assert WORDS.hold(
        Hold(HoldCode.PROTECTION, Gate.ENERGIZE, Role.ELECTRICIAN, HoldState.MET)
    ) == ("GFCI with a trip test")


def test_a_message_and_a_finding_of_one_code_share_their_text() -> None:
    params = {"layer": "thinset", "frozen_at": AS_OF}
    said, do = WORDS.finding(Finding(Severity.STOP, "frost", "", params))
    assert WORDS.message(Message("frost", params)) == said
    assert WORDS.remedy(Message("frost", params)) == do


def test_a_message_without_remedy_has_none() -> None:
    assert WORDS.remedy(Message("why-curing", {"layer": "grout"})) == ""
    with pytest.raises(CurecalError, match="text-missing"):
        WORDS.message(Message("nonsense"))


def test_an_error_is_one_line_with_its_remedy() -> None:
    error = UsageError("layer-unknown", layer="thin\nset", known=["thinset", "grout"])
    assert plain_words().error(error) == (
        'There is no layer "thin set". There are: thinset, grout.'
    )
    error = SourceError("holidays-unknown", region="XX")
    assert plain_words().error(error).startswith("Public holidays for")


def test_a_clause_becomes_a_sentence() -> None:
    assert whole("the floor froze") == "The floor froze."
    assert whole("Done.") == "Done."
    assert whole("job.toml is the job file itself") == "job.toml is the job file itself."
    assert whole("k/job is a folder.") == "k/job is a folder."
    assert whole("stopped.") == "Stopped."
    assert whole("") == ""


NAMES = {
    "zone": [
        {
            "name": "hall bath",
            "layer": [{"name": "slab"}, {"thickness": "3 mm"}, {"material": "grout", "id": "g"}],
        },
        {"id": "loft"},
    ],
    "material": {"bag 2.5 kg": {"wait": {"heat": "7"}}},
    "log": [
        {"kind": "air"},
        {"kind": "done", "at": datetime.fromisoformat("2026-11-20T09:30")},
        {"kind": "done", "at": date(2026, 11, 20), "name": "x"},
        {"kind": 3, "at": "soon"},
    ],
    "people": {"owner": [{"name": "Sam"}]},
}


@pytest.mark.parametrize(
    ("path", "said"),
    [
        ("", ""),
        ("zone.0", 'zone "hall bath"'),
        ("zone.0.layer.0.thickness", 'zone "hall bath", layer "slab", thickness'),
        ("zone.0.layer.1.thickness", 'zone "hall bath", layer 2, thickness'),
        ("zone.0.layer.2", 'zone "hall bath", layer "grout"'),
        ("zone.1.room", 'zone "loft", room'),
        ("zone.3.heat_up.step", "zone 4, heat-up, step"),
        ("material.bag 2.5 kg.wait.heat", 'material "bag 2.5 kg", wait, heat'),
        ("material.other.wait", 'material "other", wait'),
        ("material", "material"),
        ("log.0.at", "log entry 1 (air), at"),
        ("log.1", "log entry 2 (done, Fri 20 Nov 2026, 09:30)"),
        ("log.2", "log entry 3 (done, Fri 20 Nov 2026)"),
        ("log.3", "log entry 4 (soon)"),
        ("log.9.at", "log entry 10, at"),
        ("people.owner.0.email", 'people, owner "Sam", email'),
        ("job.timezone", "job, timezone"),
        ("expected.heated_by", "expected climate, heated by"),
    ],
)
def test_a_path_is_a_place_a_person_would_point_at(path: str, said: str) -> None:
    assert place(path, NAMES, plain_words()) == said


def test_a_long_name_is_shortened_in_a_place() -> None:
    names = {"zone": [{"name": "x" * 200}]}
    assert place("zone.0", names, plain_words()) == f'zone "{"x" * 59}…"'


def test_a_job_gives_the_same_names_as_its_file() -> None:
    names = names_of(job(zone()))
    assert place("zone.0.layer.1", names, WORDS) == 'zone "hall bath", layer "leveler over cable"'


@pytest.mark.parametrize(
    ("at", "said"),
    [
        # Typed at the site, with its offset; in UTC; without an offset, which is the site's time.
        (datetime(2027, 3, 2, 8, 0, tzinfo=timezone(timedelta(hours=-4))), "Tue 2 Mar, 08:00"),
        (datetime(2027, 3, 2, 12, 0, tzinfo=UTC), "Tue 2 Mar, 08:00"),
        (datetime(2027, 3, 2, 8, 0), "Tue 2 Mar, 08:00"),  # noqa: DTZ001
        (date(2027, 3, 2), "Tue 2 Mar"),
    ],
)
def test_a_log_entry_is_called_by_its_time_on_the_sites_clock(at: object, said: str) -> None:
    reader = Reader(tz=ZoneInfo("America/Halifax"), today=date(2027, 3, 5))
    words = Words(plain_words().catalogue, reader)
    assert place("log.0", {"log": [{"kind": "air", "at": at}]}, words) == (
        f"log entry 1 (air, {said})"
    )


def test_where_no_site_is_known_an_instant_is_shown_in_its_own_zone() -> None:
    at = datetime(2026, 11, 1, 14, 30, 1, tzinfo=ZoneInfo("America/Halifax"))
    assert plain_words().at(at) == "Sun 1 Nov 2026, 14:31"
    assert plain_words().at(at.astimezone(UTC)) == "Sun 1 Nov 2026, 18:31"
    assert plain_words().reader.site_tz is UTC
