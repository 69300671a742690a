"""Whether a book is the one that this machine last wrote, or an older copy put in its place.

Each change of a job and each round of reminders counts the writings of the book. The number stands
in the book and, once it is stored there, with the user of this machine. A book whose number is
lower has lost what was written since: messages that went out, perhaps a STOP.
"""

from __future__ import annotations

import secrets
import uuid
from typing import TYPE_CHECKING

from curecal.book.connection.last_seen import WRITTEN, Writing, last_seen
from curecal.book.meta import keep_value, value_of
from curecal.records import PlainView

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection

OLDER_COPY = "older-copy"
"""Why a book is on hold that lacks what was written last."""

_KEY = "written"


def count_writing(connection: Connection) -> None:
    """Count a writing of the book. That it lacks earlier ones stays on record until a person came.

    Args:
        connection: The transaction that writes.
    """
    # Counted one after the other: of two with one number, neither could tell which is the later.
    kept = value_of(connection, _KEY, held=True) or {}
    seen = last_seen(str(kept.get("id", "")))
    _store(connection, kept, int(kept.get("count", 0)) + 1, is_older=_is_older(kept, seen))


def is_older_copy(connection: Connection) -> bool:
    """Return whether a book lacks what this machine last wrote.

    Args:
        connection: The transaction.

    Returns:
        False where this machine never wrote it, and once a person said that it counts.
    """
    before = value_of(connection, _KEY) or {}
    seen = last_seen(str(before.get("id", "")))
    # Looked at after what was seen: whoever writes meanwhile makes the book newer than that.
    return _is_older(value_of(connection, _KEY) or {}, seen)


def accept_copy(connection: Connection) -> None:
    """Let the book as it is be the one that counts, as a person said.

    Args:
        connection: The transaction.
    """
    kept = value_of(connection, _KEY, held=True) or {}
    seen = last_seen(str(kept.get("id", "")))
    count = max(int(kept.get("count", 0)), seen.count if seen else 0) + 1
    _store(connection, kept, count, is_older=False)


def _is_older(kept: PlainView, seen: Writing | None) -> bool:
    if kept.get("older"):
        return True
    if seen is None:
        return False
    count = int(kept.get("count", 0))
    return count < seen.count or (count == seen.count and kept.get("token") != seen.token)


def _store(connection: Connection, kept: PlainView, count: int, *, is_older: bool) -> None:
    made = Writing(str(kept.get("id") or uuid.uuid4().hex), count, secrets.token_hex(8))
    value = {"id": made.book_id, "count": count, "token": made.token}
    keep_value(connection, _KEY, value | ({"older": True} if is_older else {}))
    connection.info[WRITTEN] = made
