"""The pages of the crew and of the electrician: what comes next, what is needed, what is logged."""

from __future__ import annotations

import re
from datetime import timedelta
from typing import TYPE_CHECKING

import pytest
from page_samples import (
    BOOKED,
    COLM,
    INES,
    LEAD,
    MAX,
    NOW,
    PEOPLE,
    STOPPED,
    TESS,
    ZONE,
    PageSite,
    page_site,
    said,
)

if TYPE_CHECKING:
    from pathlib import Path

LOCKED = """
[[log]]
at = 2026-10-06T10:00:00-03:00
kind = "connected"
locked = {locked}
tagged = true
leads = "off the thermostat"
by = "Colm Byrne"
"""


@pytest.fixture
def site(tmp_path: Path) -> PageSite:
    return page_site(tmp_path)


def test_the_crew_sees_the_next_step_and_what_comes_before_it(site: PageSite) -> None:
    shown = said(site.get(MAX))
    # The cable is covered by the leveler: first the tests and the inspection.
    assert "leveler: from Thu 8 Oct, 08:00" in shown
    first = shown[shown.index("This must be done first") : shown.index("Switching on")]
    assert "Cable test on delivery Cable test after laying" in first
    assert "Electrical inspection before the cable is covered (inspector)" in first
    # What only gates the switching on stands apart.
    assert "Thermostat on floor sensor" not in first
    assert "Thermostat on floor sensor, limit set (electrician)" in shown


def test_a_hold_point_leads_to_its_form_with_the_stage_chosen(site: PageSite) -> None:
    text = site.get(MAX).get_data(as_text=True)
    found = re.search(r'href="[^"]*(/note/test\?[^"]*stage=laid[^"]*)"', text)
    assert found is not None
    form = site.get(MAX, found[1].replace("&amp;", "&")).get_data(as_text=True)
    assert 'name="stage" value="laid" checked' in form
    assert 'type="hidden" name="cable" value="hall/"' in form


def test_the_next_layer_is_chosen_already(site: PageSite) -> None:
    text = site.get(MAX).get_data(as_text=True)
    assert "/note/done?layer=hall%2Fleveler" in text
    form = site.get(MAX, "/note/done?layer=hall%2Fleveler").get_data(as_text=True)
    assert 'value="hall/leveler" checked' in form


@pytest.mark.parametrize(
    ("person", "buttons"),
    [
        (LEAD, "A layer is finished Air temperature Cable test Photo Inspection before covering"),
        (MAX, "A layer is finished Air temperature Cable test Photo Problem: STOP"),
        (TESS, "Moisture test Moisture test points marked A layer looked at Air temperature"),
        (INES, "Inspection before covering Photo Air temperature Problem: STOP"),
        (COLM, "Cable test GFCI Thermostat Connected Switched on Photo Problem: STOP"),
    ],
)
def test_each_sees_what_their_day_needs_first(site: PageSite, person: str, buttons: str) -> None:
    assert f"Log it {buttons}" in said(site.get(person))


def test_a_stopped_floor_shows_how_to_go_on_and_no_next_step(tmp_path: Path) -> None:
    site = page_site(tmp_path, log=STOPPED.format(cause="other"))
    shown = said(site.get(LEAD))
    assert "Lift a stop" in shown
    assert "leveler: from" not in shown
    assert "Lift a stop" not in said(site.get(MAX))


def test_the_log_shows_the_newest_first_with_pictures_and_changes(site: PageSite) -> None:
    site.send(MAX, "air", {"air": "64"})
    site.at += timedelta(minutes=5)
    site.send(LEAD, "note", {"text": "Key under the mat"})
    shown = said(site.get(MAX))
    logged = shown[shown.index("Logged last") :]
    assert logged.index("Key under the mat") < logged.index("Air in hall: 64 °F")
    assert logged.count("Change") == 1


