"""One cycle: look at the clock, replan the jobs, look after what is left over, send."""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import TYPE_CHECKING

from curecal.book.connection.book_file import file_of
from curecal.book.connection.db_errors import as_written
from curecal.book.last_written import OLDER_COPY, count_writing, is_older_copy
from curecal.book.message_states import LostClaim
from curecal.book.meta import beat, hold, hold_of
from curecal.book.outbox.outbox import message_of
from curecal.book.outbox.outbox_rows import Leaving, OutboxRow
from curecal.book.outbox.reaper import expire, jobs_with_overdue, reap
from curecal.delivery.mail_greeting import server_date
from curecal.errors import BookError, CurecalError, ErrorCode
from curecal.machine import LeaseNow, boot_clock, is_clock_synchronized
from curecal.reminders.messages.feed_ledger import FeedLedger
from curecal.reminders.messages.send_context import SendContext
from curecal.reminders.reminder_types import MessageKind
from curecal.reminders.replanning.damage import is_damage, set_aside
from curecal.reminders.replanning.planned_jobs import (
    PlanningResult,
    plan_jobs,
    planned_some_at_a_time,
)
from curecal.reminders.replanning.replan_notes import jobs_with_news, moved_jobs
from curecal.reminders.replanning.round_order import round_order
from curecal.reminders.sending.bundle import bundle
from curecal.reminders.sending.failed_notices import notice
from curecal.reminders.sending.late_messages import jobs_with_late, say_late
from curecal.reminders.sending.send import Sender, is_by_telephone
from curecal.reminders.sending.send_holds import signs_of_life
from curecal.reminders.sending.stops_in_doubt import say_stops, stops_at
from curecal.reminders.timing.clock_jump import ClockPair, confirmation, doubt, last_look

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection

    from curecal.book.connection.open_book import Book

# A round may last minutes: meanwhile nobody takes this process for one that hangs.
_LIVES_EVERY_S = 20.0
# A STOP may take a minute, and one that this process hears of a second or two.
_LOOKS_EVERY_S, _LOOKS_AT_LEAST_S = 10.0, 1.0
# A few seconds of work: what a process that dies leaves behind is found soon.
_CLAIMED = 200
# So often it is asked whether the process is to stop.
_ROUND_S = 1.0


@dataclass(slots=True)
class CycleResult:
    """What a cycle did, in counts, who confirmed the clock, and what went wrong, by job."""

    replanned: int = 0
    fired: int = 0
    left: int = 0
    taken: int = 0
    not_taken: int = 0
    held: str = ""
    clock: str = ""
    troubles: dict[str, str] = field(default_factory=dict)


