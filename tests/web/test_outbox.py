"""What is logged without a connection: kept on the telephone, sent later, each once, in order."""

from __future__ import annotations

import re
import time
from collections import Counter
from contextlib import contextmanager
from datetime import timedelta
from typing import TYPE_CHECKING

import pytest
from bad_line import Line, State, line_to
from browser import axe, give_checks, opened, tab_through
from live_site import BATHROOM, CURING_AT, ROOT, LiveSite, live_site
from phone import Phone

from curecal.book.jobs.log_entries import StoredEntry, entries_of
from curecal.book.jobs.pictures import pictures_of
from curecal.book.link_purpose import LinkPurpose
from curecal.book.links.links import find_link, revoke_link

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from playwright.sync_api import Browser

pytestmark = pytest.mark.slow

LATER = CURING_AT + timedelta(minutes=30)
LEAD_PHONE = "+1 902 555 0170"


@pytest.fixture
def site(tmp_path: Path) -> Iterator[LiveSite]:
    """The bathroom, whose people have telephones."""
    text = (ROOT / "examples" / "bathroom" / "job.toml").read_text(encoding="utf-8")
    text = text.replace("[people.electrician]", f'[people.electrician]\nphone = "{LEAD_PHONE}"')
    file = tmp_path / "job.toml"
    file.write_text(text, encoding="utf-8")
    with live_site(tmp_path, (file,)) as found, found.served():
        yield found


@pytest.fixture
def line(site: LiveSite) -> Iterator[Line]:
    with line_to(site.address) as found:
        yield found


@pytest.fixture
def home(site: LiveSite, line: Line) -> str:
    return f"{line.address}/p/{site.secret(BATHROOM, LinkPurpose.CREW)}"


@pytest.fixture
def make_phone(
    browser: Browser, needs: Callable[[str], str], tmp_path: Path
) -> Iterator[Callable[[], Phone]]:
    made: list[Phone] = []

    def make() -> Phone:
        made.append(Phone(browser, needs("chromium"), tmp_path / f"profile-{len(made)}"))
        return made[-1]

    yield make
    for phone in made:
        phone.close()


@pytest.fixture
def phone(make_phone: Callable[[], Phone]) -> Phone:
    return make_phone()


def logged(site: LiveSite) -> list[StoredEntry]:
    """Return what came by a page, in the order in which it came."""
    with site.book.reading() as connection:
        return [one for one in entries_of(connection, BATHROOM) if one.source.startswith("page:")]


def texts(site: LiveSite) -> list[str]:
    return [str(entry.body.get("text", "")) for entry in logged(site)]


def wait_for(is_so: Callable[[], bool], seconds: float = 30) -> None:
    ends_at = time.monotonic() + seconds
    while not is_so():
        assert time.monotonic() < ends_at, "waited in vain"
        time.sleep(0.1)


@contextmanager
def without_a_line(line: Line, phone: Phone) -> Iterator[None]:
    phone.offline(is_so=True)
    line.become(State.GONE)
    yield
    line.become(State.OPEN)
    phone.offline(is_so=False)


TEN = [f"entry {number}" for number in range(10)]
WITH_PICTURE = {2: (200, 0, 0), 5: (0, 200, 0), 9: (0, 0, 200)}


def log_ten(phone: Phone, home: str) -> None:
    for number, text in enumerate(TEN):
        if number in WITH_PICTURE:
            phone.log_picture(home, text, WITH_PICTURE[number])
        else:
            phone.log_note(home, text)


def assert_ten_once(site: LiveSite) -> None:
    assert texts(site) == TEN
    assert set(Counter(entry.entry_id for entry in logged(site)).values()) == {1}
    with site.book.reading() as connection:
        assert len(pictures_of(connection, BATHROOM)) == len(WITH_PICTURE)
    kinds = Counter(entry.kind for entry in logged(site))
    assert kinds == {"note": 7, "photo": 3}


