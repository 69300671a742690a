"""Who is offered which form: every form against every person, by a table written by hand."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from page_samples import (
    BOOKED,
    COLM,
    INES,
    LEAD,
    MAX,
    OFFICE,
    PEOPLE,
    SAM,
    STOPPED,
    TESS,
    PageSite,
    page_site,
    said,
)

from curecal.planning.site_log.authority import MAY_GIVE
from curecal.toml_files.log_schema import KINDS
from curecal.trade.job import Role
from curecal.web.forms.form_table import FORMS
from curecal.web.forms.form_types import FieldType

if TYPE_CHECKING:
    from pathlib import Path

EVERYBODY = {LEAD, MAX, TESS, INES, COLM, SAM, OFFICE}
ON_SITE = EVERYBODY - {COLM, SAM}
# Colm's license stands in the job, Sam's does not.
MAY_OPEN = {
    "air": EVERYBODY,
    "surface": ON_SITE,
    "floor": EVERYBODY,
    "kept": {LEAD, MAX, OFFICE},
    "done": ON_SITE,
    "points": {LEAD, MAX, TESS, OFFICE},
    "moisture": {LEAD, TESS, OFFICE},
    "sound": {LEAD, TESS, OFFICE},
    "moisture-not-required": {LEAD, OFFICE},
    "photo": EVERYBODY,
    "note": EVERYBODY,
    "test": {LEAD, MAX, COLM, SAM, OFFICE},
    "not-tested": {LEAD, OFFICE},
    "leads": EVERYBODY,
    "inspection": {LEAD, INES, COLM, SAM, OFFICE},
    "protection": {LEAD, COLM, SAM, OFFICE},
    "thermostat": {LEAD, COLM, SAM, OFFICE},
    "connected": {LEAD, COLM, OFFICE},
    "switched-on": EVERYBODY,
    "step": EVERYBODY,
    "stop": EVERYBODY,
    "lift": set(),
    "release": {LEAD},
    "visit": EVERYBODY,
    "visit-confirm": set(),
    "visit-move": set(),
    "visit-decline": set(),
    "visit-done": set(),
}
"""On a job that nothing stops, and where nobody is booked."""


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> PageSite:
    return page_site(tmp_path_factory.mktemp("offers"))


def who_opens(site: PageSite, form: str) -> set[str]:
    return {person for person in EVERYBODY if site.get(person, f"/note/{form}").status_code == 200}


def test_the_table_names_every_form() -> None:
    assert MAY_OPEN.keys() == FORMS.keys()


@pytest.mark.parametrize("form", sorted(FORMS))
def test_a_form_opens_for_those_who_may_sign_it(site: PageSite, form: str) -> None:
    assert who_opens(site, form) == MAY_OPEN[form]


@pytest.mark.parametrize("form", sorted(FORMS))
def test_a_form_that_is_not_offered_writes_nothing(site: PageSite, form: str) -> None:
    before = site.entries()
    for person in EVERYBODY - MAY_OPEN[form]:
        for path in (f"/note/{form}", f"/note/{form}/judge"):
            assert site.send(person, form, {"cause": "other"}, path=path).status_code == 404
    assert site.entries() == before


@pytest.mark.parametrize("person", sorted(EVERYBODY))
def test_a_page_links_to_the_forms_that_open_and_no_other(site: PageSite, person: str) -> None:
    text = site.get(person).get_data(as_text=True)
    linked = {form for form in FORMS if f'/note/{form}"' in text or f"/note/{form}?" in text}
    allowed = {form for form, people in MAY_OPEN.items() if person in people}
    assert linked <= allowed
    # A release waits until the floor is ready for it.
    assert allowed - linked <= {"release"}


def test_an_owner_opens_no_form(site: PageSite) -> None:
    for form in FORMS:
        answer = site.get("Kim Lee", f"/note/{form}")
        assert answer.status_code == 404
        assert "This link does not work" in said(answer)


@pytest.mark.parametrize(
    ("cause", "people"),
    [("other", {LEAD, COLM, SAM, OFFICE}), ("tripped", {LEAD, COLM, SAM, OFFICE})],
)
def test_a_stop_is_lifted_by_whoever_may(tmp_path: Path, cause: str, people: set[str]) -> None:
    site = page_site(tmp_path, log=STOPPED.format(cause=cause))
    assert who_opens(site, "lift") == people
    # The crew lead enters an electrician's word; of an electrical stop their own is none.
    text = site.get(LEAD, "/note/lift").get_data(as_text=True)
    assert ('value="Pat Moran"' in text) == (cause == "other")
    assert 'value="Colm Byrne"' in text


def test_an_appointment_is_answered_by_who_comes_and_who_waits(tmp_path: Path) -> None:
    site = page_site(tmp_path, log=BOOKED)
    for form in ("visit-confirm", "visit-move", "visit-decline", "visit-done"):
        assert who_opens(site, form) == EVERYBODY


def test_who_left_the_job_has_no_page(tmp_path: Path) -> None:
    people = PEOPLE.replace('name = "Max Reyes"', 'name = "Max Reyes"\nuntil = 2026-10-06')
    site = page_site(tmp_path, people=people)
    assert site.get("Max Reyes").status_code == 404


def test_every_form_fills_keys_that_its_kind_has() -> None:
    base = {"note", "photo", "zone", "from"}
    for form in FORMS.values():
        keys = {key.name for key in KINDS[form.kind]} | base
        assert {own.key for own in form.fields} | set(form.fixed) <= keys, form.name


def test_every_form_asks_what_its_kind_cannot_do_without() -> None:
    for form in FORMS.values():
        wanted = {key.name for key in KINDS[form.kind] if key.required}
        asked = {own.key for own in form.fields if not own.is_optional} | set(form.fixed)
        # The id of a visit comes from what it is for.
        assert wanted - asked - {"visit"} == set(), form.name


def test_every_closed_choice_is_one_of_the_log() -> None:
    for form in FORMS.values():
        choices = {key.name: key.choices for key in KINDS[form.kind]}
        for own in form.fields:
            if own.type is FieldType.CHOICE:
                assert set(own.choices) <= set(choices[own.key]), (form.name, own.key)


def test_no_evidence_is_given_by_a_form_for_owners() -> None:
    for form in FORMS.values():
        assert all(Role.OWNER not in MAY_GIVE[one] for one in form.evidence), form.name
