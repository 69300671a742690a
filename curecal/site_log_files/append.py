"""Adding entries to a site log: every byte that is there stays, and the entries come behind it.

A job file or a log file is somebody's text, with comments and an order of its own. Each entry is
written as one more `[[log]]` table at its end; of several, all are written or none. The new file is
read back before it takes the old one's place: it must begin with the old bytes and say what the old
file said, and the entries.
"""

from __future__ import annotations

import secrets
from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import TypedDict, Unpack

from curecal.errors import CurecalError, SourceError, ValueRefused
from curecal.instants import instant
from curecal.records import PlainTable, PlainView, Record, record
from curecal.site_log_files.entry_toml import block, settled
from curecal.toml_files.atomic_write import (
    FileChangedError,
    FileSeen,
    locked,
    look,
    real_path,
    replace_by,
    unwritten,
)
from curecal.toml_files.toml_source import LARGEST_BYTES, loads

Entry = PlainTable
Check = Callable[[Path], None]

_FIRST_LINE = "# Site log. Entries are added at the end; what is written stays.\n"
# Somebody who saves the file all the time is writing it; they come first.
_TRIES = 5


class EntryOptions(TypedDict, total=False):
    """What may be said of an entry, beside its kind, its values and its two instants.

    `check` looks at the new file, complete and under another name in the same folder, before it
    takes the old one's place: what it raises stops the writing. With `create`, a log file that
    is not there is begun.
    """

    zone: str | None
    by: str | None
    note: str | None
    entry_id: str | None
    check: Check | None
    create: bool


@record(kw_only=True)
class NewEntry(Record):
    """An entry to be written: its kind and keys, when it happened, when it is written down.

    Both instants are written with the offset they have, the values in the types of TOML.
    """

    kind: str
    values: Mapping[str, object]
    at: datetime
    recorded: datetime
    zone: str | None = None
    by: str | None = None
    note: str | None = None
    entry_id: str | None = None


@record
class Appended(Record):
    """An entry that was written: its id, its file, which entry of the file it is, its keys."""

    id: str
    path: Path
    index: int
    entry: PlainView


def append_entry(
    path: Path,
    kind: str,
    values: Mapping[str, object],
    *,
    at: datetime,
    recorded: datetime,
    **said: Unpack[EntryOptions],
) -> Appended:
    """Add one entry at the end of a job file or a log file.

    Args:
        path: The file, or a link to it; the link stays a link.
        kind: The entry's kind.
        values: Its own keys, in the types of TOML.
        at: When it happened; written with the offset it has.
        recorded: When it is written down; written with the offset it has.
        **said: Zone, person, note, identity; what looks at the file before it is there.

    Returns:
        What was written. Without an `entry_id` the entry has a short one of its own.

    Raises:
        SourceError: The file cannot be read or written, is no TOML, has no room or no place
            for an entry, or does not stay as it is. It is untouched then.
        InstantRefused: An instant without a time zone.
        ValueRefused: A value that TOML cannot hold, or an identity that is there already.
    """
    entry = NewEntry(
        kind=kind,
        values=values,
        at=at,
        recorded=recorded,
        zone=said.get("zone"),
        by=said.get("by"),
        note=said.get("note"),
        entry_id=said.get("entry_id"),
    )
    create = said.get("create", False)
    return append_entries(path, [entry], check=said.get("check"), create=create)[0]


