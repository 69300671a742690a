"""Jobs, books and clocks for tests of the reminders; all names and places are invented."""

from __future__ import annotations

import email
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from email.policy import SMTP
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Any

from curecal.book.connection.open_book import Book, LeaseNow, open_book
from curecal.book.jobs.import_job import add_job, append_entries
from curecal.book.outbox.outbox import fire, messages_of
from curecal.book.outbox.outbox_rows import OutboxMessage
from curecal.delivery.channels import Answer, Outcome
from curecal.delivery.mail import Letter, made_mail
from curecal.delivery.mail_greeting import ServerDate
from curecal.job_files import load_rules, parse_job
from curecal.job_files.days_off import day_off_for
from curecal.planning.make_plan import make_plan
from curecal.reminders.builders.build_reminders import build_reminders
from curecal.reminders.messages.send_context import SendContext
from curecal.reminders.reminder_rules import shipped_rules
from curecal.reminders.reminder_types import Heard, Reminder
from curecal.reminders.sending.scheduler_cycle import SchedulerCycle
from curecal.reminders.sending.send import Sender

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from sqlalchemy import URL

    from curecal.book.outbox.outbox_rows import OutboxRow
    from curecal.planning.plan import Plan
    from curecal.trade.job import Job
    from curecal.trade.site_log import Entry

RULES = load_rules()
HOUR, DAY = timedelta(hours=1), timedelta(days=1)
FINISHED = datetime(2026, 11, 6, 16, tzinfo=UTC)
"""When the last layer of the sample floor is done: noon on site."""

PEOPLE = """
[people.crew_lead]
name = "Robin Mistral"
email = "robin@crew.example"

[people.electrician]
name = "Sam Okoro-Lind"
license = "E 2214"
email = "sam@sparks.example"

[people.owner]
name = "Ida Fennell"
email = "ida@home.example"
"""

_JOB = """
[job]
id = "{job_id}"
name = "{name}"
timezone = "America/Halifax"
code = "other"

[expected]
below = "heated room"
air = "20 °C"
humidity = "50 %"
coldest = "{coldest}"
dampest = "60 %"

[work]
days = "Mon-Fri"
hours = "08:00-16:00"
{people}
[[zone]]
id = "hall"
name = "{zone_name}"
energized_by = "{energized_by}"

[zone.heating]
voltage = "240 V"
power = "640 W"
resistance = "90 Ω"

[[zone.layer]]
id = "leveler"
name = "leveler over the cable"
material = "leveler"
thickness = "6 mm"
done = 2026-10-26T14:30:00
duration = "3 h"

[[zone.layer]]
id = "mortar"
name = "tile mortar"
material = "thinset"
done = 2026-10-30T16:00:00

[[zone.layer]]
id = "grout"
name = "grout"
material = "cement grout"
done = 2026-11-06T12:00:00
"""


def job_text(
    job_id: str = "elm-road",
    *,
    people: str = PEOPLE,
    coldest: str = "18 °C",
    name: str = "Elm Road",
    zone_name: str = "hall",
    energized_by: str = "electrician",
) -> str:
    """Return a job file of a floor that is finished and cures."""
    return _JOB.format(
        job_id=job_id,
        people=people,
        coldest=coldest,
        name=name,
        zone_name=zone_name,
        energized_by=energized_by,
    )


def a_job(text: str = "") -> tuple[Job, tuple[Entry, ...]]:
    """Return a job as read, with its log."""
    read = parse_job((text or job_text()).encode())
    assert read.job is not None, read.findings
    return read.job, read.log


def a_plan(now: datetime, text: str = "", log: Iterable[Entry] = ()) -> tuple[Plan, list[Entry]]:
    """Return the plan of a job as of an instant, with its whole log."""
    job, own = a_job(text)
    entries = [*own, *log]
    plan = make_plan(job, entries, now, rules=RULES, day_off=day_off_for(job))
    return plan, entries


def wants(
    now: datetime, told: Iterable[Heard] = (), text: str = "", log: Iterable[Entry] = ()
) -> tuple[Reminder, ...]:
    """Return what is wanted as of an instant."""
    plan, entries = a_plan(now, text, log)
    job = plan.job
    return build_reminders(
        plan, job.people, shipped_rules(), told, log=entries, day_off=day_off_for(job)
    )


def of_kind(reminders: Iterable[Reminder], kind: str, recipient: str = "") -> list[Reminder]:
    """Return the reminders of a kind, to a person where one is named."""
    return [
        each
        for each in reminders
        if each.kind == kind and (not recipient or each.recipient.startswith(recipient))
    ]


def evidence(at: datetime, prefix: str = "e") -> list[dict[str, Any]]:
    """Return the log tables of all that must be on record before the release."""
    tests = [
        {
            "id": f"{prefix}-{stage}",
            "at": when,
            "kind": "resistance",
            "zone": "hall",
            "stage": stage,
            "conductor": "90 Ω",
            "to_earth": "open",
            "insulation": "500 MΩ",
            "insulation_at": "500 V",
            "by": "Sam Okoro-Lind",
        }
        for stage, when in (
            ("delivery", datetime(2026, 10, 20, 12, tzinfo=UTC)),
            ("laid", datetime(2026, 10, 23, 12, tzinfo=UTC)),
            ("embedded", datetime(2026, 10, 28, 12, tzinfo=UTC)),
            ("connection", datetime(2026, 11, 7, 12, tzinfo=UTC)),
        )
    ]
    rest = [
        {
            "kind": "protection",
            "device": "RCD",
            "trips_at": "30 mA",
            "trip_test": "tripped",
            "by": "Sam Okoro-Lind",
        },
        {"kind": "thermostat", "mode": "floor", "limit": "27 °C", "by": "Sam Okoro-Lind"},
        {
            "kind": "connected",
            "locked": True,
            "tagged": True,
            "leads": "off the thermostat",
            "by": "Sam Okoro-Lind",
        },
        {
            "kind": "kept",
            "above": "20 °C",
            "from": datetime(2026, 10, 26, 12, tzinfo=UTC),
            "to": at,
            "by": "Robin Mistral",
        },
    ]
    return [
        *tests,
        *(
            {
                "id": f"{prefix}-{each['kind']}",
                "at": at,
                "zone": "hall",
                "by": "Robin Mistral",
                **each,
            }
            for each in rest
        ),
    ]