def test_the_electrician_sees_visits_figures_and_the_order(site: PageSite) -> None:
    shown = said(site.get(COLM))
    assert "Alder Lane 7" in shown
    assert "Rough-in and first test Between Wed 7 Oct, 08:00 and Thu 8 Oct, 08:00." in shown
    assert "Label, 240 V, 640 W, 58.8 Ω" in shown
    assert "A log entry does not prove it is dead: prove it dead yourself." in shown
    order = [
        "Keep the heating wires off the thermostat.",
        "Power the thermostat.",
        "Connect the floor sensor",
        "Set floor mode and the floor limit.",
        "Press the test button of the protection",
        "Breaker off.",
        "Lock it",
        "Tag it",
    ]
    places = [shown.index(step) for step in order]
    assert places == sorted(places)


@pytest.mark.parametrize(
    ("log", "says"),
    [
        ("", "No lock is logged: treat the circuit as live."),
        (LOCKED.format(locked="false"), "No lock is logged: treat the circuit as live."),
        (LOCKED.format(locked="true"), "Locked by Colm Byrne, as logged Tue 6 Oct, 10:00."),
    ],
)
def test_whose_lock_it_is_stands_there(tmp_path: Path, log: str, says: str) -> None:
    site = page_site(tmp_path, log=log)
    shown = said(site.get(COLM))
    assert says in shown
    whose = "Only the person whose lock it is may take it off."
    assert (whose in shown) == ("Locked by" in says)


def test_both_sides_answer_an_appointment(tmp_path: Path) -> None:
    site = page_site(tmp_path, log=BOOKED)
    for person in (COLM, LEAD):
        shown = said(site.get(person))
        assert "Booked: Thu 8 Oct, 09:00" in shown
        assert "Not confirmed yet. " in shown
        assert "Confirm Another day Cannot come" in shown
    site.send(COLM, "visit-confirm", {"visit": "v1"})
    shown = said(site.get(LEAD))
    assert "Confirmed: Thu 8 Oct, 09:00" in shown
    assert "Confirm Another day" not in shown


def test_an_appointment_that_is_over_waits_for_a_word(tmp_path: Path) -> None:
    site = page_site(tmp_path, log=BOOKED)
    site.at = NOW + timedelta(days=2)
    assert "It took place Another day Cannot come" in said(site.get(LEAD))
    assert site.send(LEAD, "visit-done", {"visit": "v1"}).status_code == 303
    assert "It took place" not in said(site.get(LEAD))


def test_the_form_says_which_appointment_it_is_about(tmp_path: Path) -> None:
    site = page_site(tmp_path, log=BOOKED)
    for form in ("visit-confirm", "visit-move", "visit-decline", "visit-done"):
        shown = said(site.get(COLM, f"/note/{form}?visit=v1"))
        assert "Rough-in Booked: Thu 8 Oct, 09:00 to 10:00, Colm Byrne" in shown


def test_an_electrician_books_a_day_within_the_window(site: PageSite) -> None:
    text = site.get(COLM).get_data(as_text=True)
    found = re.search(r'href="[^"]*(/note/visit\?[^"]*)"', text)
    assert found is not None
    form = site.get(COLM, found[1].replace("&amp;", "&")).get_data(as_text=True)
    assert 'value="rough-in" checked' in form


def test_a_stop_names_who_is_told_and_who_must_be_called(tmp_path: Path) -> None:
    shown = said(page_site(tmp_path).get(LEAD, "/note/stop"))
    # Sam has no address; nothing is connected, so that the owner is not told.
    assert "Told at once: Colm Byrne. No message reaches these people, call them: Sam" in shown
    (tmp_path / "connected").mkdir()
    connected = page_site(tmp_path / "connected", log=LOCKED.format(locked="true"))
    assert "Told at once: Colm Byrne, Kim Lee." in said(connected.get(LEAD, "/note/stop"))
    (tmp_path / "nobody").mkdir()
    people = re.sub(r"email = .*\n", "", PEOPLE)
    nobody = page_site(tmp_path / "nobody", people=people)
    shown = said(nobody.get(LEAD, "/note/stop"))
    assert "Nobody on this job gets a message. Call: Colm Byrne, Sam Oduya." in shown


