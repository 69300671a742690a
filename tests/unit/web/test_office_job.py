"""One job for the office: answer, log, papers, links, and no English where none is spoken."""

from __future__ import annotations

import hashlib
import re
from pathlib import Path

import pytest
from office_samples import BATH, BATH_FILE, ORIGIN, OfficeSite, words_of

from curecal.book.jobs.written_papers import papers_of
from curecal.book.link_purpose import LinkPurpose
from curecal.book.links.links import find_link, links_of
from curecal.web.app import OFFICE_COOKIE
from curecal.words.catalogue import catalogue, places

CORRECTED = """
[[log]]
id = "fix-1"
at = 2026-11-06T13:00:00-04:00
recorded = 2026-11-06T13:00:00-04:00
kind = "correction"
of = "kept"
above = "65 °F"
by = "Robin Mistral"
"""


@pytest.fixture
def site(tmp_path: Path) -> OfficeSite:
    found = OfficeSite(tmp_path)
    found.add_bath()
    return found


def test_a_job_is_told_whole(site: OfficeSite) -> None:
    answer = site.get(f"/job/{BATH}")
    said = words_of(answer)
    for part in (
        "No: not before Thu 3 Dec (owner: Mon 7 Dec).",
        "14 Alder Lane",
        # Layers, hold points and climate as the commissioning record has them.
        "leveler over the cable",
        "Cable test before connection",
        "11 % of the wait",
        "The whole log (7 entries)",
        "Sam Okoro-Lind, electrician: sam@sparks.example",
    ):
        assert part in said
    assert answer.text.count("<svg") == 2
    # What the policy of the pages forbids, and would be left out of a picture in silence.
    assert " style=" not in answer.text
    assert "<style" not in answer.text


def test_the_log_is_the_newest_first(site: OfficeSite) -> None:
    said = words_of(site.get(f"/job/{BATH}/log"))
    assert said.index("Fri 6 Nov") < said.index("Fri 23 Oct")


def test_a_correction_stands_below_what_it_corrects(tmp_path: Path) -> None:
    site = OfficeSite(tmp_path)
    text = BATH_FILE.read_text(encoding="utf-8")
    kept = re.search(r'\[\[log\]\]\n(?:(?!\[\[).*\n)*?kind = "kept"', text)
    assert kept is not None
    named = re.search(r'id = "([^"]+)"', kept[0])
    own = named[1] if named else None
    if own is None:
        text = text.replace(kept[0], kept[0].replace("[[log]]\n", '[[log]]\nid = "kept"\n'))
    site.add(text + CORRECTED.replace('"kept"', f'"{own or "kept"}"', 1))
    said = words_of(site.get(f"/job/{BATH}/log"))
    assert "Corrected Fri 6 Nov, 13:00, Robin Mistral: " in said
    assert "65 °F" in said


@pytest.mark.parametrize("kind", ["card", "owner", "record"])
def test_a_paper_is_a_page_and_a_file(site: OfficeSite, kind: str) -> None:
    answer = site.get(f"/job/{BATH}/paper/{kind}")
    assert answer.status_code == 200
    titles = {"card": "Hold card", "owner": "Your heated floor", "record": "Commissioning record"}
    assert titles[kind] in words_of(answer)


def test_a_paper_as_pdf(site: OfficeSite) -> None:
    pytest.importorskip("typst")
    answer = site.post(f"/job/{BATH}/paper/card/pdf")
    assert answer.mimetype == "application/pdf"
    assert answer.data.startswith(b"%PDF-")
    # The book knows it again by its bytes.
    with site.book.reading() as connection:
        (kept,) = papers_of(connection, BATH)
    assert kept.sha256 == hashlib.sha256(answer.data).hexdigest()
    assert (kept.kind, kept.revision, kept.entry_count) == ("card", 1, 7)
    assert site.get(f"/job/{BATH}/paper/card/pdf").status_code == 405
    assert "alder-lane-hall-bath-hold-card.pdf" in answer.headers["Content-Disposition"]


