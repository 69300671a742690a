"""When a reader's last message of several lines left."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from functools import cache
from typing import TYPE_CHECKING

from sqlalchemy import bindparam, select

from curecal.book.message_states import USUAL_ORDER, MessageState
from curecal.book.outbox.outbox_rows import DIGEST
from curecal.book.schema.tables import outbox

if TYPE_CHECKING:
    from sqlalchemy import Select
    from sqlalchemy.engine import Connection

_LEFT = (MessageState.SENDING, MessageState.SENT, MessageState.UNCERTAIN)
# A statement takes so many columns, and is long in the making where it has many.
_AT_ONCE = 50


def last_left_at(
    connection: Connection, readers: Iterable[tuple[str, str]]
) -> dict[tuple[str, str], datetime]:
    """Return when the last messages of several lines to readers left, or may have.

    Args:
        connection: The transaction.
        readers: Channels and normalized addresses.

    Returns:
        The instant each was made at, by channel and address; nothing of whom none has left to.
    """
    asked = sorted(set(readers))
    found: dict[tuple[str, str], datetime] = {}
    for first in range(0, len(asked), _AT_ONCE):
        found |= _last_left_at(connection, asked[first : first + _AT_ONCE])
    return found


def _last_left_at(
    connection: Connection, readers: Sequence[tuple[str, str]]
) -> dict[tuple[str, str], datetime]:
    named: dict[str, str] = {}
    for number, (channel, recipient) in enumerate(readers):
        named |= {f"channel_{number}": channel, f"recipient_{number}": recipient}
    left = connection.execute(_left_at(len(readers)), named).one()
    found = {}
    for number, reader in enumerate(readers):
        first = number * len(_LEFT)
        left_at = [at for at in left[first : first + len(_LEFT)] if at is not None]
        if left_at:
            found[reader] = max(left_at)
    return found


@cache
def _left_at(count: int) -> Select[*tuple[datetime | None, ...]]:
    """Return what asks for the newest message of each state that left, to so many readers.

    The newest is looked up: a reader has had messages for years.
    """
    return select(
        *(
            select(outbox.c.created_at)
            .where(
                outbox.c.channel == bindparam(f"channel_{number}"),
                outbox.c.recipient == bindparam(f"recipient_{number}"),
                outbox.c.state == state.value,
                outbox.c.order_key == USUAL_ORDER,
                outbox.c.kind == DIGEST,
            )
            .order_by(outbox.c.id.desc())
            .limit(1)
            .scalar_subquery()
            for number in range(count)
            for state in _LEFT
        )
    )
