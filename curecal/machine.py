"""What only some systems have, each behind a name of its own, with what is done elsewhere.

Nothing else in the program asks which system it runs on.
"""

from __future__ import annotations

import ctypes
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
    try:
        ask = ctypes.CDLL(None).ntp_adjtime
    except (AttributeError, OSError, TypeError):
        return False
    # All zeros ask and change nothing.
    said = int(ask(ctypes.create_string_buffer(_TIMEX_OCTETS)))
    return 0 <= said < _TIME_ERROR
