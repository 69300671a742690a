"""Whether the clock on the wall can be believed: two clocks compared, no message lost to either.

The clock of the wall may be set; the time since the machine started runs on in sleep and cannot.
Where both moved, the machine slept: what is late goes out and says so. Where the wall's alone
moved, nothing but a STOP goes out until a person has looked.

After another start of the machine there is nothing to compare with but a second source: the
system's own word that the network keeps its clock, the date of a mail server, or a person. Until
one of them confirms it, no permission and no number goes out.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from curecal.records import Record, record
from curecal.reminders.reminder_types import ReminderRules

# A clock that is kept right over the network steps back by less.
_BACK_S = 60.0

# Two clocks that both are right are no further apart, and neither are the answers of a slow server.
_NEAR_S = 600.0

JUMPED, BEHIND, AHEAD = ("clock-jumped", "clock-behind", "clock-ahead")
DOUBTS = frozenset({JUMPED, BEHIND, AHEAD})
"""Why a clock holds all messages but a STOP."""

NETWORK, SERVER, PERSON = "network", "mail server", "person"
"""Who confirmed a clock."""


@record
class ClockPair(Record):
    """One instant on both clocks, and who confirmed that of the wall.

    `boot_id` names the start that the second counts from, and is empty where starts have no names.
    `confirmed` says who confirmed the clock of the wall then; nobody, where it is empty.
    """

    wall_at: datetime
    boot_id: str
    since_boot_s: float
    confirmed: str = ""

    def elapsed_s(self, now: ClockPair) -> float | None:
        """Return how long ago this was, asleep or not [s]; None after another start.

        Of a machine that does not name its starts, a clock that went back tells them apart.
        """
        elapsed_s = now.since_boot_s - self.since_boot_s
        is_same = self.boot_id == now.boot_id
        return elapsed_s if is_same and (elapsed_s >= 0.0 or self.boot_id) else None

    def apart_s(self, now: ClockPair) -> float | None:
        """Return by how much the wall moved on more than time did [s]; None after another start."""
        elapsed_s = self.elapsed_s(now)
        wall_s = (now.wall_at - self.wall_at).total_seconds()
        return None if elapsed_s is None else wall_s - elapsed_s


def confirmation(
    signs: Iterable[ClockPair],
    now: ClockPair,
    *,
    is_synchronized: bool,
    server_at: datetime | None = None,
) -> str:
    """Return who confirms the clock of the wall as it stands.

    Args:
        signs: signs of life, each with who confirmed the clock then.
        now: both clocks now.
        is_synchronized: whether the system says that the network keeps its clock.
        server_at: the date that a server named just now.

    Returns:
        Who; nothing where nobody does.
    """
    if is_synchronized:
        return NETWORK
    if server_at is not None and abs((now.wall_at - server_at).total_seconds()) <= _NEAR_S:
        return SERVER
    of_now = [sign for sign in signs if sign.elapsed_s(now) is not None]
    last = max(of_now, key=lambda sign: sign.since_boot_s, default=None)
    if last is None:
        return ""
    # What was right once on this start is right while both clocks move on together.
    apart_s = last.apart_s(now)
    return last.confirmed if apart_s is not None and abs(apart_s) <= _NEAR_S else ""


def last_look(own: ClockPair | None, signs: Iterable[ClockPair]) -> ClockPair | None:
    """Return when a process last looked at the clocks, or a person did since.

    A process that was busy while the clock was set sees that only after somebody put it right.

    Args:
        own: the process's own last look; None where there was none.
        signs: signs of life of anybody, each with who confirmed the clock then.
    """
    if own is None:
        return None
    since = [
        sign for sign in signs if sign.confirmed == PERSON and (own.elapsed_s(sign) or 0.0) > 0.0
    ]
    return max(since, key=lambda sign: sign.since_boot_s, default=own)


def doubt(before: ClockPair | None, now: ClockPair, rules: ReminderRules, *, starting: bool) -> str:
    """Return why nothing may go out by the clock of now; empty where all is well.

    Args:
        before: the last sign of life; None where there never was one.
        now: both clocks now.
        rules: how far a clock may move.
        starting: whether the process starts, so that it may have been off for long.

    Returns:
        A code, or nothing.
    """
    if before is None:
        return ""
    wall_s = (now.wall_at - before.wall_at).total_seconds()
    if wall_s < -_BACK_S:
        return BEHIND
    is_put_right = now.confirmed == NETWORK and not before.confirmed
    apart_s = before.apart_s(now)
    if starting and not now.boot_id and apart_s is not None and apart_s > rules.jump_s:
        # Its starts have no names: it may have been off for a while.
        apart_s = None
    if apart_s is not None and not is_put_right:
        if apart_s > rules.jump_s:
            return JUMPED
        if apart_s < -rules.jump_s:
            # It stood still or was put back, and went on from there.
            return BEHIND
    if starting and wall_s > rules.ahead_s and now.confirmed != NETWORK:
        return AHEAD
    return ""