def append_entries(
    path: Path,
    entries: Sequence[NewEntry],
    *,
    check: Check | None = None,
    create: bool = False,
) -> tuple[Appended, ...]:
    """Add entries at the end of a job file or a log file: all of them, or none.

    Args:
        path: The file, or a link to it; the link stays a link.
        entries: The entries in the order in which they are written.
        check: Looks at the new file before it takes the old one's place, as in `EntryOptions`.
        create: Whether a log file that is not there is begun.

    Returns:
        What was written, in the same order.

    Raises:
        SourceError, InstantRefused, ValueRefused: as `append_entry`.
    """
    own = real_path(path)
    _check_place(own, path, create=create)
    with locked(own):
        for _ in range(_TRIES):
            seen = look(own)
            old = _said_before(seen, path, create=create)
            ids = _ids(old)
            tables: list[Entry] = []
            for entry in entries:
                tables.append(_table(entry, ids))
                ids.add(tables[-1]["id"])
            data = _with(seen.data, old, tables, path)
            try:
                replace_by(seen, data, check or _trust)
            except FileChangedError:
                continue
            first = len(old.get("log", ()))
            return tuple(
                Appended(table["id"], path, first + index, table)
                for index, table in enumerate(tables)
            )
    raise SourceError("file-changing", path=str(path))


def _check_place(own: Path, path: Path, *, create: bool) -> None:
    """Refuse what is no file to add to, before a lock is put beside it."""
    name = str(path)
    try:
        if own.is_dir():
            raise SourceError("file-is-folder", path=name)
        if not own.exists() and not (create and own.parent.is_dir()):
            raise SourceError("file-missing", path=name)
        if own.exists() and not own.is_file():
            raise SourceError("file-not-regular", path=name)
    except OSError as error:
        raise unwritten(path, error) from None


def _trust(_path: Path) -> None:
    """Look at nothing."""


def _said_before(seen: FileSeen, path: Path, *, create: bool) -> Entry:
    """Return what the file says as it is."""
    if seen.data is None:
        if create:
            return {}
        raise SourceError("file-missing", path=str(path))
    return loads(seen.data, str(path))


def _ids(old: Entry) -> set[str]:
    log = old.get("log")
    rows = log if isinstance(log, list) else []
    return {str(row["id"]) for row in rows if isinstance(row, dict) and "id" in row}


def _table(entry: NewEntry, ids: set[str]) -> Entry:
    """Return an entry's keys in the order in which they are written."""
    for moment in (entry.at, entry.recorded):
        instant(moment)  # refuses one without a time zone
    own = entry.entry_id or _new_id(ids)
    if own in ids:
        raise ValueRefused("entry-id-twice", text=own)
    before = {"at": entry.at, "kind": entry.kind, "id": own, "zone": entry.zone}
    after = {"by": entry.by, "note": entry.note, "recorded": entry.recorded}
    base = {name: value for name, value in (before | after).items() if value is not None}
    twice = sorted(base.keys() & entry.values.keys())
    if twice:
        raise CurecalError("entry-key-twice", key=twice[0])
    merged = {**before, **entry.values, **after}
    return {name: settled(value) for name, value in merged.items() if value is not None}


def _new_id(ids: set[str]) -> str:
    """Return an identity that no other entry of the file has, short enough to read out."""
    while True:
        made = f"e-{secrets.token_hex(4)}"
        if made not in ids:
            return made


def _with(data: bytes | None, old: Entry, tables: Sequence[Entry], path: Path) -> bytes:
    """Return the file's bytes with the entries behind them, read back and compared."""
    before = _FIRST_LINE.encode() if data is None else data
    newline = _newline(before)
    gap = newline if before.endswith(b"\n") else newline * 2
    new = before + (gap + newline.join(block(table, newline) for table in tables)).encode()
    if len(new) > LARGEST_BYTES:
        raise SourceError("file-full", path=str(path))
    try:
        found = loads(new, str(path))
    except SourceError:
        # The old text was understood; only a log in another form is in the way of a table.
        raise SourceError("log-not-a-list-of-tables", path=str(path)) from None
    # `repr` tells true from 1, an instant from the same one elsewhere, and is fair to NaN.
    wanted = {**old, "log": [*old.get("log", ()), *tables]}
    if repr(found) != repr(wanted) or not new.startswith(before):
        raise CurecalError("append-not-the-same", path=str(path))
    return new


def _newline(data: bytes) -> str:
    """Return what ends the last ended line of a file."""
    end = data.rfind(b"\n")
    return "\r\n" if end > 0 and data[end - 1 : end] == b"\r" else "\n"
