"""Times of a clock of twelve hours written without AM or PM: an afternoon read as a night."""

from __future__ import annotations

from array import array
from collections.abc import Iterable
from operator import sub

from curecal.errors import SourceError
from curecal.readings.table.timestamps import Form
from curecal.trade.findings import Finding, Severity

HOUR_S, NOON = 3600, 12
# From ten to one back to one o'clock is as long as from one to ten to one.
_LEAST_BACK_S = 6 * HOUR_S


def find_twelve_hour_clock(
    form: Form, seconds: Iterable[int], runs: Iterable[array[int]], path: str
) -> list[Finding]:
    """Refuse times that can only be a clock of twelve hours, and note those that may be.

    Args:
        form: How the file writes its instants.
        seconds: All times of day that it writes [s].
        runs: Its instants in the order of its rows, by device [s since 1970].
        path: What to call the file.

    Returns:
        A finding where no hour shows which clock it is: all of them may be of mornings.

    Raises:
        SourceError: The rows go back at noon, which a clock of twenty-four hours never does.
    """
    if form.half or form.offset:
        return []
    if not {second // HOUR_S for second in seconds} <= set(range(1, NOON + 1)):
        return []
    for at_s in runs:
        steps = list(map(sub, at_s[1:], at_s))
        falling = sum(step < 0 for step in steps) * 2 > len(steps)
        back = (step if falling else -step for step in steps)
        if any(_LEAST_BACK_S < step < NOON * HOUR_S for step in back):
            raise SourceError("readings-twelve-hours", path=path)
    return [Finding(Severity.WARNING, "readings-half-day", path, {})]
