"""Claim, say that it leaves, hand over, mark. The wire is never inside a transaction.

Each message is stored as `sending` before its first byte leaves. A gateway that is slow keeps its
own few threads busy and nobody else: the cycle goes on.
"""

from __future__ import annotations

import queue
import threading
import time
from collections.abc import Callable, Mapping, Sequence
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from email.parser import BytesHeaderParser
from email.policy import SMTP
from typing import TYPE_CHECKING, NamedTuple

from curecal.book.message_states import URGENT_ORDER, LostClaim, MessageState, Who
from curecal.book.outbox.batch_moves import move_all
from curecal.book.outbox.digests import jobs_of
from curecal.book.outbox.outbox import back_off, claim, move
from curecal.book.outbox.outbox_rows import DIGEST, Leaving, OutboxRow
from curecal.book.schema.tables import outbox
from curecal.delivery.channel_settings import BY_TELEPHONE
from curecal.delivery.channels import Answer, Outcome, Wire
from curecal.reminders.reminder_types import Channel
from curecal.reminders.replanning.damage import is_set_aside
from curecal.reminders.replanning.replan_notes import is_up_to_date

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection

    from curecal.book.connection.open_book import Book

# Twice what the wire may take and some more: a lease outlives every call that is made under it.
LEASE_S = 120.0
# A mail server may look at a sender for half a minute first.
DEADLINE_S = 45.0
ACROSS = 8
"""How many messages may be on the wire of one channel at a time."""

# With the waits below seven hours in all; then the message is given up.
MOST_TRIES = 14
# From a minute to an hour: a server that is down is not asked all the time.
WAITS_S = (60.0, 60.0, 120.0, 300.0, 600.0, 1200.0, 1800.0, 3600.0)
# Mail and one other are what most offices have.
_CHANNELS = 2
_NO_LEASE: Mapping[str, None] = {"lease_owner": None, "lease_until_s": None, "boot_id": None}

# So often tried in vain, somebody is told, while it goes on being tried.
_SAID_AFTER, _SAID_AFTER_URGENT = 6, 2

Failed = Callable[["Connection", OutboxRow], None]


class Back(NamedTuple):
    """A message that came back from the wire, with its answer."""

    row: OutboxRow
    answer: Answer


@dataclass(slots=True)
class Sent:
    """What a round did, in counts."""

    taken: int = 0
    later: int = 0
    dead: int = 0
    unsure: int = 0
    lost: int = 0


