"""Where a logger's readings begin or end with a change that no room makes: a warm van, a pocket."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator
from math import isnan

from curecal.readings.table.export_types import LoggerChannel, instant
from curecal.trade.findings import Finding, Severity

# No room changes so fast; a logger that is carried does. All four are our own choice, on the side
# of asking once too often: a finding costs a look, warm readings of a van would cost a floor.
JUMP_K, JUMP_S = 5.0, 15 * 60
SLOW_JUMP_K = 10.0
END_S = 4 * 3600

Change = tuple[int, int]


def find_edge_outliers(channel: LoggerChannel, path: str) -> list[Finding]:
    """Return where a channel begins or ends with a change that no room makes.

    That is 5 K within 15 minutes, or 10 K in one longer step, in the first or the last four
    hours; for each end one finding at most, about the change farthest from it. The readings count
    all the same, until a person says from when to when they were the room's.
    """
    if not len(channel):
        return []
    at_s = channel.at_s
    head = bisect_right(at_s, at_s[0] + END_S)
    tail = max(bisect_left(at_s, at_s[-1] - END_S), head)
    starting = list(_changes(channel, range(head)))
    ending = list(_changes(channel, range(max(tail - 1, 0), len(at_s))))
    found = []
    if starting:
        # The last change, by the first reading that shows it.
        shown = min(change for change in starting if change[0] == starting[-1][0])
        found.append(_finding(channel, "readings-jump-start", shown, path))
    if ending and ending[0] not in starting:
        found.append(_finding(channel, "readings-jump-end", ending[0], path))
    return found


def _changes(channel: LoggerChannel, rows: range) -> Iterator[Change]:
    """Return pairs of readings between which no room changes so much."""
    at_s, warm = channel.at_s, channel.temperature_c
    most_s = 2 * channel.interval_s
    seen = [row for row in rows if not isnan(warm[row])]
    first = 0
    for place, row in enumerate(seen):
        while at_s[row] - at_s[seen[first]] > JUMP_S and first < place - 1:
            first += 1
        for before in reversed(seen[first:place]):
            step_s = at_s[row] - at_s[before]
            wanted_k = JUMP_K if step_s <= JUMP_S else SLOW_JUMP_K
            if step_s <= max(most_s, JUMP_S) and abs(warm[row] - warm[before]) >= wanted_k:
                yield before, row
                break


def _finding(channel: LoggerChannel, code: str, change: Change, path: str) -> Finding:
    before, after = change
    params: dict[str, object] = {
        "device": channel.device,
        "before_c": channel.temperature_c[before],
        "after_c": channel.temperature_c[after],
        "first_at": instant(channel.at_s[before]),
        "later_at": instant(channel.at_s[after]),
    }
    return Finding(Severity.WARNING, code, path, params)
