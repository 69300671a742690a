"""A file replaced by a longer one of itself: locked, on the disk, whole or not at all."""

from __future__ import annotations

import contextlib
import os
import re
import secrets
import stat
from collections.abc import Callable, Iterator
from pathlib import Path

import filelock

from curecal.errors import SourceError
from curecal.machine import keep_owner, new_file_only, sync_folder
from curecal.records import Record, record
from curecal.toml_files.toml_source import LARGEST_BYTES

# Nobody's entry takes longer to write; who waits longer waits for a program that hangs.
LONGEST_WAIT_S = 20.0
_SHARED = 0o666
_OWN = 0o600
_ENDING = ".curecal-new"


@record
class FileSeen(Record):
    """A file as it was read: its bytes, and what tells whether it is still the same.

    `data` and `mark` are None where there was no file.
    """

    path: Path
    data: bytes | None
    mark: tuple[int, ...] | None
    mode: int = 0
    owner: tuple[int, int] = (0, 0)


class FileChangedError(Exception):
    """The file is not the one that was read. It never leaves the room `files`."""


def real_path(path: Path) -> Path:
    """Return the file itself: where `path` is a link, what it leads to.

    Raises:
        SourceError: The link leads round in a circle, or cannot be followed.
    """
    try:
        return path.resolve()
    except (OSError, RuntimeError, ValueError) as error:
        raise unwritten(path, error) from None


@contextlib.contextmanager
def locked(path: Path, *, longest_wait_s: float = LONGEST_WAIT_S) -> Iterator[None]:
    """Hold the only right to add to a file, for everyone who can reach its folder.

    The lock is a hidden file beside it: all who share the folder share the lock, and the
    system lets it go when its holder dies. The file stays; taking it away would let two in.

    Args:
        path: The file itself, no link.
        longest_wait_s: How long to wait for another program [s].

    Yields:
        None, while the lock is held.

    Raises:
        SourceError: The folder cannot be written, or another program keeps the lock.
    """
    lock = filelock.FileLock(path.with_name(f".{path.name}.lock"), longest_wait_s, mode=_SHARED)
    try:
        lock.acquire()
    except filelock.Timeout:
        raise SourceError("file-locked", path=str(path)) from None
    except (OSError, NotImplementedError) as error:
        raise unwritten(path, error) from None
    try:
        yield
    finally:
        lock.release()


def look(path: Path) -> FileSeen:
    """Return a file's bytes and what it can be told by; without a file, that there is none.

    Args:
        path: The file itself, no link.

    Returns:
        What was seen.

    Raises:
        SourceError: It cannot be read, or is no ordinary file.
    """
    try:
        with path.open("rb") as file:
            found = os.fstat(file.fileno())
            if not stat.S_ISREG(found.st_mode):
                raise SourceError("file-not-regular", path=str(path))
            data = file.read(LARGEST_BYTES + 1)
    except FileNotFoundError:
        return FileSeen(path, None, None)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or type(error).__name__
        raise SourceError("file-unreadable", path=str(path), reason=reason) from None
    mark = (found.st_dev, found.st_ino, found.st_size, found.st_mtime_ns)
    mode = stat.S_IMODE(found.st_mode)
    return FileSeen(path, data, mark, mode, (found.st_uid, found.st_gid))


def replace_by(seen: FileSeen, data: bytes, check: Callable[[Path], None]) -> None:
    """Put new bytes in a file's place, if it is still the one that was seen.

    The bytes are on the disk under another name in the same folder before they are looked at
    and take the file's name; whatever ends the program, the old file or the new one is there.

    Args:
        seen: The file as it was read; the lock is held since.
        data: Its new bytes.
        check: Looks at the new file before it takes the old one's place; what it raises stops
            it.

    Raises:
        FileChangedError: The file was changed since it was read; it is as it was changed.
        SourceError: It cannot be written; the old file is untouched.
    """
    path = seen.path
    sweep(path)
    if seen.data is not None and not os.access(path, os.W_OK):
        raise SourceError("file-protected", path=str(path))
    made: Path | None = None
    try:
        number, made = _beside(seen)
        with os.fdopen(number, "wb") as file:
            file.write(data)
            file.flush()
            if seen.data is not None:
                _keep_rights(made, seen)
            os.fsync(file.fileno())
        check(made)
        now = look(path)
        if (now.mark, now.data) != (seen.mark, seen.data):
            raise FileChangedError
        made.replace(path)
        made = None
        sync_folder(path.parent)
    except OSError as error:
        raise unwritten(path, error) from None
    finally:
        if made is not None:
            with contextlib.suppress(OSError):
                made.unlink()


def _beside(seen: FileSeen) -> tuple[int, Path]:
    """Open a new file beside another; one that is to be a first file has a first file's rights."""
    name = f".{seen.path.name}.{secrets.token_hex(4)}{_ENDING}"
    made = seen.path.with_name(name)
    return os.open(made, new_file_only(), _SHARED if seen.data is None else _OWN), made


def _keep_rights(made: Path, seen: FileSeen) -> None:
    """Give a new file the rights of the one whose place it takes, as far as the system lets."""
    keep_owner(made, seen.owner)
    made.chmod(seen.mode)


def sweep(path: Path) -> None:
    """Take away what a program that died left beside a file; the file's lock is held.

    Args:
        path: The file itself, no link.
    """
    ours = re.compile(rf"\.{re.escape(path.name)}\.[0-9a-f]{{8}}{re.escape(_ENDING)}", re.ASCII)
    with contextlib.suppress(OSError):
        for found in path.parent.iterdir():
            if ours.fullmatch(found.name):
                found.unlink(missing_ok=True)


def unwritten(path: Path, error: BaseException) -> SourceError:
    """Return what the system said as our own refusal."""
    reason = getattr(error, "strerror", None) or str(error) or type(error).__name__
    return SourceError("file-not-written", path=str(path), reason=reason)
