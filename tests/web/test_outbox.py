"""What is logged without a connection: kept on the telephone, sent later, each once, in order."""

from __future__ import annotations

import re
from collections import Counter
from datetime import timedelta
from typing import TYPE_CHECKING

import pytest
from bad_line import Line, State
from browser import opened
from live_site import BATHROOM, CURING_AT, LiveSite
from outbox_steps import LATER, logged, texts, wait_for, without_a_line

from curecal.book.jobs.pictures import pictures_of
from curecal.book.link_purpose import LinkPurpose
from curecal.book.links.links import find_link, revoke_link

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from phone import Phone
    from playwright.sync_api import Browser


pytestmark = pytest.mark.slow

TEN = [f"entry {number}" for number in range(10)]
WITH_PICTURE = {2: (200, 0, 0), 5: (0, 200, 0), 9: (0, 0, 200)}


def log_ten(phone: Phone, home: str) -> None:
    for number, text in enumerate(TEN):
        if number in WITH_PICTURE:
            phone.log_picture(home, text, WITH_PICTURE[number])
        else:
            phone.log_note(home, text)


def assert_ten_once(bathroom: LiveSite) -> None:
    assert texts(bathroom) == TEN
    assert set(Counter(entry.entry_id for entry in logged(bathroom)).values()) == {1}
    with bathroom.book.reading() as connection:
        assert len(pictures_of(connection, BATHROOM)) == len(WITH_PICTURE)
    kinds = Counter(entry.kind for entry in logged(bathroom))
    assert kinds == {"note": 7, "photo": 3}


def test_ten_entries_in_airplane_mode_outlive_the_browser(
    bathroom: LiveSite, line: Line, home: str, phone: Phone
) -> None:
    phone.start()
    phone.take_along(home, "note", "photo")
    phone.offline(is_so=True)
    line.become(State.GONE)
    log_ten(phone, home)
    assert phone.waiting() == 10
    phone.kill()
    assert texts(bathroom) == []
    phone.start(LATER)
    page = phone.page
    page.goto(f"{home}/")
    shown = page.locator("[data-part=entry]")
    shown.nth(9).wait_for()
    first = shown.nth(0).inner_text()
    # The telephone shows its own time of day, whatever zone it is in.
    assert "entry 0" in first
    assert re.search(r"Kept on this phone since Mon 09:10\. Not sent, not checked", first)
    assert page.get_by_text("No connection. This page is from").is_visible()
    bathroom.at = LATER
    line.become(State.OPEN)
    page.get_by_role("button", name="Send now").click()
    wait_for(lambda: len(logged(bathroom)) == 10)
    wait_for(lambda: phone.waiting() == 0)
    assert_ten_once(bathroom)
    # When it happened, by how long ago the telephone says it was.
    ages = [entry.recorded - entry.at for entry in logged(bathroom)]
    assert all(timedelta(minutes=25) < age < timedelta(minutes=31) for age in ages), ages


def test_a_server_that_dies_before_it_answers_has_each_entry_once(
    bathroom: LiveSite, line: Line, home: str, phone: Phone
) -> None:
    phone.start()
    phone.take_along(home, "note", "photo")
    line.become(State.NO_ANSWER)
    log_ten(phone, home)
    assert line.forms_cut >= 10
    # The first came through each time, and nobody heard of it.
    assert texts(bathroom) == TEN[:1]
    assert phone.waiting() == 10
    line.become(State.OPEN)
    phone.page.goto(f"{home}/")
    wait_for(lambda: phone.waiting() == 0)
    assert_ten_once(bathroom)


