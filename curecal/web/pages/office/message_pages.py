"""Messages: what went out, what waits and why, and a person who pauses them or lets them go.

Nothing is let go before the office has seen what would leave: the form names what it showed.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from curecal.book.jobs.book_overview import names_by_id
from curecal.book.message_states import UNSENT, MessageState
from curecal.book.meta import STALE_S, beats, held_jobs, hold, hold_of
from curecal.book.outbox.outbox import messages_of
from curecal.book.outbox.outbox_rows import OutboxRow, Wanted
from curecal.book.outbox.reminders import wanted_due, wanted_of
from curecal.records import Record, record
from curecal.reminders.messages.send_context import SendContext
from curecal.reminders.reminder_rules import shipped_rules
from curecal.reminders.reminder_types import Channel
from curecal.reminders.replanning.replan import replan
from curecal.reminders.sending.send_holds import counts_of
from curecal.reminders.sending.send_holds import resume as resume_sending
from curecal.trade.names import told_apart
from curecal.web.page_request import OFFICE_HOME, job_address
from curecal.web.pages.office.lists.job_list import hold_reason
from curecal.web.pages.office.office_parts import go_to
from curecal.web.rendering import render
from curecal.words.sentences import whole
from curecal.words.values import clean

if TYPE_CHECKING:
    from flask import Response
    from sqlalchemy import Connection

    from curecal.web.page_request import PageRequest

_SHOWN = 100
_MOST_DUE = 500
_LONGEST_REASON = 200
_TROUBLE = (
    MessageState.UNCERTAIN,
    MessageState.DEAD,
    MessageState.EXPIRED,
    MessageState.BACKOFF,
    MessageState.HELD,
)


@record(kw_only=True)
class MessageLine(Record):
    """A message that was sent, waits, or is still to be made: for whom, what, how it stands."""

    job: str
    address: str
    what: str
    to: str
    state: str
    at: str
    why: str


def show(page: PageRequest) -> Response:
    """Answer with how messages stand over all jobs."""
    with page.serving.book.reading() as connection:
        names = told_apart(names_by_id(connection))
        troubled = messages_of(connection, states=_TROUBLE, limit=_SHOWN, newest_first=True)
        held = held_jobs(connection)
        counts = counts_of(connection)
        alive = max((beat.at for beat in beats(connection)), default=None)
    return _page(
        page,
        "office/messages.html",
        here="messages",
        held_jobs=[
            (names.get(job_id, job_id), f"{job_address(job_id)}/messages", hold_reason(page, code))
            for job_id, code in held.items()
        ],
        troubled=[_sent(page, row, names) for row in troubled],
        counts=[(page.words.name("remind-state", state), count) for state, count in counts.items()],
        alive=alive,
        is_stale=alive is None or (page.now - alive).total_seconds() > STALE_S,
    )


def show_job(page: PageRequest) -> Response:
    """Answer with the messages of one job: sent, waiting, and to come."""
    return _job_page(page)


def pause(page: PageRequest) -> Response:
    """Hold messages of a job, or of all, with the reason that was typed."""
    reason = clean(page.request.form.get("reason", ""))[:_LONGEST_REASON].strip()
    if not reason:
        return _again(page, problem="office.reason-wanted", status=422)
    job_id = page.values.get("job_id")
    with page.serving.book.writing() as connection:
        # Who and why: whoever sees it knows whom to ask.
        hold(connection, f"{page.link.person}: {reason}", now=page.now, job_id=job_id)
    return go_to(_home(page))


def resume(page: PageRequest) -> Response:
    """Show what would leave; let it go once the form names what was shown."""
    job_id = page.values.get("job_id")
    due = _due(page, job_id)
    mark = _mark(due)
    asked = page.request.form.get("shown", "")
    if asked != mark:
        problem = "office.due-changed" if asked else ""
        return _show_due(page, due, mark, problem)
    resume_sending(page.serving.book, now=page.now, job_id=job_id)
    page.serving.written()
    return go_to(_home(page))


def _home(page: PageRequest) -> str:
    job_id = page.values.get("job_id")
    return f"{OFFICE_HOME}/messages" if job_id is None else f"{job_address(job_id)}/messages"


def _again(page: PageRequest, *, problem: str, status: int) -> Response:
    return _shown_again(page, problem=page.text(problem), status=status)


def _shown_again(page: PageRequest, **values: object) -> Response:
    return render(page, "office/pause.html", home=_home(page), **values)  # type: ignore[arg-type]


def _page(page: PageRequest, template: str, **values: object) -> Response:
    """Answer with a page that says what is on hold as a whole."""
    with page.serving.book.reading() as connection:
        held = hold_of(connection)
    everything_held = "" if held is None else hold_reason(page, str(held["reason"]))
    since_at = None if held is None else datetime.fromisoformat(str(held["since"]))
    return render(
        page,
        template,
        everything_held=everything_held,
        since_at=since_at,
        home=_home(page),
        **values,  # type: ignore[arg-type]
    )


def _job_page(page: PageRequest) -> Response:
    job_id = page.values["job_id"]
    with page.serving.book.reading() as connection:
        name = names_by_id(connection, job_id)[job_id]
        sent = messages_of(connection, job_id=job_id, limit=_SHOWN, newest_first=True)
        wanted = wanted_of(connection, job_id)[:_SHOWN]
        held = held_jobs(connection).get(job_id)
    names = {job_id: name}
    return _page(
        page,
        "office/job_messages.html",
        job_name=clean(name),
        address=job_address(job_id),
        held=None if held is None else hold_reason(page, held),
        sent=[_sent(page, row, names) for row in sent],
        wanted=[_to_come(page, row, names) for row in wanted],
    )


def _due(page: PageRequest, job_id: str | None) -> Sequence[Wanted | OutboxRow]:
    """Return what would leave now, of a job by its plan of this instant."""
    book = page.serving.book
    with book.reading() as connection:
        everything_held = hold_of(connection) is not None
    if job_id is not None and not everything_held:
        context = SendContext(reminder_rules=shipped_rules(), by_company=True)
        with book.writing() as connection:
            replan(connection, context, job_id, now=page.now, firing=False)
    with book.reading() as connection:
        return list(_due_in(connection, page, job_id))


def _due_in(
    connection: Connection, page: PageRequest, job_id: str | None
) -> Iterator[Wanted | OutboxRow]:
    yield from wanted_due(connection, now=page.now, job_id=job_id, limit=_MOST_DUE)
    states = sorted(UNSENT)
    yield from messages_of(connection, job_id=job_id, states=states, limit=_MOST_DUE)


def _mark(due: Sequence[Wanted | OutboxRow]) -> str:
    """Return a mark of what was shown: another list has another one."""
    told = "\n".join(f"{type(one).__name__} {one.id}" for one in due)
    return hashlib.sha256(told.encode()).hexdigest()


def _show_due(
    page: PageRequest, due: Sequence[Wanted | OutboxRow], mark: str, problem: str
) -> Response:
    with page.serving.book.reading() as connection:
        names = told_apart(names_by_id(connection))
    return render(
        page,
        "office/due.html",
        status=422 if problem else 200,
        due=[
            _sent(page, one, names) if isinstance(one, OutboxRow) else _to_come(page, one, names)
            for one in due
        ],
        mark=mark,
        problem=page.text(problem) if problem else "",
        home=_home(page),
    )


def _sent(page: PageRequest, row: OutboxRow, names: dict[str, str]) -> MessageLine:
    state = page.words.name("remind-state", row.state.value)
    if row.state is MessageState.SENT and row.channel == Channel.EMAIL:
        # Nobody knows more of a mail than that.
        state = page.text("office.mail-accepted")
    return MessageLine(
        job=clean(names.get(row.job_id, row.job_id)),
        address=job_address(row.job_id),
        what=whole(_about(page, row.kind)).rstrip("."),
        to=page.text("office.to", person=row.recipient, channel=row.channel),
        state=state,
        at=page.words.at(row.sent_at or row.next_try_at, down=row.sent_at is not None),
        why=clean(row.reason or ""),
    )


def _to_come(page: PageRequest, row: Wanted, names: dict[str, str]) -> MessageLine:
    return MessageLine(
        job=clean(names.get(row.job_id, row.job_id)),
        address=job_address(row.job_id),
        what=whole(_about(page, row.kind)).rstrip("."),
        to=page.text("office.to", person=row.recipient, channel=row.channel),
        state=page.text("office.planned"),
        at=page.words.at(row.fire_at),
        why="",
    )


def _about(page: PageRequest, kind: str) -> str:
    key = f"name.about.{kind}"
    return page.words.text(key) if key in page.words.catalogue else clean(kind)
