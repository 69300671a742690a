"""Lines that were not understood: how many, which of them were readings, which may hide frost."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from curecal.errors import SourceError
from curecal.readings.table.cell_values import figure, is_below_zero, unit_beside
from curecal.readings.table.export_types import RowFault, UnparsedCount
from curecal.trade.findings import Finding, Severity

LISTED = 20
# A room's air at 2 °C counts as frost where no surface was measured.
_COLD = {"C": 2.0, "F": 35.6}
# A run of lines is no slip any more; a share of a twentieth is no file to rely on. Both are our own
# choice; a few lines of a short file are allowed.
_RUN, _SHARE, _FEW = 3, 20, 5
_NUMBERS = re.compile(r"\d+[-/.:]\d+|\d{4}")


@dataclass
class UnparsedLines:
    """What became of lines that could not be read.

    `readings` counts those with a date or a time and a figure behind it; `run` is the longest
    run of them. `cold` counts those that may be a reading below zero, `cold_line` is the first.
    """

    count: int = 0
    lines: list[tuple[int, RowFault]] = field(default_factory=list)
    last: int = 0
    readings: int = 0
    run: int = 0
    cold: int = 0
    cold_line: int = 0
    run_line: int = 0
    _now: int = 0
    _before: int = -1

    def note(self, line: int, fault: RowFault) -> None:
        """Keep a line that could not be read."""
        self.count += 1
        self.last = line
        if len(self.lines) < LISTED:
            self.lines.append((line, fault))

    def look(
        self,
        line: int,
        cells: Sequence[str],
        stamp: Sequence[int],
        warm: Sequence[tuple[int, str]],
        *,
        whole: bool,
    ) -> bool:
        """Look at what stands in a line that could not be read.

        Args:
            line: Its number.
            cells: Its fields.
            stamp: Where its instant should stand.
            warm: Where its temperatures should stand, each with its unit.
            whole: Whether its fields are where they should be.

        Returns:
            Whether it may hide frost.
        """
        others = [cell for index, cell in enumerate(cells) if index not in stamp]
        dated = any(index < len(cells) and _NUMBERS.search(cells[index]) for index in stamp)
        if dated and any(sign.isdigit() for cell in others for sign in cell):
            self._count(line)
        there = [(cells[index], unit) for index, unit in warm if index < len(cells)]
        cold = any(_is_cold(cell, unit) for cell, unit in there)
        cold = cold or (not whole and any(map(is_below_zero, others)))
        if cold:
            self.cold += 1
            self.cold_line = self.cold_line or line
        return cold

    def lose(self, line: int, fault: RowFault, values: Sequence[tuple[float, str]]) -> None:
        """Keep a line that was read, and whose instant then was none; temperatures with units."""
        self.note(line, fault)
        self._count(line)
        if any(value <= _COLD[unit] for value, unit in values):
            self.cold += 1
            self.cold_line = self.cold_line or line

    def _count(self, line: int) -> None:
        self.readings += 1
        self._now = self._now + 1 if line - 1 == self._before else 1
        self._before = line
        if self._now > self.run:
            self.run, self.run_line = self._now, line - self._now + 1

    def bad(self) -> UnparsedCount:
        """Return the lines, the first of them listed."""
        return UnparsedCount(self.count, tuple(self.lines))

    def findings(self, path: str) -> list[Finding]:
        """Return what the person has to look at: a line that nobody read hides what it says."""
        params: dict[str, object]
        if self.cold:
            params = {"row_count": self.cold, "line": self.cold_line}
            return [Finding(Severity.WARNING, "readings-unread-cold", path, params)]
        if self.run >= _RUN:
            params = {"row_count": self.run, "line": self.run_line}
            return [Finding(Severity.WARNING, "readings-unread-run", path, params)]
        return []

    def refuse_many(self, good: int, path: str) -> None:
        """Refuse a file of which too much is not understood.

        Args:
            good: How many lines were read.
            path: What to call the file.

        Raises:
            SourceError: More lines than were read were not, or more than a small share of the
                readings.
        """
        if self.count > good or is_too_many(self.readings, good):
            raise SourceError(
                "readings-mostly-bad",
                path=path,
                bad_count=self.count,
                good=good,
                line=self.lines[0][0],
            )


def is_too_many(bad: int, good: int) -> bool:
    """Return whether readings that do not count are more than slips among those that do."""
    return bad > good or (bad > _FEW and bad * _SHARE > good + bad)


def _is_cold(cell: str, unit: str) -> bool:
    """Return whether a cell where a temperature should stand is, or may be, one of frost."""
    try:
        value = figure(cell)
    except ValueError:
        return is_below_zero(cell, alone=False)
    own = unit_beside(cell) or unit
    return value <= _COLD.get(own, _COLD["C"])