def released(at: datetime) -> dict[str, Any]:
    """Return the log table of a release by the crew lead."""
    return {"id": "let-go", "at": at, "kind": "release", "zone": "hall", "by": "Robin Mistral"}


@dataclass
class Clock:
    """A wall and a machine that run as the test says."""

    at: datetime
    since_boot_s: float = 1000.0
    boot_id: str = "boot-1"

    def now(self) -> datetime:
        return self.at

    def boot(self) -> LeaseNow:
        return LeaseNow(self.boot_id, self.since_boot_s)

    def go(self, step: timedelta) -> None:
        """Let time pass, on both clocks."""
        self.at += step
        self.since_boot_s += step.total_seconds()


@dataclass
class Caught:
    """A wire that keeps what it carries, and answers as it is told."""

    answers: list[Answer] = field(default_factory=list)
    sent: list[tuple[str, bytes]] = field(default_factory=list)
    lock: Lock = field(default_factory=Lock)
    server_date: ServerDate | None = None

    def send(self, address: str, data: bytes, *, deadline_s: float) -> Answer:
        del deadline_s
        with self.lock:
            answer = self.answers.pop(0) if self.answers else Answer(Outcome.TAKEN)
            if answer.outcome in {Outcome.TAKEN, Outcome.UNSURE}:
                self.sent.append((address, data))
            return answer


class Post:
    """A book with a scheduler cycle that sends from it, on a clock of its own."""

    def __init__(
        self,
        url: URL,
        clock: Clock,
        *,
        wires: Mapping[str, Any] | None = None,
        name: str = "desk",
        busy_s: float = 5.0,
        synchronized: bool = True,
    ) -> None:
        self.clock = clock
        self.book = open_book(url, lease_clock=clock.boot, busy_s=busy_s)
        self.mail, self.text = Caught(), Caught()
        found = {"email": self.mail, "text": self.text, "push": self.text}
        self.sender = Sender(self.book, {**found, **(wires or {})}, owner=name, now=clock.now)
        self.context = SendContext(sender="office@tile.example", sender_name="Tile office")
        self.cycle = SchedulerCycle(
            self.book,
            self.context,
            self.sender,
            name=name,
            now=clock.now,
            boot=clock.boot,
            is_synchronized=lambda: synchronized,
        )

    def add(self, text: str, folder: Path) -> None:
        """Put a job into the book."""
        path = folder / "job.toml"
        path.write_text(text, encoding="utf-8")
        add_job(self.book, path, now=self.clock.at)

    def note(self, *tables: Mapping[str, Any], job_id: str = "elm-road") -> None:
        """Append facts to a job's log."""
        append_entries(self.book, job_id, tables, source="test", now=self.clock.at)

    def messages(self, *kinds: str) -> list[OutboxRow]:
        """Return the outbox, of some kinds where they are named."""
        with self.book.reading() as connection:
            return [row for row in messages_of(connection) if not kinds or row.kind in kinds]

    def close(self) -> None:
        self.sender.close()
        self.book.close()


def closed(*posts: Post) -> None:
    """Close desks and books."""
    for post in posts:
        post.close()


def url_of(path: Path) -> URL:
    """Return the URL of a book in a folder."""
    from curecal.book.connection.open_book import book_url  # noqa: PLC0415 - one of many helpers

    return book_url(str(path / "book.sqlite3"))


def opened(path: Path) -> Book:
    """Return a book in a folder, open."""
    return open_book(url_of(path))


def evening() -> datetime:
    """Return half past six on a Monday evening on site: a message to the owner is due."""
    return datetime(2026, 11, 9, 22, 30, tzinfo=UTC)


def plain(data: bytes) -> str:
    """Return a mail's text in one line."""
    body = email.message_from_bytes(data, policy=SMTP).get_body()  # type: ignore[attr-defined]
    return " ".join(body.get_content().split())


def put_rows(book: Book, count: int, now: datetime, *, job_id: str = "elm-road") -> set[str]:
    """Put mails of their own into the outbox, each to somebody else; return their identities."""
    rows = []
    for number in range(count):
        message_id = f"<{number}@rows.example>"
        to = f"p{number}@many.example"
        letter = Letter(to, "", f"number {number}", "text", message_id, now)
        rows.append(
            OutboxMessage(
                job_id=job_id,
                zone_id="",
                kind="undelivered",
                channel="email",
                recipient=to,
                generation=1,
                message_id=message_id,
                body=made_mail(letter, sender="office@tile.example"),
                created_at=now,
                order_key=10,
            )
        )
    with book.writing() as connection:
        fire(connection, rows)
    return {row.message_id for row in rows}
