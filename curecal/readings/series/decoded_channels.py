"""Loggers' readings decoded once, for who reads a job more than once."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

from curecal.readings.table.export_types import readings_of
from curecal.toml_files.spans import wrong_median_c

if TYPE_CHECKING:
    from curecal.readings.table.export_types import LoggerChannel
    from curecal.trade.logged_points import LoggedPoints

_MOST = 2_000_000
"""Readings kept decoded, with what is made of them: some 100 MB."""


class DecodedChannel:
    """A channel, with what every reading of its job asks of it: made once, where it is asked."""

    def __init__(self, channel: LoggerChannel) -> None:
        """Take the channel."""
        self.channel = channel

    def __len__(self) -> int:
        """Return how many readings it has."""
        return len(self.channel)

    @cached_property
    def interval_s(self) -> float:
        """The nominal interval [s]."""
        return self.channel.interval_s

    @cached_property
    def points(self) -> LoggedPoints:
        """The readings as the site log holds them."""
        return self.channel.points()

    @cached_property
    def wrong_median_c(self) -> float | None:
        """The median [°C], where no unheated place has it."""
        return wrong_median_c(list(readings_of(self.channel.temperature_c)))


class DecodedChannels:
    """Channels by the hash of their stored bytes.

    Nothing is found by its name or its time: other bytes are another channel. Those that nobody
    asked for longest are given up where they grow too many.
    """

    def __init__(self, most: int = _MOST) -> None:
        """Take how many readings may be kept."""
        self._most = most
        self._channels: dict[str, DecodedChannel] = {}

    def get(self, sha256: str) -> DecodedChannel | None:
        """Return the channel of some bytes, None where it is not kept."""
        channel = self._channels.pop(sha256, None)
        if channel is not None:
            # The last one asked for stands last.
            self._channels[sha256] = channel
        return channel

    def keep(self, sha256: str, channel: LoggerChannel) -> DecodedChannel:
        """Return the channel of some bytes, kept."""
        made = self._channels[sha256] = DecodedChannel(channel)
        while len(self) > self._most:
            del self._channels[next(iter(self._channels))]
        return made

    def __len__(self) -> int:
        """Return how many readings are kept."""
        return sum(len(channel) for channel in self._channels.values())