def test_a_reading_is_judged_against_the_label(site: PageSite) -> None:
    def judged(conductor: str) -> list[str]:
        typed = {"cable": "hall/", "stage": "delivery", "conductor": conductor}
        typed["to_earth.open"] = "yes"
        answer = site.send(COLM, "test", typed, path="/note/test/judge")
        return list(answer.get_json()["means"])

    # 58.8 Ω within ten percent: 52.92 to 64.68.
    assert judged("58,9")[0] == "58.9 Ω: between 52.92 Ω and 64.68 Ω."
    assert judged("52.92")[0] == "52.92 Ω: between 52.92 Ω and 64.68 Ω."
    assert judged("64.7")[0] == "64.7 Ω: NOT between 52.92 Ω and 64.68 Ω."
    assert any(line.startswith("STOP: ") for line in judged("90"))
    assert judged("")[0].startswith("Cable test on delivery: to do.")
    assert site.entries() == []


def test_without_a_label_nothing_is_judged(tmp_path: Path) -> None:
    zone = re.sub(r"(voltage|power|resistance) = .*\n", "", ZONE)
    site = page_site(tmp_path, zone=zone)
    typed = {"cable": "hall/", "stage": "delivery", "conductor": "58.9", "to_earth.open": "yes"}
    answer = site.send(COLM, "test", typed, path="/note/test/judge")
    assert answer.get_json()["means"][0] == "No label typed: I cannot judge this reading."


def test_the_insulation_and_the_sensor_are_judged(site: PageSite) -> None:
    typed = {"cable": "hall/", "stage": "laid", "conductor": "58.9", "insulation_at": "500"}
    for insulation, says in (("15", "TOO LOW, at least 20 MΩ required"), ("25", "required, good")):
        sent = {**typed, "insulation": insulation, "sensor": "10", "floor": "77"}
        means = site.send(COLM, "test", sent, path="/note/test/judge").get_json()["means"]
        assert says in means[1]
        # A 10 kΩ thermistor has 10 kΩ at 25 °C (77 °F) by its name.
        assert means[2] == "Sensor 10 kΩ: that is 77 °F."


def test_last_values_stand_beside_the_fields(site: PageSite) -> None:
    assert "Label: 58.8 Ω" in said(site.get(COLM, "/note/test"))
    assert "At least 20 MΩ at 500 V" in said(site.get(COLM, "/note/test"))
    assert "Last:" not in said(site.get(COLM, "/note/air"))
    site.send(MAX, "air", {"air": "64"})
    typed = {"cable": "hall/", "stage": "delivery", "conductor": "58.9", "sensor": "12.1"}
    site.send(COLM, "test", typed)
    assert "Last: 64 °F (Wed 7 Oct, 12:00)" in said(site.get(COLM, "/note/air"))
    shown = said(site.get(COLM, "/note/test"))
    assert "Label: 58.8 Ω. Last: 58.9 Ω" in shown
    assert "Last: 12.1 kΩ (Wed 7 Oct, 12:00)" in shown
    assert "At most" in said(site.get(COLM, "/note/thermostat"))


@pytest.mark.parametrize("language", ["de", "es", "fr", "pl"])
@pytest.mark.parametrize("path", ["/", "/note/test", "/note/stop", "/note/done", "/not-you"])
@pytest.mark.parametrize("person", [LEAD, COLM])
def test_no_english_is_left_in_another_language(
    site: PageSite, person: str, path: str, language: str
) -> None:
    if path == "/note/done" and person == COLM:
        path = "/note/protection"
    shown = said(site.get(person, path, language))
    english = {"the", "and", "which", "when", "this", "with", "now", "yes"}
    assert not english & set(re.findall(r"\w+", shown.lower())), shown


def test_a_reading_is_two_taps_and_a_figure(site: PageSite) -> None:
    assert '/note/air"' in site.get(MAX).get_data(as_text=True)
    form = site.get(MAX, "/note/air").get_data(as_text=True)
    # One field to fill in; the time, the floor and the signature are there.
    assert form.count(" required") == 1
    assert site.send(MAX, "air", {"air": "64"}).status_code == 303


def test_a_page_says_whose_it_is(site: PageSite) -> None:
    assert "Signed: Max Reyes. Not you?" in said(site.get(MAX))
    assert "This link is for Max Reyes alone" in said(site.get(MAX, "/not-you"))


def test_an_entry_that_is_not_there_has_no_page(site: PageSite) -> None:
    assert site.get(MAX, "/noted/e-unknown").status_code == 404
    assert site.get(MAX, "/note/no-such-form").status_code == 404
    assert site.at == NOW
