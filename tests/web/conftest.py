"""One site for all tests of the pages, a browser for each file, a new profile for each test.

Where the extra `web` is not installed nothing here can even be imported: in the complete run that
is a failure.
"""

from __future__ import annotations

import importlib.util
import os
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from bad_line import Line
    from live_site import LiveSite
    from playwright.sync_api import Browser

_NEEDED = ("flask", "jinja2", "PIL", "segno", "waitress", "playwright")
_LACKING = [name for name in _NEEDED if importlib.util.find_spec(name) is None]
if not _LACKING or os.environ.get("CURECAL_TESTS_COMPLETE") == "1":
    from bad_line import line_to
    from browser import FLAGS, PATIENCE_MS
    from live_site import BATHROOM, ROOT, live_site
    from outbox_steps import CALLED
    from phone import Phone
    from playwright.sync_api import sync_playwright

    from curecal.book.link_purpose import LinkPurpose
else:
    collect_ignore_glob = ["test_*.py"]


@pytest.fixture(scope="session")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[LiveSite]:
    """Give the example jobs, served, with links for everybody; tests only look at them."""
    with live_site(tmp_path_factory.mktemp("site")) as found, found.served():
        yield found


@pytest.fixture
def own_site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[LiveSite]:
    """Give the same, not served, for a test that writes."""
    with live_site(tmp_path_factory.mktemp("own")) as found:
        yield found


@pytest.fixture(scope="module")
def browser(needs: Callable[[str], str]) -> Iterator[Browser]:
    """Give a real browser. While it is there no test may run a loop of events of its own."""
    program = needs("chromium")
    with sync_playwright() as playwright:
        found = playwright.chromium.launch(
            executable_path=program, args=list(FLAGS), timeout=PATIENCE_MS
        )
        yield found
        found.close()


@pytest.fixture
def bathroom(tmp_path: Path) -> Iterator[LiveSite]:
    """The bathroom, whose people have telephones."""
    text = (ROOT / "examples" / "bathroom" / "job.toml").read_text(encoding="utf-8")
    text = text.replace("[people.electrician]", f'[people.electrician]\nphone = "{CALLED}"')
    file = tmp_path / "job.toml"
    file.write_text(text, encoding="utf-8")
    with live_site(tmp_path, (file,)) as found, found.served():
        yield found


@pytest.fixture
def line(bathroom: LiveSite) -> Iterator[Line]:
    with line_to(bathroom.address) as found:
        yield found


@pytest.fixture
def home(bathroom: LiveSite, line: Line) -> str:
    return f"{line.address}/p/{bathroom.secret(BATHROOM, LinkPurpose.CREW)}"


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
