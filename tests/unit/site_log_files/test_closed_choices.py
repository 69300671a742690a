"""Every choice of a log entry is read; a wrong word is refused with the choices and the nearest."""

from __future__ import annotations

from typing import get_args, get_type_hints

import pytest
from file_samples import LOG, codes, read

from curecal.site_log_files.log_reader import CLASSES
from curecal.toml_files.log_schema import BASE, KINDS
from curecal.toml_files.schema import Key
from curecal.trade.entry_kinds import EntryKind
from curecal.trade.job import Role
from curecal.trade.site_log import (
    Cause,
    Connected,
    Continuity,
    Kept,
    LeadAlarm,
    MoistureTest,
    Origin,
    Protection,
    Release,
    Resumed,
    Stopped,
)

CHOICES = [(kind, key) for kind, keys in KINDS.items() for key in keys if key.choices]
PEOPLE = """
[people.crew_lead]
name = "Robin"
roles = ["tester"]

[[people.crew]]
name = "Cy"

[[people.crew]]
name = "Dee"
until = 2026-11-30

[people.electrician]
name = "Zoë"
license = "E 1234"

[people.inspector]
name = "Ira"

[people.tester]
name = "Tess"

[people.owner]
name = "Ida"

[people.office]
name = "Ollie"
"""


def lines(kind: str, but: str = "") -> str:
    """Return an entry of a kind with every key that it cannot do without."""
    needed = [key for key in KINDS[kind] if key.required and key.name != but]
    own = "".join(f"{key.name} = {key.example}\n" for key in needed)
    own = own.replace('"leveler"', '"bed"').replace('"screed"', '"bed"')
    value = 'value = "3 %"\n' if kind == "moisture" else ""
    return LOG + f'kind = "{kind}"\n' + own.replace('value = "1.6 CM-%"\n', value)


@pytest.mark.parametrize(
    ("kind", "key", "word"),
    [(kind, key, word) for kind, key in CHOICES for word in key.choices],
    ids=lambda value: value.name if isinstance(value, Key) else None,
)
def test_each_choice_is_read_in_any_case(kind: str, key: Key, word: str) -> None:
    for text in (word, word.upper()):
        found = read(more=lines(kind, key.name) + f'{key.name} = "{text}"\n')
        wrong = [code for code, path in codes(found) if path == f"log.0.{key.name}"]
        assert wrong == []


@pytest.mark.parametrize(("kind", "key"), CHOICES, ids=lambda value: getattr(value, "name", None))
def test_a_wrong_word_is_refused_with_the_choices_and_the_nearest(kind: str, key: Key) -> None:
    word = key.choices[-1][:-1]
    found = read(more=lines(kind, key.name) + f'{key.name} = "{word}"\n')
    assert found.job is None
    (finding,) = [each for each in found.findings if each.code == "choice-unknown"]
    assert finding.path == f"log.0.{key.name}"
    assert finding.params["known"] == ", ".join(key.choices)
    assert finding.params["nearest"] in key.choices


def test_every_choice_of_an_entry_is_an_enumeration_of_the_trade() -> None:
    """No text decides: what a rule looks at is closed, a quantity, a yes or no, or a person."""
    free = {"note", "reason", "text", "found", "file", "photo", "meter", "lot", "device", "id"}
    names = {"visit", "who"} | {"by", "entered_by", "zone", "layer", "part", "cable", "path", "of"}
    for made in set(CLASSES.values()):
        for name, hint in get_type_hints(made).items():
            if str in {hint, *get_args(hint)}:
                assert name in free | names | {"sha256"}, (made, name)


def test_every_kind_that_may_be_written_has_its_name_and_its_record() -> None:
    assert sorted(KINDS) == sorted(EntryKind)
    assert CLASSES.keys() == set(EntryKind) - {EntryKind.CORRECTION}


def test_an_entry_says_who_did_it_who_typed_it_and_how_they_know() -> None:
    for word in Origin:
        entry = (
            LOG + 'kind = "release"\nby = "robin"\nentered_by = "OLLIE"\n'
            f'from = "{word.value}"\nphoto = "card.jpg"\n'
        )
        (made,) = read(top=PEOPLE, more=entry).log
        assert isinstance(made, Release)
        assert (made.by, made.entered_by, made.origin, made.photo) == (
            "Robin",
            "Ollie",
            word,
            "card.jpg",
        )
    wrong = read(more=LOG + 'kind = "release"\nfrom = "hearsay"\n')
    assert codes(wrong) == [("choice-unknown", "log.0.from")]
    assert {key.name for key in BASE} >= {"by", "entered_by", "from", "photo"}


