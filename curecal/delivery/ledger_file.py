"""The ledger of a lone job file: a file beside it that says what was published of the job.

It is written whole, under a lock, and before any output. Once the job is in a job book the book
keeps the ledger, and this file only says so.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import uuid
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from curecal.calendars import Audience, History, LogMark, Mailed, Revision
from curecal.delivery.whole_files import keep_aside, locked, sweep, write_all
from curecal.errors import SourceError, StoreMoved, UsageError
from curecal.records import PlainTable, PlainView

SUFFIX = ".published.json"
"""What the ledger's name adds to that of the job file."""
SCHEMA = 1
# No job has some ten thousand entries.
_LARGEST_BYTES = 1 << 26


class LedgerFile:
    """The ledger of a job file. Its generation is a digest of the file.

    With `anyway`, a person goes on although the file is damaged, or was handed to a book.
    """

    def __init__(self, job_file: Path, *, anyway: bool = False) -> None:
        self.path = job_file.with_name(f"{job_file.name}{SUFFIX}")
        self.anyway = anyway

    def history(self, job_id: str) -> History:
        """All that was published of the job.

        Args:
            job_id: The job's id.

        Returns:
            What is known; an empty history where nothing was published.

        Raises:
            SourceError: the file is damaged (`ledger-damaged`), another job's (`ledger-foreign`),
                of a newer program (`ledger-newer`) or cannot be read (`ledger-unwritable`); or
                the job was published under another name of its file (`ledger-renamed`).
            UsageError: the job is published from a book (`calendar-of-book`).
        """
        with self._unwritable():
            data = self._data()
        if data is None:
            self._refuse_renamed(job_id)
            return History("")
        document = self._document(data)
        if document is None:
            # Whatever it knew is lost: the outputs show what people hold.
            return History(_digest(data), is_lost=True)
        if document["job_id"] != job_id:
            raise SourceError("ledger-foreign", path=str(self.path), other=document["job_id"])
        history = _history(document, _digest(data))
        if not document["in_book"]:
            return history
        if not self.anyway:
            raise UsageError("calendar-of-book", job_id=job_id)
        # The book may have published since.
        return replace(history, is_lost=True)

    def put(self, job_id: str, made: History, *, expected: str) -> History:
        """Keep what was published of the job.

        Args:
            job_id: The job's id.
            made: All of the job.
            expected: The generation it was made from.

        Returns:
            The same with its ledger's id and generation.

        Raises:
            StoreMoved: the file was changed since; nothing was kept.
            SourceError: it cannot be written (`ledger-unwritable`), or is in use
                (`ledger-locked`).
        """
        kept = replace(made, ledger_id=made.ledger_id or uuid.uuid4().hex[:16])
        with self._alone():
            return self._write(job_id, kept, expected)

    def add_mailed(self, job_id: str, mailed: Iterable[Mailed]) -> None:
        """Keep which mails were written.

        Args:
            job_id: The job's id.
            mailed: The mails.

        Raises:
            SourceError: as of `put`.
        """
        # Looked at as the only one: a mail that is out cannot be written down at a second try.
        with self._alone():
            history = self.history(job_id)
            made = replace(history, mailed=history.mailed | frozenset(mailed))
            self._write(job_id, made, history.generation)

    def hand_over(self, job_id: str, keep: Callable[[History], None]) -> None:
        """Let a book keep the ledger from now on; nobody publishes from the file meanwhile.

        Args:
            job_id: The job's id.
            keep: Keeps in the book what was published; what it raises leaves the file as it is.

        Raises:
            SourceError: as of `history` and `put`.
            UsageError: as of `history`.
        """
        with self._alone():
            history = self.history(job_id)
            keep(history)
            self._write(job_id, history, history.generation, in_book=True)

    @contextlib.contextmanager
    def _alone(self) -> Iterator[None]:
        lock = self.path.with_name(f".{self.path.name}.lock")
        with self._unwritable(), locked(lock, code="ledger-locked"):
            yield

    def _write(
        self, job_id: str, made: History, expected: str, *, in_book: bool = False
    ) -> History:
        data = _octets(job_id, made, in_book=in_book)
        there = self._data()
        if (_digest(there) if there is not None else "") != expected:
            raise StoreMoved("ledger-moved", path=str(self.path))
        if there != data:
            sweep([self.path])
            if there is not None and _read(there) is None:
                keep_aside(self.path, there)
            write_all({self.path: data})
        return replace(made, generation=_digest(data))

    def _data(self) -> bytes | None:
        try:
            with self.path.open("rb") as file:
                return file.read(_LARGEST_BYTES)
        except FileNotFoundError:
            return None

    def _document(self, data: bytes) -> PlainTable | None:
        document = _read(data)
        if document is None and not self.anyway:
            raise SourceError("ledger-damaged", path=str(self.path))
        if document is not None and document["schema"] != SCHEMA:
            raise SourceError("ledger-newer", path=str(self.path))
        return document

    def _refuse_renamed(self, job_id: str) -> None:
        """Refuse a job that was published under another name: a renamed file, or a copy."""
        for path in sorted(self.path.parent.glob(f"*{SUFFIX}")):
            with contextlib.suppress(OSError):
                document = _read(path.read_bytes())
                if document and document["job_id"] == job_id:
                    names = {"found": str(path), "wanted": self.path.name, "job_id": job_id}
                    raise SourceError("ledger-renamed", **names)

    @contextlib.contextmanager
    def _unwritable(self) -> Iterator[None]:
        try:
            yield
        except OSError as error:
            reason = error.strerror or str(error)
            raise SourceError("ledger-unwritable", path=str(self.path), reason=reason) from None


