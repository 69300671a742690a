"""Each form written and read back: the log has what was typed, signed by the link's person."""

from __future__ import annotations

import io
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

import pytest
from page_samples import (
    BOOKED,
    COLM,
    INES,
    LEAD,
    MAX,
    NOW,
    OFFICE,
    STOPPED,
    TESS,
    ZONE,
    PageSite,
    page_site,
    said,
)
from PIL import Image

from curecal.trade.site_log import (
    Cause,
    Connected,
    Done,
    Inspection,
    MoistureTest,
    Reading,
    Resistance,
    Stopped,
    VisitNote,
)
from curecal.web.forms.form_table import FORMS

if TYPE_CHECKING:
    from pathlib import Path

LAID = ZONE.replace('name = "leveler"', 'name = "leveler"\ndone = 2026-10-05T12:00:00')
OLD_BASE = """\
[[zone.layer]]
name = "slab"
material = "concrete"
existing = true
since = 2010-06-30
[[zone.layer]]
name = "glue"
material = "reaction adhesive"
[material."reaction adhesive"]
kind = "adhesive"
hardens_by = "reaction"
data_sheet = "rev. 3, p. 2"
wait = { walk = "24 h", heat = "7 d" }
"""

WRITTEN: list[tuple[str, str, dict[str, str], dict[str, object]]] = [
    (MAX, "air", {"air": "64,5", "humidity": "58"}, {"air": "64.5 °F", "humidity": "58 %"}),
    (MAX, "surface", {"surface": "62"}, {"surface": "62 °F"}),
    (COLM, "floor", {"floor": "62", "heating": "off"}, {"floor": "62 °F", "heating": "off"}),
    (
        LEAD,
        "kept",
        {"above": "60", "from": "2026-10-06T08:00", "to": "2026-10-07T08:00"},
        {
            "above": "60 °F",
            "from": datetime.fromisoformat("2026-10-06T08:00-03:00"),
            "to": datetime.fromisoformat("2026-10-07T08:00-03:00"),
        },
    ),
    (
        MAX,
        "done",
        {"layer": "hall/leveler", "lot": "L 12"},
        {"layer": "leveler", "lot": "L 12", "sure": True},
    ),
    (MAX, "points", {"layer": "hall/leveler"}, {"layer": "leveler"}),
    (
        TESS,
        "moisture",
        {"layer": "hall/slab", "method": "carbide", "value": "1,6", "points": "3"},
        {"layer": "slab", "method": "carbide", "value": "1.6 %", "points": 3},
    ),
    (TESS, "sound", {"layer": "hall/slab", "result": "sound"}, {"result": "sound"}),
    (LEAD, "note", {"text": "Key under the mat"}, {"text": "Key under the mat"}),
    (
        COLM,
        "test",
        {
            "cable": "hall/",
            "stage": "delivery",
            "conductor": "58,9",
            "to_earth.open": "yes",
            "insulation": "> 550",
            "insulation_at": "500",
            "sensor": "12,1",
            "floor": "62",
            "meter": "M 3",
        },
        {
            "stage": "delivery",
            "conductor": "58.9 Ω",
            "to_earth": "open",
            "insulation": "> 550 MΩ",
            "insulation_at": "500 V",
            "sensor": "12.1 kΩ",
            "floor": "62 °F",
            "meter": "M 3",
        },
    ),
    (LEAD, "not-tested", {"cable": "hall/", "stage": "laid"}, {"stage": "laid"}),
    (MAX, "leads", {"cable": "hall/", "state": "connected"}, {"state": "connected"}),
    (
        INES,
        "inspection",
        {"result": "passed", "note": "City, permit 12"},
        {"result": "passed", "note": "City, permit 12"},
    ),
    (COLM, "inspection", {"result": "not required"}, {"result": "not required"}),
    (
        COLM,
        "protection",
        {"device": "GFCI", "trips_at": "5", "trip_test": "tripped", "trip_time": "18"},
        {"device": "GFCI", "trips_at": "5 mA", "trip_test": "tripped", "trip_time": "18 ms"},
    ),
    (
        COLM,
        "thermostat",
        {"mode": "floor", "limit": "81", "schedule": "off"},
        {"mode": "floor", "limit": "81 °F", "schedule": "off"},
    ),
    (
        COLM,
        "connected",
        {"leads": "off the thermostat", "locked": "yes", "tagged": "no"},
        {"leads": "off the thermostat", "locked": True, "tagged": False},
    ),
    (COLM, "switched-on", {}, {}),
    (COLM, "step", {"to": "75"}, {"to": "75 °F"}),
    (
        MAX,
        "stop",
        {"cause": "cable damaged", "reason": "cut it"},
        {"cause": "cable damaged", "reason": "cut it"},
    ),
    (
        LEAD,
        "visit",
        {"for": "rough-in", "who": "Colm Byrne", "start": "2026-10-09T09:00"},
        {
            "for": "rough-in",
            "who": "Colm Byrne",
            "visit": "rough-in, hall",
            "state": "booked",
            "start": datetime.fromisoformat("2026-10-09T09:00-03:00"),
        },
    ),
]


