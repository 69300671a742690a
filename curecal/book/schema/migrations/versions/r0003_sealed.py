"""Hashes over revisions, log and published events; those of an older book are made here."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from curecal.book.schema.digests import Sealed, chained, linked
from curecal.book.schema.triggers import Guard, statements

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

_AT = sa.DateTime(timezone=True)
_HASHED = (
    ("job", "seal"),
    ("job_revision", "chain"),
    ("log_entry", "chain"),
    ("published", "seal"),
)
_GUARDED = {
    "job_revision": Guard((("job_id", "number"),)),
    "log_entry": Guard((("number",), ("job_id", "entry_id"))),
}
_REVISION = ("number", "recorded_at", "job_sha256", "company_sha256", "materials_sha256", "told")
_ENTRY = ("entry_id", "kind", "at", "recorded", "body", "source")
_EVENT = ("uid", "audience", "sequence", "changed_at", "cancelled", "lines", "suspect")

_job = sa.table("job", sa.column("id", sa.String), sa.column("seal", sa.String))
_revisions = sa.table(
    "job_revision",
    sa.column("job_id", sa.String),
    sa.column("number", sa.Integer),
    sa.column("recorded_at", _AT),
    sa.column("job_sha256", sa.String),
    sa.column("company_sha256", sa.String),
    sa.column("materials_sha256", sa.String),
    sa.column("told", sa.JSON),
    sa.column("chain", sa.String),
)
_log = sa.table(
    "log_entry",
    sa.column("number", sa.BigInteger),
    sa.column("job_id", sa.String),
    sa.column("entry_id", sa.String),
    sa.column("kind", sa.String),
    sa.column("at", _AT),
    sa.column("recorded", _AT),
    sa.column("body", sa.JSON),
    sa.column("source", sa.String),
    sa.column("chain", sa.String),
)
_events = sa.table(
    "published",
    sa.column("job_id", sa.String),
    sa.column("uid", sa.String),
    sa.column("audience", sa.String),
    sa.column("sequence", sa.BigInteger),
    sa.column("changed_at", _AT),
    sa.column("cancelled", sa.Boolean(create_constraint=False)),
    sa.column("lines", sa.String),
    sa.column("suspect", sa.Boolean(create_constraint=False)),
    sa.column("seal", sa.String),
)
_series = sa.table(
    "reading_series",
    sa.column("job_id", sa.String),
    sa.column("file", sa.String),
    sa.column("sha256", sa.String),
)


def upgrade() -> None:
    """Add the columns, and fill them for what is there."""
    for table, name in _HASHED:
        op.add_column(table, sa.Column(name, sa.String, nullable=False, server_default=""))
    connection = op.get_bind()
    with_words = {
        statement.split()[2]: statement
        for statement in statements(connection.dialect.name, _GUARDED)
        if statement.startswith("CREATE TRIGGER ")
    }
    for table in _GUARDED:
        on = "" if connection.dialect.name == "sqlite" else f" ON {table}"
        connection.exec_driver_sql(f"DROP TRIGGER {table}_no_update{on}")
    for job_id in connection.execute(sa.select(_job.c.id)).scalars().all():
        _fill(connection, job_id)
    for table in _GUARDED:
        connection.exec_driver_sql(with_words[f"{table}_no_update"])


def _fill(connection: sa.Connection, job_id: str) -> None:
    revision_end = _fill_chain(connection, _revisions, _REVISION, job_id)
    log_end = _fill_chain(connection, _log, _ENTRY, job_id)
    published = {}
    rows = connection.execute(sa.select(_events).where(_events.c.job_id == job_id)).mappings()
    for row in rows.all():
        published[row["uid"]] = linked("", *(row[name] for name in _EVENT))
        mine = (_events.c.job_id == job_id, _events.c.uid == row["uid"])
        connection.execute(sa.update(_events).where(*mine).values(seal=published[row["uid"]]))
    asked = sa.select(_series.c.file, _series.c.sha256).where(_series.c.job_id == job_id)
    sealed = Sealed(
        job_id=job_id,
        revision_end=revision_end,
        log_end=log_end,
        series={row.file: row.sha256 for row in connection.execute(asked)},
        published=published,
    )
    connection.execute(sa.update(_job).where(_job.c.id == job_id).values(seal=sealed.seal))


def _fill_chain(
    connection: sa.Connection, table: sa.TableClause, names: tuple[str, ...], job_id: str
) -> str:
    asked = sa.select(table).where(table.c.job_id == job_id).order_by(table.c.number)
    rows = connection.execute(asked).mappings().all()
    chain = chained("", [dict(row) for row in rows], names)
    for row, made in zip(rows, chain, strict=True):
        mine = (table.c.job_id == job_id, table.c.number == row["number"])
        connection.execute(sa.update(table).where(*mine).values(chain=made))
    return chain[-1] if chain else ""
