"""Calendars in a folder: the files that are there are the history of what was published.

A file is replaced whole or not at all, and only if nobody changed it since it was read. What
cannot be read as a history is kept beside the new file.
"""

from __future__ import annotations

import contextlib
import glob
import hashlib
import os
import tempfile
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from filelock import FileLock, Timeout

from curecal.calendars import (
    FIRST_PROPERTY,
    Feed,
    History,
    Revision,
    Sending,
    document,
    first_of,
    head,
    job_of,
    read_history,
    salvage,
)
from curecal.calendars.ical.ical_writer import EVENT_PROPERTY
from curecal.calendars.ical.round_trip_check import refuse_unfaithful
from curecal.calendars.revision import GREATEST_SEQUENCE
from curecal.errors import SourceError, StoreMoved

LOCK_NAME = ".curecal.lock"
_LOCK_S = 20.0
# Ends the names of unfinished files, so that none of an editor's is taken for one of ours.
_PART = ".curecal-part"
# Of a file that is missing beside others of its job nothing is known any more.
_FIRST_OF_LOST = 1000
_AFTER_LOSS = 100


@dataclass(frozen=True, slots=True)
class _Earlier:
    """An earlier file: its octets, and what it says was published.

    `first` is where to go on counting if it was damaged or not ours, else 0; `since` is where it
    says that unknown events start, because an earlier one was.
    """

    data: bytes
    revisions: tuple[Revision, ...] = ()
    first: int = 0
    newest_at: datetime | None = None
    since: int = 0


