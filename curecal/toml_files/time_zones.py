"""Time zones and holiday regions: names that only a list can tell right from wrong."""

from __future__ import annotations

import importlib
import re
import zoneinfo
from collections.abc import Callable, Mapping
from types import MappingProxyType

from curecal.errors import ValueRefused
from curecal.toml_files.schema import Key
from curecal.toml_files.shown import nearest, shorten
from curecal.toml_files.values import text_of

_REGION = re.compile(r"[A-Z]{2}(?:-[A-Za-z0-9 ]{1,20})?", re.ASCII)


def time_zone(value: object, key: Key) -> zoneinfo.ZoneInfo:
    """Return the zone of an IANA name."""
    name = text_of(value, key)
    try:
        return zoneinfo.ZoneInfo(name)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError):
        pass
    known = sorted(zoneinfo.available_timezones())
    place = name.rpartition("/")[2].replace(" ", "_").casefold()
    same = [zone for zone in known if zone.rpartition("/")[2].casefold() == place]
    meant = same[0] if same else nearest(name, known)
    raise ValueRefused(
        "timezone-unknown", text=shorten(name), nearest=meant, example="America/Halifax"
    )


def region(value: object, key: Key) -> str:
    """Return a holiday region that there is a calendar of."""
    name = text_of(value, key)
    # Loaded by name and only here: it costs a tenth of a second.
    holidays = importlib.import_module("holidays")
    country, _, part = name.partition("-")
    known = holidays.list_supported_countries()
    parts = known.get(country)
    if not _REGION.fullmatch(name) or parts is None:
        raise ValueRefused("region-unknown", text=shorten(name), nearest="", known="")
    if part:
        try:
            holidays.country_holidays(country, subdiv=part)
        except NotImplementedError:
            raise ValueRefused(
                "region-unknown",
                text=shorten(name),
                nearest="",
                known=", ".join(f"{country}-{part}" for part in parts),
            ) from None
    return name


REGIONAL: Mapping[str, Callable[[object, Key], object]] = MappingProxyType(
    {"timezone": time_zone, "holidays": region}
)
