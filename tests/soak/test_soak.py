"""The soak: pages, feeds and reminders in one process, a week of many sites a thousandfold fast.

People write with their links and by commands, while the process is killed, its clock is set, its
disk is full, and its mail server and its book go away and come back. What is counted at the end
stands in `soak_checks.py`. `SOAK_SEED` chooses another story, `SOAK_S` another length.
"""

from __future__ import annotations

import contextlib
import os
import queue
import random
import sys
import threading
import time
from collections import Counter
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
import soak_checks
from book.book_servers import running
from fast_clock import FastClock
from lasting_ports import lasting_port
from mail_server import started, wait_for
from soak_people import Office, People, Told
from soak_process import ENDS_ITSELF, ServedBook
from soak_sites import BEGINS, fill, sites_of
from soak_trouble import Trouble, Troubles

from curecal.book.connection.open_book import book_url, open_book
from curecal.errors import BookError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from book.book_servers import Server
    from mail_server import MailServer

    from curecal.book.connection.open_book import Book

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parents[2]
COMMAND = (sys.executable, "-m", "curecal")
LONG = os.environ.get("CURECAL_TESTS_LONG") == "1"
SEED = int(os.environ.get("SOAK_SEED", "1"))
LENGTH_S = float(os.environ.get("SOAK_S", "300" if LONG else "30"))
SITES = int(os.environ.get("SOAK_SITES", "200" if LONG else "24"))
# A short soak is to see a morning and an evening as well.
IS_SHORT = LENGTH_S <= 120
SPEED = 2000.0 if IS_SHORT else 1000.0
NIGHT_SPEED = 4000.0
# All who are on site at once; of a short soak each site has more to say in its day.
WRITERS = 4
PAUSE = timedelta(hours=2 if IS_SHORT else 8)
# Of the time that is left: the last process lives on, so that its memory can be looked at.
LAST_KILL, LAST_TROUBLE = 0.4, 0.1
SETTLED_WITHIN_S, LOOKED_AT_AGAIN_S = 600.0, 60.0
MOST_MB = 300.0


@dataclass
class Soak:
    """Everything that runs."""

    book: Book
    clock: FastClock
    served: ServedBook
    mail: MailServer
    office: Office
    people: list[People]
    troubles: Troubles


@contextlib.contextmanager
def soaking(place: str, folder: Path, server: Server | None, database: str) -> Iterator[Soak]:
    """Set everything up, and take it down again."""
    clock = FastClock(folder / "clock", starts_at=BEGINS)
    book = open_book(book_url(place))
    sites = sites_of(SITES, SEED)
    fill(book, sites, folder)
    mail = started(folder / "smtp", lasting_port())
    own = {name: os.environ[name] for name in ("PATH", "HOME", "LANG") if name in os.environ}
    environment = {
        **own,
        "PYTHONPATH": os.pathsep.join((str(ROOT / "tests" / "soak" / "fast"), str(ROOT))),
        "PYTHONUNBUFFERED": "1",
        "PYTHONUTF8": "1",
        "PYTHONDONTWRITEBYTECODE": "1",
        "SOAK_CLOCK": str(folder / "clock"),
        "XDG_STATE_HOME": str(folder / "state"),
        "CURECAL_BOOK": place,
        "CURECAL_MAIL_SERVER": f"127.0.0.1:{mail.port}",
        "CURECAL_MAIL_FROM": "office@tile.example",
        "CURECAL_MAIL_SECURITY": "none",
    }
    served = ServedBook(COMMAND, environment, lasting_port())
    over = threading.Event()
    office = Office(
        address=f"http://127.0.0.1:{served.port}",
        now=clock.now,
        command=COMMAND,
        environment=environment,
        is_over=over.is_set,
        pause=over.wait,
        pause_between=PAUSE,
    )

    def restart_mail() -> None:
        mail.process = started(mail.mails.parent, mail.port).process

    troubles = Troubles(
        served=served,
        mail=mail,
        clock=clock,
        chance=random.Random(SEED),  # noqa: S311 - a test's own
        restart_mail=restart_mail,
        command=COMMAND,
        environment=environment,
        file=place if server is None else "",
        server=server,
        database=database,
    )
    served.start()
    try:
        wait_for(served.answers, what="the pages")
        # Somebody looked at the clock: nothing else confirms it here.
        troubles.resume()
        clock.run(SPEED)
        people = [People(site, office, SEED) for site in sites]
        yield Soak(book, clock, served, mail, office, people, troubles)
    finally:
        over.set()
        served.process.kill()
        served.process.wait()
        mail.process.kill()
        mail.process.wait()
        book.close()


