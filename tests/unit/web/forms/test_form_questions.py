"""What a form asks about before it is written: layers below, odd hours, clocks, two readings."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import pytest
from page_samples import COLM, LEAD, MAX, NOW, PageSite, entry_id, page_site, said

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture
def site(tmp_path: Path) -> PageSite:
    return page_site(tmp_path)


def refused(site: PageSite, person: str, form: str, typed: dict[str, str]) -> str:
    """Send a form that must not be taken; return what the page says."""
    before = site.entries()
    answer = site.send(person, form, typed)
    assert answer.status_code == 422
    assert site.entries() == before
    assert site.written == 0
    shown = said(answer)
    assert "Nothing has been saved yet" in shown
    return shown


def test_a_layer_below_that_nobody_logged_is_asked_about(site: PageSite) -> None:
    shown = refused(site, MAX, "done", {"layer": "hall/thinset"})
    assert "When was the leveler finished?" in shown
    typed = {"layer": "hall/thinset", "below.hall/leveler": "2026-10-05T14:00"}
    assert site.send(MAX, "done", typed).status_code == 303
    lower, upper = site.entries()
    assert (lower["layer"], lower["at"]) == (
        "leveler",
        datetime.fromisoformat("2026-10-05T14:00-03:00"),
    )
    assert (upper["layer"], upper["at"]) == ("thinset", NOW)


def test_several_layers_below_are_asked_about_one_after_another(site: PageSite) -> None:
    shown = refused(site, MAX, "done", {"layer": "hall/grout"})
    assert "When was the thinset finished?" in shown
    typed = {"layer": "hall/grout", "below.hall/thinset": "2026-10-06T14:00"}
    shown = refused(site, MAX, "done", typed)
    assert "When was the leveler finished?" in shown
    # What was answered already stands in the form.
    assert "When was the thinset finished?" in shown
    typed["below.hall/leveler.unknown"] = "yes"
    assert site.send(MAX, "done", typed).status_code == 303
    assert [one["layer"] for one in site.entries()] == ["leveler", "thinset", "grout"]
    lowest = site.entries()[0]
    # Nobody knows: then it is the last that it can have been.
    assert lowest["at"] == datetime.fromisoformat("2026-10-06T14:00-03:00")
    assert "Nobody knows when it was finished" in str(lowest["note"])


def test_sent_twice_the_layers_below_are_written_once(site: PageSite) -> None:
    typed = {
        "layer": "hall/thinset",
        "below.hall/leveler": "2026-10-05T14:00",
        "entry_id": entry_id(5),
    }
    places = {site.send(MAX, "done", typed).headers["Location"] for _ in range(2)}
    assert len(places) == 1
    assert len(site.entries()) == 2


@pytest.mark.parametrize(
    ("when", "says"),
    [
        ("2026-10-08T14:00", "That has not happened yet"),
        ("yesterday", "I cannot read this date and time"),
    ],
)
def test_a_wrong_answer_about_the_layer_below_is_refused(
    site: PageSite, when: str, says: str
) -> None:
    typed = {"layer": "hall/thinset", "below.hall/leveler": when}
    assert says in refused(site, MAX, "done", typed)


def test_an_odd_hour_is_asked_about(site: PageSite) -> None:
    typed = {"layer": "hall/leveler", "at": "2026-10-06T03:10"}
    shown = refused(site, MAX, "done", typed)
    assert "Yes, that is right" in shown
    assert site.send(MAX, "done", {**typed, "sure": "yes"}).status_code == 303
    assert site.last()["sure"] is True


def test_by_night_nobody_is_asked_about_now(site: PageSite) -> None:
    site.at = datetime(2026, 10, 7, 5, 0, tzinfo=UTC)
    assert site.send(MAX, "done", {"layer": "hall/leveler"}).status_code == 303


def test_the_layer_below_cannot_be_finished_later(site: PageSite) -> None:
    site.send(MAX, "done", {"layer": "hall/leveler", "at": "2026-10-06T14:00"})
    site.written = 0
    shown = refused(site, MAX, "done", {"layer": "hall/thinset", "at": "2026-10-05T14:00"})
    assert "leveler" in shown


def test_a_figure_with_two_readings_is_asked_about(site: PageSite) -> None:
    typed = {"cable": "hall/", "stage": "delivery", "conductor": "1.000", "to_earth.open": "yes"}
    answer = site.send(COLM, "test", typed)
    assert answer.status_code == 422
    text = answer.get_data(as_text=True)
    assert 'name="conductor.meant" value="1000 Ω"' in text
    assert 'name="conductor.meant" value="1.0 Ω"' in text
    # What was typed stays.
    assert 'value="1.000"' in text
    assert site.send(COLM, "test", {**typed, "conductor.meant": "1000 Ω"}).status_code == 303
    assert site.last()["conductor"] == "1000 Ω"


def test_what_has_not_happened_is_refused(site: PageSite) -> None:
    shown = refused(site, MAX, "air", {"air": "64", "at": "2026-10-07T18:00"})
    assert "That has not happened yet: it is Wed 7 Oct, 12:00" in shown


def test_the_running_minute_counts_as_now(site: PageSite) -> None:
    # A field of date and time has no seconds, and may round up.
    assert site.send(MAX, "air", {"air": "64", "at": "2026-10-07T12:01"}).status_code == 303
    assert site.last()["at"] == NOW


def test_an_hour_that_came_twice_is_asked_about(tmp_path: Path) -> None:
    site = page_site(tmp_path)
    site.at = datetime(2026, 11, 2, 15, 0, tzinfo=UTC)
    typed = {"air": "64", "at": "2026-11-01T01:30"}
    answer = site.send(MAX, "air", typed)
    assert answer.status_code == 422
    assert "The clock showed this hour twice" in said(answer)
    assert site.send(MAX, "air", {**typed, "at.meant": "second"}).status_code == 303
    assert site.last()["at"] == datetime(2026, 11, 1, 5, 30, tzinfo=UTC)


def stamp(at: datetime) -> str:
    return at.strftime("%Y-%m-%dT%H:%M:%S.000Z")


def test_what_a_telephone_kept_happened_when_it_was_typed(site: PageSite) -> None:
    typed = {"air": "64", "made_at": stamp(NOW - timedelta(hours=3)), "phone_at": stamp(NOW)}
    assert site.send(MAX, "air", typed).status_code == 303
    assert site.last()["at"] == NOW - timedelta(hours=3)


def test_a_telephone_sent_at_once_is_of_now(site: PageSite) -> None:
    early = NOW - timedelta(minutes=40)
    typed = {"air": "64", "made_at": stamp(early), "phone_at": stamp(early)}
    # Its clock is off, and says nothing of when: it is now.
    assert site.send(MAX, "air", typed).status_code == 303
    assert site.last()["at"] == NOW


def test_a_telephone_whose_clock_is_off_is_asked(site: PageSite) -> None:
    typed = {"air": "64", "at": "2026-10-07T11:00", "phone_at": stamp(NOW - timedelta(minutes=3))}
    shown = refused(site, MAX, "air", typed)
    assert "This phone's clock shows 11:57" in shown
    assert site.send(MAX, "air", {**typed, "clock": "yes"}).status_code == 303
    assert site.last()["at"] == datetime(2026, 10, 7, 14, 0, tzinfo=UTC)


def test_a_clock_that_is_off_by_less_is_not_asked(site: PageSite) -> None:
    typed = {"air": "64", "at": "2026-10-07T11:00", "phone_at": stamp(NOW + timedelta(minutes=2))}
    assert site.send(MAX, "air", typed).status_code == 303


def test_what_was_kept_for_weeks_is_asked_about(site: PageSite) -> None:
    """A telephone's clock that was put right meanwhile looks the same."""
    made = NOW - timedelta(days=20)
    typed = {"layer": "hall/leveler", "made_at": stamp(made), "phone_at": stamp(NOW)}
    assert "it was typed Thu 17 Sep" in refused(site, MAX, "done", typed)
    assert site.send(MAX, "done", {**typed, "clock": "yes"}).status_code == 303
    assert site.last()["at"] == made.replace(microsecond=0)


