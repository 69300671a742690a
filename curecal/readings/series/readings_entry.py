"""An entry of kind `readings` as it stands in a log, before its readings are looked for."""

from __future__ import annotations

from datetime import datetime

from curecal.records import record
from curecal.trade.site_log import Place, Remark


@record(kw_only=True)
class ReadingsEntry(Remark):
    """Where an entry's readings are, whose they are, and from when to when they count."""

    sha256: str | None = None
    place: Place = Place.AIR
    device: str = "logger"
    from_at: datetime | None = None
    until_at: datetime | None = None
