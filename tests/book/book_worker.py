"""What the processes of the tests do with a book: `python book_worker.py DOING URL [WORD …]`.

Each writes one line of JSON at a time, and waits for a line where it is to be stopped.
"""

from __future__ import annotations

import json
import resource
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from book_samples import JOB, NOW, put_job, sending, sent
from sqlalchemy import make_url

from curecal.book.connection.open_book import Book, open_book
from curecal.book.jobs.import_job import add_job
from curecal.book.jobs.jobs import put_content
from curecal.book.jobs.log_entries import StoredEntry, insert_entries
from curecal.book.message_states import IN_LINE
from curecal.book.outbox.outbox import claim, messages_of
from curecal.errors import CurecalError

if TYPE_CHECKING:
    from collections.abc import Callable


def say(word: object) -> None:
    sys.stdout.write(json.dumps(word) + "\n")
    sys.stdout.flush()


def send(book: Book, owner: str) -> None:
    """Take and send until nothing is left in line, each message with its own two commits."""
    while True:
        rows = claim(book, limit=7, owner=owner, lease_s=300, now=NOW).rows
        for row in rows:
            with book.writing() as connection:
                leaving = sending(connection, row)
            say(row.id)
            with book.writing() as connection:
                sent(connection, leaving, at=datetime.now(UTC))
        if not rows:
            with book.reading() as connection:
                if not messages_of(connection, states=sorted(IN_LINE), limit=1):
                    return


def append(book: Book, who: str, count: str) -> None:
    """Append facts one by one."""
    for number in range(int(count)):
        entry = StoredEntry(
            entry_id=f"{who}-{number}",
            kind="note",
            at=NOW,
            recorded=NOW,
            body={"text": "…"},
            source=who,
        )
        with book.writing() as connection:
            insert_entries(connection, JOB, (entry,))
    say("done")


def add(book: Book, path: str) -> None:
    """Add a job file."""
    added = add_job(book, Path(path), now=datetime.now(UTC))
    say([added.is_new_job, added.is_new_revision, added.new_entry_count])


def half(book: Book) -> None:
    """Write, and be killed before it is kept."""
    with book.writing() as connection:
        put_job(connection, "half")
        put_content(connection, b"x" * 5_000_000)
        say("written")
        sys.stdin.readline()


def fill(book: Book, limit: str) -> None:
    """Write until the disk says no, the way a file that may not grow says it."""
    resource.setrlimit(resource.RLIMIT_FSIZE, (int(limit), int(limit)))
    for number in range(10_000):
        try:
            with book.writing() as connection:
                put_job(connection, f"job-{number}")
                put_content(connection, number.to_bytes(4) * 5_000)
        except CurecalError as error:
            say([error.code, number])
            return


DOINGS: dict[str, Callable[..., None]] = {
    each.__name__: each for each in (send, append, add, half, fill)
}

if __name__ == "__main__":
    with open_book(make_url(sys.argv[2])) as opened:
        # Started long before the others it would be done before they begin.
        say("ready")
        sys.stdin.readline()
        DOINGS[sys.argv[1]](opened, *sys.argv[3:])