def test_without_what_sets_them_papers_are_pages(
    site: OfficeSite, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("curecal.web.pages.office.job_papers.can_typeset", lambda: False)
    answer = site.post(f"/job/{BATH}/paper/card/pdf")
    assert answer.mimetype == "text/html"
    assert "Download as PDF" not in words_of(site.get(f"/job/{BATH}/paper/card"))


def test_no_paper_of_another_name(site: OfficeSite) -> None:
    assert site.get(f"/job/{BATH}/paper/will").status_code == 404


def test_the_owner_prints_the_sheet(site: OfficeSite) -> None:
    owner = site.link(LinkPurpose.OWNER, "Ida Fennell", BATH)
    answer = site.client.get(f"/p/{owner}/sheet", headers={"Accept-Language": "de"})
    assert "Ihr beheizter Boden" in words_of(site.client.get(f"/p/{owner}/sheet?language=de"))
    assert answer.status_code == 200
    crew = site.link(LinkPurpose.CREW, "Robin Mistral", BATH)
    assert site.client.get(f"/p/{crew}/sheet").status_code == 404


def test_a_link_is_shown_once_with_its_code(site: OfficeSite) -> None:
    answer = site.post(f"/job/{BATH}/links", person="owner Ida Fennell", note="flat 2")
    found = re.search(r"http://localhost/p/([\w-]+)/", answer.text)
    assert found is not None
    assert "<svg" in answer.text
    secret = found[1]
    with site.book.reading() as connection:
        link = find_link(connection, secret)
    assert link is not None
    assert (link.person, link.purpose, link.note) == ("Ida Fennell", LinkPurpose.OWNER, "flat 2")
    assert secret not in site.get(f"/job/{BATH}/links").text
    assert site.client.get(f"/p/{secret}/").status_code == 200
    gone = site.post(f"/job/{BATH}/links/revoke", link=link.id)
    assert gone.status_code == 303
    assert site.client.get(f"/p/{secret}/").status_code == 404
    assert "Taken back" in words_of(site.get(f"/job/{BATH}/links"))


@pytest.mark.parametrize(
    "person", ["", "owner Nobody Known", "office Ida Fennell", "electrician Ida Fennell"]
)
def test_no_link_beyond_what_somebody_is(site: OfficeSite, person: str) -> None:
    answer = site.post(f"/job/{BATH}/links", person=person)
    assert answer.status_code == 422
    with site.book.reading() as connection:
        assert links_of(connection, BATH) == ()


def test_each_of_the_office_has_a_link(site: OfficeSite) -> None:
    answer = site.post("/links", person="Tom Adder")
    found = re.search(r"http://localhost/in/([\w-]+)", answer.text)
    assert found is not None
    signed_in = site.client.get(f"/in/{found[1]}")
    assert signed_in.status_code == 303
    cookie = signed_in.headers["Set-Cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=Lax" in cookie
    assert "Tom Adder" in words_of(site.get("/"))
    assert site.post("/links", person=" ").status_code == 422


def test_a_form_of_one_job_takes_back_no_link_of_another(site: OfficeSite) -> None:
    with site.book.reading() as connection:
        (own,) = links_of(connection, "")
    site.post(f"/job/{BATH}/links/revoke", link=own.id)
    assert site.get("/").status_code == 200


def test_a_form_from_elsewhere_makes_nothing(site: OfficeSite) -> None:
    sent = site.client.post(
        f"/office/job/{BATH}/links",
        data={"person": "owner Ida Fennell"},
        headers={"Origin": "https://elsewhere.example"},
    )
    assert sent.status_code == 403
    with site.book.reading() as connection:
        assert links_of(connection, BATH) == ()


def test_a_revoked_office_link_is_out(site: OfficeSite) -> None:
    other = site.link(LinkPurpose.OFFICE, "Tom Adder")
    with site.book.reading() as connection:
        own = next(link for link in links_of(connection, "") if link.person == "Rosa Quill")
    site.client.set_cookie(OFFICE_COOKIE, other)
    site.client.post("/office/links/revoke", data={"link": own.id}, headers=ORIGIN)
    site.client.set_cookie(OFFICE_COOKIE, site.secret)
    assert site.get("/").status_code == 404


@pytest.mark.parametrize("language", ["de", "fr", "es", "pl"])
@pytest.mark.parametrize(
    "address", ["/", "/days", "/messages", f"/job/{BATH}", f"/job/{BATH}/links", f"/job/{BATH}/log"]
)
def test_no_english_is_left(site: OfficeSite, language: str, address: str) -> None:
    answer = site.get(address, language)
    assert f'<html lang="{language}">' in answer.text
    said = words_of(answer)
    own = {text.other for text in catalogue(language).texts.values()}
    english = {
        text.other
        for key, text in catalogue("en").texts.items()
        if key.startswith(("page.", "jobs.", "paper.", "picture.", "headline."))
        if not places(text.other) and " " in text.other and text.other not in own
    }
    assert [text for text in english if text in said] == []
