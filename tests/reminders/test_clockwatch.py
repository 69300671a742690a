"""Two clocks compared: asleep, set forward, set back, off for long."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from curecal.machine import is_clock_synchronized
from curecal.reminders.reminder_rules import shipped_rules
from curecal.reminders.timing.clock_jump import ClockPair, confirmation, doubt

AT = datetime(2026, 11, 10, 12, tzinfo=UTC)
H, D = 3600.0, 86400.0


def clocks(wall_s: float, boot_s: float, boot_id: str = "a", confirmed: str = "") -> ClockPair:
    return ClockPair(AT + timedelta(seconds=wall_s), boot_id, boot_s, confirmed)


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
        # Kept by the network: put right, or off for long; set back it is looked at all the same.
        (clocks(3 * D, 20, confirmed="network"), False, ""),
        (clocks(10 * D, 20, "b", "network"), True, ""),
        (clocks(-2 * H, 20, confirmed="network"), False, "clock-behind"),
        (clocks(10 * D, 20, "b", "person"), True, "clock-ahead"),
    ],
)
def test_what_the_clocks_say(now: ClockPair, reason: str, *, starting: bool) -> None:
    assert doubt(clocks(0, 0), now, shipped_rules(), starting=starting) == reason


def test_the_first_start_of_all_is_believed() -> None:
    assert doubt(None, clocks(0, 0), shipped_rules(), starting=True) == ""


def test_a_clock_that_was_right_and_jumps_is_not_believed_by_the_same_word() -> None:
    before = clocks(0, 0, confirmed="network")
    now = clocks(3 * D, 20, confirmed="network")
    assert doubt(before, now, shipped_rules(), starting=False) == "clock-jumped"


def test_a_machine_that_does_not_name_its_starts_may_have_been_off() -> None:
    before = clocks(0, 5000, "")
    for now in (clocks(2 * D, 20, ""), clocks(2 * D, 6000, "")):
        assert doubt(before, now, shipped_rules(), starting=True) == ""
    # While a process runs, the machine did not start.
    assert doubt(before, clocks(2 * D, 5020, ""), shipped_rules(), starting=False)


YES, NO = True, False


@pytest.mark.parametrize(
    ("signs", "now", "synchronized", "server_s", "by"),
    [
        ([], clocks(0, 0), NO, None, ""),
        ([], clocks(0, 0), YES, None, "network"),
        ([], clocks(0, 0), NO, 0.0, "mail server"),
        ([], clocks(0, 0), NO, 599.0, "mail server"),
        ([], clocks(0, 0), NO, -601.0, ""),
        # Confirmed once on this start, and both clocks moved on together since.
        ([clocks(0, 0, confirmed="person")], clocks(9 * D, 9 * D), NO, None, "person"),
        ([clocks(0, 0, confirmed="person")], clocks(9 * D, 9 * D - 601), NO, None, ""),
        ([clocks(0, 0, confirmed="person")], clocks(9 * D, 9 * D, "b"), NO, None, ""),
        # The last word counts, not the one that one would like to hear.
        ([clocks(0, 0, confirmed="person"), clocks(9, 9)], clocks(20, 20), NO, None, ""),
        ([clocks(0, 0), clocks(9, 9, confirmed="person")], clocks(20, 20), NO, None, "person"),
        # Starts without names: one that went back is another.
        ([clocks(0, 50, "", "person")], clocks(0, 20, ""), NO, None, ""),
        ([clocks(0, 50, "", "person")], clocks(9, 59, ""), NO, None, "person"),
    ],
)
def test_who_confirms_a_clock(
    signs: list[ClockPair], now: ClockPair, server_s: float | None, by: str, *, synchronized: bool
) -> None:
    at = None if server_s is None else AT + timedelta(seconds=server_s)
    assert confirmation(signs, now, is_synchronized=synchronized, server_at=at) == by


def test_the_system_is_asked_and_answers_with_yes_or_no() -> None:
    # adjtimex(8) of the system shows the same flag.
    assert is_clock_synchronized() in {True, False}
