"""A permission on a telephone that lost the server, slept, or has another clock than the server."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING

import pytest
from browser import opened
from live_site import HEATING_AT, HEATING_UP, RELEASED, LiveSite

from curecal.book.link_purpose import LinkPurpose

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Browser, Page

pytestmark = pytest.mark.slow

JOBS = (HEATING_UP, RELEASED)
# An hour wrong against the server, either way, and a year.
CLOCKS = (timedelta(0), timedelta(hours=1), timedelta(hours=-1), timedelta(days=-365))


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    with opened(browser) as context:
        yield context.new_page()


def open_owners_page(site: LiveSite, page: Page, job_id: str, phone_at: datetime) -> None:
    site.at = HEATING_AT
    page.clock.install(time=phone_at)
    page.goto(f"{site.address}/p/{site.secret(job_id, LinkPurpose.OWNER)}/")


def shown(page: Page) -> str:
    return page.locator(".answer").inner_text()


@pytest.mark.parametrize("job_id", JOBS)
@pytest.mark.parametrize("off", CLOCKS, ids=str)
def test_ten_minutes_without_the_server_cover_it(
    site: LiveSite, page: Page, job_id: str, off: timedelta
) -> None:
    open_owners_page(site, page, job_id, HEATING_AT + off)
    before = shown(page)
    assert page.locator("table:visible").count() == 1
    assert "Load again before you touch the thermostat" in before
    said = page.locator(".answer h1").inner_text()
    page.context.set_offline(True)
    page.clock.fast_forward(9 * 60_000)
    page.clock.run_for(6_000)
    assert said in shown(page)
    page.clock.fast_forward(60_000)
    page.clock.run_for(6_000)
    assert said not in shown(page)
    # The numbers of the days to come are permissions as well.
    assert page.locator("table:visible").count() == 0
    assert "Load again before you touch the thermostat" in shown(page)
    assert page.get_by_role("link", name="Load again").is_visible()


@pytest.mark.parametrize("job_id", JOBS)
def test_a_telephone_that_slept_covers_it_when_it_wakes(
    site: LiveSite, page: Page, job_id: str
) -> None:
    """Its own timers stood still: only its wall clock went on."""
    open_owners_page(site, page, job_id, HEATING_AT)
    said = page.locator(".answer h1").inner_text()
    page.context.set_offline(True)
    page.clock.set_system_time(HEATING_AT + timedelta(minutes=11))
    page.clock.run_for(6_000)
    assert said not in shown(page)


@pytest.mark.parametrize("job_id", JOBS)
def test_a_telephones_clock_put_back_covers_it(site: LiveSite, page: Page, job_id: str) -> None:
    open_owners_page(site, page, job_id, HEATING_AT)
    said = page.locator(".answer h1").inner_text()
    page.clock.set_system_time(HEATING_AT - timedelta(minutes=30))
    page.clock.run_for(6_000)
    assert said not in shown(page)


def test_loading_again_shows_what_holds_then(site: LiveSite, page: Page) -> None:
    open_owners_page(site, page, HEATING_UP, HEATING_AT)
    said = page.locator(".answer h1").inner_text()
    page.clock.fast_forward(11 * 60_000)
    page.clock.run_for(6_000)
    assert said not in shown(page)
    page.get_by_role("link", name="Load again").click()
    assert said in shown(page)


def test_a_page_gone_back_to_is_loaded_anew(site: LiveSite, page: Page) -> None:
    open_owners_page(site, page, HEATING_UP, HEATING_AT)
    home, asked = page.url, []
    page.on("request", lambda request: asked.append(request.url))
    page.get_by_role("link", name="Something is wrong").click()
    page.go_back()
    page.wait_for_load_state()
    assert home in asked
