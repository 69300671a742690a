"""Calendars made by hand and one of the examples, to be published into collections."""

from __future__ import annotations

import shutil
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from ledger_samples import MemoryLedger

from curecal.calendars import (
    Alarm,
    Audience,
    Days,
    Event,
    EventKey,
    Feed,
    Goes,
    RevisionChange,
    Timed,
    issue,
)
from curecal.cli.main import code_of_run
from curecal.delivery.caldav.address import address_of
from curecal.delivery.caldav.collections_store import CalendarCollections, Reached
from curecal.delivery.caldav.credentials import Credentials
from curecal.delivery.caldav.http_client import Web

EXAMPLE = Path(__file__).parents[2] / "examples" / "bathroom" / "job.toml"
JOB = "alder-lane-7"
NOW = datetime(2026, 12, 2, 20, tzinfo=UTC)
LATER = NOW + timedelta(days=1)
WALK = EventKey(Audience.CREW, "hall", "", "walk")
GROUT = EventKey(Audience.CREW, "hall", "grout", "start")
LIMIT_S = 20.0
LEDGERS: dict[str, MemoryLedger] = {}
"""The ledger of what was published, by the place it is shown at; a test begins without one."""


def walk(day: int = 7) -> Event:
    """A day-long event with an alarm on its eve."""
    text = "Line one\nand two, with a ½\u202f″"
    when = Days(date(2026, 12, day), date(2026, 12, day + 1))
    alarm = Alarm(datetime(2026, 12, day - 1, 20, tzinfo=UTC), "eve")
    return Event(WALK, "Walk; now, please", text, when, alarms=(alarm,))


def grout(hour: int = 13) -> Event:
    """An event at an hour, without an alarm."""
    start = datetime(2026, 12, 9, hour, tzinfo=UTC)
    return Event(GROUT, "Grout: hall", "Now.", Timed(start, start + timedelta(hours=2)), busy=True)


def crew(*events: Event) -> Feed:
    return Feed(Audience.CREW, JOB, "Alder Lane <7> & Co.", events)


def uid(key: EventKey = WALK) -> str:
    return crew(walk()).uid(key)


def going(now: datetime, off_zones: Iterable[str] = ()) -> Goes:
    return Goes(
        frozenset(off_zones),
        now.date(),
        lambda _, title: f"Canceled: {title}",
        lambda _: "It is off.",
    )


def published(
    url: str, feed: Feed, *, now: datetime = NOW, known: Credentials | None = None
) -> Reached:
    """Publish a feed into a collection that is there, and give what became of it."""
    address = address_of(url)
    with Web(address, known, limit_s=LIMIT_S) as web:
        shown = CalendarCollections(web, [feed], {feed.audience: address})
        put(shown, feed, LEDGERS.setdefault(url, MemoryLedger()), now=now)
    return shown.reached[0]


def put(shown: CalendarCollections, feed: Feed, ledger: MemoryLedger, *, now: datetime) -> None:
    """Publish a feed into a ledger, and show it."""
    issue([feed], ledger, now=now, goes=going(now), outputs=[shown])


def changes(reached: Reached) -> dict[str, RevisionChange]:
    return {each: event.change for each, event in reached.events.items()}


@dataclass(frozen=True)
class Example:
    """A copy of an example's job, which a test may change."""

    path: Path

    @classmethod
    def copied(cls, folder: Path) -> Example:
        path = folder / "job.toml"
        shutil.copyfile(EXAMPLE, path)
        return cls(path)

    def colder(self) -> None:
        """Let the room be colder: every date ahead moves."""
        text = self.path.read_text(encoding="utf-8")
        moved = text.replace('air = "66', 'air = "63').replace('coldest = "62', 'coldest = "58')
        assert moved != text
        self.path.write_text(moved, encoding="utf-8")

    def run(self, url: str, *options: str, as_of: str = "2026-12-02 20:00") -> int:
        """The exit code of publishing it."""
        return code_of_run(
            ["calendars", "publish", str(self.path), url, "--as-of", as_of, *options]
        )
