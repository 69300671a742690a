"""A form sent twice, by a link spelled otherwise, or from another page."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

from page_samples import LEAD, MAX, OURS, entry_id, page_site, said

from curecal.book.link_purpose import LinkPurpose
from curecal.web.pages.notes import form_page

if TYPE_CHECKING:
    from pathlib import Path

    import pytest


def test_sent_twice_it_is_written_once(tmp_path: Path) -> None:
    site = page_site(tmp_path)
    typed = {"air": "64", "entry_id": entry_id(77)}
    first, second = (site.send(MAX, "air", typed) for _ in range(2))
    assert first.headers["Location"] == second.headers["Location"]
    # The same id with other words is the same entry: the first answer stands.
    third = site.send(MAX, "air", {**typed, "air": "70"})
    assert third.headers["Location"] == first.headers["Location"]
    assert [one["air"] for one in site.entries()] == ["64 °F"]


def test_sent_twice_at_once_it_is_written_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    site = page_site(tmp_path)
    typed = {"air": "64", "entry_id": entry_id(77)}
    first = site.send(MAX, "air", typed)
    # The second one looked before the first was written, and comes a second later.
    monkeypatch.setattr(form_page, "are_there", lambda *_: False)
    site.at += timedelta(seconds=1)
    second = site.send(MAX, "air", typed)
    assert (second.status_code, second.headers["Location"]) == (303, first.headers["Location"])
    assert len(site.entries()) == 1


def test_a_link_with_a_name_spelled_otherwise_signs_as_the_job_writes_it(tmp_path: Path) -> None:
    site = page_site(tmp_path)
    for person, form in (("max  reyes", "air"), ("pat moran", "air")):
        site.link(person, LinkPurpose.CREW)
        answer = site.send(person, form, {"air": "64"})
        assert answer.status_code == 303
        entry = site.last()
        assert entry["by"] in {MAX, LEAD}
        assert "entered_by" not in entry
        assert "Change this entry" in said(site.client.get(answer.headers["Location"]))


def test_a_form_from_another_origin_is_refused(tmp_path: Path) -> None:
    site = page_site(tmp_path)
    sent = {"air": "64", "entry_id": entry_id(1)}
    for origin in ({}, {"Origin": "https://elsewhere.example"}, {"Origin": "null"}):
        answer = site.client.post(f"{site.link(MAX)}/note/air", data=sent, headers=origin)
        assert answer.status_code == 403
    assert site.entries() == []
    assert (
        site.client.post(f"{site.link(MAX)}/note/air", data=sent, headers=OURS).status_code == 303
    )