class SchedulerCycle:
    """Replans and sends, over and over. All but the wires runs on the caller's thread."""

    def __init__(
        self,
        book: Book,
        context: SendContext,
        sender: Sender,
        *,
        name: str,
        now: Callable[[], datetime],
        boot: Callable[[], LeaseNow] = boot_clock,
        is_synchronized: Callable[[], bool] = is_clock_synchronized,
        processes: int = 1,
    ) -> None:
        self.book = book
        self.context = context
        self.sender = sender
        self.name = context.name = name
        self.now = now
        self.boot = boot
        self.is_synchronized = is_synchronized
        self.processes = processes
        self.lives: Callable[[], None] = lambda: None
        self._last: ClockPair | None = None
        self._feeds = FeedLedger(book, context, now=now)
        self._file = file_of(book)
        # What went wrong by job, since the last cycle began.
        self._troubles: dict[str, str] = {}
        sender.failed = self._failed
        sender.apart = self._apart
        sender.damaged = self._damaged

    def clocks(self, signs: Sequence[ClockPair] = ()) -> ClockPair:
        """Return both clocks as they stand, and who confirms that of the wall."""
        at = self.boot()
        now = ClockPair(self.now(), at.boot_id, at.now_s)
        by = confirmation(
            signs,
            now,
            is_synchronized=self.is_synchronized(),
            server_at=server_date(self.sender.wires.values()),
        )
        return replace(now, confirmed=by)

    def start(self) -> str:
        """Compare the clock with the last sign of life of anybody; hold where it is in doubt.

        Returns:
            Why all is on hold, or nothing.
        """
        with self.book.writing() as connection:
            signs = signs_of_life(connection)
            now = self.clocks(signs)
            last = max(signs, key=lambda clocks: clocks.wall_at, default=None)
            reason = self._doubted(connection, last, now, starting=True)
        self._last = now
        return reason

    def _doubted(
        self, connection: Connection, last: ClockPair | None, now: ClockPair, *, starting: bool
    ) -> str:
        """Hold all where the clock is in doubt; return why."""
        reason = doubt(last, now, self.context.reminder_rules, starting=starting)
        if reason:
            hold(connection, reason, now=now.wall_at, believed=last.wall_at if last else None)
        self.context.clock_is_sure = bool(now.confirmed)
        return reason

    def run(
        self,
        *,
        for_s: float = 10.0,
        stopping: Callable[[], bool] = lambda: False,
        told: Callable[[], bool] = lambda: False,
    ) -> CycleResult:
        """Do all that is to be done now.

        Args:
            for_s: how long to go on sending [s].
            stopping: whether to take up nothing more.
            told: whether somebody told something meanwhile that may have to leave within seconds:
                planning turns to it, and what else there is to send is left to the next cycle.

        Returns:
            What was done.

        Raises:
            BookError: the book cannot be used at present.
        """
        done = CycleResult()
        self._troubles = done.troubles
        self._same_book()
        with self.book.writing() as connection:
            signs = signs_of_life(connection)
            now = self.clocks(signs)
            self._doubted(connection, last_look(self._last, signs), now, starting=False)
            if is_older_copy(connection):
                hold(connection, OLDER_COPY, now=now.wall_at)
            held = hold_of(connection)
        self._last = now
        done.held, done.clock = str(held["reason"]) if held else "", now.confirmed
        self._mark_back(done)  # what is answered is not uncertain, however long the book was away
        reap(self.book)
        stops = stops_at(held, now.wall_at)
        if stops is not None:
            # By a clock in doubt nothing else is planned, given up, or sent.
            self._say_stops(done, stops)
            self._send(done, for_s, stopping, stops_at=stops)
        elif not held:

            def ends() -> bool:
                return stopping() or told()

            if self._plan_round(done, now.wall_at, stopping, told):
                self._bundle(done, now.wall_at)
                self._send(done, for_s, ends)
            # What people are sent comes before what they look up.
            done.troubles.update(self._feeds.bring_up(ends))
        self.sign_of_life(done)
        return done

    def sign_of_life(self, done: CycleResult) -> None:
        """Leave a heartbeat, and say so to whoever watches this process.

        Args:
            done: what was done since the last.
        """
        self.lives()
        now = self.clocks()
        note = {
            "taken": done.taken,
            "clock": done.clock,
            "held": done.held,
            "down": dict(self.sender.down),
            "troubles": dict(list(done.troubles.items())[:20]),
        }
        with self.book.writing() as connection:
            clock = LeaseNow(now.boot_id, now.since_boot_s)
            beat(connection, self.name, at=now.wall_at, clock=clock, note=note)
            count_writing(connection)

    def _same_book(self) -> None:
        """Refuse to go on with a file that nobody else sees any more."""
        if self._file is None:
            return
        found = file_of(self.book)
        if found != self._file:
            # Another book there is what counts now; nothing there may be for a moment.
            code = ErrorCode.BOOK_REPLACED if found else "book-gone"
            raise BookError(code, place=self.book.place)

    def _say_stops(self, done: CycleResult, at: datetime) -> None:
        with self.book.reading() as connection:
            jobs = jobs_with_news(connection)
        for job_id in jobs:
            try:
                with self._apart(job_id), self.book.writing() as connection:
                    done.fired += say_stops(connection, self.context, job_id, at=at)
            except CurecalError as error:
                if isinstance(error, BookError):
                    raise
                done.troubles[job_id] = error.code

    def _plan_round(
        self,
        done: CycleResult,
        now: datetime,
        stopping: Callable[[], bool],
        told: Callable[[], bool],
    ) -> bool:
        """Plan what moved; return whether all of it is planned, and all else may leave.

        What need not wait for the rest leaves while the round goes on: what is urgent at any time,
        what goes alone once all is planned of which a message waits. Messages of several lines wait
        for the end: a line of a later job would come a day late.
        """
        with self.book.reading() as connection:
            order = round_order(connection, self.context, now=now, name=self.name)
        looked_s = time.monotonic()
        which = Leaving.URGENT

        def between() -> None:
            nonlocal looked_s
            # Another process may have told something, without a word to this one.
            if time.monotonic() - looked_s >= (_LOOKS_AT_LEAST_S if told() else _LOOKS_EVERY_S):
                looked_s = time.monotonic()
                with self.book.reading() as connection:
                    news = moved_jobs(connection, self.context, now=now).by_fact
                self._count(done, plan_jobs(self.book, self.context, news, now=now))
            self._send_some(done, which)

        if not self._plan_jobs(done, order.first, now, stopping, between):
            return False
        # Of the rest no message waits, so that none of it can be late, or past its use.
        self._expire(now)
        self._say_late(done, now)
        which = Leaving.ALONE
        return self._plan_jobs(done, order.rest, now, stopping, between)

    def _plan_jobs(
        self,
        done: CycleResult,
        job_ids: Sequence[str],
        now: datetime,
        stopping: Callable[[], bool],
        between: Callable[[], None],
    ) -> bool:
        """Plan jobs, some at a time; return whether all of them are planned."""
        lived_s = time.monotonic()
        some_at_a_time = planned_some_at_a_time(
            self.book, self.context, job_ids, now=now, processes=self.processes
        )
        with contextlib.closing(some_at_a_time) as planned:
            for some in planned:
                self._count(done, some)
                between()
                if time.monotonic() - lived_s >= _LIVES_EVERY_S:
                    lived_s = time.monotonic()
                    self.sign_of_life(done)
                if stopping():
                    return False
        return True

    def _count(self, done: CycleResult, some: Sequence[PlanningResult]) -> None:
        for planned in some:
            done.replanned += planned.is_planned
            done.fired += planned.fired
            if planned.damage is not None:
                self._set_aside(planned.job_id, planned.damage)
            elif planned.trouble:
                done.troubles[planned.job_id] = planned.trouble

    def _send_some(self, done: CycleResult, which: Leaving) -> None:
        """Mark what came back from the wires, and hand over what waits for no other job."""
        self._mark_back(done)
        done.left += self.sender.begin(limit=_CLAIMED, which=which)

    def _mark_back(self, done: CycleResult, *, wait_s: float = 0.0) -> int:
        """Mark what came back from the wires; return how many of it were taken."""
        step = self.sender.finish(wait_s=wait_s)
        done.taken += step.taken
        done.not_taken += step.later + step.dead + step.unsure
        return step.taken

    @contextlib.contextmanager
    def _apart(self, job_id: str) -> Iterator[None]:
        """Keep the damage of one job from all others: it is set aside, and the office told."""
        try:
            with as_written(job_id):
                yield
        except BookError as error:
            if not is_damage(error):
                raise
            self._set_aside(job_id, error)

    def _set_aside(self, job_id: str, error: BookError) -> None:
        self._troubles[job_id] = error.code
        with self.book.writing() as connection:
            set_aside(connection, self.context, job_id, error, now=self.now())

    def _damaged(self, job_id: str) -> None:
        """Set a job aside of which a message could not be read."""
        self._set_aside(job_id, BookError("book-row-damaged", of=job_id, reason="outbox"))

    def _expire(self, now: datetime) -> None:
        with self.book.reading() as connection:
            jobs = jobs_with_overdue(connection, now=now)
        for job_id in jobs:
            with self._apart(job_id), self.book.writing() as connection:
                for number in expire(connection, job_id, now=now):
                    row = message_of(connection, number)
                    if row is not None:
                        notice(connection, self.context, row, MessageKind.MISSED, now=self.now())
            # Of a damaged job the notice cannot be made: that came too late all the same.
            if job_id in self._troubles:
                with self.book.writing() as connection:
                    expire(connection, job_id, now=now)

    def _say_late(self, done: CycleResult, now: datetime) -> None:
        with self.book.reading() as connection:
            jobs = jobs_with_late(connection, now=now)
        for job_id in jobs:
            try:
                with self._apart(job_id), self.book.writing() as connection:
                    done.fired += say_late(connection, self.context, job_id, now=now)
            except LostClaim:
                # It left meanwhile.
                continue
            except CurecalError as error:
                if isinstance(error, BookError):
                    raise
                done.troubles[job_id] = error.code

    def _bundle(self, done: CycleResult, now: datetime) -> None:
        try:
            with self.book.writing() as connection:
                damaged = bundle(connection, self.context, now=now)
        except LostClaim:
            # Somebody was quicker: the next cycle looks again.
            return
        except CurecalError as error:
            if isinstance(error, BookError):
                raise
            done.troubles[""] = error.code
            return
        for job_id in damaged:
            self._damaged(job_id)

    def _failed(self, connection: Connection, row: OutboxRow) -> None:
        kind = MessageKind.CALL if is_by_telephone(row) else MessageKind.UNDELIVERED
        notice(connection, self.context, row, kind, now=self.now())

    def _send(
        self,
        done: CycleResult,
        for_s: float,
        stopping: Callable[[], bool],
        stops_at: datetime | None = None,
    ) -> None:
        """Send until nothing is due, or the time of the cycle is over."""
        end_s = time.monotonic() + for_s
        while time.monotonic() < end_s:
            left = 0 if stopping() else self.sender.begin(limit=_CLAIMED, stops_at=stops_at)
            done.left += left
            if not left and not self.sender.out_count:
                return
            if not self._mark_back(done, wait_s=_ROUND_S) and not left:
                # Only slow wires are out: the next cycle asks again.
                return