def live(soak: Soak) -> None:
    """Let people write and things go wrong until the time is over."""
    over_s = time.monotonic() + LENGTH_S
    over = threading.Event()
    waiting: queue.PriorityQueue[tuple[float, int]] = queue.PriorityQueue()
    for number, people in enumerate(soak.people):
        waiting.put((people.next_at.timestamp(), number))
    failed: list[BaseException] = []

    def write() -> None:
        while not over.is_set():
            at_s, number = waiting.get()
            if at_s > soak.clock.wall_s():
                waiting.put((at_s, number))
                over.wait(0.05)
                continue
            try:
                soak.people[number].act()
            except BaseException as error:  # noqa: BLE001 - said by the test
                failed.append(error)
                return
            waiting.put((soak.people[number].next_at.timestamp(), number))

    writers = [threading.Thread(target=write, daemon=True) for _ in range(WRITERS)]
    for writer in writers:
        writer.start()
    supervisor = threading.Thread(target=supervise, args=(soak, over), daemon=True)
    supervisor.start()
    make_trouble(soak, over_s, failed)
    over.set()
    for thread in (*writers, supervisor):
        thread.join(120)
    if failed:
        raise failed[0]


def make_trouble(soak: Soak, over_s: float, failed: list[BaseException]) -> None:
    """Let one thing after another go wrong; no more kills once the last process runs."""
    kinds = soak.troubles.plan()
    while (left_s := over_s - time.monotonic()) > 0.0 and not failed:
        time.sleep(min(soak.troubles.chance.uniform(0.5, 3.0), left_s))
        kind = next(kinds)
        share = (over_s - time.monotonic()) / LENGTH_S
        if share > LAST_TROUBLE and not ("kill" in kind and share < LAST_KILL):
            soak.troubles.make(kind)


def supervise(soak: Soak, over: threading.Event) -> None:
    """Start the process again where it ends by itself, and look at its memory."""
    while not over.wait(1.0):
        before = len(soak.served.ends)
        soak.served.look_after()
        if len(soak.served.ends) > before:
            now_s = time.monotonic()
            soak.troubles.happened.append(Trouble("it ended", now_s - 2.0, now_s))


def settle(soak: Soak) -> list[str]:
    """Let the night come, in which nothing new is due, and everything go out; return what stays."""
    soak.mail.behave("")
    wait_for(soak.served.answers, within_s=60.0, what="the pages")
    soak.troubles.resume()
    # Two hours past the sites' midnight: what that moves is in the calendars within one.
    night = soak.clock.now().replace(hour=5, minute=0, second=0)
    if night < soak.clock.now():
        night += timedelta(days=1)
    soak.clock.run(NIGHT_SPEED)
    wait_for(lambda: soak.clock.now() >= night, within_s=120.0, what="the night")
    soak.clock.run(1.0)
    # Kept from its processor between two clocks that run so fast, a process holds them to differ.
    soak.troubles.resume()
    began_s = time.monotonic()
    is_looked_at_again = False
    left = ["everything"]
    # The process has to live on: its memory is looked at.
    while (left or not soak.served.memory) and time.monotonic() < began_s + SETTLED_WITHIN_S:
        soak.served.look_after()
        if not is_looked_at_again and time.monotonic() > began_s + LOOKED_AT_AGAIN_S:
            # A round that began in that hurry may have ended after the person looked.
            soak.troubles.resume()
            is_looked_at_again = True
        # Whoever writes wakes the process: else it looks every twenty seconds.
        soak.people[0].write_a_note()
        time.sleep(2.0)
        left = remaining(soak)
    return left


