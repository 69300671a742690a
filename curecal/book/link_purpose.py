"""What a link opens."""

from __future__ import annotations

from enum import StrEnum


class LinkPurpose(StrEnum):
    """What a link opens. None of them opens what another one does."""

    OWNER = "owner"
    CREW = "crew"
    ELECTRICIAN = "electrician"
    OFFICE = "office"
    FEED = "feed"
