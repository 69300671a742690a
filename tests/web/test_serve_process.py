"""`curecal serve` as people run it: started, looked at, written to, and stopped."""

from __future__ import annotations

import json
import os
import re
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

import httpx
import patient
import pytest
from lasting_ports import lasting_port

from curecal.book.connection.open_book import book_url, open_book
from curecal.book.jobs.log_entries import entries_of
from curecal.book.links.person_links import feed_secret_of

if TYPE_CHECKING:
    from collections.abc import Iterator

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parents[2]
JOB = "alder-lane-hall-bath"
PAGE = re.compile(r"https?://\S+/p/[A-Za-z0-9_-]{43}/")
SERVED = re.compile(r"Pages are served at (?P<address>http\S+)\.")
OWN = ("CURECAL_", "COV")


class Served:
    """A process of `curecal serve`, with what it printed."""

    def __init__(self, *words: str | Path, **environment: str) -> None:
        plain = {name: value for name, value in os.environ.items() if not name.startswith(OWN)}
        self.process = subprocess.Popen(
            [sys.executable, "-m", "curecal", "serve", "--port", "0", *map(str, words)],
            cwd=ROOT,
            env={**plain, "PYTHONUNBUFFERED": "1", **environment},
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        self.said = ""
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self.said += line
            if SERVED.search(line):
                break
        found = SERVED.search(self.said)
        assert found is not None, self.said
        self.address = found["address"]

    def page(self, person: str) -> str:
        """The first address behind a person's name."""
        found = PAGE.search(self.said, self.said.index(person))
        assert found is not None
        return found[0]

    def feed(self, person: str) -> str:
        """The calendar beside that page."""
        before, _, secret = self.page(person).rstrip("/").rpartition("/p/")
        return f"{before}/f/{feed_secret_of(secret)}/curecal.ics"

    def kill(self) -> None:
        """End it whatever it does."""
        self.process.kill()
        self.process.wait()
        assert self.process.stdout is not None
        self.process.stdout.close()

    def end(self) -> int:
        self.process.send_signal(signal.SIGTERM)
        self.said += self.process.communicate(timeout=120)[0]
        return self.process.returncode


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Served]:
    found = Served(
        ROOT / "examples" / "bathroom" / "job.toml",
        "--book",
        tmp_path / "book.sqlite3",
        "--instead",
        f"file:{tmp_path / 'messages'}",
    )
    yield found
    found.kill()


def until(told: object, seconds: float = 60.0) -> float:
    """Wait until something is so, and return how long that took [s]."""
    begun = time.monotonic()
    while not told():  # type: ignore[operator]
        assert time.monotonic() - begun < seconds
        time.sleep(0.05)
    return time.monotonic() - begun


def test_from_a_job_file_to_the_owners_page_and_a_clean_stop(served: Served) -> None:
    page = patient.get(served.page("Ida Fennell"))
    assert page.status_code == 200
    assert "Alder Lane, hall bath" in page.text
    feed = served.feed("Ida Fennell")
    until(lambda: patient.get(feed).status_code == 200)
    found = patient.get(feed, headers={"Accept-Encoding": "gzip"})
    assert found.headers["Content-Type"] == "text/calendar; charset=utf-8"
    assert "Content-Encoding" not in found.headers
    again = patient.get(feed, headers={"If-None-Match": found.headers["ETag"]})
    assert (again.status_code, again.content) == (304, b"")
    head = patient.head(feed)
    assert head.headers["Content-Length"] == str(len(found.content))
    assert "Server" not in found.headers
    until(lambda: patient.get(f"{served.address}/health").status_code == 200)
    assert served.end() == 0
    with pytest.raises(httpx.ConnectError):
        patient.get(served.address)
    assert "Traceback" not in served.said


def test_a_stop_from_a_page_leaves_within_seconds(served: Served, tmp_path: Path) -> None:
    wrong = served.page("Ida Fennell") + "wrong"
    until(lambda: patient.get(f"{served.address}/health").status_code == 200)
    form = patient.get(wrong).text
    entry = re.search(r'name="entry_id" value="(?P<id>[^"]+)"', form)
    assert entry is not None
    folder = tmp_path / "messages"
    before = {path.name for path in folder.glob("*")}
    values = {"entry_id": entry["id"], "cause": "tripped"}
    refused = patient.post(wrong, data=values)
    assert refused.status_code == 403
    sent = patient.post(wrong, data=values, headers={"Origin": served.address})
    assert sent.status_code == 200

    def is_told() -> bool:
        new = [path for path in folder.glob("*") if path.name not in before]
        return any("STOP" in path.read_text(encoding="utf-8") for path in new)

    # It would be told at the next look at the book too, twenty seconds after the last one.
    assert until(is_told) < 15.0