def checked(site: PageSite, person: str, form: str, typed: dict[str, str]) -> dict[str, Any]:
    """Send a form that must be taken; return the entry, which must stand on a page of its own."""
    answer = site.send(person, form, typed)
    assert answer.status_code == 303, said(answer)
    noted = site.client.get(answer.headers["Location"])
    assert noted.status_code == 200
    assert "Logged" in said(noted)
    return site.last()


@pytest.mark.parametrize(
    ("person", "form", "typed", "wanted"), WRITTEN, ids=[f"{row[1]}-{row[0]}" for row in WRITTEN]
)
def test_a_form_is_written_and_read_back(
    tmp_path: Path, person: str, form: str, typed: dict[str, str], wanted: dict[str, object]
) -> None:
    site = page_site(tmp_path)
    entry = checked(site, person, form, typed)
    assert entry["kind"] == FORMS[form].kind
    assert {key: entry.get(key) for key in wanted} == wanted
    assert entry["by"] == person
    assert "entered_by" not in entry
    assert entry["zone"] == "hall"
    assert entry["at"] == NOW
    assert site.written == 1
    # The job is read without a complaint about it.
    read = site.serving.jobs.read(site.job_id)
    assert read.job is not None
    assert entry["id"] in {one.id for one in read.log}


def test_the_rows_cover_every_form_but_those_that_need_a_past() -> None:
    rest = {"moisture-not-required", "photo", "lift", "release"}
    rest |= {"visit-confirm", "visit-move", "visit-decline", "visit-done"}
    assert {row[1] for row in WRITTEN} == FORMS.keys() - rest


def test_what_was_read_has_the_units_that_were_meant(tmp_path: Path) -> None:
    site = page_site(tmp_path)
    for person, form, typed, _ in WRITTEN:
        if form in {"air", "test", "moisture"}:
            checked(site, person, form, typed)
    log = site.serving.jobs.read(site.job_id).log
    air = next(one for one in log if isinstance(one, Reading))
    # 64.5 °F by the definition of the scale: (64.5 - 32) / 1.8.
    assert air.temperature_c == pytest.approx(18.0556, abs=1e-4)
    assert air.humidity == pytest.approx(0.58)
    test = next(one for one in log if isinstance(one, Resistance))
    assert (test.conductor_ohm, test.insulation_ohm) == (58.9, 550e6)
    assert (test.sensor_ohm, test.earth_open, test.insulation_at_least) == (12100.0, True, True)
    moisture = next(one for one in log if isinstance(one, MoistureTest))
    assert moisture.value_fraction == pytest.approx(0.016)


def test_no_moisture_test_is_needed_for_an_old_base(tmp_path: Path) -> None:
    old = ZONE[: ZONE.index("[[zone.layer]]")].replace("ceramic tile", "vinyl") + OLD_BASE
    site = page_site(tmp_path, zone=old)
    typed = {"layer": "hall/slab", "note": "sixteen years old, upstairs"}
    entry = checked(site, LEAD, "moisture-not-required", typed)
    wanted = {"kind": "inspection", "result": "not required", "layer": "slab"}
    assert {key: entry[key] for key in wanted} == wanted


def test_a_base_under_a_fresh_pour_still_wants_its_moisture_test(tmp_path: Path) -> None:
    site = page_site(tmp_path)
    typed = {"layer": "hall/slab", "note": "old"}
    refused = site.send(LEAD, "moisture-not-required", typed)
    assert refused.status_code == 422
    assert "The slab still needs its moisture test" in said(refused)
    assert site.entries() == []


def test_a_photo_is_kept_and_shown_to_links_of_the_job_alone(tmp_path: Path) -> None:
    site = page_site(tmp_path)
    data = io.BytesIO()
    Image.new("RGB", (20, 10), (10, 90, 10)).save(data, "PNG")
    octets = data.getvalue()
    entry = {}
    for key in ("file", "file.chosen"):
        typed = {key: (io.BytesIO(octets), "../../x.php"), "text": "the cable"}
        answer = site.send(MAX, "photo", typed)
        assert answer.status_code == 303
        entry = site.last()
        assert entry["file"].startswith("pictures/")
        assert entry["file"].endswith(".jpg")
    name = entry["file"].removeprefix("pictures/")
    shown = site.get(MAX, f"/picture/{name}")
    assert shown.content_type == "image/jpeg"
    assert shown.headers["X-Content-Type-Options"] == "nosniff"
    assert shown.data.startswith(b"\xff\xd8\xff")
    # An owner has no page that shows it.
    assert site.get("Kim Lee", f"/picture/{name}").status_code == 404
    assert site.get(INES, f"/picture/{name}").status_code == 200
    (tmp_path / "other").mkdir()
    other = page_site(tmp_path / "other")
    assert other.get(MAX, f"/picture/{name}").status_code == 404
    assert site.get(MAX, "/picture/..%2Fjob.toml").status_code == 404
    assert f"/picture/{name}" in site.get(MAX).get_data(as_text=True)


