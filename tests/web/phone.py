"""A telephone on site: a browser with a profile that outlives it, and a clock of its own."""

from __future__ import annotations

import contextlib
import os
import signal
import time
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from browser import FLAGS, PATIENCE_MS, PHONE
from live_site import CURING_AT
from site_walk import picture

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Browser, BrowserContext, Page


ZONE = "America/New_York"
"""Where a telephone thinks that it is: an hour behind the site."""


class Phone:
    """One telephone: switched on with `starts`, and off at any moment without a word."""

    def __init__(self, browser: Browser, program: str, profile: Path) -> None:
        self._type, self._program, self._profile = browser.browser_type, program, profile
        self._context: BrowserContext | None = None
        self.page: Page

    def start(self, at: datetime = CURING_AT, **how: object) -> Page:
        """Open the browser on its profile; `at` is what the telephone's clock shows."""
        self._context = self._type.launch_persistent_context(
            self._profile,
            executable_path=self._program,
            args=list(FLAGS),
            timeout=PATIENCE_MS,
            **{"viewport": PHONE, "accept_downloads": True, "timezone_id": ZONE, **how},  # type: ignore[arg-type]
        )
        self._context.set_default_timeout(PATIENCE_MS)
        self._context.clock.install(time=at)
        self.page = self._context.pages[0]
        return self.page

    def kill(self) -> None:
        """End the browser as a battery does that is empty: no event, no goodbye."""
        for pid in _processes_of(self._profile):
            with contextlib.suppress(ProcessLookupError):
                os.kill(pid, signal.SIGKILL)
        self.close()

    def close(self) -> None:
        """Close the browser, if it is open."""
        if self._context is not None:
            with contextlib.suppress(Exception):
                self._context.close()
        self._context = None

    def offline(self, *, is_so: bool) -> None:
        """Switch airplane mode on or off."""
        assert self._context is not None
        self._context.set_offline(is_so)

    def take_along(self, home: str, *forms: str) -> None:
        """Look at the job once with a connection, until the pages of these forms are there."""
        self.page.goto(f"{home}/")
        self.page.evaluate("async () => { await navigator.serviceWorker.ready; }")
        for form in forms:
            ends_at = time.monotonic() + PATIENCE_MS / 1000
            while not self.page.evaluate(_IS_KEPT, f"{home}/note/{form}"):
                assert time.monotonic() < ends_at, f"{form} was not taken along"

    def log_note(self, home: str, text: str) -> None:
        """Log a note."""
        self.page.goto(f"{home}/note/note")
        self.page.locator("textarea[name=text]").fill(text)
        self._send()

    def log_picture(self, home: str, text: str, color: tuple[int, int, int]) -> None:
        """Log a picture."""
        self.page.goto(f"{home}/note/photo")
        file = {"name": "p.png", "mimeType": "image/png", "buffer": picture(color)}
        self.page.locator("input[type=file]").nth(1).set_input_files(file)
        self.page.locator("input[name=text]").fill(text)
        self._send()

    def _send(self) -> None:
        self.page.locator("form[data-form] > button").click()
        self.page.wait_for_url(lambda url: "/note/" not in url)

    def waiting(self) -> int:
        """Return how many entries wait on the telephone, once the page has shown them."""
        self.page.wait_for_load_state()
        return int(self.page.evaluate(_COUNT))


_IS_KEPT = "async address => Boolean(await caches.match(address, {ignoreSearch: true}))"
_COUNT = """() => new Promise((done, failed) => {
  const asked = indexedDB.open("outbox", 1);
  asked.onerror = failed;
  asked.onsuccess = () => {
    const count = asked.result.transaction("entries").objectStore("entries").count();
    count.onsuccess = () => { asked.result.close(); done(count.result); };
  };
})"""


def _processes_of(profile: Path) -> Iterator[int]:
    for folder in Path("/proc").iterdir():
        if folder.name.isdigit():
            with contextlib.suppress(OSError):
                if str(profile).encode() in (folder / "cmdline").read_bytes():
                    yield int(folder.name)
