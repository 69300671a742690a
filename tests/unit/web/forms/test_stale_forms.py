"""What was not on the page when it was opened is neither lifted nor confirmed by it."""

from __future__ import annotations

import io
import re
from datetime import timedelta
from typing import TYPE_CHECKING, Any

import pytest
from page_samples import BOOKED, COLM, LEAD, MAX, STOPPED, PageSite, entry_id, page_site, said
from PIL import Image

from curecal.web.entries import LogMovedError
from curecal.web.pages.notes import form_page

if TYPE_CHECKING:
    from pathlib import Path


LIFTED = {"found": "no frost at all"}
HOLLOW = {"cause": "crack or loose tile", "reason": "hollow at the door"}
MOVED = {"visit": "v1", "start": "2026-10-09T07:00"}


def seen(site: PageSite, person: str, path: str) -> str:
    """Return the mark that a form carries when it is opened."""
    page = site.get(person, path).get_data(as_text=True)
    found = re.search(r'name="seen" value="(\w+)"', page)
    assert found is not None
    return found[1]


def test_a_stop_that_came_in_meanwhile_is_not_lifted_unread(tmp_path: Path) -> None:
    site = page_site(tmp_path, log=STOPPED.format(cause="frost"))
    mark = seen(site, LEAD, "/note/lift")
    site.at += timedelta(minutes=2)
    site.send(MAX, "stop", {"cause": "crack or loose tile", "reason": "hollow at the door"})
    site.at += timedelta(minutes=2)
    typed = {"found": "no frost at all", "seen": mark}
    answer = site.send(LEAD, "lift", typed)
    assert answer.status_code == 422
    assert "This has changed since the page was opened" in said(answer)
    assert "hollow at the door" in said(answer)
    # What was typed stays, and now both were read.
    page = answer.get_data(as_text=True)
    assert "no frost at all</textarea>" in page
    assert (
        site.send(LEAD, "lift", {**typed, "seen": seen(site, LEAD, "/note/lift")}).status_code
        == 303
    )


def test_a_day_that_moved_meanwhile_is_not_confirmed_unread(tmp_path: Path) -> None:
    site = page_site(tmp_path, log=BOOKED)
    path = "/note/visit-confirm?visit=v1"
    mark = seen(site, COLM, path)
    site.at += timedelta(minutes=2)
    moved = {"visit": "v1", "start": "2026-10-09T07:00"}
    assert site.send(LEAD, "visit-move", moved).status_code == 303
    site.at += timedelta(minutes=2)
    answer = site.send(COLM, "visit-confirm", {"visit": "v1", "seen": mark})
    assert answer.status_code == 422
    assert "Fri 9 Oct" in said(answer)
    typed = {"visit": "v1", "seen": seen(site, COLM, path)}
    assert site.send(COLM, "visit-confirm", typed).status_code == 303


@pytest.mark.parametrize(
    ("log", "form", "typed", "other", "told"),
    [
        (STOPPED.format(cause="frost"), "lift", LIFTED, (MAX, "stop", HOLLOW), "hollow at the"),
        (BOOKED, "visit-confirm", {"visit": "v1"}, (LEAD, "visit-move", MOVED), "Fri 9 Oct"),
    ],
)
def test_what_came_in_while_a_form_was_read_is_not_passed_over(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    log: str,
    form: str,
    typed: dict[str, str],
    other: tuple[str, str, dict[str, str]],
    told: str,
) -> None:
    site = page_site(tmp_path, log=log)
    mark = seen(site, LEAD, f"/note/{form}?visit=v1")
    site.at += timedelta(minutes=2)
    write, turns = form_page.write_entries, []

    def written(*how: Any, **more: Any) -> Any:
        turns.append(form)
        if len(turns) == 1:
            # Sent a moment before, and in the log only now.
            site.at -= timedelta(seconds=2)
            assert site.send(*other).status_code == 303
            site.at += timedelta(seconds=2)
        return write(*how, **more)

    monkeypatch.setattr(form_page, "write_entries", written)
    answer = site.send(LEAD, form, {**typed, "seen": mark, "entry_id": entry_id(9)})
    assert answer.status_code == 422
    assert "This has changed since the page was opened" in said(answer)
    assert told in said(answer)
    again = {**typed, "seen": seen(site, LEAD, f"/note/{form}?visit=v1")}
    assert site.send(LEAD, form, again).status_code == 303


def test_a_picture_is_taken_at_the_second_look_as_well(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    site = page_site(tmp_path, log=STOPPED.format(cause="frost"))
    mark = seen(site, LEAD, "/note/lift")
    site.at += timedelta(minutes=2)
    write, turns = form_page.write_entries, []

    def written(*how: Any, **more: Any) -> Any:
        turns.append(how)
        if len(turns) == 1:
            assert site.send(MAX, "note", {"text": "the door stays open"}).status_code == 303
        return write(*how, **more)

    monkeypatch.setattr(form_page, "write_entries", written)
    data = io.BytesIO()
    Image.new("RGB", (20, 10)).save(data, "JPEG")
    data.seek(0)
    typed = {**LIFTED, "seen": mark, "photo": (data, "floor.jpg"), "entry_id": entry_id(9)}
    answer = site.send(LEAD, "lift", typed)
    assert answer.status_code == 303, said(answer)
    assert site.last()["photo"].startswith("pictures/")


def test_a_log_that_moves_all_the_time_is_busy(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    site = page_site(tmp_path, log=STOPPED.format(cause="frost"))

    def moved(*_how: Any, **_more: Any) -> Any:
        raise LogMovedError

    monkeypatch.setattr(form_page, "write_entries", moved)
    typed = {**LIFTED, "seen": seen(site, LEAD, "/note/lift")}
    assert site.send(LEAD, "lift", typed).status_code == 503
    monkeypatch.undo()
    assert site.send(LEAD, "lift", typed).status_code == 303


def test_a_visit_that_is_off_is_not_confirmed_from_an_old_page(tmp_path: Path) -> None:
    site = page_site(tmp_path, log=BOOKED + BOOKED.replace("v1", "v2"))
    assert site.send(COLM, "visit-decline", {"visit": "v1"}).status_code == 303
    site.at += timedelta(minutes=2)
    answer = site.send(LEAD, "visit-confirm", {"visit": "v1"})
    assert answer.status_code == 422
    assert "This has changed since the page was opened" in said(answer)
    assert site.last()["state"] == "declined"


def test_nobody_agrees_on_a_day_that_is_over(tmp_path: Path) -> None:
    site = page_site(tmp_path, log=BOOKED)
    for form, typed in (("visit", {"for": "rough-in"}), ("visit-move", {"visit": "v1"})):
        answer = site.send(LEAD, form, {**typed, "start": "2026-10-06T09:00"})
        assert answer.status_code == 422
        assert "That day is over" in said(answer)
        # An hour of today may just have been agreed on.
        assert site.send(LEAD, form, {**typed, "start": "2026-10-07T09:00"}).status_code == 303
