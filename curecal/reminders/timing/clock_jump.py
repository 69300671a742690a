"""Whether the clock on the wall can be believed: two clocks compared, no message lost to either.

The clock of the wall may be set; the time since the machine started runs on in sleep and cannot.
Where both moved, the machine slept: what is late goes out and says so. Where the wall's alone
moved, nothing goes out until a person has looked.
"""

from __future__ import annotations

from datetime import datetime

from curecal.records import Record, record
from curecal.reminders.reminder_types import ReminderRules

# A clock that is kept right over the network steps back by less.
_BACK_S = 60.0

JUMPED, BEHIND, AHEAD = ("clock-jumped", "clock-behind", "clock-ahead")


@record
class ClockPair(Record):
    """One instant on both clocks; `boot_id` names the start that the second counts from."""

    wall_at: datetime
    boot_id: str
    since_boot_s: float


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
    if now.boot_id == before.boot_id:
        apart_s = wall_s - (now.since_boot_s - before.since_boot_s)
        if apart_s > rules.jump_s:
            return JUMPED
        if apart_s < -rules.jump_s:
            # It stood still or was put back, and went on from there.
            return BEHIND
    if starting and wall_s > rules.ahead_s:
        return AHEAD
    return ""
