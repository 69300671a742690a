"""Files that are written whole or not at all, by one writer at a time."""

from __future__ import annotations

import contextlib
import glob
import itertools
import os
import tempfile
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

from filelock import FileLock, Timeout

from curecal.errors import SourceError
from curecal.machine import sync_folder

# A folder is written in well under a second; who holds it longer has stopped.
_LOCK_S = 20.0
# Ends the names of unfinished files, so that none of an editor's is taken for one of ours.
_PART = ".curecal-part"
# A calendar is read by other programs: a temporary file alone would be its owner's.
READ_BY_ALL = 0o644
# A mail names its reader, with an address.
READ_BY_OWNER = 0o600


@contextlib.contextmanager
def locked(lock: Path, *, code: str) -> Iterator[None]:
    """Be the only one of us that writes somewhere.

    Args:
        lock: The file that is locked, also over a share of several machines.
        code: What is raised when somebody else holds it too long.

    Raises:
        SourceError: as `code` says.
    """
    held = FileLock(lock, timeout=_LOCK_S)
    try:
        held.acquire()
    except Timeout:
        raise SourceError(code, path=str(lock.parent)) from None
    try:
        yield
    finally:
        held.release()


def write_all(files: Mapping[Path, bytes], *, mode: int = READ_BY_ALL) -> None:
    """Write every file beside its place and put it on the disk, then rename them all.

    Args:
        files: The octets by path.
        mode: Who may read them.

    Raises:
        OSError: a disk that fails between two renames leaves each file whole, old or new.
    """
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
            ready[path].chmod(mode)
        for path, made in ready.items():
            made.replace(path)
    finally:
        for made in ready.values():
            made.unlink(missing_ok=True)
    for folder in {path.parent for path in places}:
        sync_folder(folder)


def sweep(paths: Iterable[Path]) -> None:
    """Take away what a killed writer left behind; whoever sweeps holds the lock.

    Args:
        paths: The files that it was writing.
    """
    for path in paths:
        place = path.resolve()
        for left in place.parent.glob(f".{glob.escape(place.name)}.*{_PART}"):
            left.unlink(missing_ok=True)


def keep_aside(path: Path, data: bytes) -> Path:
    """Put a copy of a file beside it, under a name that nothing takes for the file itself.

    Args:
        path: The file.
        data: What stands there.

    Returns:
        The copy; one that is there already is not made twice.

    Raises:
        OSError: it cannot be written.
    """
    for count in itertools.count(1):
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
    raise AssertionError