class Sender:
    """Takes messages from the book to the wires. One round after another, from one thread.

    `failed` is told of what was given up, and of what is tried in vain for a while; `apart` keeps
    what is wrong with one job from all others; `damaged` is told of a job with a message that could
    not be read; `down` says which channels do not work at present,
    and why.
    """

    def __init__(
        self,
        book: Book,
        wires: Mapping[str, Wire],
        *,
        owner: str,
        now: Callable[[], datetime],
        failed: Failed | None = None,
        lease_s: float = LEASE_S,
        deadline_s: float = DEADLINE_S,
        across: int = ACROSS,
    ) -> None:
        self.book = book
        self.wires = wires
        self.owner = owner
        self.now = now
        self.failed = failed
        self.apart: Callable[[str], AbstractContextManager[None]] = lambda _: nullcontext()
        self.damaged: Callable[[str], None] = lambda _: None
        self.down: dict[str, str] = {}
        self.lease_s = lease_s
        self.deadline_s = deadline_s
        self.across = across
        self._out: dict[str, int] = {}
        self._work: dict[str, queue.SimpleQueue[OutboxRow | None]] = {}
        self._back: queue.SimpleQueue[Back] = queue.SimpleQueue()
        # Answers that the book has not taken yet: it may be away for a while.
        self._unmarked: list[Back] = []

    @property
    def out_count(self) -> int:
        """How many messages are on the wire, or came back and are not marked."""
        return sum(self._out.values()) + len(self._unmarked)

    def begin(
        self, *, limit: int, stops_at: datetime | None = None, which: Leaving = Leaving.ALL
    ) -> int:
        """Claim messages, store that they leave, and put them on their wires.

        Args:
            limit: how many at most.
            stops_at: where the clock holds all else, an instant that has come: only STOPs leave.
            which: which of them.

        Returns:
            How many left.
        """
        free = max((self.across - self._out.get(channel, 0) for channel in self.wires), default=0)
        if free <= 0:
            return 0
        # More than one channel may be in line; what finds no thread free is given back.
        limit = min(limit, free * _CHANNELS)
        claimed = claim(
            self.book,
            limit=limit,
            owner=self.owner,
            lease_s=self.lease_s,
            now=stops_at or self.now(),
            on_hold=stops_at is not None,
            which=which,
        )
        for job_id in claimed.damaged_jobs:
            self.damaged(job_id)
        if not claimed.rows:
            return 0
        with self.book.writing() as connection:
            leaving = self._leaving(connection, claimed.rows, only_stops=stops_at is not None)
        for row in leaving:
            self._out[row.channel] = self._out.get(row.channel, 0) + 1
            self._threads(row.channel).put(row)
        return len(leaving)

    def _leaving(
        self, connection: Connection, rows: Sequence[OutboxRow], *, only_stops: bool
    ) -> list[OutboxRow]:
        """Store that messages leave; what may not goes back into its line.

        A fact may have come in that the words of a message do not know yet; and what is called
        sending is on the wire, no more than there are threads for.
        """
        jobs = {row.id: frozenset({row.job_id}) for row in rows}
        digests = [row.id for row in rows if row.kind == DIGEST]
        jobs |= jobs_of(connection, digests)
        every = frozenset[str]().union(*jobs.values())
        current = {job_id: is_up_to_date(connection, job_id) for job_id in every}
        aside = {job_id for job_id in current if is_set_aside(connection, job_id)}
        room = {name: self.across - self._out.get(name, 0) for name in self.wires}
        going: list[OutboxRow] = []
        back: list[OutboxRow] = []
        for row in rows:
            # Of a damaged job, and by a clock in doubt, nobody knows more than a STOP says.
            may = all(current[job_id] for job_id in jobs[row.id])
            if only_stops or not aside.isdisjoint(jobs[row.id]):
                may = row.order_key == URGENT_ORDER
            room[row.channel] = room.get(row.channel, self.across) - may
            fits = may and room[row.channel] >= 0
            (going if fits else back).append(row)
        move_all(connection, back, MessageState.DUE, who=Who.SENDER, **_NO_LEASE)
        lease = {"lease_until_s": self.book.lease_now(connection).now_s + self.lease_s}
        moved = move_all(
            connection,
            going,
            MessageState.SENDING,
            who=Who.SENDER,
            tries=outbox.c.tries + 1,
            **lease,
        )
        return [
            replace(row, state=MessageState.SENDING, tries=row.tries + 1)
            for row in going
            if row.id in moved
        ]

    def finish(self, *, wait_s: float) -> Sent:
        """Mark what came back from the wires.

        Args:
            wait_s: how long to wait for the first answer [s].

        Returns:
            What was marked.
        """
        done = Sent()
        self._collect(wait_s)
        if not self._unmarked:
            return done
        with self.book.writing() as connection:
            self._mark_taken(connection, done)
        self._unmarked = [
            back for back in self._unmarked if back.answer.outcome is not Outcome.TAKEN
        ]
        while self._unmarked:
            self._mark_one(self._unmarked[0], done)
            del self._unmarked[0]
        return done

    def _mark_one(self, back: Back, done: Sent) -> None:
        """Mark an answer in a transaction of its own, also where nobody can be told of it."""
        try:
            counted = ""
            with self.apart(back.row.job_id):
                counted = self._marked(back, self.failed)
            counted = counted or self._marked(back, None)
            setattr(done, counted, getattr(done, counted) + 1)
        except LostClaim:
            # It took longer than its lease: whoever found it calls it uncertain.
            done.lost += 1

    def _marked(self, back: Back, failed: Failed | None) -> str:
        with self.book.writing() as connection:
            counted, row = self._mark(connection, back)
            if row is not None and failed is not None:
                failed(connection, row)
        return counted

    def _collect(self, wait_s: float) -> None:
        """Take what came back; wait for the first only where nothing is there."""
        try:
            if wait_s and not self._unmarked and self._back.empty():
                self._returned(self._back.get(timeout=wait_s))
            while True:
                self._returned(self._back.get_nowait())
        except queue.Empty:
            return

    def _returned(self, back: Back) -> None:
        self._out[back.row.channel] -= 1
        if back.answer.is_down:
            self.down[back.row.channel] = back.answer.reason
        elif back.answer.outcome in {Outcome.TAKEN, Outcome.NEVER}:
            self.down.pop(back.row.channel, None)
        self._unmarked.append(back)

    def _mark_taken(self, connection: Connection, done: Sent) -> None:
        rows = [back.row for back in self._unmarked if back.answer.outcome is Outcome.TAKEN]
        moved = move_all(
            connection,
            rows,
            MessageState.SENT,
            who=Who.SENDER,
            sent_at=self.now(),
            reason=None,
            **_NO_LEASE,
        )
        done.taken += len(moved)
        done.lost += len(rows) - len(moved)

    def _mark(self, connection: Connection, back: Back) -> tuple[str, OutboxRow | None]:
        """Return what the answer counts as, and the message where somebody must hear of it."""
        row, answer = back
        reason = answer.reason or answer.outcome.value
        if answer.outcome is Outcome.UNSURE:
            move(connection, row, MessageState.UNCERTAIN, who=Who.SENDER, reason=reason)
            return "unsure", None
        if answer.outcome is Outcome.LATER and (answer.is_down or row.tries < MOST_TRIES):
            next_try_at = self.now() + timedelta(seconds=wait_of(row.tries))
            waiting = back_off(connection, row, next_try_at=next_try_at, reason=reason)
            after = _SAID_AFTER_URGENT if row.order_key == URGENT_ORDER else _SAID_AFTER
            return "later", waiting if row.tries == after else None
        return "dead", move(connection, row, MessageState.DEAD, who=Who.SENDER, reason=reason)

    def drain(self, *, until_s: float) -> Sent:
        """Wait for what is on the wire, and mark it.

        Args:
            until_s: how long at most [s].

        Returns:
            What was marked.
        """
        total = Sent()
        end_s = time.monotonic() + until_s
        while self.out_count and (left_s := end_s - time.monotonic()) > 0:
            step = self.finish(wait_s=min(left_s, 1.0))
            for name in Sent.__slots__:
                setattr(total, name, getattr(total, name) + getattr(step, name))
        return total

    def _threads(self, channel: str) -> queue.SimpleQueue[OutboxRow | None]:
        found = self._work.get(channel)
        if found is None:
            found = self._work[channel] = queue.SimpleQueue()
            for number in range(self.across):
                name = f"wire-{channel}-{number}"
                # Daemons: one that hangs on its gateway holds up nobody who wants to stop.
                threading.Thread(target=self._carry, args=(found,), name=name, daemon=True).start()
        return found

    def _carry(self, work: queue.SimpleQueue[OutboxRow | None]) -> None:
        while (row := work.get()) is not None:
            self._back.put(Back(row, self._answer(row)))

    def _answer(self, row: OutboxRow) -> Answer:
        if not row.body:
            return Answer(Outcome.NEVER, "no mail can be sent to this address")
        wire = self.wires.get(row.channel)
        if wire is None:
            return Answer(Outcome.LATER, "no such channel", is_down=True)
        try:
            return wire.send(address_of(row), row.body, deadline_s=self.deadline_s)
        except Exception as error:  # noqa: BLE001 - whatever a wire does, the message may be out
            return Answer(Outcome.UNSURE, type(error).__name__)

    def close(self) -> None:
        """Let the threads end that have nothing to do."""
        for work in self._work.values():
            for _ in range(self.across):
                work.put(None)


def address_of(row: OutboxRow) -> str:
    """Return where a message goes: of a mail the address as it was written.

    Args:
        row: the message.

    Returns:
        The address.
    """
    if row.channel != Channel.EMAIL:
        return row.recipient
    written = BytesHeaderParser(policy=SMTP).parsebytes(row.body)["To"]
    found = [entry.addr_spec for entry in getattr(written, "addresses", ())]
    return found[0] if len(found) == 1 else row.recipient


def wait_of(tries: int) -> float:
    """Return how long to wait before the next try [s].

    Args:
        tries: how often it was tried.

    Returns:
        Longer each time, at most an hour.
    """
    return WAITS_S[min(max(tries, 1), len(WAITS_S)) - 1]


def is_by_telephone(row: OutboxRow) -> bool:
    """Return whether a message was given up because its reader is only reached by telephone.

    Args:
        row: the message.

    Returns:
        True where somebody must call.
    """
    return row.channel == Channel.PHONE or row.reason == BY_TELEPHONE
