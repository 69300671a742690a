"""Which file a book is, so that one put in its place is noticed."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from curecal.book.connection.open_book import Book


def file_of(book: Book) -> tuple[int, int] | None:
    """Return which file stands where a book was opened.

    Args:
        book: The book.

    Returns:
        Its device and number; None where there is no file, or the book stands on a server.
    """
    path = Path(str(book.url.database))
    if not book.is_file or not path.is_file():
        return None
    found = path.stat()
    return found.st_dev, found.st_ino