def test_ten_entries_in_airplane_mode_outlive_the_browser(
    site: LiveSite, line: Line, home: str, phone: Phone
) -> None:
    phone.start()
    phone.take_along(home, "note", "photo")
    phone.offline(is_so=True)
    line.become(State.GONE)
    log_ten(phone, home)
    assert phone.waiting() == 10
    phone.kill()
    assert texts(site) == []
    phone.start(LATER)
    page = phone.page
    page.goto(f"{home}/")
    shown = page.locator("[data-part=entry]")
    shown.nth(9).wait_for()
    first = shown.nth(0).inner_text()
    # The telephone shows its own time of day, whatever zone it is in.
    assert re.search(r"Kept on this phone since Mon \d\d:10\. Not sent, not checked", first)
    assert page.get_by_text("No connection. This page is from").is_visible()
    site.at = LATER
    line.become(State.OPEN)
    page.get_by_role("button", name="Send now").click()
    wait_for(lambda: len(logged(site)) == 10)
    wait_for(lambda: phone.waiting() == 0)
    assert_ten_once(site)
    # When it happened, by how long ago the telephone says it was.
    ages = [entry.recorded - entry.at for entry in logged(site)]
    assert all(timedelta(minutes=25) < age < timedelta(minutes=31) for age in ages), ages


def test_a_server_that_dies_before_it_answers_has_each_entry_once(
    site: LiveSite, line: Line, home: str, phone: Phone
) -> None:
    phone.start()
    phone.take_along(home, "note", "photo")
    line.become(State.NO_ANSWER)
    log_ten(phone, home)
    assert line.forms_cut >= 10
    # The first came through each time, and nobody heard of it.
    assert texts(site) == TEN[:1]
    assert phone.waiting() == 10
    line.become(State.OPEN)
    phone.page.goto(f"{home}/")
    wait_for(lambda: phone.waiting() == 0)
    assert_ten_once(site)


def test_two_telephones_on_one_job(
    site: LiveSite, line: Line, home: str, make_phone: Callable[[], Phone]
) -> None:
    other_home = f"{line.address}/p/{site.secret(BATHROOM, LinkPurpose.ELECTRICIAN)}"
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
        own = [text for text in texts(site) if text.startswith(name)]
        assert own == [f"{name} {number}" for number in range(3)]
    by = {str(entry.body["text"]).split()[0]: entry.body["by"] for entry in logged(site)}
    assert by == {"crew": "Robin Mistral", "electrician": "Sam Okoro-Lind"}