def test_two_telephones_on_one_job(
    bathroom: LiveSite, line: Line, home: str, make_phone: Callable[[], Phone]
) -> None:
    other_home = f"{line.address}/p/{bathroom.secret(BATHROOM, LinkPurpose.ELECTRICIAN)}"
    phones = [(make_phone(), home, "crew"), (make_phone(), other_home, "electrician")]
    for phone, own_home, _ in phones:
        phone.start()
        phone.take_along(own_home, "note")
        phone.offline(is_so=True)
    line.become(State.GONE)
    for phone, own_home, name in phones:
        for number in range(3):
            phone.log_note(own_home, f"{name} {number}")
    line.become(State.OPEN)
    for phone, _, _ in phones:
        phone.offline(is_so=False)
    for phone, own_home, _ in phones:
        phone.page.goto(f"{own_home}/", wait_until="commit")
    for phone, _, _ in phones:
        wait_for(lambda phone=phone: phone.waiting() == 0)
    for _, _, name in phones:
        own = [text for text in texts(bathroom) if text.startswith(name)]
        assert own == [f"{name} {number}" for number in range(3)]
    by = {str(entry.body["text"]).split()[0]: entry.body["by"] for entry in logged(bathroom)}
    assert by == {"crew": "Robin Mistral", "electrician": "Sam Okoro-Lind"}


def test_what_somebody_else_logged_meanwhile_is_said_and_kept(
    bathroom: LiveSite, line: Line, home: str, phone: Phone
) -> None:
    """Two lift the same stop: the second is refused, stays on the telephone, and says why."""
    phone.start()
    phone.take_along(home, "stop")
    page = phone.page
    page.goto(f"{home}/note/stop")
    page.locator("input[name=cause]").last.check()
    page.locator("form[data-form] > button").click()
    page.wait_for_url("**/noted/*")
    phone.take_along(home, "lift")
    with without_a_line(line, phone):
        page.goto(f"{home}/note/lift")
        page.locator("textarea[name=found]").fill("a loose tile, set again")
        page.locator("form[data-form] > button").click()
        page.wait_for_url(f"{home}/")
        bathroom.at = CURING_AT + timedelta(minutes=5)
        other = bathroom.app.test_client()
        secret = bathroom.secret(BATHROOM, LinkPurpose.CREW)
        form = {"entry_id": f"c-{'a' * 32}", "found": "the other one", "by": "Robin Mistral"}
        answer = other.post(
            f"/p/{secret}/note/lift", data=form, headers={"Origin": "http://localhost"}
        )
        assert answer.status_code == 303, answer.get_data(as_text=True)
    bathroom.at = CURING_AT + timedelta(minutes=6)
    page.goto(f"{home}/")
    page.get_by_text("Not accepted:").wait_for()
    assert phone.waiting() == 1
    assert [entry.kind for entry in logged(bathroom)] == ["stopped", "resumed"]
    # Taking pages along has switched no language.
    assert page.evaluate("document.documentElement.lang") == "en"
    page.get_by_role("button", name="Remove from this phone").click()
    wait_for(lambda: phone.waiting() == 0)


def test_a_link_taken_back_meanwhile_leaves_the_entry_and_says_so(
    bathroom: LiveSite, line: Line, home: str, phone: Phone, tmp_path: Path, browser: Browser
) -> None:
    phone.start()
    phone.take_along(home, "note", "photo")
    with without_a_line(line, phone):
        phone.log_picture(home, "<b>the sticker</b>", (1, 2, 3))
        with bathroom.book.writing() as connection:
            link = find_link(connection, bathroom.secret(BATHROOM, LinkPurpose.CREW))
            assert link is not None
            revoke_link(connection, link.id, now=CURING_AT)
    page = phone.page
    page.goto(f"{home}/")
    assert page.locator("h1").first.inner_text() == "This link does not work"
    page.get_by_text("Not accepted: This link does not work").wait_for()
    assert logged(bathroom) == []
    assert phone.waiting() == 1
    with page.expect_download() as download:
        page.get_by_role("button", name="Save as a file").click()
    file = tmp_path / "kept.html"
    download.value.save_as(file)
    with opened(browser) as context:
        shown = context.new_page()
        shown.goto(file.as_uri())
        assert "<b>the sticker</b>" in shown.locator("body").inner_text()
        assert "Alder Lane, hall bath" in shown.locator("body").inner_text()
        width = shown.locator("img").evaluate("one => one.decode().then(() => one.naturalWidth)")
        assert width == 64
    # The pages of the job are gone from the telephone with the link.
    assert page.evaluate("async home => Boolean(await caches.match(home + '/'))", home) is False
