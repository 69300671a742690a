"""The checks themselves: each finds the fault that it is there for, and passes what is well."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from browser import LEAST_TARGET_PX, NARROWEST, Complaints, axe, give_checks, opened, tab_through

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from playwright.sync_api import Browser, Page

pytestmark = pytest.mark.slow

WELL = """<!doctype html><html lang="en"><head><title>x</title><style>
a.big, button {display:inline-block; min-height:48px; min-width:48px}
:focus-visible {outline: 3px solid #000}
</style></head><body><main><h1>A page</h1><p>Some text with <a href="#a">a link</a> inside it.</p>
<a class="big" href="#b">Alone</a> <button>Go</button></main></body></html>"""
SIDEWAYS = '<div style="width:400px;background:#eee">too wide</div>'
CUT = (
    '<p style="height:1em;overflow:hidden">Two lines of text that are cut off after the first.</p>'
)
SMALL = '<a href="#c" style="display:block">21 px</a>'
UNMARKED = '<button style="outline:0">x</button>'
UNDER = (
    '<button style="position:fixed;top:0">x</button>'
    '<div style="position:fixed;top:0;left:0;width:100%;height:90px;background:#fff">over</div>'
)


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    with opened(browser, viewport=NARROWEST) as context:
        yield context.new_page()


def given(page: Page, more: str = "") -> Page:
    page.set_content(WELL.replace("</main>", more + "</main>"))
    give_checks(page)
    return page


@pytest.mark.parametrize(
    ("check", "fault"),
    [
        ("pageChecks.wide()", SIDEWAYS),
        ("pageChecks.clipped()", CUT),
        (f"pageChecks.small({LEAST_TARGET_PX})", SMALL),
    ],
)
def test_a_fault_of_layout_is_found(
    page: Page, needs: Callable[[str], str], check: str, fault: str
) -> None:
    needs("axe")
    assert given(page).evaluate(check) == []
    assert given(page, fault).evaluate(check) != []


@pytest.mark.parametrize(("fault", "said"), [(UNMARKED, "not shown"), (UNDER, "hidden")])
def test_a_fault_of_the_focus_is_found(
    page: Page, needs: Callable[[str], str], fault: str, said: str
) -> None:
    needs("axe")
    assert tab_through(given(page)) == []
    assert any(said in line for line in tab_through(given(page, fault)))


@pytest.mark.parametrize(
    ("fault", "rule"),
    [
        ('<img src="data:,">', "image-alt"),
        ('<p style="color:#aaa;background:#fff">pale</p>', "color-contrast"),
        ('<input name="x">', "label"),
    ],
)
def test_the_checker_finds_a_fault(
    page: Page, needs: Callable[[str], str], fault: str, rule: str
) -> None:
    needs("axe")
    assert axe(given(page)) == []
    assert any(line.startswith(rule) for line in axe(given(page, fault)))


def test_a_call_to_another_host_and_an_error_are_seen(page: Page) -> None:
    complaints = Complaints()
    complaints.watch(page, "http://127.0.0.1:1")
    page.set_content('<img src="http://127.0.0.1:9/x.png" alt="x">')
    page.evaluate("console.error('broken')")
    assert any("another host" in line for line in complaints)
    assert "broken" in list(complaints)
