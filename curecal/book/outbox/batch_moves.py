"""Many messages moved in one statement, each still fenced by its own state and claim."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from sqlalchemy import tuple_, update

from curecal.book.message_states import MessageState, Who, check
from curecal.book.outbox.outbox_rows import OutboxRow
from curecal.book.schema.tables import outbox

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection

# A statement may hold so many values in every database we know.
_AT_ONCE = 400


def move_all(
    connection: Connection, rows: Sequence[OutboxRow], to: MessageState, *, who: Who, **changes: Any
) -> frozenset[int]:
    """Move messages on, those of them that are still where their holder left them.

    Args:
        connection: the transaction.
        rows: the messages as their holder last saw them, all in one state.
        to: the state they are to be in.
        who: who moves them.
        changes: further columns to set, the same for all.

    Returns:
        The ids of those that moved; the others belong to somebody else: send nothing of them.

    Raises:
        CurecalError: there is no such move.
    """
    moved: set[int] = set()
    for start in range(0, len(rows), _AT_ONCE):
        some = rows[start : start + _AT_ONCE]
        before = some[0].state
        check(before, to, who)
        held = tuple_(outbox.c.id, outbox.c.claim).in_([(row.id, row.claim) for row in some])
        result = connection.execute(
            update(outbox)
            .where(outbox.c.state == before.value, held)
            .values({**changes, "state": to.value})
            .returning(outbox.c.id)
        )
        moved.update(result.scalars())
    return frozenset(moved)
