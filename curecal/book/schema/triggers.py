"""Triggers that keep what was said from being changed, in the words of each database.

A migration names the tables it guards itself, so that what it does never changes.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING

from curecal.records import Record, record

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection


@record
class Guard(Record):
    """What is kept of a table: its unique keys, and the columns nobody may change, or all."""

    keys: tuple[tuple[str, ...], ...]
    columns: tuple[str, ...] = ()


_MESSAGE_KEY = ("job_id", "kind", "zone_id", "channel", "recipient", "generation")
GUARDED: Mapping[str, Guard] = MappingProxyType(
    {
        "content": Guard((("sha256",),)),
        "job_revision": Guard((("job_id", "number"),)),
        "log_entry": Guard((("number",), ("job_id", "entry_id"))),
        "reading_series": Guard((("job_id", "file"),)),
        "paper": Guard((("job_id", "sha256"),)),
        "picture": Guard((("job_id", "file"),)),
        "link": Guard(
            (("sha256",), ("id",)),
            ("sha256", "id", "job_id", "purpose", "person", "note", "created_at", "expires_at"),
        ),
        "outbox": Guard(
            (("id",), _MESSAGE_KEY, ("message_id",)),
            ("id", "reminder_id", *_MESSAGE_KEY, "message_id", "body", "created_at"),
        ),
    }
)


def create_guards(connection: Connection) -> None:
    """Create the triggers.

    Args:
        connection: A connection that may change the schema.
    """
    for statement in statements(connection.dialect.name, GUARDED):
        connection.exec_driver_sql(statement)


def faulty_guards(connection: Connection) -> tuple[str, ...]:
    """Return what lets the book be changed unseen: triggers that are gone, off, or toothless.

    Args:
        connection: A connection to the book.

    Returns:
        The names of the triggers, and of the function that they call where there is one.
    """
    dialect = connection.dialect.name
    # By what a trigger is, not by its name alone: one that does nothing keeps nothing.
    wanted = {made.split()[2]: made for made in triggers(dialect, GUARDED)}
    if dialect == "sqlite":
        asked = "SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"
        there = {str(name): str(sql) for name, sql in connection.exec_driver_sql(asked)}
        return tuple(name for name, made in wanted.items() if there.get(name) != made)
    rows = connection.exec_driver_sql(_TRIGGERS).all()
    there = {str(name): _SCHEMA.sub(r"\1", str(made)) for name, made in rows}
    faulty = [name for name, made in wanted.items() if there.get(name) != made]
    sources = connection.exec_driver_sql(_SOURCES).scalars().all()
    whole = [str(source).strip() for source in sources] == [_FUNCTION.split("$$")[1].strip()]
    return (*faulty, *(() if whole else (_FUNCTION_NAME,)))


def statements(dialect: str, guarded: Mapping[str, Guard]) -> Iterator[str]:
    """Give the SQL that creates the triggers of a new database.

    Args:
        dialect: `sqlite` or `postgresql`.
        guarded: What is kept, by table.

    Yields:
        One statement each.
    """
    if dialect == "postgresql":
        yield _FUNCTION
    yield from triggers(dialect, guarded)


def triggers(dialect: str, guarded: Mapping[str, Guard]) -> Iterator[str]:
    """Give the SQL that creates the triggers of further tables.

    Args:
        dialect: `sqlite` or `postgresql`.
        guarded: What is kept, by table.

    Yields:
        One statement each.
    """
    for table, guard in guarded.items():
        of = f" OF {', '.join(guard.columns)}" if guard.columns else ""
        for doing in (f"UPDATE{of}", "DELETE"):
            name = f"{table}_no_{doing.partition(' ')[0].lower()}"
            if dialect == "postgresql":
                yield (
                    f"CREATE TRIGGER {name} BEFORE {doing} ON {table} FOR EACH ROW "
                    "EXECUTE FUNCTION curecal_append_only()"
                )
            else:
                yield f"CREATE TRIGGER {name} BEFORE {doing} ON {table} {_abort(table)}"
        if dialect == "postgresql":
            # TRUNCATE empties a table without a word to the triggers of its rows.
            yield (
                f"CREATE TRIGGER {table}_no_truncate BEFORE TRUNCATE ON {table} "
                "FOR EACH STATEMENT EXECUTE FUNCTION curecal_append_only()"
            )
        else:
            # INSERT OR REPLACE deletes what is in its way without a word to the triggers.
            same = " OR ".join(
                f"({' AND '.join(f'{column} = NEW.{column}' for column in key)})"
                for key in guard.keys
            )
            there = f"SELECT 1 FROM {table} WHERE {same}"  # noqa: S608 - names of ours, no value
            yield (
                f"CREATE TRIGGER {table}_no_replace BEFORE INSERT ON {table} "
                f"WHEN EXISTS ({there}) {_abort(table)}"
            )


def _abort(table: str) -> str:
    return f"BEGIN SELECT RAISE(ABORT, '{table} is append-only'); END"


_FUNCTION_NAME = "curecal_append_only"
# Enabled for replication alone, a trigger lets all else pass.
_TRIGGERS = """
SELECT tgname, pg_get_triggerdef(pg_trigger.oid) FROM pg_trigger
JOIN pg_class ON pg_class.oid = tgrelid
WHERE NOT tgisinternal AND tgenabled IN ('O', 'A')
    AND relnamespace = current_schema()::regnamespace
"""
_SOURCES = """
SELECT prosrc FROM pg_proc
WHERE proname = 'curecal_append_only' AND pronamespace = current_schema()::regnamespace
"""
_SCHEMA = re.compile(r"( ON | FUNCTION )\w+\.")
_FUNCTION = """
CREATE FUNCTION curecal_append_only() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION USING
        MESSAGE = TG_TABLE_NAME || ' is append-only', ERRCODE = 'restrict_violation';
END
$$
"""
