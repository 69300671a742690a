"""When a reader's last message of several lines left: against a plain look at every row."""

from __future__ import annotations

import random
from typing import TYPE_CHECKING

from book_samples import filled, later, message
from sqlalchemy import select, update

from curecal.book.message_states import URGENT_ORDER, USUAL_ORDER, MessageState
from curecal.book.outbox.last_left import last_left_at
from curecal.book.outbox.outbox_rows import DIGEST
from curecal.book.schema.tables import outbox

if TYPE_CHECKING:
    from datetime import datetime

    from curecal.book.connection.open_book import Book

LEFT = {MessageState.SENDING, MessageState.SENT, MessageState.UNCERTAIN}
MANY = 2000


def test_it_is_what_a_look_at_every_row_finds(book: Book) -> None:
    draw = random.Random(1)  # noqa: S311 - a sample that stays the same
    readers = [(way, f"p{number}@x.example") for way in ("email", "text") for number in range(9)]
    rows = []
    for number in range(200):
        channel, recipient = draw.choice(readers)
        is_digest = draw.random() < 0.7
        rows.append(
            message(
                number,
                kind=DIGEST if is_digest else "moved",
                order_key=USUAL_ORDER if is_digest else URGENT_ORDER,
                channel=channel,
                recipient=recipient,
                created_at=later(hours=number),
            )
        )
    numbers = filled(book, *rows)
    expected: dict[tuple[str, str], datetime] = {}
    with book.writing() as connection:
        for number, row in zip(numbers, rows, strict=True):
            state = draw.choice(list(MessageState))
            connection.execute(update(outbox).where(outbox.c.id == number).values(state=state))
            if row.kind == DIGEST and state in LEFT:
                expected[row.channel, row.recipient] = row.created_at
        assert len(set(connection.execute(select(outbox.c.state)).scalars())) == len(MessageState)
    assert len(expected) > len(readers) // 2
    with book.reading() as connection:
        assert last_left_at(connection, readers) == expected
        for reader in readers:
            found = last_left_at(connection, [reader, reader])
            assert found == {who: at for who, at in expected.items() if who == reader}


def test_a_job_may_have_any_number_of_readers(book: Book) -> None:
    # More than a statement may have columns.
    last = f"p{MANY - 1}@x.example"
    (number,) = filled(book, message(1, kind=DIGEST, order_key=USUAL_ORDER, recipient=last))
    sent = update(outbox).where(outbox.c.id == number).values(state=MessageState.SENT)
    with book.writing() as connection:
        connection.execute(sent)
    readers = [("email", f"p{reader}@x.example") for reader in range(MANY)]
    with book.reading() as connection:
        assert last_left_at(connection, readers) == {("email", last): later()}
        assert last_left_at(connection, ()) == {}
