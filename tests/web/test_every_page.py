"""Every page that the table of addresses has, in a real browser: read, reached, and not cut off.

Sources: WCAG 2.2 (W3C, 2023), the success criteria named beside each check; the size of a target
is wider than 2.5.8 asks for (24 px), since gloves and wet thumbs use these pages (common practice).
"""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

import pytest
from browser import (
    LEAST_TARGET_PX,
    NARROWEST,
    PHONE,
    Complaints,
    axe,
    give_checks,
    opened,
    tab_through,
)
from live_site import (
    BATHROOM,
    CURING_AT,
    HEATING_AT,
    HEATING_UP,
    OFFICE_PERSON,
    RELEASED,
    ROOT,
    LiveSite,
    live_site,
)
from site_walk import OF_ONE_JOB, Found, pattern_of, send_picture, walk

from curecal.book.jobs.log_entries import entries_of
from curecal.book.link_purpose import LinkPurpose
from curecal.web.routes import ROUTES

if TYPE_CHECKING:
    from collections.abc import Callable

    from playwright.sync_api import Browser, Page

pytestmark = pytest.mark.slow

SCENES = ((CURING_AT, BATHROOM), (HEATING_AT, HEATING_UP), (HEATING_AT, RELEASED))
_OPENS_NO_PAGE = frozenset({LinkPurpose.FEED})
# What a script asks while a form is filled in; no button leads there.
_BY_SCRIPT = frozenset({"/p/<secret>/note/<form>/judge"})
_WITH_PAGES = {purpose for route in ROUTES for purpose in route.opens}


@pytest.fixture(scope="module")
def walked(site: LiveSite) -> list[tuple[datetime, Found]]:
    """Every address that the links lead to, at the instants at which there is most to see."""
    found: list[tuple[datetime, Found]] = []
    for at, job_id in SCENES:
        site.at = at
        for purpose in _WITH_PAGES.intersection(OF_ONE_JOB):
            secret = site.secret(job_id, purpose)
            noted = [] if purpose is LinkPurpose.OWNER else [send_picture(site, secret)]
            found += [(at, one) for one in walk(site, purpose, job_id, secret, *noted)]
    site.at = CURING_AT
    if LinkPurpose.OFFICE in _WITH_PAGES:
        office = site.secrets["", LinkPurpose.OFFICE, OFFICE_PERSON]
        found += [(CURING_AT, one) for one in walk(site, LinkPurpose.OFFICE, "", office)]
    return found


@pytest.fixture(scope="module")
def shown(walked: list[tuple[datetime, Found]]) -> list[tuple[datetime, Found]]:
    """One page of each pattern and purpose; of the owner's and the crew's own, one a scene."""
    kept: dict[tuple[object, ...], tuple[datetime, Found]] = {}
    for at, one in walked:
        if one.is_page and one.status < 300:
            of = (one.purpose, one.job_id if one.path.count("/") == 3 else "")
            # Of one pattern, but each another page.
            form = one.path.partition("?")[0].rpartition("/")[2]
            what = (form,) if "<form>" in one.pattern else of
            kept.setdefault((one.pattern, *what), (at, one))
    assert kept
    return list(kept.values())


def test_every_address_of_the_table_is_come_to_by_links(
    walked: list[tuple[datetime, Found]],
) -> None:
    come_to = {(one.pattern, one.purpose) for _, one in walked}
    wanted = {
        (route.pattern, purpose)
        for route in ROUTES
        if route.method == "GET"
        for purpose in route.opens - _OPENS_NO_PAGE
    }
    assert wanted - come_to == set()


def test_no_link_leads_nowhere_and_no_page_fails(walked: list[tuple[datetime, Found]]) -> None:
    assert [(one.purpose, one.path, one.status) for _, one in walked if one.status >= 400] == []


def test_pages_hold_nothing_that_the_policy_forbids(walked: list[tuple[datetime, Found]]) -> None:
    pages = [one for _, one in walked if one.is_page and one.status < 300]
    assert {(one.pattern, said) for one in pages for said in one.read.inline} == set()
    assert {one.pattern for one in pages if one.read.headings < 1} == set()


def test_forms_work_without_any_script(
    site: LiveSite, walked: list[tuple[datetime, Found]]
) -> None:
    forms = [(one, form) for _, one in walked if one.is_page for form in one.read.forms]
    assert forms
    wrong = []
    for one, form in forms:
        goal = form.action or one.path
        if not pattern_of(site.app, goal, form.method.upper()):
            wrong.append(f"{one.pattern}: its form goes nowhere: {form.method} {goal}")
        if not form.buttons:
            wrong.append(f"{one.pattern}: a form without a button")
        has_file = any(kind == "file" for _, kind, _ in form.fields)
        if has_file and form.enctype != "multipart/form-data":
            wrong.append(f"{one.pattern}: its picture would not be sent")
    assert sorted(set(wrong)) == []


def test_every_form_of_the_table_is_on_a_page(
    site: LiveSite, walked: list[tuple[datetime, Found]]
) -> None:
    reached = {
        (pattern_of(site.app, form.action or one.path, "POST"), one.purpose)
        for _, one in walked
        if one.is_page
        for form in one.read.forms
        if form.method == "post"
    }
    wanted = {
        (route.pattern, purpose)
        for route in ROUTES
        if route.method == "POST" and route.pattern not in _BY_SCRIPT
        for purpose in route.opens - _OPENS_NO_PAGE
    }
    assert wanted - reached == set()


