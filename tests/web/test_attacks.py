"""What is sent to the pages in order to harm: names that are markup, paths, headers, large bodies.

Served as it is served to everybody: through the real server.
"""

from __future__ import annotations

import logging
import socket
import time
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

import httpx
import patient
import pytest
from book_digest import book_digest
from browser import Complaints, opened
from live_site import BATHROOM, OFFICE_PERSON, ROOT, LiveSite, live_site
from site_walk import OF_ONE_JOB, client_of, walk

from curecal.book.link_purpose import LinkPurpose
from curecal.web.serving import PageAddress

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from playwright.sync_api import Browser

pytestmark = pytest.mark.slow

MARKUP = (
    '"><script src=/x onerror=alert(1)></script>',
    "</title></svg><svg/onload=alert(1)>",
    "'-alert(1)-' {{7*7}} ${7*7}",
    "&lt;b&gt; ]]> <!--",
)
PATHS = (
    "/static/../app.py",
    "/static/..%2fapp.py",
    "/static/%2e%2e/app.py",
    "/static//etc/passwd",
    "/static/",
    "//evil.example/",
    "/p/%0d%0aSet-Cookie:%20x=1/",
    "/in/%0d%0aSet-Cookie:%20x=1",
    "/p/a%00b/",
    "/?language=%0d%0aX:%20y",
)

# What no page of ours holds.
_FOREIGN = 'script:not([src^="/static/"]):not([type]), [onload], [onerror], iframe'


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[LiveSite]:
    file = ROOT / "examples" / "bathroom" / "job.toml"
    with live_site(tmp_path_factory.mktemp("attacked"), (file,)) as site, site.served():
        yield site


@pytest.fixture(scope="module")
def marked(tmp_path_factory: pytest.TempPathFactory) -> Iterator[LiveSite]:
    """A job each of whose names and remarks is markup that would run."""
    folder = tmp_path_factory.mktemp("marked")
    with live_site(folder, (marked_job(folder),)) as site, site.served():
        yield site


def marked_job(folder: Path) -> Path:
    text = (ROOT / "examples" / "bathroom" / "job.toml").read_text(encoding="utf-8")
    names = (
        "Alder Lane, hall bath",
        "hall bath",
        "leveler over the cable",
        "sealer, second coat",
        "plywood on joists",
        "Robin Mistral",
        "Sam Okoro-Lind",
        "Ida Fennell",
        "Nan Averill, town hall",
        "sheet of the bag on site, rev. 2026-02, p. 2 (invented)",
        "thinset on site",
    )
    for number, name in enumerate(names):
        evil = f"{name} {MARKUP[number % len(MARKUP)]}".replace("\\", "\\\\").replace('"', '\\"')
        assert f'"{name}"' in text, name
        text = text.replace(f'"{name}"', f'"{evil}"')
    text = text.replace("[people.owner]", '[people.owner]\nphone = "+1 902 555 0100"')
    file = folder / "job.toml"
    file.write_text(text, encoding="utf-8")
    return file


def test_names_that_are_markup_stay_names(marked: LiveSite, browser: Browser) -> None:
    office = (marked.address, marked.secrets["", LinkPurpose.OFFICE, OFFICE_PERSON])
    found, seen = [], 0
    with opened(browser, office) as context:
        page = context.new_page()
        complaints = Complaints()
        complaints.watch(page, marked.address)
        page.on("dialog", lambda dialog: (complaints.append("ran a script"), dialog.dismiss()))
        for purpose in (*OF_ONE_JOB, LinkPurpose.OFFICE):
            job_id = "" if purpose is LinkPurpose.OFFICE else BATHROOM
            secret = (
                office[1] if purpose is LinkPurpose.OFFICE else marked.secret(BATHROOM, purpose)
            )
            for one in walk(marked, purpose, job_id, secret):
                if not one.is_page or one.status >= 300:
                    continue
                seen += 1
                complaints.clear()
                page.goto(marked.address + one.path)
                made = page.evaluate("what => document.querySelectorAll(what).length", _FOREIGN)
                if made or complaints:
                    found.append(f"{one.pattern}: {made} {complaints}")
                if "49" in page.title() or "{{7*7}}" in page.title().replace("{{7*7}}", "", 1):
                    found.append(f"{one.pattern}: a template ran")
    assert seen
    assert found == []


@pytest.mark.parametrize("path", PATHS)
def test_no_path_leads_out_or_into_a_header(served: LiveSite, path: str) -> None:
    found = urlsplit(served.address)
    with socket.create_connection((found.hostname, found.port), timeout=60) as wire:
        wire.sendall(f"GET {path} HTTP/1.0\r\nHost: {found.netloc}\r\n\r\n".encode())
        answer = b""
        while got := wire.recv(65536):
            answer += got
    head, _, body = answer.partition(b"\r\n\r\n")
    assert b" 404 " in head.splitlines()[0]
    assert b"set-cookie" not in head.lower()
    assert b"make_app" not in body
    assert b"root:" not in body


