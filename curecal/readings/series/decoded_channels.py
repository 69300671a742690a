"""Loggers' readings decoded once, for who reads a job more than once."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from curecal.readings.table.export_types import LoggerChannel

_MOST = 3_000_000
"""Readings kept decoded: some 70 MB."""


class DecodedChannels:
    """Channels by the hash of their stored bytes.

    Nothing is found by its name or its time: other bytes are another channel. Those that nobody
    asked for longest are given up where they grow too many.
    """

    def __init__(self, most: int = _MOST) -> None:
        """Take how many readings may be kept."""
        self._most = most
        self._channels: dict[str, LoggerChannel] = {}

    def get(self, sha256: str) -> LoggerChannel | None:
        """Return the channel of some bytes, None where it is not kept."""
        channel = self._channels.pop(sha256, None)
        if channel is not None:
            # The last one asked for stands last.
            self._channels[sha256] = channel
        return channel

    def keep(self, sha256: str, channel: LoggerChannel) -> None:
        """Keep the channel of some bytes."""
        self._channels[sha256] = channel
        while len(self) > self._most:
            del self._channels[next(iter(self._channels))]

    def __len__(self) -> int:
        """Return how many readings are kept."""
        return sum(len(channel) for channel in self._channels.values())
