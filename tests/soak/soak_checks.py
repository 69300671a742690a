"""What must hold when a soak is over: each function returns what does not, in words."""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from datetime import timedelta
from html import unescape
from typing import TYPE_CHECKING

import httpx
import icalendar
from fast_clock import LEASE_SPEED
from soak_people import Told
from sqlalchemy import select

from curecal.book.jobs.jobs import read_in
from curecal.book.jobs.log_entries import entries_of
from curecal.book.message_states import URGENT_ORDER, MessageState
from curecal.book.outbox.digests import lines_of
from curecal.book.outbox.outbox import messages_of
from curecal.book.outbox.outbox_rows import DIGEST
from curecal.book.schema.tables import published, reminder
from curecal.job_files import load_rules
from curecal.job_files.days_off import day_off_for
from curecal.planning.make_plan import make_plan
from curecal.planning.plan import RELEASED_STATES, State
from curecal.reminders.messages.published_now import publish_now
from curecal.reminders.messages.send_context import SendContext
from curecal.trade.job import Role
from curecal.web.app import make_app
from curecal.web.serving import Serving

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence
    from datetime import date, datetime

    from soak_people import Office, SentEntry
    from soak_sites import Site
    from soak_trouble import Trouble

    from curecal.book.connection.open_book import Book
    from curecal.planning.plan import ZonePlan

_ANSWER = re.compile(r'<section[^>]* class="answer">(.*?)</section>', re.DOTALL)
# The words of every sentence that lets somebody switch something on, or go on heating.
_PERMISSION = re.compile(
    r"floor is released|is heating up|is in service|Today at most|Set it as|switches it on from"
)
_LEASE_S = 120.0 / LEASE_SPEED
# After a reply that never came, or before the mail was marked: nobody knows whether it arrived.
_UNKNOWN_FATE = frozenset(
    {"kill", "kill twice", "kill on the wire", "server restarted", "sessions ended", "it ended"}
)
# Long enough for a killed sender's lease, a held clock and a mail server that is away.
STOP_TOLD_WITHIN = timedelta(hours=16)


def wrong_entries(book: Book, sites: Sequence[Site], sent: Sequence[SentEntry]) -> Iterator[str]:
    """Yield entries that were taken and are not in the book once, or are there unasked."""
    told: dict[str, dict[str, SentEntry]] = defaultdict(dict)
    for one in sent:
        told[one.site.id][one.entry_id] = one
    for site in sites:
        with book.reading() as connection:
            kept = Counter(entry.entry_id for entry in entries_of(connection, site.id))
        for entry_id, one in told[site.id].items():
            count = kept[entry_id]
            may = {Told.TAKEN: {1}, Told.REFUSED: {0}, Told.NOTHING: {0, 1}}[one.told]
            if count not in may:
                yield (
                    f"{site.id}: {one.form} {entry_id} was {one.told.value} ({one.answers}), "
                    f"and is in the book {count} times"
                )
        for entry_id in kept:
            if entry_id not in told[site.id] and not entry_id.startswith("file-"):
                yield f"{site.id}: nobody sent {entry_id}"


def wrong_messages(
    book: Book, taken: Sequence[dict[str, object]], troubles: Sequence[Trouble]
) -> Iterator[str]:
    """Yield messages that are lost, came twice without need, or came though they no longer held."""
    arrivals: dict[str, list[dict[str, object]]] = defaultdict(list)
    for mail in taken:
        arrivals[str(mail["id"])].append(mail)
    with book.reading() as connection:
        rows = {row.message_id: row for row in messages_of(connection)}
        told = [
            str(payload["notice"]["of"])
            for payload in connection.execute(select(reminder.c.payload)).scalars()
            if "notice" in payload
        ]
        lines = {line for of in told for line in of.removeprefix("Lines ").split(", ")}
        digests = {
            row.id: {str(line.id) for line in lines_of(connection, row.id)}
            for row in rows.values()
            if row.kind == DIGEST
        }
    yield from (f"a mail that the book does not know: {one}" for one in arrivals.keys() - rows)
    for message_id, row in rows.items():
        came = arrivals[message_id]
        what = f"{row.kind} to {row.recipient} {message_id}"
        if row.state is MessageState.SENT and not came:
            yield f"lost: {what}"
        if len({str(mail["data"]) for mail in came}) > 1:
            yield f"came in other words: {what}"
        # A STOP may come five times rather than not at all.
        if len(came) > (5 if row.order_key == URGENT_ORDER else 2):
            yield f"came {len(came)} times: {what}"
        yield from (
            f"came again, though its fate was known: {what} at {first['at_s']}"
            for first in came[:-1]
            if not _is_fate_unknown(first, troubles)
        )
        if row.state is MessageState.SUPERSEDED and any(
            not _is_fate_unknown(mail, troubles) for mail in came
        ):
            yield f"came and was superseded: {what}"
        if row.state in {MessageState.DEAD, MessageState.EXPIRED}:
            of = digests.get(row.id)
            is_told = of <= lines if of else f"OutboxRow {row.id}" in told
            # Tried once, and not again: it held no longer, and its correction was on its way.
            held = row.state is MessageState.EXPIRED or row.tries > 1
            corrected = any(
                later.id > row.id
                and (later.job_id, later.zone_id) == (row.job_id, row.zone_id)
                and later.recipient == row.recipient
                for later in rows.values()
            )
            if (
                held
                and not came
                and not corrected
                and not is_told
                and not row.recipient.startswith("lead")
            ):
                yield f"given up, and nobody was told: {what} ({row.reason})"
        elif row.state not in {MessageState.SENT, MessageState.SUPERSEDED}:
            yield f"neither sent nor given up: {what} is {row.state.value} ({row.reason})"


