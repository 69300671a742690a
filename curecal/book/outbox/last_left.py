"""When a reader's last message of several lines left."""

from __future__ import annotations

from collections.abc import Iterable
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
    if not asked:
        return {}
    named: dict[str, str] = {}
    for number, (channel, recipient) in enumerate(asked):
        named |= {f"channel_{number}": channel, f"recipient_{number}": recipient}
    left = connection.execute(_left_at(len(asked)), named).one()
    found = {}
    for number, reader in enumerate(asked):
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