def test_what_is_far_too_large_is_refused_before_it_is_read(served: Served) -> None:
    host, _, port = served.address.removeprefix("http://").partition(":")
    with socket.create_connection((host, int(port)), timeout=60) as wire:
        wire.sendall(
            b"POST /p/x/wrong HTTP/1.1\r\nHost: here\r\n"
            b"Content-Type: application/octet-stream\r\nContent-Length: 104857600\r\n\r\n"
        )
        assert wire.recv(64).startswith(b"HTTP/1.1 413 ")
    page = served.page("Ida Fennell") + "wrong"
    large = patient.post(page, content=b"x" * (13 << 20), headers={"Origin": served.address})
    assert large.status_code in {413, 422}


def test_slow_bodies_keep_nobody_waiting(served: Served) -> None:
    host, _, port = served.address.removeprefix("http://").partition(":")
    page = served.page("Ida Fennell")
    wires = []
    try:
        for _ in range(20):
            wire = socket.create_connection((host, int(port)), timeout=60)
            wires.append(wire)
            wire.sendall(b"POST /p/x/wrong HTTP/1.1\r\nHost: here\r\nContent-Length: 1000\r\n\r\nx")
        begun = time.monotonic()
        assert patient.get(page).status_code == 200
        # Behind them it would come when they are hung up on, after a minute.
        assert time.monotonic() - begun < 30.0
    finally:
        for wire in wires:
            wire.close()


def test_two_processes_serve_one_book(served: Served, tmp_path: Path) -> None:
    book = tmp_path / "book.sqlite3"
    other = Served("--book", book, "--no-reminders")
    try:
        first, second = (
            served.page("Ida Fennell").replace(served.address, one.address)
            for one in (served, other)
        )
        form = patient.get(f"{second}wrong").text
        entry = re.search(r'name="entry_id" value="(?P<id>[^"]+)"', form)
        assert entry is not None
        values = {"entry_id": entry["id"], "cause": "tripped"}
        for page, address in ((second, other.address), (first, served.address)):
            sent = patient.post(f"{page}wrong", data=values, headers={"Origin": address})
            assert sent.status_code == 200
        # Sent twice, by way of two processes, it is there once.
        with open_book(book_url(str(book), {})) as opened, opened.reading() as connection:
            mine = [one for one in entries_of(connection, JOB) if one.entry_id == entry["id"]]
        assert len(mine) == 1
        assert patient.get(first).text.count("<h1>") == patient.get(second).text.count("<h1>")
        assert other.end() == 0
    finally:
        other.kill()


def test_who_has_a_link_keeps_it(served: Served, tmp_path: Path) -> None:
    page = served.page("Ida Fennell")
    assert served.said.count("shown only now") == 1
    assert served.end() == 0
    job = ROOT / "examples" / "bathroom" / "job.toml"
    again = Served(job, "--book", tmp_path / "book.sqlite3", "--no-reminders")
    try:
        assert PAGE.search(again.said) is None
        assert "shown only now" not in again.said
        assert " ".join(again.said.split()).count("cannot be shown again") == 1
        assert patient.get(page.replace(served.address, again.address)).status_code == 200
        assert again.end() == 0
    finally:
        again.kill()


def test_the_demo_has_every_example_and_is_thrown_away() -> None:
    demo = Served("--demo")
    try:
        names = [path.parent.name for path in (ROOT / "examples").glob("*/job.toml")]
        pages = PAGE.findall(demo.said)
        assert len(pages) >= len(names)
        assert {patient.get(page).status_code for page in pages[:3]} <= {200, 404}
        folder = re.search(r"file:(?P<folder>\S+)/messages", "".join(demo.said.split("\n")))
        assert folder is not None
        assert Path(folder["folder"]).is_dir()
        assert demo.end() == 0
        assert not Path(folder["folder"]).exists()
    finally:
        demo.kill()


def test_behind_a_proxy_the_office_cookie_is_kept_to_https(tmp_path: Path) -> None:
    port = lasting_port()
    behind = Served(
        ROOT / "examples" / "bathroom" / "job.toml",
        *("--book", tmp_path / "book.sqlite3", "--no-reminders", "--trust-proxy"),
        *("--port", str(port)),
        CURECAL_ADDRESS="https://pages.example",
    )
    try:
        here = f"http://127.0.0.1:{port}"
        door = re.search(r"https://pages\.example(?P<path>/in/\S+)", behind.said)
        assert door is not None
        cookie = patient.get(here + door["path"]).headers["Set-Cookie"]
        assert "Secure" in cookie
        assert "HttpOnly" in cookie
        wrong = behind.page("Ida Fennell").replace("https://pages.example", here) + "wrong"
        codes = [
            patient.post(wrong, headers={"Origin": origin}).status_code
            for origin in (here, "https://pages.example")
        ]
        assert codes == [403, 422]
    finally:
        behind.kill()


def test_health_is_machine_readable(served: Served) -> None:
    found = patient.get(f"{served.address}/health", headers={"Accept": "application/json"})
    assert json.loads(found.text)["book"] == "reachable"
