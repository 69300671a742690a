"""What people see of what waits on their telephone: a STOP, old entries, other clocks, no https."""

from __future__ import annotations

import re
from datetime import timedelta
from typing import TYPE_CHECKING

import pytest
from bad_line import Line, State
from browser import axe, give_checks, opened, tab_through
from live_site import BATHROOM, CURING_AT, LiveSite
from outbox_steps import CALLED, LATER, logged, texts, wait_for, without_a_line

from curecal.book.link_purpose import LinkPurpose

if TYPE_CHECKING:
    from collections.abc import Callable

    from phone import Phone
    from playwright.sync_api import Browser

pytestmark = pytest.mark.slow


def test_a_stop_that_was_not_sent_fills_the_screen(
    bathroom: LiveSite, line: Line, home: str, phone: Phone, needs: Callable[[str], str]
) -> None:
    needs("axe")
    phone.start()
    phone.take_along(home, "stop")
    page = phone.page
    with without_a_line(line, phone):
        page.goto(f"{home}/note/stop")
        page.locator("input[name=cause]").first.check()
        page.locator("form[data-form] > button").click()
        screen = page.get_by_role("alertdialog")
        screen.wait_for()
        said = screen.inner_text()
        assert "NOT SENT. Nobody has been told." in said
        assert "Call: Sam Okoro-Lind" in said
        link = screen.get_by_role("link", name=CALLED)
        assert link.get_attribute("href") == "tel:+19025550170"
        box = screen.bounding_box()
        assert box is not None
        assert (box["width"], box["height"]) == (360, 700)
        give_checks(page)
        assert axe(page) == []
        assert page.evaluate("pageChecks.small(48)") == []
        # It comes again on whatever page is opened, until the server has it.
        page.goto(f"{home}/")
        page.get_by_role("alertdialog").wait_for()
        give_checks(page)
        assert tab_through(page) == []
    bathroom.at = CURING_AT + timedelta(minutes=1)
    page.get_by_role("alertdialog").wait_for(state="detached")
    wait_for(lambda: [entry.kind for entry in logged(bathroom)] == ["stopped"])
    assert phone.waiting() == 0


def test_who_has_called_goes_on_and_the_stop_is_sent_later(
    bathroom: LiveSite, line: Line, home: str, phone: Phone
) -> None:
    phone.start()
    phone.take_along(home, "stop")
    page = phone.page
    with without_a_line(line, phone):
        page.goto(f"{home}/note/stop")
        page.locator("input[name=cause]").first.check()
        page.locator("form[data-form] > button").click()
        page.get_by_role("button", name="I have called").click()
        page.get_by_role("alertdialog").wait_for(state="detached")
        assert phone.waiting() == 1
    wait_for(lambda: [entry.kind for entry in logged(bathroom)] == ["stopped"])


def test_after_three_days_it_is_offered_as_a_file(
    bathroom: LiveSite, line: Line, home: str, phone: Phone
) -> None:
    phone.start()
    phone.take_along(home, "note")
    phone.offline(is_so=True)
    line.become(State.GONE)
    phone.log_note(home, "old")
    assert not phone.page.get_by_text("Still not sent after three days").is_visible()
    assert not phone.page.get_by_role("button", name="Save as a file").is_visible()
    phone.close()
    phone.start(CURING_AT + timedelta(days=4))
    phone.page.goto(f"{home}/")
    phone.page.get_by_text("Still not sent after three days").wait_for()
    assert phone.page.get_by_role("button", name="Save as a file").is_visible()
    assert logged(bathroom) == []


def test_a_telephone_whose_clock_is_wrong_is_asked_about(
    bathroom: LiveSite, line: Line, home: str, phone: Phone
) -> None:
    phone.start(CURING_AT + timedelta(hours=1))
    phone.take_along(home, "note")
    phone.offline(is_so=True)
    line.become(State.GONE)
    phone.log_note(home, "an hour off")
    phone.close()
    phone.start(LATER + timedelta(hours=1))
    bathroom.at = LATER
    line.become(State.OPEN)
    page = phone.page
    page.goto(f"{home}/")
    page.get_by_text(re.compile("Not accepted: .*clock shows")).wait_for()
    assert logged(bathroom) == []
    page.get_by_role("button", name="Open it in the form").click()
    page.locator("input[name=clock]").check()
    page.locator("form[data-form] > button").click()
    page.wait_for_url("**/noted/*")
    assert texts(bathroom) == ["an hour off"]
    assert timedelta(minutes=25) < logged(bathroom)[0].recorded - logged(bathroom)[0].at
    wait_for(lambda: phone.waiting() == 0)


def test_what_the_server_refuses_at_once_is_said_on_the_form(
    bathroom: LiveSite, home: str, phone: Phone
) -> None:
    phone.start()
    page = phone.page
    page.goto(f"{home}/note/air")
    page.locator("input[name=air]").fill("warm")
    page.locator("form[data-form] > button").click()
    page.get_by_role("alert").first.wait_for()
    assert page.locator("input[name=air]").input_value() == "warm"
    assert phone.waiting() == 0
    assert logged(bathroom) == []


def test_without_https_the_forms_work_and_the_page_says_what_is_missing(
    bathroom: LiveSite, home: str, line: Line, browser: Browser
) -> None:
    plain = home.replace("127.0.0.1", "floor.example")
    with opened(browser) as context:
        page = context.new_page()
        page.goto(f"{plain}/note/note")
        assert page.evaluate("window.isSecureContext") is False
        assert page.get_by_text("This page did not come over https").is_visible()
        page.locator("textarea[name=text]").fill("plain")
        page.locator("form[data-form] > button").click()
        page.wait_for_url("**/noted/*")
    assert texts(bathroom) == ["plain"]
    assert line.state is State.OPEN


def test_without_scripts_the_forms_work_and_the_page_says_what_is_missing(
    bathroom: LiveSite, home: str, browser: Browser
) -> None:
    with opened(browser, java_script_enabled=False) as context:
        page = context.new_page()
        page.goto(f"{home}/note/note")
        said = page.locator("noscript p")
        assert said.is_visible()
        assert "JavaScript is off" in str(said.text_content())
        page.locator("textarea[name=text]").fill("no script")
        page.locator("form[data-form] > button").click()
        page.wait_for_url("**/noted/*")
    assert texts(bathroom) == ["no script"]


def test_an_owners_page_is_never_shown_from_the_telephone(
    bathroom: LiveSite, line: Line, home: str, phone: Phone
) -> None:
    phone.start()
    phone.take_along(home, "note")
    owners = f"{line.address}/p/{bathroom.secret(BATHROOM, LinkPurpose.OWNER)}/"
    page = phone.page
    page.goto(owners)
    assert page.evaluate("Boolean(navigator.serviceWorker.controller)")
    assert page.evaluate("async () => Boolean(await caches.match(location.href))") is False
    with without_a_line(line, phone), pytest.raises(Exception, match="net::ERR"):
        page.goto(owners)
