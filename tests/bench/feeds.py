"""What a calendar feed costs the server, against the same bytes given out by the same server.

    python tests/bench/feeds.py [rounds]

Processor time of the serving process for one request over one kept connection, asked by another
process; both sides in turn, so that a busy moment of the machine hits both; the median of each.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "samples"))

from calendar_samples import RULES, plan

from curecal.book.connection.open_book import book_url, open_book
from curecal.book.jobs.import_job import add_job
from curecal.book.ledger.ledger import BookLedger
from curecal.book.link_purpose import LinkPurpose
from curecal.book.links.links import WantedLink, create_link
from curecal.calendars import Audience, Event, EventKey, Feed, Timed, goes, issue
from curecal.web.app import make_app
from curecal.web.server.http_server import PageServer
from curecal.web.serving import Serving

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from curecal.book.connection.open_book import Book

ROOT = Path(__file__).resolve().parents[2]
START = datetime(2027, 3, 1, 12, tzinfo=UTC)
HOUR = timedelta(hours=1)
# As long as what an owner is told of a day.
TEXT = (
    "Leave the heating of this floor off: its grout is still curing.\n"
    "It may be walked on from Mon 8 Mar 2027, and get wet from Mon 15 Mar 2027.\n"
    "Do not set furniture on it before, and keep the room as warm as it is.\n"
    "Questions: Robin Sample, +1 555 0100.\n"
    "The products' data sheets and the heating maker's instructions come before this plan.\n"
    "What stands in a calendar may be a day behind; the page is not.\n"
    "Only a licensed electrician does electrical work, to the local code.\n"
)
EVENTS = {"3 kB": 3, "174 kB": 211}
REQUESTS = 300
LIMIT_US = 150.0
CLIENT = """
import http.client, sys
host, port, path, count = sys.argv[1:]
wire = http.client.HTTPConnection(host, int(port))
for _ in range(int(count)):
    wire.request("GET", path)
    answer = wire.getresponse()
    assert answer.status == 200
    size = len(answer.read())
print(size)
"""


def filled(book: Book, name: str, count: int) -> str:
    """Add a job with so many published events, and return the address of its owner's feed."""
    text = (ROOT / "examples" / "bathroom" / "job.toml").read_text(encoding="utf-8")
    job_id = f"bench-{count}"
    text = text.replace("alder-lane-hall-bath", job_id)
    path = Path(str(book.url.database)).with_name(f"{job_id}.toml")
    path.write_text(text, encoding="utf-8")
    added = add_job(book, path, now=START, clock=START)
    events = tuple(
        Event(
            key=EventKey(Audience.OWNER, "hall", "", f"walk, {number + 1}"),
            when=Timed(START + number * HOUR, START + (number + 1) * HOUR),
            summary=f"Leave the floor heating off, {number}",
            description=TEXT,
        )
        for number in range(count)
    )
    feed = Feed(Audience.OWNER, added.job_id, name, events)
    issue([feed], BookLedger(book), now=START, goes=goes(plan(), rules=RULES))
    with book.writing() as connection:
        wanted = WantedLink(job_id=added.job_id, purpose=LinkPurpose.FEED, person="Ida Fennell")
        secret, _ = create_link(connection, wanted, now=START)
    return f"/f/{secret}/curecal.ics"


def say(line: str) -> None:
    """Print a line."""
    sys.stdout.write(f"{line}\n")


def cost_us(port: int, path: str) -> tuple[float, int]:
    """Return the processor time of this process for a request [us], and the answer's size."""
    begun = time.process_time()
    words = [sys.executable, "-c", CLIENT, "127.0.0.1", str(port), path, str(REQUESTS)]
    size = int(subprocess.run(words, check=True, capture_output=True, text=True).stdout)
    return (time.process_time() - begun) / REQUESTS * 1e6, size


def main(rounds: int) -> int:
    """Print what a feed of each size costs; return 1 where it is more than it may."""
    with tempfile.TemporaryDirectory() as folder:
        book = open_book(book_url(f"{folder}/book.sqlite3", {}))
        feeds = {name: filled(book, name, count) for name, count in EVENTS.items()}
        pages = make_app(Serving(book))
        client = pages.test_client()
        plain = {f"/static{path}": client.get(path).data for path in feeds.values()}

        def served(environ: dict[str, str], start: Callable[..., object]) -> Iterable[bytes]:
            data = plain.get(environ["PATH_INFO"])
            if data is None:
                return pages.wsgi_app(environ, start)
            start("200 OK", [("Content-Type", "text/calendar"), ("Content-Length", str(len(data)))])
            return [data]

        server = PageServer(served, host="127.0.0.1", port=0)  # type: ignore[arg-type]
        server.start()
        worst = 0.0
        for path in feeds.values():
            sides: dict[str, list[float]] = {"feed": [], "static": []}
            size = 0
            for _ in range(rounds):
                for side, asked in (("static", f"/static{path}"), ("feed", path)):
                    spent_us, size = cost_us(server.port, asked)
                    sides[side].append(spent_us)
            feed_us, static_us = (statistics.median(sides[side]) for side in ("feed", "static"))
            worst = max(worst, feed_us - static_us)
            say(
                f"{size / 1000:6.1f} kB: feed {feed_us:6.0f} us, static {static_us:6.0f} us,"
                f" {feed_us - static_us:+5.0f} us, ratio {feed_us / static_us:.2f}"
            )
        server.stop()
        book.close()
    say(f"more than static bytes: {worst:.0f} us at most; wanted: no more than {LIMIT_US:.0f} us")
    return int(worst > LIMIT_US)


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 5))
