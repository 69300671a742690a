"""The outbox's records: reminders wanted, messages, and what a claim got."""

from __future__ import annotations

from dataclasses import field
from datetime import datetime
from enum import Enum

from curecal.book.message_states import MessageState, ReminderState
from curecal.records import PlainView, Record, record

DIGEST = "digest"
"""The kind of a message of several lines."""


class Leaving(Enum):
    """Which messages leave: all, those that are no line of several, those that overtake all."""

    ALL = "all"
    ALONE = "alone"
    URGENT = "urgent"


@record(kw_only=True)
class Wanted(Record):
    """A reminder to come. `zone_id` is empty for the whole job, `person` a role's or index's key.

    `payload` is what its text is made of when it is due. `id`, `state` and `digest_id`, the message
    that it is a line of, are the book's.
    """

    job_id: str
    zone_id: str
    kind: str
    person: str
    channel: str
    recipient: str
    generation: int
    fire_at: datetime
    expires_at: datetime | None = None
    payload: PlainView = field(default_factory=dict)
    id: int = 0
    state: ReminderState = ReminderState.WANTED
    digest_id: int | None = None


@record(kw_only=True)
class OutboxMessage(Record):
    """A message to put into the outbox, rendered: its bytes never change afterwards.

    A lower `order_key` overtakes those of its recipient that are higher; the rest go as they came.
    """

    job_id: str
    zone_id: str
    kind: str
    channel: str
    recipient: str
    generation: int
    message_id: str
    body: bytes
    created_at: datetime
    not_after: datetime | None = None
    next_try_at: datetime | None = None
    reminder_id: int | None = None
    order_key: int = 0


@record(kw_only=True)
class OutboxRow(Record):
    """A message as it stands in the outbox. Whoever holds `claim` in `state` may move it."""

    id: int
    reminder_id: int | None
    job_id: str
    zone_id: str
    kind: str
    channel: str
    recipient: str
    generation: int
    message_id: str
    body: bytes
    order_key: int
    created_at: datetime
    not_after: datetime | None
    state: MessageState
    claim: int
    lease_owner: str | None
    lease_until_s: float | None
    boot_id: str | None
    tries: int
    next_try_at: datetime
    sent_at: datetime | None
    reason: str | None


@record
class Claimed(Record):
    """Messages leased, and the `damaged_jobs` of which a message could not be read."""

    rows: tuple[OutboxRow, ...]
    damaged_jobs: tuple[str, ...]


@record
class Reaped(Record):
    """Ids of messages whose lease ran out: `due` again, or `uncertain` whether they arrived."""

    due: tuple[int, ...]
    uncertain: tuple[int, ...]
