"""Six jobs lived through for eight weeks: a clock of its own, a real mail server, one crew.

    python tests/reminders/six_jobs.py

writes the mailboxes anew, as `test_mailboxes.py` compares them. Read each as its reader.
"""

from __future__ import annotations

import email
import sys
import tempfile
from collections import defaultdict
from datetime import UTC, datetime, timedelta
from email.policy import SMTP
from pathlib import Path
from typing import TYPE_CHECKING, Any

from mail_server import MailServer, started
from reminder_samples import DAY, HOUR, Clock, Post, evidence, job_text, released, url_of

from curecal.delivery.mail import MailServer as Server
from curecal.delivery.mail import MailWire
from curecal.instants import local_day

if TYPE_CHECKING:
    from collections.abc import Iterator

MAILBOXES = Path(__file__).parent / "mailboxes"
BEGINS = datetime(2026, 11, 6, 17, tzinfo=UTC)
DAYS = 56
STREETS = ("Alder", "Birch", "Cedar", "Dogwood", "Elm", "Fir")
# Four hours behind UTC: looks at the thermometer, work, and the times of the day's messages.
WATCHED = (12, 13, 15, 18, 20, 21)


def text_of(street: str) -> str:
    """Return a job with an owner of its own; crew lead and electrician have all of them."""
    text = job_text(f"{street.lower()}-road", name=f"{street} Road")
    return text.replace("ida@home.example", f"{street.lower()}@home.example").replace(
        "Ida Fennell", f"Owner of {street} Road"
    )


def facts(street: str) -> Iterator[tuple[datetime, dict[str, Any]]]:
    """Give what is written into the log of a job, and when."""
    lead, sparks = {"by": "Robin Mistral"}, {"by": "Sam Okoro-Lind"}
    hall = {"zone": "hall"}
    if street != "Fir":
        # In Fir Road nobody looks at a thermometer, and nobody releases the floor.
        for week in range(5):
            at = datetime(2026, 11, 9, 12, tzinfo=UTC) + week * 7 * DAY
            yield at, {"id": f"look{week}", "kind": "air", "air": "20 °C", **hall, **lead}
    if street == "Dogwood":
        at = datetime(2026, 11, 16, 15, tzinfo=UTC)
        halt = {"id": "halt", "kind": "stopped", "cause": "crack or loose tile"}
        yield at, {**halt, "reason": "a hairline crack at the door", **hall, **lead}
        over = {"id": "over", "kind": "resumed", "found": "only the joint had shrunk, filled anew"}
        yield at + 3 * HOUR, {**over, **hall, **lead}
    connected = datetime(2026, 12, 4, 15, tzinfo=UTC)
    if street != "Fir":
        for table in evidence(connected):
            yield connected, table
        release = datetime(2026, 12, 8, 13, tzinfo=UTC)
        yield release, released(release)
        yield release + DAY, {"id": "on", "kind": "energized", **hall, **sparks}
        # In Elm Road nobody writes down what the floor was set to.
        for count, set_to in enumerate(() if street == "Elm" else ("21 °C", "26 °C")):
            at = release + (count + 2) * DAY
            yield at, {"id": f"step{count}", "kind": "heat_step", "to": set_to, **hall, **lead}


def live(folder: Path, server: MailServer) -> dict[str, str]:
    """Live through the eight weeks; return each person's mailbox as text."""
    own = Server("127.0.0.1", server.port, "office@tile.example", security="none")
    post = Post(url_of(folder), Clock(BEGINS), wires={"email": MailWire(own)})
    coming = []
    for street in STREETS:
        post.add(text_of(street), folder)
        coming += [(at, f"{street.lower()}-road", table) for at, table in facts(street)]
    coming.sort(key=lambda fact: (fact[0], fact[1]))
    first = local_day(BEGINS, UTC)
    for count in range(DAYS):
        for hour in WATCHED:
            at = datetime.combine(first + count * DAY, datetime.min.time(), UTC) + hour * HOUR
            at += timedelta(seconds=20)
            if at <= post.clock.at:
                continue
            while coming and coming[0][0] <= at:
                fact_at, job_id, table = coming.pop(0)
                post.note({"at": fact_at, **table}, job_id=job_id)
            post.clock.go(at - post.clock.at)
            post.cycle.run(for_s=10.0)
            post.sender.drain(until_s=10.0)
    post.close()
    return mailboxes(server)


def mailboxes(server: MailServer) -> dict[str, str]:
    """Return what came for each address, as its reader sees it."""
    found: dict[str, list[str]] = defaultdict(list)
    for mail in server.taken():
        read = email.message_from_bytes(mail["data"].encode("latin-1"), policy=SMTP)
        local = read["Date"].datetime - 4 * HOUR
        body = read.get_body(("plain",)).get_content()  # type: ignore[attr-defined]
        body = body.replace("\r\n", "\n").strip()
        head = f"== {local:%a %d %b, %H:%M}  {str(read['Subject']).strip()}"
        found[mail["to"][0].partition("@")[0]].append(f"{head}\n{body}\n")
    return {name: "\n".join(mails) for name, mails in sorted(found.items())}


def days_of(mailbox: str) -> list[str]:
    """Return the day of each mail of a mailbox."""
    return [line[3:13] for line in mailbox.splitlines() if line.startswith("== ")]


def main() -> None:
    """Write the mailboxes anew."""
    with tempfile.TemporaryDirectory() as name:
        server = started(Path(name) / "smtp")
        try:
            found = live(Path(name), server)
        finally:
            server.process.kill()
    MAILBOXES.mkdir(exist_ok=True)
    for person, text in found.items():
        (MAILBOXES / f"{person}.txt").write_text(text, encoding="utf-8")
        sys.stdout.write(f"{person}: {len(days_of(text))}\n")


if __name__ == "__main__":
    main()
