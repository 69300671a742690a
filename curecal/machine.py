"""What only some systems have, each behind a name of its own, with what is done elsewhere.

Nothing else in the program asks which system it runs on.
"""

from __future__ import annotations

import contextlib
import importlib
import os
import stat
import time
from pathlib import Path

from curecal.records import Record, record

_BOOT_ID = Path("/proc/sys/kernel/random/boot_id")
# Longer than the structure is on any system: ntp_adjtime fills it in.
_TIMEX_OCTETS = 1024
# TIME_ERROR of ntp_adjtime: nobody keeps the clock right.
_TIME_ERROR = 5


@record
class LeaseNow(Record):
    """An instant of the clock that leases run on, and which clock that is.

    `boot_id` is empty on a machine that gives its starts no names.
    """

    boot_id: str
    now_s: float


def boot_clock() -> LeaseNow:
    """Return the time since this machine started, asleep or not, and which start it was.

    Returns:
        The instant; a wall clock that is put back or forward does not move it.
    """
    try:
        boot_id = _BOOT_ID.read_text(encoding="ascii").strip()
        return LeaseNow(boot_id, time.clock_gettime(time.CLOCK_BOOTTIME))
    except (OSError, AttributeError):
        # Elsewhere the monotonic clock restarts with the machine as well.
        return LeaseNow("", time.monotonic())


def is_clock_synchronized() -> bool:
    """Return whether the system says that its clock is kept right over the network.

    The system forgets it when it starts, and when somebody sets the clock by hand.

    Returns:
        False where it is not, and where the system does not tell.
    """
    ctypes = importlib.import_module("ctypes")  # it takes long to load, and few need it
    try:
        ask = ctypes.CDLL(None).ntp_adjtime
    except (AttributeError, OSError, TypeError):
        return False
    # All zeros ask and change nothing.
    said = int(ask(ctypes.create_string_buffer(_TIMEX_OCTETS)))
    return 0 <= said < _TIME_ERROR


def core_count() -> int:
    """Return how many processes of this program can run at once.

    Returns:
        The cores it may use, at least one; where the system does not tell that, those there are.
    """
    try:
        return len(os.sched_getaffinity(0))
    except (AttributeError, OSError):
        return os.cpu_count() or 1


def sync_folder(folder: Path) -> None:
    """Put a folder's names on the disk, where the system lets a folder be opened.

    Elsewhere the system writes them by itself, at the latest when it is shut down.

    Args:
        folder: The folder.
    """
    with contextlib.suppress(OSError):
        number = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(number)
        finally:
            os.close(number)


def keep_owner(path: Path, owner: tuple[int, int]) -> None:
    """Give a file to the owner and the group of another, as far as the system lets.

    Where files have no such numbers, who makes a file in a folder has the rights that the folder
    gives.

    Args:
        path: The file.
        owner: The numbers of both.
    """
    give = getattr(os, "chown", None)
    found = path.stat()
    if give is None or (found.st_uid, found.st_gid) == owner:
        return
    # Who shares a folder may keep the group and seldom the owner.
    for who in (owner, (-1, owner[1])):
        with contextlib.suppress(OSError):
            give(path, *who)
            break


def is_open_to_others(found: os.stat_result, *, of_root: bool = False) -> bool:
    """Return whether a file of secrets is another user's, or others may read it.

    Args:
        found: What the system says of the file.
        of_root: Whether it may belong to the administrator.

    Returns:
        False too where files have no such rights: there the folder of a user is theirs alone.
    """
    ask = getattr(os, "getuid", None)
    if ask is None:
        return False
    owners = {ask(), 0} if of_root else {ask()}
    return found.st_uid not in owners or bool(found.st_mode & (stat.S_IRWXG | stat.S_IRWXO))


def new_file_only() -> int:
    """Return the flags to open a file that must not be there yet, also not as a link.

    Returns:
        Flags for `os.open`. Where links cannot be told from files here, one that is there is
        refused all the same: the file must be new.
    """
    return os.O_CREAT | os.O_EXCL | os.O_WRONLY | getattr(os, "O_NOFOLLOW", 0)
