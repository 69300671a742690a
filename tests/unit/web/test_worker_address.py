"""The worker of the phones: at the root, since a worker serves what lies under its address."""

from __future__ import annotations

from typing import TYPE_CHECKING

from page_samples import page_site

from curecal.web.app import HEADERS

if TYPE_CHECKING:
    from pathlib import Path


def test_the_worker_is_a_script_of_ours_at_the_root(tmp_path: Path) -> None:
    answer = page_site(tmp_path).client.get("/sw.js")
    assert answer.status_code == 200
    assert answer.mimetype == "text/javascript"
    assert answer.headers["Content-Security-Policy"] == HEADERS["Content-Security-Policy"]
    assert b"fetch" in answer.data


def test_a_link_that_does_not_work_still_shows_what_waits(tmp_path: Path) -> None:
    """Somebody whose link was taken back must find what their phone kept."""
    body = page_site(tmp_path).client.get("/p/nothing/").get_data(as_text=True)
    assert '<template id="outbox" data-home="">' in body
    assert '<script src="/static/outbox.js" defer></script>' in body