def test_an_entry_for_somebody_else_says_who_typed_it_and_how_they_know(tmp_path: Path) -> None:
    site = page_site(tmp_path)
    typed = {"result": "passed", "by": INES, "origin": "paper"}
    refused = site.send(LEAD, "inspection", typed)
    assert refused.status_code == 422
    assert "please add a photo of the sticker" in said(refused)
    assert site.entries() == []
    data = io.BytesIO()
    Image.new("RGB", (20, 10)).save(data, "JPEG")
    data.seek(0)
    answer = site.send(LEAD, "inspection", {**typed, "photo": (data, "sticker.jpg")})
    assert answer.status_code == 303
    entry = site.last()
    assert (entry["by"], entry["entered_by"], entry["from"]) == (INES, LEAD, "paper")
    assert entry["photo"].startswith("pictures/")
    log = site.serving.jobs.read(site.job_id).log
    assert any(isinstance(one, Inspection) and one.by == INES for one in log)
    assert f"typed by {LEAD}" in said(site.client.get(answer.headers["Location"]))


def test_the_crew_lead_enters_a_test_without_a_photo(tmp_path: Path) -> None:
    site = page_site(tmp_path)
    typed = {"cable": "hall/", "stage": "delivery", "conductor": "58.9", "to_earth.open": "yes"}
    entry = checked(site, LEAD, "test", {**typed, "by": COLM, "origin": "phone"})
    assert (entry["by"], entry["entered_by"], entry["from"]) == (COLM, LEAD, "phone")


@pytest.mark.parametrize(
    ("form", "more", "state"),
    [
        ("visit-confirm", {}, "confirmed"),
        ("visit-move", {"start": "2026-10-09T10:00"}, "booked"),
        ("visit-decline", {"note": "ill"}, "declined"),
        ("visit-done", {}, "done"),
    ],
)
def test_an_appointment_is_answered(
    tmp_path: Path, form: str, more: dict[str, str], state: str
) -> None:
    site = page_site(tmp_path, log=BOOKED)
    entry = checked(site, COLM, form, {"visit": "v1", **more})
    assert (entry["visit"], entry["state"]) == ("v1", state)
    assert "zone" not in entry
    visits = [one for one in site.serving.jobs.read("alder").log if isinstance(one, VisitNote)]
    assert visits[-1].by == COLM
    shown = said(site.get(COLM))
    assert ("Confirmed: Thu 8 Oct, 09:00" in shown) == (form == "visit-confirm")


def test_a_stop_is_lifted_with_what_was_found(tmp_path: Path) -> None:
    site = page_site(tmp_path, log=STOPPED.format(cause="other"))
    site.at = NOW + timedelta(hours=1)
    checked(site, LEAD, "lift", {"found": "nothing, a mistake"})
    assert site.get(LEAD, "/note/lift").status_code == 404


def test_an_electrical_stop_wants_a_reading_of_that_day(tmp_path: Path) -> None:
    site = page_site(tmp_path, log=STOPPED.format(cause="tripped"))
    site.at = NOW + timedelta(hours=1)
    refused = site.send(COLM, "lift", {"found": "water in the box, dried"})
    assert refused.status_code == 422
    assert "no cable was measured in full that day" in said(refused)
    assert site.entries()[-1]["kind"] == "stopped"
    typed = {"cable": "hall/", "stage": "delivery", "conductor": "58.9", "to_earth.open": "yes"}
    checked(site, COLM, "test", typed)
    site.at += timedelta(minutes=5)
    checked(site, COLM, "lift", {"found": "water in the box, dried"})


def test_a_get_and_a_judgement_write_nothing(tmp_path: Path) -> None:
    site = page_site(tmp_path)
    for form in FORMS:
        site.get(LEAD, f"/note/{form}")
    for person, form, typed, _ in WRITTEN:
        answer = site.send(person, form, typed, path=f"/note/{form}/judge")
        assert answer.status_code == 200
        assert answer.get_json()["problems"] == [], form
        assert answer.get_json()["understood"], form
    assert site.entries() == []
    assert site.written == 0


def test_the_office_types_what_was_told_by_telephone(tmp_path: Path) -> None:
    site = page_site(tmp_path, zone=LAID)
    entry = checked(site, OFFICE, "done", {"layer": "hall/thinset", "by": MAX, "origin": "phone"})
    assert (entry["by"], entry["entered_by"], entry["from"]) == (MAX, OFFICE, "phone")
    log = site.serving.jobs.read("alder").log
    assert [one.layer for one in log if isinstance(one, Done)] == ["thinset"]


def test_bad_news_is_written_whatever_it_lacks(tmp_path: Path) -> None:
    site = page_site(tmp_path)
    checked(site, COLM, "connected", {"leads": "on the thermostat", "locked": "no", "tagged": "no"})
    checked(site, COLM, "protection", {"device": "GFCI", "trip_test": "did not trip"})
    checked(site, MAX, "stop", {"cause": "smell or heat"})
    log = site.serving.jobs.read("alder").log
    assert any(isinstance(one, Connected) and one.locked is False for one in log)
    assert [one.cause for one in log if isinstance(one, Stopped)] == [Cause.SMELL_OR_HEAT]
