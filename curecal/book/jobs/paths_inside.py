"""Files inside a folder, by names that somebody else may have made up: nothing outside is touched.

A name is checked as it would be read on every system, and no link is followed on the way.
"""

from __future__ import annotations

import os
import stat
from pathlib import Path, PurePosixPath

from curecal.errors import BookError, ErrorCode
from curecal.machine import new_file_only


def is_inside(name: str, *, climbing: bool = False) -> bool:
    """Return whether a name is plain and relative, and leads out of no folder.

    Args:
        name: The name, with `/` between folders.
        climbing: Whether `..` may stand in it: who lays it out sees to it that it stays inside.

    Returns:
        False for an absolute name, a drive, a backslash, a control character, or no name at all.
    """
    parts = name.split("/")
    plain = name.isprintable() and not set(name) & {"\\", ":"}
    return plain and all(parts) and parts[-1] not in {".", ".."} and (climbing or ".." not in parts)


def write_inside(folder: Path, name: str, data: bytes) -> Path:
    """Write a file, and the folders it needs, for its owner alone: it may hold telephones.

    Args:
        folder: The folder. Links on the way to it are its owner's own matter.
        name: The file's name in it; `..` may stand in it, as long as it stays inside.
        data: Its octets.

    Returns:
        The file, by its name as given.

    Raises:
        BookError: the name leads outside, a link or another file is in the way
            (`book-path-outside`).
    """
    if not is_inside(name, climbing=True):
        raise _outside(name)
    _make_folder(folder)
    here, depth = folder, 0
    for part in PurePosixPath(name).parts[:-1]:
        depth += -1 if part == ".." else 1
        here /= part
        if depth < 0 or here.is_symlink():
            raise _outside(name)
        # Also a folder that the name leaves again has to be there.
        _make_folder(here)
    path = folder / name
    try:
        opened = os.open(path, new_file_only(), 0o600)
    except (FileExistsError, IsADirectoryError, NotADirectoryError):
        raise _outside(name) from None
    with os.fdopen(opened, "wb") as file:
        file.write(data)
    return path


def read_inside(folder: Path, name: str, *, limit: int) -> bytes:
    """Return the octets of a regular file in a folder.

    Args:
        folder: The folder.
        name: The file's name in it.
        limit: How many octets to read at most.

    Returns:
        The octets.

    Raises:
        BookError: the name leads outside, or a link or no regular file is there
            (`book-path-outside`).
        OSError: there is no such file, or it cannot be read.
    """
    if not is_inside(name):
        raise _outside(name)
    here = folder
    for part in PurePosixPath(name).parts:
        here /= part
        if here.is_symlink():
            raise _outside(name)
    # What is no file would be waited for.
    if not stat.S_ISREG(here.stat().st_mode):
        raise _outside(name)
    with here.open("rb") as file:
        return file.read(limit)


def _make_folder(path: Path) -> None:
    # Those between are made as well, and `parents` would give them to everybody.
    if not path.exists():
        _make_folder(path.parent)
        path.mkdir(0o700, exist_ok=True)


def _outside(name: str) -> BookError:
    return BookError(ErrorCode.BOOK_PATH_OUTSIDE, file=name)
