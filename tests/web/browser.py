"""A real browser with what the tests ask of it: the checker's findings, and complaints."""

from __future__ import annotations

import contextlib
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

from curecal.web.app import OFFICE_COOKIE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Browser, BrowserContext, Page

FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
    # Names that are no address of this machine: pages without https are of less trust there.
    "--host-resolver-rules=MAP *.example 127.0.0.1",
)
PHONE = {"width": 360, "height": 700}
NARROWEST = {"width": 320, "height": 640}
LEAST_TARGET_PX = 48
# What a page needs on a busy machine; what never comes is waited for as long.
PATIENCE_MS = 60_000
_HERE = Path(__file__).parent
AXE_JS = _HERE / "node_modules" / "axe-core" / "axe.min.js"
CHECKS_JS = _HERE / "page_checks.js"
# Everything the checker knows of WCAG 2.2 A and AA, and its good practice.
_TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


class Complaints(list[str]):
    """What a browser says against a page: errors, refused parts, and calls to other hosts."""

    def watch(self, page: Page, address: str) -> None:
        """Write down what a page complains about from now on."""
        host = urlsplit(address).netloc
        page.on("console", lambda said: said.type == "error" and self.append(said.text))
        page.on("pageerror", lambda error: self.append(str(error)))
        page.on("request", lambda asked: self._ask(asked.url, host))

    def _ask(self, url: str, host: str) -> None:
        found = urlsplit(url)
        if found.scheme in {"http", "https"} and found.netloc != host:
            self.append(f"asks another host: {url}")


@contextlib.contextmanager
def opened(
    browser: Browser, office: tuple[str, str] | None = None, **how: Any
) -> Iterator[BrowserContext]:
    """Give a new profile; `office` is the address and the secret of the office's cookie."""
    context = browser.new_context(**{"viewport": PHONE, **how})
    context.set_default_timeout(PATIENCE_MS)
    if office is not None:
        address, secret = office
        context.add_cookies([{"name": OFFICE_COOKIE, "value": secret, "url": address}])
    try:
        yield context
    finally:
        context.close()


def give_checks(page: Page) -> None:
    """Put the checker and the checks of our own beside a page, whose own policy stays as it is."""
    for file in (AXE_JS, CHECKS_JS):
        page.evaluate(file.read_text(encoding="utf-8"))


def axe(page: Page, *rules: str) -> list[str]:
    """Return what the checker finds on a page; by some of its rules, or by all."""
    only: dict[str, Any] = (
        {"type": "rule", "values": list(rules)} if rules else {"type": "tag", "values": _TAGS}
    )
    found = page.evaluate(
        "only => axe.run(document, {runOnly: only, resultTypes: ['violations']})", only
    )
    return [
        f"{one['id']}: {node['html'][:120]} ({node.get('failureSummary', '')[:200]})"
        for one in found["violations"]
        for node in one["nodes"][:3]
    ]


def tab_through(page: Page, most: int = 120) -> list[str]:
    """Go through a page by the tab key alone, and return what could not be seen or reached."""
    wanted = page.evaluate("pageChecks.tabbable()")
    page.evaluate("window.scrollTo(0, 0); document.activeElement.blur()")
    found: list[str] = []
    keys: dict[str, None] = {}
    last = ""
    for _ in range(most):
        page.keyboard.press("Tab")
        here = page.evaluate("pageChecks.focused()")
        # A field of date and time is several stops of the tab key.
        if here is not None and here["key"] == last:
            continue
        if here is None or here["key"] in keys:
            break
        last = here["key"]
        keys[last] = None
        if not here["marked"]:
            found.append(f"focus not shown: {here['name']}")
        if not here["seen"]:
            found.append(f"focus hidden: {here['name']}")
    if len(keys) < min(wanted, most):
        found.append(f"reached by the keyboard: {len(keys)} of {wanted}")
    return found
