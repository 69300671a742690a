"""A new job by the office, step by step: judged at each, written once at the end."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from office_samples import OfficeSite, words_of

from curecal.book.jobs.book_overview import names_by_id
from curecal.book.jobs.jobs import newest_revision, read_in, sources_of
from curecal.job_files.new_job.build_ups import BUILD_UPS
from curecal.trade.job import Role
from curecal.web.pages.office import new_job_page
from curecal.web.pages.office.new_job_steps import STEPS

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from curecal.book.jobs.jobs import JobRevision
    from curecal.records import PlainTable

SITE = {
    "job.name": "Fern Street, bath",
    "job.address": "3 Fern Street",
    "job.timezone": "America/Halifax",
    "job.units": "metric",
    "job.code": "CEC",
}
ROOM = {
    "expected.air": "20 °C",
    "expected.below": "heated room",
    "expected.heated_by": "house system",
}
FLOOR = {
    "zone.0.name": "bath",
    "zone.0.room": "bathroom",
    "zone.0.covering.kind": "ceramic tile",
    "zone.0.covering.size": "20 x 20 cm",
    "zone.0.build_up": "cable in leveler",
}
LAYERS = {"zone.0.layer.0.material": "plywood", "zone.0.layer.2.thickness": "12 mm"}
HEATING = {"zone.0.heating.voltage": "240 V", "zone.0.heating.power": "640 W"}
PEOPLE = {"people.crew_lead.name": "Robin Mistral", "people.owner.name": "Ida Fennell"}
ALL = {**SITE, **ROOM, **FLOOR, **LAYERS, **HEATING, **PEOPLE}


@pytest.fixture
def site(tmp_path: Path) -> OfficeSite:
    return OfficeSite(tmp_path)


def jobs(site: OfficeSite) -> dict[str, str]:
    with site.book.reading() as connection:
        return names_by_id(connection)


def newest(connection: Connection) -> JobRevision:
    return newest_revision(connection, "fern-street-bath")


def test_each_step_asks_what_is_next(site: OfficeSite) -> None:
    assert "Step 1 of 6" in words_of(site.get("/new"))
    typed: dict[str, str] = {}
    parts = (SITE, ROOM, FLOOR, LAYERS, HEATING, PEOPLE)
    for number, (step, fields) in enumerate(zip(STEPS, parts, strict=True), start=1):
        typed |= fields
        answer = site.post("/new", step=step, go="next", **typed)
        assert answer.status_code == 200, words_of(answer)
        wanted = f"Step {number + 1} of 6" if number < len(STEPS) else "Fern Street, bath: is this"
        assert wanted in words_of(answer)
    assert jobs(site) == {}
    sent = site.post("/new", step="look", go="write", **typed)
    assert sent.headers["Location"] == "/office/job/fern-street-bath"
    assert jobs(site) == {"fern-street-bath": "Fern Street, bath"}
    with site.book.reading() as connection:
        job = read_in(connection, "fern-street-bath").job
    assert job is not None
    assert job.zones[0].layers[0].name == "plywood"
    # Whoever made it may log what the others tell them.
    assert [one.name for one in job.people_as(Role.OFFICE, site.now)] == ["Rosa Quill"]
    assert "Fern Street, bath" in words_of(site.get("/job/fern-street-bath"))


def write(site: OfficeSite, **typed: str) -> str:
    sent = site.post("/new", step="look", go="write", **{**ALL, **typed})
    return sent.headers["Location"].rpartition("/")[2]


def test_a_button_pressed_twice_makes_one_job(site: OfficeSite) -> None:
    assert write(site) == "fern-street-bath"
    site.now += timedelta(seconds=2)
    assert write(site) == "fern-street-bath"
    assert jobs(site).keys() == {"fern-street-bath"}
    # Another job of that name is another one, and pressed twice still one.
    for _ in range(2):
        assert write(site, **{"job.address": "5 Fern Street"}) == "fern-street-bath-2"
    # What became of the first one since stays.
    with site.book.reading() as connection:
        data = sources_of(connection, "fern-street-bath", newest(connection)).job
    site.add(data.decode() + "# looked through\n", "again")
    assert write(site) == "fern-street-bath"
    with site.book.reading() as connection:
        assert newest(connection).number == 2
    assert jobs(site).keys() == {"fern-street-bath", "fern-street-bath-2"}


def test_the_same_answers_on_another_day_are_another_floor(site: OfficeSite) -> None:
    assert write(site) == "fern-street-bath"
    site.now += timedelta(days=1)
    # With the log of the first one, whoever laid nothing yet would look at a floor that has cured.
    assert write(site) == "fern-street-bath-2"
    site.now += timedelta(seconds=2)
    assert write(site) == "fern-street-bath-2"


def test_two_jobs_of_one_name_made_at_once_are_two(
    site: OfficeSite, monkeypatch: pytest.MonkeyPatch
) -> None:
    make, turns = new_job_page.job_text, []

    def made(job: PlainTable) -> str:
        turns.append(job["job"]["id"])
        if len(turns) == 1:
            assert write(site, **{"job.address": "5 Fern Street"}) == "fern-street-bath"
        return make(job)

    monkeypatch.setattr(new_job_page, "job_text", made)
    assert write(site) == "fern-street-bath-2"
    with site.book.reading() as connection:
        assert newest(connection).number == 1
        first = read_in(connection, "fern-street-bath").job
        second = read_in(connection, "fern-street-bath-2").job
    assert first is not None
    assert second is not None
    assert (first.address, second.address) == ("5 Fern Street", "3 Fern Street")


@pytest.mark.parametrize(
    ("step", "place", "typed"),
    [
        ("site", "job.name", ""),
        ("site", "job.timezone", "Nowhere/Atlantis"),
        ("room", "expected.air", "20"),
        ("room", "expected.air", "500 °C"),
        ("layers", "zone.0.layer.2.thickness", "thick"),
        ("heating", "zone.0.heating.power", "640"),
        ("people", "people.owner.email", "no mail"),
    ],
)
def test_a_wrong_answer_is_refused_where_it_was_typed(
    site: OfficeSite, step: str, place: str, typed: str
) -> None:
    answer = site.post("/new", step=step, go="next", **{**ALL, place: typed})
    assert answer.status_code == 422
    assert f'id="{place}-wrong"' in answer.text
    # What was typed stays.
    assert f'value="{typed}"' in answer.text
    assert 'value="America/Halifax"' in answer.text or place == "job.timezone"


def test_back_keeps_what_was_typed(site: OfficeSite) -> None:
    answer = site.post("/new", step="floor", go="back", **ALL)
    assert "Step 2 of 6" in words_of(answer)
    assert 'value="20 °C"' in answer.text
    assert 'value="cable in leveler"' in answer.text


def test_what_is_not_a_job_is_not_written(site: OfficeSite) -> None:
    short = {key: value for key, value in ALL.items() if key != "expected.air"}
    assert site.post("/new", step="look", go="write", **short).status_code == 422
    assert jobs(site) == {}


def test_a_form_says_nothing_beyond_its_questions(site: OfficeSite) -> None:
    site.post("/new", step="look", go="write", **ALL, **{"job.company": "/etc/passwd"})
    with site.book.reading() as connection:
        read = read_in(connection, "fern-street-bath")
    assert "company" not in read.raw["job"]


def test_two_jobs_of_one_name_have_two_ids(site: OfficeSite) -> None:
    site.post("/new", step="look", go="write", **ALL)
    site.post("/new", step="look", go="write", **{**ALL, "job.address": "5 Fern Street"})
    assert len(jobs(site)) == 2


@pytest.mark.parametrize("build_up", sorted(BUILD_UPS))
def test_every_build_up_can_be_made(site: OfficeSite, build_up: str) -> None:
    typed = {**ALL, "zone.0.build_up": build_up, "zone.0.layer.0.since": "2015-06-01"}
    for number in range(4):
        typed[f"zone.0.layer.{number}.thickness"] = "40 mm" if "screed" in build_up else "10 mm"
    sent = site.post("/new", step="look", go="write", **typed)
    assert sent.status_code == 303, words_of(sent)


@pytest.mark.parametrize("language", ["de", "pl"])
def test_the_steps_are_asked_in_the_readers_language(site: OfficeSite, language: str) -> None:
    for step in STEPS:
        said = words_of(site.post("/new", language, step=step, go="next", **ALL))
        assert "Step" not in said
        assert "such as" not in said.lower()