def test_what_somebody_else_logged_meanwhile_is_said_and_kept(
    site: LiveSite, line: Line, home: str, phone: Phone
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
        site.at = CURING_AT + timedelta(minutes=5)
        other = site.app.test_client()
        secret = site.secret(BATHROOM, LinkPurpose.CREW)
        form = {"entry_id": f"c-{'a' * 32}", "found": "the other one", "by": "Robin Mistral"}
        answer = other.post(
            f"/p/{secret}/note/lift", data=form, headers={"Origin": "http://localhost"}
        )
        assert answer.status_code == 303, answer.get_data(as_text=True)
    site.at = CURING_AT + timedelta(minutes=6)
    page.goto(f"{home}/")
    page.get_by_text("Not taken:").wait_for()
    assert phone.waiting() == 1
    assert [entry.kind for entry in logged(site)] == ["stopped", "resumed"]
    # Taking pages along has switched no language.
    assert page.evaluate("document.documentElement.lang") == "en"
    page.get_by_role("button", name="Take it off this phone").click()
    wait_for(lambda: phone.waiting() == 0)


def test_a_link_taken_back_meanwhile_leaves_the_entry_and_says_so(
    site: LiveSite, line: Line, home: str, phone: Phone, tmp_path: Path
) -> None:
    phone.start()
    phone.take_along(home, "note", "photo")
    with without_a_line(line, phone):
        phone.log_picture(home, "<b>the sticker</b>", (1, 2, 3))
        with site.book.writing() as connection:
            link = find_link(connection, site.secret(BATHROOM, LinkPurpose.CREW))
            assert link is not None
            revoke_link(connection, link.id, now=CURING_AT)
    page = phone.page
    page.goto(f"{home}/")
    assert page.locator("h1").first.inner_text() == "This link does not work"
    page.get_by_text("Not taken: This link does not work").wait_for()
    assert logged(site) == []
    assert phone.waiting() == 1
    with page.expect_download() as download:
        page.get_by_role("button", name="Save as a file").click()
    file = tmp_path / "kept.html"
    download.value.save_as(file)
    with opened(page.context.browser or phone.browser) as context:
        shown = context.new_page()
        shown.goto(file.as_uri())
        assert "<b>the sticker</b>" in shown.locator("body").inner_text()
        assert "Alder Lane, hall bath" in shown.locator("body").inner_text()
        width = shown.locator("img").evaluate("one => one.decode().then(() => one.naturalWidth)")
        assert width == 64
    # The pages of the job are gone from the telephone with the link.
    assert page.evaluate("async home => Boolean(await caches.match(home + '/'))", home) is False


def test_a_stop_that_was_not_sent_fills_the_screen(
    site: LiveSite, line: Line, home: str, phone: Phone, needs: Callable[[str], str]
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
        link = screen.get_by_role("link", name=LEAD_PHONE)
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
    site.at = CURING_AT + timedelta(minutes=1)
    page.get_by_role("alertdialog").wait_for(state="detached")
    wait_for(lambda: [entry.kind for entry in logged(site)] == ["stopped"])
    assert phone.waiting() == 0


def test_who_has_called_goes_on_and_the_stop_is_sent_later(
    site: LiveSite, line: Line, home: str, phone: Phone
) -> None:
    phone.start()
    phone.take_along(home, "stop")
    page = phone.page
    with without_a_line(line, phone):
        page.goto(f"{home}/note/stop")
        page.locator("input[name=cause]").first.check()
        page.locator("form[data-form] > button").click()
        page.get_by_role("button", name="I have called them").click()
        page.get_by_role("alertdialog").wait_for(state="detached")
        assert phone.waiting() == 1
    wait_for(lambda: [entry.kind for entry in logged(site)] == ["stopped"])


def test_after_three_days_it_is_offered_as_a_file(
    site: LiveSite, line: Line, home: str, phone: Phone
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
    assert logged(site) == []


def test_a_telephone_whose_clock_is_wrong_is_asked_about(
    site: LiveSite, line: Line, home: str, phone: Phone
) -> None:
    phone.start(CURING_AT + timedelta(hours=1))
    phone.take_along(home, "note")
    phone.offline(is_so=True)
    line.become(State.GONE)
    phone.log_note(home, "an hour off")
    phone.close()
    phone.start(LATER + timedelta(hours=1))
    site.at = LATER
    line.become(State.OPEN)
    page = phone.page
    page.goto(f"{home}/")
    page.get_by_text(re.compile("Not taken: .*clock shows")).wait_for()
    assert logged(site) == []
    page.get_by_role("button", name="Open it in the form").click()
    page.locator("input[name=clock]").check()
    page.locator("form[data-form] > button").click()
    page.wait_for_url("**/noted/*")
    assert texts(site) == ["an hour off"]
    assert timedelta(minutes=25) < logged(site)[0].recorded - logged(site)[0].at
    wait_for(lambda: phone.waiting() == 0)


def test_what_the_server_refuses_at_once_is_said_on_the_form(
    site: LiveSite, home: str, phone: Phone
) -> None:
    phone.start()
    page = phone.page
    page.goto(f"{home}/note/air")
    page.locator("input[name=air]").fill("warm")
    page.locator("form[data-form] > button").click()
    page.locator("h1").wait_for()
    page.get_by_text("Nothing has been written yet").wait_for()
    assert page.locator("input[name=air]").input_value() == "warm"
    assert phone.waiting() == 0
    assert logged(site) == []


def test_without_https_the_forms_work_and_the_page_says_what_is_missing(
    site: LiveSite, home: str, line: Line, browser: Browser
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
    assert texts(site) == ["plain"]
    assert line.state is State.OPEN


def test_without_scripts_the_forms_work_and_the_page_says_what_is_missing(
    site: LiveSite, home: str, browser: Browser
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
    assert texts(site) == ["no script"]


def test_an_owners_page_is_never_shown_from_the_telephone(
    site: LiveSite, line: Line, home: str, phone: Phone
) -> None:
    phone.start()
    phone.take_along(home, "note")
    owners = f"{line.address}/p/{site.secret(BATHROOM, LinkPurpose.OWNER)}/"
    page = phone.page
    page.goto(owners)
    assert page.evaluate("Boolean(navigator.serviceWorker.controller)")
    assert page.evaluate("async () => Boolean(await caches.match(location.href))") is False
    with without_a_line(line, phone), pytest.raises(Exception, match="net::ERR"):
        page.goto(owners)
