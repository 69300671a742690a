"""Calendars in a folder: an output of the ledger, one file a reader.

A file is replaced whole or not at all, and only if nobody changed it since it was looked at. What
somebody changed in it is kept beside the new file.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from curecal.calendars import Feed, History, Revised, Revision, Sending, document, head
from curecal.calendars.content_lines import unescape
from curecal.calendars.ical.ical_writer import JOB_PROPERTY, LEDGER_PROPERTY
from curecal.calendars.ical.loose_reader import blocks, first_value, loose_lines
from curecal.calendars.ical.round_trip_check import refuse_unfaithful
from curecal.calendars.revision import content
from curecal.calendars.revisions.lost_ledger import sequence_in
from curecal.calendars.revisions.outputs import OutputMark, ShownCalendar, digest_of, mark_in
from curecal.delivery.whole_files import READ_BY_ALL, keep_aside, locked, sweep, write_all
from curecal.errors import SourceError, StoreMoved

LOCK_NAME = ".curecal.lock"


@dataclass(frozen=True, slots=True)
class _File:
    """A file as it was looked at. `as_written` says that its events are those that we wrote."""

    data: bytes
    shown: ShownCalendar
    as_written: bool


class CalendarFolder:
    """A folder that shows a job's calendars.

    `written` are the files that were changed; `kept` the changed ones that were put aside, by the
    name of the file that took their place. `sending` names who publishes; files that are only
    read name nobody.
    """

    def __init__(
        self, directory: Path, feeds: Sequence[Feed], sending: Sending | None = None
    ) -> None:
        self.directory = directory
        self.feeds = tuple(feeds)
        self.sending = sending
        self.written: tuple[Path, ...] = ()
        self.kept: Mapping[str, Path] = {}
        self._looked_at: dict[str, _File] = {}

    def look(self, job_id: str, known: Mapping[str, Revision]) -> tuple[ShownCalendar, ...]:
        """Return what the files in the folder show.

        Args:
            job_id: The job's id.
            known: What the ledger knows, by UID.

        Returns:
            One for each file that is there.

        Raises:
            SourceError: a file is another job's (`calendar-other-job`), stands under two names
                (`calendar-one-file`), or cannot be read (`calendar-unwritable`).
        """
        with _unwritable(self.directory, "calendar-unwritable"):
            self._looked_at = {
                feed.file_name: _read(path, data, feed, job_id, known)
                for feed, path, data in self._files()
            }
        return tuple(file.shown for file in self._looked_at.values())

    def show(self, job_id: str, revised: Revised, history: History) -> None:
        """Write the files whose octets change, each whole.

        Args:
            job_id: The job's id.
            revised: What was published.
            history: What the ledger keeps.

        Raises:
            StoreMoved: a file was changed since the look.
            SourceError: the folder cannot be written (`calendar-not-shown`) or is in use
                (`calendar-locked`). A disk that fails between two renames leaves each file
                whole, old or new.
            CurecalError: the octets do not say what the feeds say; our own fault.
        """
        del job_id
        files = {
            feed.file_name: (feed, self._octets(feed, revised, history)) for feed in self.feeds
        }
        with _unwritable(self.directory, "calendar-not-shown"):
            self.directory.mkdir(parents=True, exist_ok=True)
            with locked(self.directory / LOCK_NAME, code="calendar-locked"):
                there = {feed.file_name: data for feed, _, data in self._files()}
                if there != {name: file.data for name, file in self._looked_at.items()}:
                    raise StoreMoved("calendar-moved", path=str(self.directory))
                changed = {
                    name: (feed, data)
                    for name, (feed, data) in files.items()
                    if there.get(name) != data
                }
                # What is there already byte for byte was read back before it was written.
                for feed, data in changed.values():
                    refuse_unfaithful(feed, data, gone=_gone(feed, revised.revisions))
                sweep(self.directory / name for name in files)
                edited = {
                    name: file.data
                    for name, file in self._looked_at.items()
                    if name in changed and not file.as_written
                }
                kept = {name: keep_aside(self.directory / name, edited[name]) for name in edited}
                paths = {self.directory / name: data for name, (_, data) in changed.items()}
                write_all(paths)
        self.kept = {**self.kept, **kept}
        self.written = tuple(sorted({*self.written, *paths}))

    def _octets(self, feed: Feed, revised: Revised, history: History) -> bytes:
        mine = [one for one in revised.revisions if one.audience is feed.audience]
        digest = digest_of(one.lines for one in mine)
        mark = OutputMark(history.ledger_id, history.count_of(feed.audience), digest)
        return document((*head(feed), mark.line), mine, sending=self.sending)

    def _files(self) -> Iterator[tuple[Feed, Path, bytes]]:
        """The files that are there, with what stands in them."""
        places: set[tuple[int, int]] = set()
        for feed in self.feeds:
            path = self.directory / feed.file_name
            if not os.path.lexists(path):
                continue
            # A link to nowhere, a folder, a pipe: nothing that a calendar could take the place of.
            if not path.is_file():
                raise SourceError("calendar-not-a-file", path=str(path))
            # Two names of one file: one person's calendar would stand in another's place.
            seen = path.stat()
            if (place := (seen.st_dev, seen.st_ino)) in places:
                raise SourceError("calendar-one-file", path=str(path))
            places.add(place)
            yield feed, path, path.read_bytes()


def write_persons(directory: Path, make: Callable[[], Mapping[str, bytes]]) -> list[Path]:
    """Write people's calendars into a folder; what is there and none of ours is kept beside.

    Args:
        directory: The folder; it is made where it is missing.
        make: Returns the octets by file name, of what is published once nobody else writes here:
            who writes last must not write what is older.

    Returns:
        The copies of what was there.

    Raises:
        SourceError: as of `write_files`; or a name is no file's (`calendar-not-a-file`).
    """
    kept = []
    with _unwritable(directory, "calendar-unwritable"):
        directory.mkdir(parents=True, exist_ok=True)
        with locked(directory / LOCK_NAME, code="calendar-locked"):
            files = {directory / name: data for name, data in make().items()}
            for path in files:
                if os.path.lexists(path) and not path.is_file():
                    raise SourceError("calendar-not-a-file", path=str(path))
                data = path.read_bytes() if path.is_file() else b""
                if data and b"PRODID:-//curecal//" not in data:
                    kept.append(keep_aside(path, data))
            write_all(files)
    return kept


def write_files(directory: Path, files: Mapping[Path, bytes], *, mode: int = READ_BY_ALL) -> None:
    """Write files into a folder, each whole.

    Args:
        directory: The folder, which is there.
        files: The octets by path.
        mode: Who may read them.

    Raises:
        SourceError: it cannot be written (`calendar-unwritable`), or is in use
            (`calendar-locked`).
    """
    with (
        _unwritable(directory, "calendar-unwritable"),
        locked(directory / LOCK_NAME, code="calendar-locked"),
    ):
        write_all(files, mode=mode)


def _read(path: Path, data: bytes, feed: Feed, job_id: str, known: Mapping[str, Revision]) -> _File:
    lines = loose_lines(data.decode(errors="replace"))
    owner = unescape(first_value(lines, JOB_PROPERTY))
    if owner not in {"", job_id}:
        raise SourceError("calendar-other-job", path=str(path), other=owner)
    mark = mark_in(first_value(lines, LEDGER_PROPERTY))
    events = blocks(lines, "VEVENT")
    sequences = {
        first_value(event, "UID"): sequence
        for event in events
        if (sequence := sequence_in(first_value(event, "SEQUENCE"))) is not None
    }
    as_written = mark is not None and mark.digest == digest_of(events)
    edited = frozenset(
        uid
        for event in events
        if (uid := first_value(event, "UID")) in known
        and (content(event) != known[uid].content or sequences.get(uid, 0) > known[uid].sequence)
    )
    shown = ShownCalendar(
        str(path),
        feed.audience,
        frozenset({mark} if mark else ()),
        sequences if as_written else {},
        {uid: sequence for uid, sequence in sequences.items() if uid in known},
        frozenset() if as_written else edited,
        [lines],
    )
    return _File(data, shown, as_written)


def _gone(feed: Feed, revisions: Iterable[Revision]) -> frozenset[str]:
    wanted = {feed.uid(event.key) for event in feed.events}
    return frozenset({one.uid for one in revisions if one.audience is feed.audience} - wanted)


@contextlib.contextmanager
def _unwritable(directory: Path, code: str) -> Iterator[None]:
    """Turn what the system says into our own refusal."""
    try:
        yield
    except OSError as error:
        reason = error.strerror or str(error)
        raise SourceError(code, path=str(directory), reason=reason) from None
