"""A log entry with the readings it names, and from when to when they count."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from curecal.readings.series.decoded_channels import DecodedChannel
from curecal.readings.series.readings_entry import ReadingsEntry
from curecal.readings.table.export_types import LoggerChannel
from curecal.records import PlainView, Record, record
from curecal.trade.logged_points import LoggedPoints
from curecal.trade.site_log import Correction

Window = tuple[datetime | None, datetime | None]
WINDOW_KEYS = ("from_at", "until_at")


@record
class StoredSeries(Record):
    """A kept entry with all of its readings, and its corrections in the order they were made."""

    entry: ReadingsEntry
    decoded: DecodedChannel
    corrections: tuple[Correction, ...]

    @property
    def channel(self) -> LoggerChannel:
        """Its readings."""
        return self.decoded.channel

    def points(self, shown: LoggerChannel) -> LoggedPoints:
        """Return a part of its readings, or all of them, as the site log holds them."""
        return self.decoded.points if shown is self.channel else shown.points()

    def wrong_median_c(self, shown: LoggerChannel) -> float | None:
        """Return the median [°C] of a part of its readings, where no unheated place has it."""
        known = self.decoded if shown is self.channel else DecodedChannel(shown)
        return known.wrong_median_c

    @property
    def windows(self) -> list[Window]:
        """From when to when it counts: as written, then after each correction."""
        entry = self.entry
        found = [(entry.from_at, entry.until_at)]
        for correction in self.corrections:
            changes: PlainView = correction.changes
            changed = {key: changes[key] for key in WINDOW_KEYS if key in changes}
            entry = replace(entry, **changed)
            found.append((entry.from_at, entry.until_at))
        return found

    @property
    def counting(self) -> LoggerChannel:
        """The readings that count after every correction."""
        return self.channel.between(*self.windows[-1])
