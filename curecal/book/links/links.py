"""Links: who holds the secret is let in, and the book keeps only its hash.

A secret has 256 random bits, so that nobody guesses it and its hash needs no salt.
"""

from __future__ import annotations

import hashlib
import secrets
from datetime import datetime
from typing import TYPE_CHECKING

from sqlalchemy import insert, select, update

from curecal.book.connection.db_errors import as_written
from curecal.book.link_purpose import LinkPurpose
from curecal.book.schema.tables import link
from curecal.errors import BookError
from curecal.records import Record, names_of, record

if TYPE_CHECKING:
    from sqlalchemy import Connection, RowMapping, Select

_SECRET_BYTES = 32
# Four octets in eight letters: what a person reads out over the telephone.
_ID_BYTES = 4
# Longer than any secret of ours: what is longer is not hashed at all.
_LONGEST = 100


@record(kw_only=True)
class Link(Record):
    """A link as the book keeps it. `job_id` is empty for the whole book.

    `person` is a name of the job, or of somebody of the office.
    """

    id: str
    job_id: str
    purpose: LinkPurpose
    person: str
    note: str
    created_at: datetime
    expires_at: datetime | None
    revoked_at: datetime | None
    last_used_at: datetime | None

    def works_at(self, at: datetime) -> bool:
        """Return whether it opens anything at an instant."""
        ended = self.expires_at is not None and at >= self.expires_at
        return self.revoked_at is None and not ended


@record(kw_only=True)
class WantedLink(Record):
    """A link to be made: for which job, what it opens, for whom."""

    job_id: str
    purpose: LinkPurpose
    person: str
    note: str = ""
    expires_at: datetime | None = None


def create_link(
    connection: Connection, wanted: WantedLink, *, now: datetime, secret: str | None = None
) -> tuple[str, Link]:
    """Make a link.

    Args:
        connection: The transaction.
        wanted: What it is to open.
        now: When.
        secret: Its secret, where that follows from another link's; else a new one.

    Returns:
        The secret, which nobody can be told again, and the link.
    """
    secret = secret or secrets.token_urlsafe(_SECRET_BYTES)
    made = Link(
        id=f"l-{secrets.token_hex(_ID_BYTES)}",
        job_id=wanted.job_id,
        purpose=wanted.purpose,
        person=wanted.person,
        note=wanted.note,
        created_at=now,
        expires_at=wanted.expires_at,
        revoked_at=None,
        last_used_at=None,
    )
    row = {name: getattr(made, name) for name in names_of(Link)}
    connection.execute(
        insert(link).values(**{**row, "purpose": made.purpose.value}, sha256=_hash_of(secret))
    )
    return secret, made


def find_link(connection: Connection, secret: str) -> Link | None:
    """Return the link of a secret, whether it still works or not.

    Args:
        connection: The transaction.
        secret: What came with a request.

    Returns:
        The link; None where there is none.
    """
    if not 0 < len(secret) <= _LONGEST or not secret.isascii():
        return None
    asked = _select().where(link.c.sha256 == _hash_of(secret))
    row = connection.execute(asked).mappings().one_or_none()
    return None if row is None else _link_in(row)


def note_use(connection: Connection, link_id: str, *, now: datetime) -> None:
    """Keep when a link was used last. It proves nothing: previews open links as well.

    Args:
        connection: The transaction.
        link_id: The link.
        now: When.
    """
    connection.execute(update(link).where(link.c.id == link_id).values(last_used_at=now))


def links_of(connection: Connection, job_id: str | None = None) -> tuple[Link, ...]:
    """Return links, the oldest first.

    Args:
        connection: The transaction.
        job_id: Those of one job, or of the whole book's pages where it is empty; all where None.

    Returns:
        The links, also those that no longer work.
    """
    asked = _select().order_by(link.c.created_at, link.c.id)
    if job_id is not None:
        asked = asked.where(link.c.job_id == job_id)
    with as_written("link"):
        return tuple(_link_in(row) for row in connection.execute(asked).mappings())


def revoke_link(connection: Connection, link_id: str, *, now: datetime) -> Link:
    """Take a link back. One that was taken back already keeps its instant.

    Args:
        connection: The transaction.
        link_id: The link.
        now: When.

    Returns:
        The link.

    Raises:
        BookError: there is no such link (`book-link-unknown`).
    """
    mine = update(link).where(link.c.id == link_id, link.c.revoked_at.is_(None))
    connection.execute(mine.values(revoked_at=now))
    row = connection.execute(_select().where(link.c.id == link_id)).mappings().one_or_none()
    if row is None:
        raise BookError("book-link-unknown", link_id=link_id)
    return _link_in(row)


def _select() -> Select[tuple[object, ...]]:
    return select(*(link.c[name] for name in names_of(Link)))


def _link_in(row: RowMapping) -> Link:
    return Link(**{**row, "purpose": LinkPurpose(row["purpose"])})


def _hash_of(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()