def _is_fate_unknown(mail: dict[str, object], troubles: Sequence[Trouble]) -> bool:
    """Return whether the line was cut after a mail, or its sender before it could write it down."""
    if mail["as"] == "drop":
        return True
    at_s = float(str(mail["at_s"]))
    return any(
        (trouble.kind in _UNKNOWN_FATE or trouble.ended_s - trouble.began_s > _LEASE_S - 2.0)
        # A busy process writes it down later than it came, but within its lease.
        and trouble.began_s - _LEASE_S <= at_s <= trouble.ended_s + 1.0
        for trouble in troubles
    )


def untold_stops(
    sent: Sequence[SentEntry], taken: Sequence[dict[str, object]], ended_at: datetime
) -> Iterator[str]:
    """Yield stops that stood for long, and that somebody of the site was not told.

    This asks nothing of the book: who has to hear of a stop is known without it.
    """
    put_right = {one.of for one in sent if one.told is not Told.REFUSED}
    for stop in sent:
        if stop.form != "stop" or stop.told is not Told.TAKEN or stop.entry_id in put_right:
            continue
        after = [one for one in sent if one.site is stop.site and one.at > stop.at]
        until = min((one.at for one in after if one.form in {"lift", "stop"}), default=ended_at)
        if until - stop.at < STOP_TOLD_WITHIN:
            continue
        for role, (_, address) in stop.site.people.items():
            # Of a floor that nobody may switch on, its owner need not hear that it stopped.
            if role is not Role.OWNER and not any(
                address in mail["to"] and _says(mail, "STOP", stop.site.name)  # type: ignore[operator]
                for mail in taken
            ):
                yield f"{stop.site.id}: the {role.value} never heard of the stop {stop.entry_id}"


def _says(mail: dict[str, object], *words: str) -> bool:
    text = str(mail["data"]).replace("=\r\n", "").replace("=\n", "")
    return all(word in text for word in words)


def overdue(book: Book, now: datetime) -> list[str]:
    """Return what should have gone by now, and still stands."""
    with book.reading() as connection:
        asked = select(reminder.c.id, reminder.c.job_id, reminder.c.kind, reminder.c.state).where(
            reminder.c.state.in_(["wanted", "ready"]), reminder.c.fire_at <= now
        )
        found = [
            f"reminder {row.id} {row.kind} of {row.job_id}" for row in connection.execute(asked)
        ]
        on_the_way = [
            state
            for state in MessageState
            if state
            not in {
                MessageState.SENT,
                MessageState.DEAD,
                MessageState.SUPERSEDED,
                MessageState.EXPIRED,
            }
        ]
        found += [
            f"message {row.id} {row.kind} is {row.state.value}"
            for row in messages_of(connection, states=on_the_way)
        ]
    return found


