"""What this machine last wrote of a book, kept beside the book in its user's state folder.

A copy that somebody puts in a book's place says nothing of what was written after it was made: only
who wrote that can know.
"""

from __future__ import annotations

import contextlib
import json
import os
import secrets
from pathlib import Path

from platformdirs import user_state_path

from curecal.machine import new_file_only
from curecal.records import Record, record

WRITTEN = "curecal_written"
"""Under which name a connection keeps what is to be kept here once it is stored in the book."""


@record
class Writing(Record):
    """Which writing of a book it was: counted, and told from another of its number by a token."""

    book_id: str
    count: int
    token: str


def last_seen(book_id: str) -> Writing | None:
    """Return the last writing of a book that this machine knows of.

    Args:
        book_id: The book's own id.

    Returns:
        The writing; None where none is known, or nothing can be kept here.
    """
    try:
        kept = json.loads(_file(book_id).read_text(encoding="utf-8"))
        return Writing(book_id, int(kept["count"]), str(kept["token"]))
    except (OSError, RuntimeError, ValueError, LookupError, TypeError):
        return None


def keep_seen(made: Writing) -> None:
    """Keep a writing as the last of its book; one that is older than the kept one is not kept.

    Args:
        made: The writing, stored in the book for certain.
    """
    before = last_seen(made.book_id)
    if before is not None and before.count > made.count:
        return
    # Where nothing can be kept, a copy put back goes unnoticed, and all else works.
    with contextlib.suppress(OSError, RuntimeError, ValueError):
        _write(_file(made.book_id), {"count": made.count, "token": made.token})


def check_can_keep() -> None:
    """Do nothing where writings can be kept; a small file is written for it and removed.

    Raises:
        OSError: The state folder cannot be made, or not written.
        RuntimeError: The user has no home in which it could be.
    """
    path = _folder() / f"check.{secrets.token_hex(4)}"
    _write(path, {})
    path.unlink()


def _write(path: Path, content: dict[str, object]) -> None:
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    part = path.with_name(f"{path.name}.{secrets.token_hex(4)}")
    number = os.open(part, new_file_only(), 0o600)
    try:
        with os.fdopen(number, "w", encoding="utf-8") as file:
            json.dump(content, file)
        part.replace(path)
    except OSError:
        part.unlink(missing_ok=True)
        raise


def _file(book_id: str) -> Path:
    if not book_id.isalnum():
        raise ValueError(book_id)
    return _folder() / f"{book_id}.json"


def _folder() -> Path:
    return user_state_path("curecal", appauthor=False) / "books"