def test_a_forged_host_gets_into_no_page(served: LiveSite, monkeypatch: pytest.MonkeyPatch) -> None:
    """Pages that are reached from outside have their address from whoever set them up."""
    address = PageAddress(origin="https://pages.example", is_secure=True)
    monkeypatch.setattr(served.serving, "address", address)
    said = ""
    forged = {"Host": "evil.example", "X-Forwarded-Host": "evil.example"}
    for purpose in OF_ONE_JOB:
        path = f"{served.address}/p/{served.secret(BATHROOM, purpose)}/"
        answer = patient.get(path, headers=forged)
        assert answer.status_code == 200
        assert "evil.example" not in answer.text
        assert "evil.example" not in str(answer.headers)
        said += answer.text
    assert "webcal://pages.example/f/" in said


def test_a_hundred_megabytes_are_refused_and_the_server_goes_on(served: LiveSite) -> None:
    before = book_digest(served.book)
    secret = served.secret(BATHROOM, LinkPurpose.OWNER)
    address = f"{served.address}/p/{secret}/wrong"
    headers = {"Origin": served.address, "Content-Type": "application/x-www-form-urlencoded"}
    block = b"reason=" + b"x" * (1 << 20)
    answers = []
    for body in (block * 100, iter([block] * 100)):
        try:
            answer = patient.post(address, content=body, headers=headers)
            answers.append(answer.status_code)
        except httpx.TransportError:
            # Hung up on before it had sent it all.
            answers.append(413)
    assert answers == [413, 413]
    assert patient.get(f"{served.address}/p/{secret}/").status_code == 200
    assert book_digest(served.book) == before


def test_many_fields_and_broken_forms_are_refused(served: LiveSite) -> None:
    before = book_digest(served.book)
    address = f"{served.address}/p/{served.secret(BATHROOM, LinkPurpose.OWNER)}/wrong"
    forms: list[tuple[str, bytes]] = [
        ("application/x-www-form-urlencoded", b"&".join(b"a%d=1" % one for one in range(50_000))),
        ("application/x-www-form-urlencoded", b"cause=%ff%fe&entry_id=" + b"a" * 300_000),
        ("multipart/form-data; boundary=x", b"--x\r\nnonsense"),
        ("multipart/form-data; boundary=" + "y" * 5000, b"--y\r\n"),
        ("multipart/form-data", b"no boundary"),
        ("application/json", b'{"cause":"other"}'),
        ("text/plain", b"cause=other"),
    ]
    for kind, body in forms:
        answer = patient.post(
            address, content=body, headers={"Origin": served.address, "Content-Type": kind}
        )
        assert answer.status_code in {400, 413, 415, 422}, kind
    assert book_digest(served.book) == before


def test_slow_senders_keep_nobody_waiting(served: LiveSite) -> None:
    found = urlsplit(served.address)
    path = f"/p/{served.secret(BATHROOM, LinkPurpose.OWNER)}/"
    head = f"POST {path}wrong HTTP/1.1\r\nHost: {found.netloc}\r\nContent-Length: 100000\r\n\r\nx"
    slow = [socket.create_connection((found.hostname, found.port)) for _ in range(40)]
    try:
        for number, wire in enumerate(slow):
            wire.sendall(head.encode() if number % 2 else b"GET /p/")
        began = time.monotonic()
        assert patient.get(served.address + path).status_code == 200
        # Behind them it would come when they are hung up on, after a minute.
        assert time.monotonic() - began < 30
    finally:
        for wire in slow:
            wire.close()


def test_no_secret_gets_into_a_log(
    served: LiveSite, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    caplog.set_level(logging.DEBUG)
    for name in ("httpx", "httpcore"):
        # These are the test's own.
        monkeypatch.setattr(logging.getLogger(name), "propagate", False)
    secret = served.secret(BATHROOM, LinkPurpose.OWNER)
    client = client_of(served)
    client.get(f"/p/{secret}/")
    client.get(f"/p/{secret}/nothing")
    client.post(f"/p/{secret}/wrong", data={"cause": "?"}, headers={"Origin": "http://localhost"})

    def breaks(job_id: str) -> None:
        raise LookupError(job_id, f"/p/{secret}/")

    with monkeypatch.context() as changed:
        serving = served.serving
        changed.setattr(serving.jobs, "job", breaks)
        answer = client.get(f"/p/{secret}/")
        assert answer.status_code == 500
        assert secret not in answer.get_data(as_text=True)
        assert patient.get(f"{served.address}/p/{secret}/").status_code == 500
    # The server's own words about whoever hung up, or broke it.
    for name in ("waitress", "waitress.queue"):
        logging.getLogger(name).error("Exception while serving %s", f"/p/{secret}/")
        logging.getLogger(name).info(secret)
    assert "a page failed: LookupError" in caplog.text
    assert secret not in caplog.text
