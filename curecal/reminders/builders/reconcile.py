"""What is kept against what is wanted now: what to add, what to take back, what stays."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from curecal.reminders.reminder_types import Reminder


class Reconciled(NamedTuple):
    """The difference: a reminder whose time or words changed is taken back and added anew."""

    insert: tuple[Reminder, ...]
    withdraw: tuple[Reminder, ...]
    keep: tuple[Reminder, ...]


def reconcile(have: Iterable[Reminder], want: Iterable[Reminder]) -> Reconciled:
    """Return how to bring what is kept to what is wanted.

    Doing it twice changes nothing the second time.

    Args:
        have: the reminders kept, not yet sent.
        want: the reminders wanted.

    Returns:
        What to insert, to withdraw and to keep.
    """
    wanted = {reminder.key: reminder for reminder in want}
    kept: dict[str, Reminder] = {}
    withdraw = []
    for reminder in have:
        same = wanted.get(reminder.key)
        if same is not None and _plain(same) == _plain(reminder) and reminder.key not in kept:
            kept[reminder.key] = reminder
        else:
            withdraw.append(reminder)
    insert = tuple(reminder for key, reminder in wanted.items() if key not in kept)
    return Reconciled(insert, tuple(withdraw), tuple(kept.values()))


def _plain(reminder: Reminder) -> tuple[object, ...]:
    """Return what a reminder is kept by: its words are made of the plan when it is due."""
    return (
        reminder.due_at,
        reminder.until_at,
        reminder.address,
        reminder.topic,
        reminder.day_on,
        reminder.urgent,
        reminder.alone,
    )