class CalendarFolder:
    """The store of a job's published revisions in a folder, one file a reader.

    `written` are the files that the last `put` changed; `kept` the earlier ones it put aside,
    by the name of the file that took their place. `sending` names who publishes; files that are
    only read name nobody.
    """

    def __init__(
        self, directory: Path, feeds: Sequence[Feed], sending: Sending | None = None
    ) -> None:
        self.directory = directory
        self.feeds = tuple(feeds)
        self.sending = sending
        self.written: tuple[Path, ...] = ()
        self._known: dict[str, _Earlier] = {}
        self.kept: Mapping[str, Path] = {}

    def history(self, job_id: str) -> History:
        """What the files in the folder say was published of a job.

        Args:
            job_id: The job's id.

        Returns:
            The history; its generation is a digest of the files.

        Raises:
            SourceError: a file is another job's (`calendar-other-job`), stands under two names
                (`calendar-one-file`), or cannot be read (`calendar-unwritable`).
        """
        with _unwritable(self.directory):
            earlier = self._earlier(job_id)
        found: dict[str, Revision] = {}
        suspect: set[str] = set()
        for each in earlier.values():
            found.update((revision.uid, revision) for revision in each.revisions)
            if each.first:
                suspect.update(revision.uid for revision in each.revisions)
        stamps = [at for each in earlier.values() if (at := each.newest_at)]
        return History(
            _generation(earlier),
            found,
            self._first(earlier),
            max(stamps, default=None) if self._lost(earlier) else None,
            frozenset(suspect),
        )

    def put(self, job_id: str, revisions: Iterable[Revision], *, expected: str) -> None:
        """Write the files whose octets change, each whole, and keep aside what was no history.

        Args:
            job_id: The job's id.
            revisions: All of the job.
            expected: The generation they were made from.

        Raises:
            StoreMoved: a file was changed since.
            SourceError: as `history`, or the folder cannot be written (`calendar-unwritable`) or
                is in use (`calendar-locked`). A disk that fails between two renames leaves each
                file whole, old or new.
            CurecalError: the octets do not say what the feeds say; our own fault.
        """
        revisions = tuple(revisions)
        with _unwritable(self.directory):
            self.directory.mkdir(parents=True, exist_ok=True)
            with _locked(self.directory):
                earlier = self._earlier(job_id)
                if _generation(earlier) != expected:
                    raise StoreMoved("calendar-moved", path=str(self.directory))
                first = self._first(earlier)
                files = {
                    feed.file_name: (feed, self._octets(feed, revisions, first))
                    for feed in self.feeds
                }
                changed = {
                    name: (feed, data)
                    for name, (feed, data) in files.items()
                    if name not in earlier or earlier[name].data != data
                }
                # What is there already byte for byte was read back before it was written.
                for feed, data in changed.values():
                    refuse_unfaithful(feed, data, gone=_gone(feed, revisions))
                self._sweep()
                self.kept = {
                    name: _keep_aside(self.directory / name, each.data)
                    for name, each in earlier.items()
                    if each.first
                }
                paths = {self.directory / name: data for name, (_, data) in changed.items()}
                _write_all(paths)
        self.written = tuple(sorted(paths))

    def _octets(self, feed: Feed, revisions: Iterable[Revision], first: int) -> bytes:
        mine = (each for each in revisions if each.audience is feed.audience)
        since = (f"{FIRST_PROPERTY}:{first}",) if first else ()
        return document((*head(feed), *since), mine, sending=self.sending)

    def _lost(self, earlier: Mapping[str, _Earlier]) -> bool:
        """Whether some of what was published is not known any more.

        Three files leave together. One that is not there beside another was lost.
        """
        missing = 0 < len(earlier) < len(self.feeds)
        return missing or any(each.first for each in earlier.values())

    def _first(self, earlier: Mapping[str, _Earlier]) -> int:
        """Where an unknown event starts: after a loss above all that is known, and from then on.

        What was lost may come back long after: it must not start below what people hold.
        """
        since = max((each.since for each in earlier.values()), default=0)
        if not self._lost(earlier):
            return since
        known = [revision.sequence for each in earlier.values() for revision in each.revisions]
        # A number that nothing counts up to was typed by somebody, and leaves no room above it.
        plausible = [number for number in known if number <= GREATEST_SEQUENCE // 2]
        above = max((since, *plausible)) + _AFTER_LOSS
        missing = _FIRST_OF_LOST if len(earlier) < len(self.feeds) else 0
        return max((missing, above, *(each.first for each in earlier.values())))

    def _sweep(self) -> None:
        """Take away what a writer that was killed left behind; the lock says that none is here."""
        for feed in self.feeds:
            place = (self.directory / feed.file_name).resolve()
            for left in place.parent.glob(f".{glob.escape(place.name)}.*{_PART}"):
                left.unlink(missing_ok=True)

    def _earlier(self, job_id: str) -> dict[str, _Earlier]:
        """The files that are there, by name."""
        found: dict[str, _Earlier] = {}
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
            data = path.read_bytes()
            known = self._known.get(feed.file_name)
            # Looked at twice in a run; what has not changed in between reads as it did.
            if known is None or known.data != data:
                known = self._known[feed.file_name] = _read(path, data, feed, job_id)
            found[feed.file_name] = known
        return found


def names_in(directory: Path) -> frozenset[str]:
    """The names in a folder.

    Args:
        directory: The folder.

    Returns:
        The names; none where there is no such folder.

    Raises:
        SourceError: it cannot be looked into (`calendar-unwritable`).
    """
    with _unwritable(directory), contextlib.suppress(FileNotFoundError):
        return frozenset(path.name for path in directory.iterdir())
    return frozenset()


def write_files(directory: Path, files: Mapping[Path, bytes]) -> None:
    """Write files into a folder, each whole.

    Args:
        directory: The folder, which is there.
        files: The octets by path.

    Raises:
        SourceError: it cannot be written (`calendar-unwritable`), or is in use
            (`calendar-locked`).
    """
    with _unwritable(directory), _locked(directory):
        _write_all(files)


def _read(path: Path, data: bytes, feed: Feed, job_id: str) -> _Earlier:
    owner = job_of(data)
    if owner not in {None, job_id}:
        raise SourceError("calendar-other-job", path=str(path), other=owner)
    revisions = read_history(data, feed.audience) if owner else None
    if revisions is None or any(_astray(each, feed) for each in revisions):
        left = salvage(data, feed.audience)
        # The events of a file that is not ours are none of ours, whatever they are called.
        mine = tuple(each for each in left.revisions if owner and not _astray(each, feed))
        since = first_of(data) if owner else 0
        return _Earlier(data, mine, left.first, left.newest_at, since)
    newest_at = max(each.changed_at for each in revisions)
    return _Earlier(data, revisions, newest_at=newest_at, since=first_of(data))


def _astray(revision: Revision, feed: Feed) -> bool:
    """Whether an event's identity is not the one that what it is about has: one of them broke."""
    key = revision.key
    if key is None:
        # Without a word what it is about it may be an old one; of another reader it is not.
        return revision.value(EVENT_PROPERTY) is not None
    return feed.uid(key) != revision.uid


def _gone(feed: Feed, revisions: Iterable[Revision]) -> frozenset[str]:
    wanted = {feed.uid(event.key) for event in feed.events}
    mine = {each.uid for each in revisions if each.audience is feed.audience}
    return frozenset(mine - wanted)


def _generation(earlier: Mapping[str, _Earlier]) -> str:
    digest = hashlib.sha256()
    for name, each in sorted(earlier.items()):
        digest.update(f"{name} {len(each.data)}\n".encode())
        digest.update(each.data)
    return digest.hexdigest()


@contextlib.contextmanager
def _unwritable(directory: Path) -> Iterator[None]:
    """Turn what the system says into our own refusal."""
    try:
        yield
    except OSError as error:
        reason = error.strerror or str(error)
        raise SourceError("calendar-unwritable", path=str(directory), reason=reason) from None


@contextlib.contextmanager
def _locked(directory: Path) -> Iterator[None]:
    """Be the only one of us that writes into a folder."""
    lock = FileLock(directory / LOCK_NAME, timeout=_LOCK_S)
    try:
        lock.acquire()
    except Timeout:
        raise SourceError("calendar-locked", path=str(directory)) from None
    try:
        yield
    finally:
        lock.release()


def _keep_aside(path: Path, data: bytes) -> Path:
    """Put a copy of a file beside it, under a name that nothing takes for a calendar."""
    for count in range(1, 10_000):
        number = f"-{count}" if count > 1 else ""
        aside = path.with_name(f"{path.name}.kept{number}")
        with contextlib.suppress(FileExistsError), aside.open("xb") as file:
            try:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            except OSError:
                # Half a file would be taken for what stood there.
                aside.unlink()
                raise
            return aside
        if aside.is_file() and aside.read_bytes() == data:
            return aside
    raise SourceError("calendar-unwritable", path=str(path), reason="too many kept files")


def _write_all(files: Mapping[Path, bytes]) -> None:
    """Write every file beside its place and put it on the disk, then rename them all."""
    ready: dict[Path, Path] = {}
    # A link stays one: who put it there reads the file that it leads to.
    places = {path.resolve(): data for path, data in files.items()}
    try:
        for path, data in places.items():
            number, name = tempfile.mkstemp(_PART, f".{path.name}.", path.parent)
            ready[path] = Path(name)
            with os.fdopen(number, "wb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            # A temporary file is its owner's alone; a calendar is read by other programs.
            ready[path].chmod(0o644)
        for path, made in ready.items():
            made.replace(path)
    finally:
        for made in ready.values():
            made.unlink(missing_ok=True)
    for folder in {path.parent for path in places}:
        _sync_folder(folder)


def _sync_folder(folder: Path) -> None:
    """Put the renames on the disk, where the system lets a folder be opened."""
    with contextlib.suppress(OSError):
        number = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(number)
        finally:
            os.close(number)
