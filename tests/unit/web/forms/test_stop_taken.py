"""A stop is taken whatever is wrong beside it, and no page says that it is where it is not."""

from __future__ import annotations

import io
from datetime import timedelta
from typing import TYPE_CHECKING

import pytest
from page_samples import COLM, LEAD, MAX, PageSite, entry_id, page_site, said

from curecal.web import entries

if TYPE_CHECKING:
    from pathlib import Path

    from werkzeug.test import TestResponse

KIM = "Kim Lee"


@pytest.fixture
def site(tmp_path: Path) -> PageSite:
    return page_site(tmp_path)


def is_stopped(site: PageSite) -> bool:
    here = site.serving.jobs.job(site.job_id)
    assert here is not None
    return here.plan.zones[0].state.value == "stopped"


def wrong(site: PageSite, typed: dict[str, str]) -> TestResponse:
    return site.send(KIM, "", typed, path="/wrong")


@pytest.mark.parametrize(
    "beside",
    [
        {"at": "2027-01-01T10:00"},
        {"at": "2026-03-08T02:30"},
        {"at": "yesterday"},
        {"made_at": "2026-10-07T09:00:00.000Z", "phone_at": "2026-10-07T11:00:00.000Z"},
        {"by": COLM},
        {"by": "somebody"},
    ],
    ids=lambda beside: " ".join(beside.values()),
)
@pytest.mark.parametrize("person", [MAX, LEAD])
def test_no_time_and_no_name_holds_a_stop_up(
    site: PageSite, person: str, beside: dict[str, str]
) -> None:
    answer = site.send(person, "stop", {"cause": "tripped", **beside})
    assert answer.status_code == 303
    entry = site.last()
    assert (entry["kind"], entry["cause"], entry["at"]) == ("stopped", "tripped", site.at)
    assert person in {entry["by"], entry.get("entered_by")}
    assert is_stopped(site)


def test_a_picture_that_cannot_be_read_holds_no_stop_up(site: PageSite) -> None:
    picture = (io.BytesIO(b"no picture"), "IMG_1.heic")
    answer = site.send(MAX, "stop", {"cause": "tripped", "photo": picture})
    assert answer.status_code == 303
    assert "could not be read" in str(site.last()["note"])
    assert is_stopped(site)


def test_what_a_stop_says_is_still_asked_for(site: PageSite) -> None:
    assert site.send(MAX, "stop", {"at": "2027-01-01T10:00"}).status_code == 422
    assert site.entries() == []


def test_another_stop_from_a_page_gone_back_to_is_written(site: PageSite) -> None:
    typed = {"cause": "frost", "entry_id": entry_id(77)}
    site.send(MAX, "stop", typed)
    site.at += timedelta(hours=1)
    site.send(LEAD, "lift", {"found": "no frost at all"})
    assert not is_stopped(site)
    site.at += timedelta(hours=1)
    answers = [site.send(MAX, "stop", {**typed, "cause": "tripped"}) for _ in range(2)]
    assert [one["kind"] for one in site.entries()] == ["stopped", "resumed", "stopped"]
    assert is_stopped(site)
    assert {one.headers["Location"] for one in answers} == {
        f"{site.link(MAX)}/noted/{site.last()['id']}"
    }


def test_the_same_stop_sent_twice_is_told_once(site: PageSite) -> None:
    typed = {"cause": "frost", "entry_id": entry_id(77)}
    for _ in range(2):
        assert site.send(MAX, "stop", typed).status_code == 303
        site.at += timedelta(minutes=3)
    assert (len(site.entries()), site.written) == (1, 1)


def test_the_id_of_another_entry_hides_no_stop(site: PageSite) -> None:
    site.send(MAX, "air", {"air": "64", "entry_id": entry_id(77)})
    site.send(MAX, "stop", {"cause": "tripped", "entry_id": entry_id(77)})
    assert wrong(site, {"cause": "tripped", "entry_id": entry_id(77)}).status_code == 200
    assert [one["kind"] for one in site.entries()] == ["air", "stopped", "stopped"]


def test_the_owners_stop_needs_no_id_and_is_told_once(site: PageSite) -> None:
    assert "Logged" in said(wrong(site, {"cause": "tripped", "entry_id": "old"}))
    for _ in range(2):
        assert "Logged" in said(wrong(site, {"cause": "tripped", "entry_id": entry_id(5)}))
    assert [one["by"] for one in site.entries()] == [KIM, KIM]


def test_an_owners_stop_sent_twice_at_once_is_logged(
    site: PageSite, monkeypatch: pytest.MonkeyPatch
) -> None:
    wrong(site, {"cause": "tripped", "entry_id": entry_id(5)})
    # The second one looked before the first was written, and comes a second later.
    monkeypatch.setattr(entries, "entries_of", lambda *_: ())
    site.at += timedelta(seconds=1)
    answer = wrong(site, {"cause": "tripped", "entry_id": entry_id(5)})
    assert answer.status_code == 200
    assert "Logged" in said(answer)
    monkeypatch.undo()
    assert len(site.entries()) == 1


def test_what_an_owner_typed_stays_on_the_page_that_asks_once_more(tmp_path: Path) -> None:
    site = page_site(tmp_path)
    answer = wrong(site, {"reason": "It <b>hums</b>", "entry_id": entry_id(5)})
    page = answer.get_data(as_text=True)
    assert (answer.status_code, site.entries()) == (422, [])
    assert "It &lt;b&gt;hums&lt;/b&gt;</textarea>" in page
    assert entry_id(5) in page