def remaining(soak: Soak) -> list[str]:
    """Return what has still to go out or to be published."""
    try:
        found = soak_checks.overdue(soak.book, soak.clock.now())
        sites = [people.site for people in soak.people]
        return found or soak_checks.behind(soak.book, sites, soak.office)
    except BookError as error:
        return [error.code]


@pytest.fixture(params=["file", "server"])
def soak(
    request: pytest.FixtureRequest, tmp_path: Path, needs: Callable[[str], str]
) -> Iterator[Soak]:
    """Give a soak over a file, then over a database of a real server."""
    needs("aiosmtpd")
    if request.param == "file":
        with soaking(str(tmp_path / "book.sqlite3"), tmp_path, None, "") as found:
            yield found
        return
    needs("psycopg")
    with running(needs("postgres")) as server:
        database = server.new_database()
        place = server.url(database).render_as_string(hide_password=False)
        with soaking(place, tmp_path, server, database) as found:
            yield found


def test_a_soak_loses_nothing_and_says_nothing_wrong(soak: Soak) -> None:
    live(soak)
    left = settle(soak)
    sites = [people.site for people in soak.people]
    sent = [entry for people in soak.people for entry in people.sent]
    taken = soak.mail.taken()
    faults = [f"still to go: {one}" for one in left]
    faults += soak_checks.wrong_pages(soak.book, sites, soak.office)
    faults += soak_checks.wrong_feeds(soak.book, sites, soak.office)
    code = soak.served.end()
    faults += [
        f"ended with {one}" for one in (*soak.served.ends, code) if one not in {0, *ENDS_ITSELF}
    ]
    faults += [f"still runs: {one}" for one in soak.served.left_over()]
    faults += soak_checks.wrong_entries(soak.book, sites, sent)
    faults += soak_checks.wrong_messages(soak.book, taken, soak.troubles.happened)
    faults += soak_checks.untold_stops(sent, taken, soak.clock.now())
    if not IS_SHORT:
        faults += [f"never happened: {kind}" for kind in soak.troubles.missing()]
    checked = soak.troubles.run("book", "check")
    faults += [] if checked.returncode == 0 else [f"book check: {checked.stdout}"]
    outputs = ["".join(soak.served.lines), *soak.office.outputs, *soak.troubles.outputs]
    faults += soak_checks.tracebacks(outputs)
    quarter_mb, end_mb = soak.served.grown()
    if end_mb > min(1.25 * quarter_mb + 30.0, MOST_MB):
        faults.append(f"grew from {quarter_mb:.0f} MB to {end_mb:.0f} MB")
    forms = Counter(f"{one.form} {one.told.value}" for one in sent)
    print(  # noqa: T201 - shown by .ci/long
        f"seed {SEED}, {len(sites)} sites, until {soak.clock.now():%d %b %H:%M}: "
        f"{len(sent)} entries {dict(sorted(forms.items()))}, {len(taken)} mails, "
        f"{len(taken) - len(soak.mail.counts())} of them twice, "
        f"{dict(Counter(one.kind for one in soak.troubles.happened))}, "
        f"{quarter_mb:.0f} MB at a quarter, {end_mb:.0f} MB at the end"
    )
    assert any(one.told is Told.TAKEN for one in sent)
    assert taken
    told = "\n".join([*faults[:60], "", *map(str, soak.troubles.happened)])
    assert faults == [], f"SOAK_SEED={SEED}: {len(faults)} faults:\n{told}"