def each_page(
    site: LiveSite,
    browser: Browser,
    shown: list[tuple[datetime, Found]],
    check: Callable[[Page, Found], list[str]],
    **how: object,
) -> str:
    """Open each page in a profile and return what a check and the browser find, a line each."""
    found: list[str] = []
    office = (site.address, site.secrets["", LinkPurpose.OFFICE, OFFICE_PERSON])
    with opened(browser, office, **how) as context:
        page = context.new_page()
        complaints = Complaints()
        complaints.watch(page, site.address)
        for at, one in shown:
            site.at = at
            complaints.clear()
            page.goto(site.address + one.path)
            give_checks(page)
            said = check(page, one) + list(complaints)
            short = one.path.replace(one.secret, "…")
            found += [f"{one.purpose} {short}: {line}" for line in said]
    return "\n".join(found)


def reflow(page: Page) -> list[str]:
    """Return what is cut off: at 320 px (1.4.10), spaced (1.4.12), and at 200 % (1.4.4)."""
    page.set_viewport_size(NARROWEST)
    said = [f"at 320 px: {line}" for line in page.evaluate("pageChecks.wide()")]
    page.evaluate("pageChecks.space()")
    said += [f"spaced: {line}" for line in page.evaluate("pageChecks.wide()")]
    said += [f"spaced, cut: {line}" for line in page.evaluate("pageChecks.clipped()")]
    page.set_viewport_size({"width": 1280, "height": 800})
    page.evaluate("pageChecks.enlarge()")
    said += [f"at 200 %: {line}" for line in page.evaluate("pageChecks.wide()")]
    said += [f"at 200 %, cut: {line}" for line in page.evaluate("pageChecks.clipped()")]
    page.set_viewport_size(PHONE)
    return said


@pytest.mark.parametrize(("language", "scheme"), [("de", "light"), ("pl", "dark")])
def test_the_checker_finds_nothing_and_nothing_is_cut_off(
    site: LiveSite,
    browser: Browser,
    needs: Callable[[str], str],
    shown: list[tuple[datetime, Found]],
    language: str,
    scheme: str,
) -> None:
    needs("axe")
    other = "dark" if scheme == "light" else "light"

    def check(page: Page, _one: Found) -> list[str]:
        said = axe(page)
        small = page.evaluate(f"pageChecks.small({LEAST_TARGET_PX})")
        said += [f"small target: {line}" for line in small]
        if page.evaluate("document.documentElement.lang") != language:
            said.append("not in the language that was asked for")
        if (shift := page.evaluate("pageChecks.shifts()")) > 0:
            said.append(f"the layout shifts: {shift}")
        # Colors are all that another scheme changes.
        page.emulate_media(color_scheme=other)
        said += [f"{other}: {line}" for line in axe(page, "color-contrast")]
        page.emulate_media(color_scheme=scheme)
        return said + reflow(page)

    how = {"locale": language, "color_scheme": scheme}
    assert each_page(site, browser, shown, check, **how) == ""


def test_every_page_is_used_by_the_keyboard_alone(
    site: LiveSite,
    browser: Browser,
    needs: Callable[[str], str],
    shown: list[tuple[datetime, Found]],
) -> None:
    """WCAG 2.1.1, 2.4.7 and 2.4.11: each target is reached, shown, and not under another."""
    needs("axe")

    def check(page: Page, _one: Found) -> list[str]:
        return tab_through(page)

    assert each_page(site, browser, shown, check) == ""


def test_pages_are_printed_without_what_paper_cannot_do(
    site: LiveSite,
    browser: Browser,
    needs: Callable[[str], str],
    shown: list[tuple[datetime, Found]],
) -> None:
    needs("axe")
    a4_px = {"width": 794 - 2 * 57, "height": 1123}

    def check(page: Page, _one: Found) -> list[str]:
        page.emulate_media(media="print")
        said = page.evaluate("pageChecks.wide()")
        left = page.evaluate(
            "[...document.querySelectorAll('button, nav, .button')]"
            ".filter(one => one.checkVisibility()).map(one => one.textContent.trim())"
        )
        page.emulate_media(media="screen")
        return [*said, *(f"a button on paper: {one}" for one in left)]

    assert each_page(site, browser, shown, check, viewport=a4_px) == ""


def test_the_owner_tells_of_a_fault_without_any_script(
    browser: Browser, tmp_path_factory: pytest.TempPathFactory
) -> None:
    file = ROOT / "examples" / "bathroom" / "job.toml"
    with (
        live_site(tmp_path_factory.mktemp("plain"), (file,)) as own,
        own.served(),
        opened(browser, java_script_enabled=False) as context,
    ):
        page = context.new_page()
        page.goto(f"{own.address}/p/{own.secret(BATHROOM, LinkPurpose.OWNER)}/")
        page.get_by_role("link", name="Something is wrong").click()
        page.locator("input[name=cause]").nth(1).check()
        page.get_by_role("button").click()
        assert page.get_by_role("status").count() == 1
        with own.book.reading() as connection:
            kinds = [entry.kind for entry in entries_of(connection, BATHROOM)]
        assert kinds.count("stopped") == 1