def _octets(job_id: str, history: History, *, in_book: bool) -> bytes:
    said = {
        "schema": SCHEMA,
        "job_id": job_id,
        "ledger_id": history.ledger_id,
        "in_book": in_book,
        "first_sequence": history.first,
        "events": [
            {
                "uid": one.uid,
                "audience": one.audience.value,
                "sequence": one.sequence,
                "changed_at": one.changed_at.isoformat(),
                "suspect": one.uid in history.suspect,
                "lines": list(one.lines),
            }
            for _, one in sorted(history.revisions.items())
        ],
        "rests_on": [
            {"id": name, "digest": mark.digest, "kind": mark.kind, "at": mark.at.isoformat()}
            for name, mark in sorted(history.rests_on.items())
        ],
        "mailed": sorted(
            [one.uid, one.sequence, one.recipient, one.sender] for one in history.mailed
        ),
    }
    document = {**said, "digest": _digest_of(said)}
    return (json.dumps(document, ensure_ascii=False, indent=1) + "\n").encode()


def _read(data: bytes) -> PlainTable | None:
    """Return what a ledger's file says; None for one that does not say what was written into it."""
    try:
        document = json.loads(data)
        digest = document.pop("digest")
    except (ValueError, RecursionError, AttributeError, KeyError, TypeError):
        return None
    return document if digest == _digest_of(document) else None


def _history(document: PlainView, generation: str) -> History:
    revisions = {
        one["uid"]: Revision(
            one["uid"],
            Audience(one["audience"]),
            one["sequence"],
            datetime.fromisoformat(one["changed_at"]),
            tuple(one["lines"]),
        )
        for one in document["events"]
    }
    stamps = [one.changed_at for one in revisions.values()]
    return History(
        generation,
        revisions,
        document["first_sequence"],
        max(stamps, default=None) if document["first_sequence"] else None,
        frozenset(one["uid"] for one in document["events"] if one["suspect"]),
        document["ledger_id"],
        {
            one["id"]: LogMark(one["digest"], one["kind"], datetime.fromisoformat(one["at"]))
            for one in document["rests_on"]
        },
        frozenset(Mailed(*one) for one in document["mailed"]),
    )


def _digest_of(said: PlainView) -> str:
    return _digest(json.dumps(said, sort_keys=True).encode())


def _digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()