def test_of_a_statement_from_is_its_beginning_also_in_its_correction() -> None:
    kept = LOG + 'id = "k"\nkind = "kept"\nabove = "18 °C"\nfrom = 2026-10-01\nto = 2026-10-05\n'
    back = LOG + 'kind = "correction"\nof = "k"\nfrom = 2026-10-02\nby = "Robin"\n'
    made, changed = read(more=kept + back).log
    assert isinstance(made, Kept)
    assert made.origin is None
    assert list(changed.changes) == ["from_at"]  # type: ignore[attr-defined]
    # Of an entry that is not understood without its correction too.
    reversed_ = kept.replace("2026-10-01", "2026-10-09")
    (mended, _) = read(top=PEOPLE, more=reversed_ + back).log
    assert isinstance(mended, Kept)
    assert mended.from_at < mended.to_at


def test_the_closed_keys_become_fields() -> None:
    log = "".join(
        [
            LOG + 'kind = "protection"\ndevice = "rcd"\ntrips_at = "30 mA"\n'
            'trip_test = "did not trip"\ntrip_time = "18 ms"\n',
            LOG
            + 'kind = "connected"\nlocked = true\ntagged = false\nleads = "on the thermostat"\n',
            LOG + 'kind = "continuity"\nstate = "sounded"\n',
            LOG + 'kind = "moisture"\nlayer = "bed"\nvalue = "1.6 CM-%"\npoints = 3\n'
            'heating_off_for = "24 h"\nair = "20 °C"\nhumidity = "55 %"\n',
            LOG + 'kind = "stopped"\ncause = "crack or loose tile"\nreason = "by the door"\n',
            LOG + 'kind = "resumed"\nfound = "glue"\n',
        ]
    )
    found = read(more=log)
    assert found.job is not None, found.findings
    protection, connected, alarm, moisture, stopped, resumed = found.log
    assert isinstance(protection, Protection)
    assert (protection.trips_at_a, protection.trip_s) == (pytest.approx(0.03), 0.018)
    assert isinstance(connected, Connected)
    assert (connected.locked, connected.tagged) == (True, False)
    assert isinstance(alarm, Continuity)
    assert alarm.state is LeadAlarm.SOUNDED
    assert isinstance(moisture, MoistureTest)
    assert (moisture.heating_off_s, moisture.air_c, moisture.humidity) == (86400.0, 20.0, 0.55)
    assert isinstance(stopped, Stopped)
    assert stopped.cause is Cause.CRACK
    assert isinstance(resumed, Resumed)
    assert resumed.found == "glue"


@pytest.mark.parametrize(
    "line",
    [
        'kind = "protection"\ntype = "GFCI 5 mA"\n',
        'kind = "connected"\nlicence = "E 1"\n',
        'kind = "connected"\nheating_leads = "not landed"\n',
        'kind = "inspection"\nresult = "passed"\nzone = "hall"\nlicence = "E 1"\n',
        'kind = "moisture"\nlayer = "bed"\nvalue = "1.6 CM-%"\nconditions = "dry"\n',
    ],
)
def test_prose_that_once_decided_is_no_key(line: str) -> None:
    assert "key-unknown" in [code for code, _ in codes(read(more=LOG + line))]


@pytest.mark.parametrize("kind", ["stopped", "resumed", "protection", "continuity", "thermostat"])
def test_what_decides_cannot_be_left_out(kind: str) -> None:
    assert "key-missing" in [code for code, _ in codes(read(more=LOG + f'kind = "{kind}"\n'))]


def test_people_have_roles_a_license_and_an_end() -> None:
    job = read(top=PEOPLE).job
    assert job is not None
    people = {person.name: person for person in job.people}
    assert [person.role for person in job.people if person.name in {"Cy", "Dee"}] == [Role.CREW] * 2
    assert people["Robin"].every_role == {Role.CREW_LEAD, Role.TESTER}
    assert people["Zoë"].license == "E 1234"
    # The last day counts whole, in the site's time.
    assert people["Dee"].until_at is not None
    assert people["Dee"].until_at.astimezone(job.tz).isoformat()[:16] == "2026-12-01T00:00"
    assert {person.role for person in job.people} == set(Role)


@pytest.mark.parametrize("role", Role)
def test_each_role_is_a_table_and_a_word_of_roles(role: Role) -> None:
    own = read(top=f'[people.{role.value}]\nname = "A"\n').job
    also = read(top=f'[people.owner]\nname = "A"\nroles = ["{role.as_written}"]\n').job
    assert own is not None
    assert also is not None
    assert own.people[0].role is role
    assert also.people[0].roles == (role,)


def test_an_unknown_role_is_refused_with_the_nearest() -> None:
    (finding,) = read(top='[people.owner]\nname = "A"\nroles = ["crew led"]\n').findings
    assert (finding.code, finding.params["nearest"]) == ("choice-unknown", "crew lead")
    (table,) = read(top='[people.electricians]\nname = "A"\n').findings
    assert (table.code, table.params["nearest"]) == ("key-unknown", "electrician")


@pytest.mark.parametrize("text", ["none", "N/A", "tbd", "-", "?"])
def test_a_word_that_says_there_is_none_is_no_license(text: str) -> None:
    found = read(top=PEOPLE.replace("E 1234", text))
    assert codes(found) == [("license-names-none", "people.electrician.0.license")]