def test_what_was_kept_for_months_is_not_believed(site: PageSite) -> None:
    typed = {"air": "64", "made_at": stamp(NOW - timedelta(days=90)), "phone_at": stamp(NOW)}
    refused(site, MAX, "air", typed)


def test_a_release_names_what_is_still_to_do(site: PageSite) -> None:
    assert "cable test after laying: to do" in said(site.get(LEAD, "/note/release"))
    shown = refused(site, LEAD, "release", {"name": "pat  moran"})
    assert "This floor cannot be released yet. Still to do: cable test on delivery" in shown


def test_a_release_wants_the_name_typed(site: PageSite) -> None:
    for name in ("", "Max Reyes", "Pat"):
        shown = refused(site, LEAD, "release", {"name": name})
        assert "Please type your name exactly as shown here: Pat Moran" in shown


def test_an_address_answers_no_question(site: PageSite) -> None:
    asked = "?layer=hall/leveler&sure=yes&clock=yes&by=Kim+Lee&origin=seen&at=2026-10-06T03:10"
    text = site.get(LEAD, f"/note/done{asked}").get_data(as_text=True)
    assert 'value="hall/leveler" checked' in text
    assert 'name="sure"' not in text
    assert 'value="Kim Lee" checked' not in text
    assert "2026-10-06T03:10" not in text
