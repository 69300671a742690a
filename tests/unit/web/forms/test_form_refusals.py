"""What a form refuses is said on it, in the reader's language, and nothing is written."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from pathlib import Path

import pytest
from page_samples import (
    BOOKED,
    COLM,
    LEAD,
    MAX,
    OURS,
    PEOPLE,
    SAM,
    TESS,
    ZONE,
    PageSite,
    entry_id,
    page_site,
    said,
    site_of,
)

from curecal.web.forms.form_table import FORMS
from curecal.web.forms.form_types import FieldType

TONIGHT = Path(__file__).parents[3] / "golden" / "30-tonight" / "job.toml"
LANGUAGES = ("en", "de", "es", "fr", "pl")
HOSTILE = (
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "{{ 7 * 7 }}",
    "a\r\nSet-Cookie: x=1",
    "\x00\x1b[2J",
    "\u202egnp.exe",
    "'; DROP TABLE job; --",
    "𝔘" * 300,
)


@pytest.fixture
def site(tmp_path: Path) -> PageSite:
    return page_site(tmp_path)


def refused(site: PageSite, person: str, form: str, typed: dict[str, str]) -> str:
    """Send a form that must not be taken; return what the page says."""
    before = site.entries()
    answer = site.send(person, form, typed)
    assert answer.status_code == 422
    assert site.entries() == before
    return said(answer)


@pytest.mark.parametrize("points", ["9" * 41, "1_0", "3.5", "three", "-1"])
def test_a_count_that_no_file_holds_is_refused_on_the_form(site: PageSite, points: str) -> None:
    typed = {"layer": "hall/slab", "method": "carbide", "value": "1,6", "points": points}
    assert refused(site, TESS, "moisture", typed)


@pytest.mark.parametrize(
    ("person", "form", "typed", "says"),
    [
        (MAX, "air", {}, "Please fill this in"),
        (MAX, "air", {"air": "warm"}, 'I cannot read "warm" as a temperature'),
        (MAX, "air", {"air": "64", "humidity": "158"}, "158 %"),
        (MAX, "air", {"air": "64 %"}, "is a percentage"),
        (MAX, "done", {"layer": "hall/slab"}, "Please choose one of these"),
        (MAX, "done", {"layer": "../../etc/passwd"}, "Please choose one of these"),
        (MAX, "stop", {"cause": "bored"}, "Please choose one of these"),
        (MAX, "stop", {}, "Please fill this in"),
        (COLM, "test", {"cable": "attic/", "stage": "laid"}, "Please choose one of these"),
        (COLM, "inspection", {"result": "passed"}, "Please choose one of these"),
        (
            COLM,
            "test",
            {"cable": "hall/", "stage": "laid", "conductor": "58", "conductor.open": "yes"},
            "Either a figure or the open line, not both",
        ),
        (COLM, "test", {"cable": "hall/", "stage": "laid"}, "at least one reading"),
        (COLM, "step", {"to": "750"}, "Check the number"),
        (COLM, "protection", {"device": "GFCI", "trip_test": "tripped", "trips_at": "5 Ω"}, "5 Ω"),
        (LEAD, "kept", {"above": "60", "from": "2026-10-07T08:00"}, "Please fill this in"),
        (MAX, "photo", {}, "Please add a picture"),
        (LEAD, "visit", {"for": "other", "start": "soon"}, "I cannot read this date and time"),
        (MAX, "air", {"air": "64", "entry_id": "e-1"}, "This form is too old"),
        # Nobody types for somebody else but the crew lead and the office.
        (MAX, "air", {"air": "64", "by": LEAD, "origin": "seen"}, "Please choose one of these"),
        (
            LEAD,
            "air",
            {"air": "64", "by": "Nobody", "origin": "seen"},
            "Please choose one of these",
        ),
        (LEAD, "air", {"air": "64", "by": MAX}, "Max Reyes did it: how do you know?"),
        (
            LEAD,
            "test",
            {"cable": "hall/", "stage": "laid", "by": "Tess Ito", "origin": "seen"},
            "choose",
        ),
    ],
)
def test_what_is_refused_is_said_on_the_form(
    site: PageSite, person: str, form: str, typed: dict[str, str], says: str
) -> None:
    assert says in refused(site, person, form, typed)


def test_what_was_typed_stays(site: PageSite) -> None:
    typed = {"air": "warm", "humidity": "58", "at": "2026-10-07T10:00"}
    text = site.send(MAX, "air", typed).get_data(as_text=True)
    for value in typed.values():
        assert f'value="{value}"' in text
    assert 'value="c-00000000000000000000000000000001"' in text


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_refusal_is_in_the_readers_language(site: PageSite, language: str) -> None:
    cases = (
        (LEAD, "air", {"air": "1.000"}),
        (MAX, "air", {"air": "64", "humidity": "158"}),
        (MAX, "done", {"layer": "hall/thinset"}),
        (MAX, "done", {"layer": "hall/leveler", "at": "2026-10-06T03:10"}),
        (LEAD, "release", {"name": LEAD}),
        (COLM, "test", {"cable": "hall/", "stage": "laid", "conductor": "58 V"}),
    )
    english = {}
    for person, form, typed in cases:
        shown = {}
        for wanted in {"en", language}:
            answer = site.client.post(
                f"{site.link(person)}/note/{form}?language={wanted}",
                data={"entry_id": entry_id(1), **typed},
                headers=OURS,
            )
            assert answer.status_code == 422
            shown[wanted] = re.findall(r'role="alert">(.*?)</p>', answer.get_data(as_text=True))
            assert shown[wanted], form
        english[form] = shown["en"]
        if language != "en":
            assert not set(shown[language]) & set(shown["en"]), form


@pytest.mark.parametrize("hostile", HOSTILE)
def test_hostile_values_are_shown_as_text_or_refused(site: PageSite, hostile: str) -> None:
    for person, form in ((LEAD, "air"), (LEAD, "stop"), (COLM, "test"), (LEAD, "visit")):
        fields = {own.key: hostile for own in FORMS[form].fields if own.type != FieldType.PICTURE}
        typed = {**fields, "zone": hostile, "by": hostile, "origin": hostile, "at": hostile}
        typed |= {"air.meant": hostile, "made_at": hostile, "phone_at": hostile}
        answer = site.send(person, form, typed)
        assert answer.status_code == 422, form
        text = answer.get_data(as_text=True)
        assert "<script>alert" not in text
        assert "<img src=x" not in text
        assert "Set-Cookie" not in {name for name, _ in answer.headers if "x=1" in _}
    assert site.entries() == []


@pytest.mark.parametrize("hostile", HOSTILE)
def test_a_hostile_note_is_kept_as_text(site: PageSite, hostile: str) -> None:
    answer = site.send(MAX, "note", {"text": hostile})
    if answer.status_code == 422:
        assert site.entries() == []
        return
    for page in (answer.headers["Location"], f"{site.link(MAX)}/"):
        text = site.client.get(page).get_data(as_text=True)
        assert "<script>alert" not in text
        assert "<img src=x" not in text
        assert "\u202e" not in text
        assert "\x1b" not in text


def test_hostile_names_of_people_layers_and_zones_are_text(tmp_path: Path) -> None:
    name = "<b>Max</b> {{ 7*7 }}"
    people = PEOPLE.replace('name = "Max Reyes"', f'name = "{name}"')
    zone = ZONE.replace('name = "hall"', 'name = "<i>hall</i>"').replace(
        'name = "leveler"', 'name = "<u>leveler</u>"'
    )
    site = page_site(tmp_path, zone=zone, people=people)
    for path in ("/", "/note/done", "/note/test", "/note/release", "/note/stop", "/note/visit"):
        answer = site.get(LEAD, path)
        assert answer.status_code == 200
        text = answer.get_data(as_text=True)
        for tag in ("<b>Max", "<i>hall", "<u>leveler"):
            assert tag not in text
        assert "Max&lt;/b&gt; 49" not in text
    layer = "hall/" + site.serving.jobs.job("alder").job.zones[0].layers[1].id  # type: ignore[union-attr]
    answer = site.send(LEAD, "done", {"layer": layer, "by": name, "origin": "seen"})
    assert answer.status_code == 303
    assert site.last()["by"] == name
    assert "<b>Max" not in site.client.get(answer.headers["Location"]).get_data(as_text=True)


def test_a_connection_wants_a_license_in_the_job(site: PageSite) -> None:
    typed = {"leads": "off the thermostat", "locked": "yes", "tagged": "yes"}
    assert site.send(SAM, "connected", typed).status_code == 404
    # Sam's name in the crew lead's form is not one to choose.
    typed |= {"by": SAM, "origin": "seen"}
    assert "Please choose one of these" in refused(site, LEAD, "connected", typed)


def test_a_visit_that_nobody_booked_is_not_confirmed(tmp_path: Path) -> None:
    site = page_site(tmp_path, log=BOOKED)
    assert "Please choose one of these" in refused(site, COLM, "visit-confirm", {"visit": "v9"})


def test_several_floors_are_told_apart(tmp_path: Path) -> None:
    second = ZONE.replace('"hall"', '"bath"')
    site = page_site(tmp_path, zone=ZONE + second)
    assert "Please fill this in" in refused(site, MAX, "air", {"air": "64"})
    assert "Please fill this in" in refused(site, MAX, "air", {"air": "64", "zone": "attic"})
    assert site.send(MAX, "air", {"air": "64", "zone": "bath"}).status_code == 303
    assert site.last()["zone"] == "bath"
    # A stop without a floor stops all of them.
    assert site.send(MAX, "stop", {"cause": "other"}).status_code == 303
    assert "zone" not in site.last()
    typed = {"cable": "bath/", "stage": "laid", "conductor": "58.9"}
    assert site.send(COLM, "test", typed).status_code == 303
    assert (site.last()["zone"], "cable" in site.last()) == ("bath", False)


def released(tmp_path: Path) -> PageSite:
    """A floor that is cured, with all on record, and not released yet."""
    text = TONIGHT.read_text(encoding="utf-8")
    made = site_of(tmp_path, text[: text.rindex("[[log]]")])
    made.at = datetime(2027, 3, 17, 19, 0, tzinfo=UTC)
    return made


def test_a_floor_that_is_ready_is_released(tmp_path: Path) -> None:
    site = released(tmp_path)
    shown = site.get("Toni Example").get_data(as_text=True)
    assert "/note/release" in shown
    assert "every layer cured" in said(site.get("Toni Example", "/note/release"))
    assert site.send("Toni Example", "release", {"name": "Toni"}).status_code == 422
    answer = site.send("Toni Example", "release", {"name": "toni example"})
    assert answer.status_code == 303
    assert site.last()["kind"] == "release"
    noted = said(site.client.get(answer.headers["Location"]))
    assert "Not yet: from Thu 18 Mar, 08:00" in noted
    assert "Before: No: everything is done, but the crew lead has not released it yet" in noted


def test_a_release_is_of_now_whatever_is_sent_with_it(tmp_path: Path) -> None:
    site = released(tmp_path)
    typed = {"name": "Toni Example", "at": "2027-03-13T12:00", "made_at": "2027-03-13T12:00:00Z"}
    assert site.send("Toni Example", "release", typed).status_code == 303
    assert site.last()["at"] == site.at


def test_no_other_releases_it(tmp_path: Path) -> None:
    site = released(tmp_path)
    answer = site.send("M. Fixer", "release", {"name": "M. Fixer"})
    assert answer.status_code == 404
    typed = {"name": "Toni Example", "by": "M. Fixer", "origin": "phone"}
    assert site.send("Toni Example", "release", typed).status_code == 422
