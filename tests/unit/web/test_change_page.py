"""An entry of today is put right by who typed it: changed, or withdrawn; the log keeps both."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

import pytest
from page_samples import COLM, LEAD, MAX, NOW, OURS, PageSite, entry_id, page_site, said

from curecal.planning.site_log.log_at_instant import facts_at
from curecal.trade.site_log import Reading

if TYPE_CHECKING:
    from pathlib import Path

    from werkzeug.test import TestResponse


@pytest.fixture
def site(tmp_path: Path) -> PageSite:
    made = page_site(tmp_path)
    made.send(MAX, "air", {"air": "64", "humidity": "58"})
    return made


def change(site: PageSite, person: str, of: str, typed: dict[str, str]) -> TestResponse:
    return site.send(person, "", typed, path=f"/change/{of}")


def counting_air(site: PageSite) -> list[float]:
    job = site.serving.jobs.job("alder")
    assert job is not None
    facts = facts_at(job.read.log, site.at, job.job.people)
    return [round(one.temperature_c or 0.0, 1) for one in facts.of(Reading)]


def test_only_what_was_changed_is_corrected(site: PageSite) -> None:
    of = str(site.last()["id"])
    answer = change(site, MAX, of, {"air": "68", "humidity": "58 %"})
    assert answer.status_code == 303
    entry = site.last()
    assert (entry["kind"], entry["of"], entry["air"]) == ("correction", of, "68 °F")
    assert "humidity" not in entry
    assert (entry["by"], len(site.entries())) == (MAX, 2)
    assert counting_air(site) == [20.0]
    assert "68 °F" in said(site.client.get(answer.headers["Location"]))


def test_a_second_change_starts_from_the_first(site: PageSite) -> None:
    of = str(site.last()["id"])
    change(site, MAX, of, {"air": "68", "humidity": "58 %"})
    text = site.get(MAX, f"/change/{of}").get_data(as_text=True)
    assert 'value="68 °F"' in text
    site.at += timedelta(minutes=1)
    assert change(site, MAX, of, {"air": "68 °F", "humidity": "60"}).status_code == 303
    assert site.last()["humidity"] == "60 %"
    assert "air" not in site.last()
    assert counting_air(site) == [20.0]


def test_it_is_withdrawn(site: PageSite) -> None:
    of = str(site.last()["id"])
    answer = change(site, MAX, of, {"withdrawn": "yes"})
    assert answer.status_code == 303
    assert site.last()["withdrawn"] is True
    assert counting_air(site) == []
    assert "Withdrawn" in said(site.client.get(answer.headers["Location"]))
    # Nobody withdraws it once more.
    assert site.get(MAX, f"/change/{of}").status_code == 404


def test_no_change_is_no_entry(site: PageSite) -> None:
    of = str(site.last()["id"])
    answer = change(site, MAX, of, {"air": "64 °F", "humidity": "58 %"})
    assert answer.status_code == 422
    assert "Nothing was changed" in said(answer)
    # What the entry says can be changed, and not left out.
    assert change(site, MAX, of, {"air": "66", "humidity": ""}).status_code == 422
    assert len(site.entries()) == 1


@pytest.mark.parametrize("typed", [{"air": "warm"}, {"air": "1.000"}, {"air": "640"}])
def test_a_wrong_value_is_refused(site: PageSite, typed: dict[str, str]) -> None:
    of = str(site.last()["id"])
    assert change(site, MAX, of, {"humidity": "58 %", **typed}).status_code == 422
    assert len(site.entries()) == 1


def test_another_person_and_another_day_change_nothing(site: PageSite) -> None:
    of = str(site.last()["id"])
    for person in (LEAD, COLM):
        assert site.get(person, f"/change/{of}").status_code == 404
        assert change(site, person, of, {"withdrawn": "yes"}).status_code == 404
    assert f"/change/{of}" in site.get(MAX).get_data(as_text=True)
    site.at = NOW + timedelta(days=1)
    assert f"/change/{of}" not in site.get(MAX).get_data(as_text=True)
    assert change(site, MAX, of, {"withdrawn": "yes"}).status_code == 404
    assert change(site, MAX, "e-unknown", {"withdrawn": "yes"}).status_code == 404
    assert len(site.entries()) == 1


def test_sent_twice_it_is_written_once(site: PageSite) -> None:
    of = str(site.last()["id"])
    typed = {"air": "68", "humidity": "58 %", "entry_id": entry_id(9)}
    first, second = (change(site, MAX, of, typed) for _ in range(2))
    assert first.headers["Location"] == second.headers["Location"]
    assert len(site.entries()) == 2


def test_who_may_not_lift_a_stop_does_not_withdraw_one(tmp_path: Path) -> None:
    site = page_site(tmp_path)
    site.send(MAX, "stop", {"cause": "tripped"})
    of = str(site.last()["id"])
    answer = change(site, MAX, of, {"withdrawn": "yes"})
    assert answer.status_code == 422
    assert len(site.entries()) == 1


def test_an_open_line_becomes_a_figure(tmp_path: Path) -> None:
    site = page_site(tmp_path)
    typed = {"cable": "hall/", "stage": "delivery", "conductor.open": "yes", "to_earth.open": "yes"}
    site.send(COLM, "test", typed)
    of = str(site.last()["id"])
    text = site.get(COLM, f"/change/{of}").get_data(as_text=True)
    assert text.count('.open" value="yes" checked') == 2
    answer = change(
        site, COLM, of, {"stage": "delivery", "conductor": "58.9", "to_earth.open": "yes"}
    )
    assert answer.status_code == 303
    assert {key: site.last().get(key) for key in ("conductor", "to_earth", "stage")} == {
        "conductor": "58.9 Ω",
        "to_earth": None,
        "stage": None,
    }


def test_a_change_from_another_origin_is_refused(site: PageSite) -> None:
    of = str(site.last()["id"])
    address = f"{site.link(MAX)}/change/{of}"
    assert site.client.post(address, data={"withdrawn": "yes"}).status_code == 403
    assert site.client.post(address, data={"withdrawn": "yes"}, headers=OURS).status_code == 303