def wrong_pages(book: Book, sites: Sequence[Site], office: Office) -> Iterator[str]:
    """Yield pages that do not say what a plan of the book says, or what a fresh process would."""
    new = _Fresh(book, office)
    for site in sites:
        zone, _ = _plan_of(book, site, office.now())
        for role in site.people:
            path = f"/p/{site.pages[role]}/"
            served, fresh = new.twice(path)
            if served != fresh:
                yield f"{site.id}: the page of the {role.value} is not that of a fresh process"
            text = _words(served)
            day = zone.energize.owner_date if role is Role.OWNER else zone.energize.start_on
            if zone.state is State.CURING and day is not None and _day(day) not in text:
                yield f"{site.id}: the page of the {role.value} does not name {_day(day)}"
            if role is Role.OWNER:
                answer = " ".join(_words(one) for one in _ANSWER.findall(served))
                if not answer:
                    yield f"{site.id}: the owner's page has no answer"
                if _PERMISSION.search(answer) and zone.state not in RELEASED_STATES:
                    yield f"{site.id}: the owner's page permits, and the floor is {zone.state}"


class _Fresh:
    """The pages of a book as a process that was just started serves them."""

    def __init__(self, book: Book, office: Office) -> None:
        self.office = office
        self.at = office.now()
        self.client = make_app(Serving(book, now=lambda: self.at)).test_client()

    def twice(self, path: str) -> tuple[str, str]:
        """Return what is served and what a fresh process serves, both of one minute."""
        served = fresh = ""
        for _ in range(3):
            self.at = self.office.now()
            address, headers = self.office.address, {"Accept-Language": "en"}
            served = httpx.get(address + path, headers=headers, timeout=60).text
            fresh = self.client.get(path, base_url=address, headers=headers).get_data(as_text=True)
            if served == fresh:
                break
        return served, fresh


def behind(book: Book, sites: Sequence[Site], office: Office) -> list[str]:
    """Return the sites whose calendars are not at their plan."""
    return [
        f"the calendars of {site.id} are behind"
        for site in sites
        if not _plan_of(book, site, office.now())[1]
    ]


def wrong_feeds(book: Book, sites: Sequence[Site], office: Office) -> Iterator[str]:
    """Yield calendars that are not those of a plan of the book."""
    new = _Fresh(book, office)
    for site in sites:
        zone, is_published = _plan_of(book, site, office.now())
        if not is_published:
            yield f"{site.id}: its calendars are behind its plan"
        for role in site.people:
            path = f"/f/{site.feeds[role]}/curecal.ics"
            served, fresh = new.twice(path)
            if served != fresh:
                yield f"{site.id}: the calendar of the {role.value} is not that of a fresh process"
            if not served.startswith("BEGIN:VCALENDAR"):
                yield f"{site.id}: no calendar for the {role.value}: {served[:80]!r}"
            elif role is Role.OWNER and _keeps_off(served) is zone.is_released:
                yield f"{site.id}: the owner's calendar and the plan differ: {zone.state}"


def _keeps_off(calendar: str) -> bool:
    """Return whether an entry stands in a calendar that keeps the floor off."""
    events = icalendar.Calendar.from_ical(calendar).walk("VEVENT")
    return any(
        "X-CURECAL-KEEPS-OFF" in event and str(event.get("STATUS", "")) != "CANCELLED"
        for event in events
    )


def _plan_of(book: Book, site: Site, now: datetime) -> tuple[ZonePlan, bool]:
    """Return a site's plan, and whether its calendars are at it: publishing it changes nothing."""
    context = SendContext()
    with book.reading() as connection:
        read = read_in(connection, site.id)
        before = _published(connection, site)
    assert read.job is not None
    plan = make_plan(read.job, read.log, now, rules=load_rules(), day_off=day_off_for(read.job))
    with book.writing() as connection:
        planned = context.plan(context.know(connection, site.id), now)
        assert planned is not None
        publish_now(connection, context, planned, now=now)
        is_published = _published(connection, site) == before
        # Only tried: nothing of it is kept.
        connection.rollback()
    return plan.zones[0], is_published


def _published(connection: object, site: Site) -> set[tuple[object, ...]]:
    asked = select(published.c.uid, published.c.sequence, published.c.cancelled)
    rows = connection.execute(asked.where(published.c.job_id == site.id))  # type: ignore[attr-defined]
    return {tuple(row) for row in rows}


def _words(page: str) -> str:
    text = re.sub(r"<(script|style|svg)\b.*?</\1>", " ", page, flags=re.DOTALL)
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", text)).split())


def _day(day: date) -> str:
    """Return a day as English pages write it."""
    return f"{day:%a} {day.day} {day:%b}"


def tracebacks(outputs: Iterable[str]) -> Iterator[str]:
    """Yield outputs that show the inside of the program."""
    for text in outputs:
        if "Traceback" in text or "  File " in text:
            yield f"printed: {text[:600]}"
