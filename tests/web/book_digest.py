"""One hash over everything that a book holds, so that a test sees whether anything changed."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

from sqlalchemy import select

from curecal.book.schema.tables import metadata

if TYPE_CHECKING:
    from curecal.book.connection.open_book import Book

# Copies that may be made anew at any time, and what proves nothing.
_NO_FACTS = {"answer": None, "link": {"last_used_at"}}


def book_digest(book: Book) -> dict[str, str]:
    """Return a hash of each table, without what is no fact, no right and no message."""
    found = {}
    with book.reading() as connection:
        for table in metadata.sorted_tables:
            without = _NO_FACTS.get(table.name, set())
            if without is None:
                continue
            columns = [column for column in table.columns if column.name not in without]
            rows = connection.execute(select(*columns).order_by(*table.primary_key.columns)).all()
            found[table.name] = hashlib.sha256(repr(rows).encode()).hexdigest()
    return found
