"""Two clocks compared: asleep, set forward, set back, off for long."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from curecal.reminders.reminder_rules import shipped_rules
from curecal.reminders.timing.clock_jump import ClockPair, doubt

AT = datetime(2026, 11, 10, 12, tzinfo=UTC)
H, D = 3600.0, 86400.0


def clocks(wall_s: float, boot_s: float, boot_id: str = "a") -> ClockPair:
    return ClockPair(AT + timedelta(seconds=wall_s), boot_id, boot_s)


@pytest.mark.parametrize(
    ("now", "starting", "reason"),
    [
        (clocks(20, 20), False, ""),
        # Asleep for two days: both moved.
        (clocks(2 * D, 2 * D), False, ""),
        (clocks(H + 20, 20), False, ""),
        (clocks(H + 21, 20), False, "clock-jumped"),
        (clocks(-2 * H, 20), False, "clock-behind"),
        (clocks(-40, 20), False, ""),
        (clocks(-61, 20), False, "clock-behind"),
        ((ClockPair(datetime(1970, 1, 1, tzinfo=UTC), "a", 20.0)), False, "clock-behind"),
        (clocks(365 * D, 20), False, "clock-jumped"),
        # It stood still while the machine ran on for hours.
        (clocks(20, 2 * H), False, "clock-behind"),
        # Another start of the machine: only the wall can be compared.
        (clocks(6 * D, 20, "b"), True, ""),
        (clocks(7 * D + 1, 20, "b"), True, "clock-ahead"),
        (clocks(365 * D, 20, "b"), True, "clock-ahead"),
        (clocks(-2 * H, 20, "b"), True, "clock-behind"),
        # Off for ten days on a machine that ran on: long, but the clock is right.
        (clocks(10 * D, 10 * D), True, "clock-ahead"),
        (clocks(10 * D, 20), True, "clock-jumped"),
    ],
)
def test_what_the_clocks_say(now: ClockPair, reason: str, *, starting: bool) -> None:
    assert doubt(clocks(0, 0), now, shipped_rules(), starting=starting) == reason


def test_the_first_start_of_all_is_believed() -> None:
    assert doubt(None, clocks(0, 0), shipped_rules(), starting=True) == ""
