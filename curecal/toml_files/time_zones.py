"""Time zones and holiday regions: names that only a list can tell right from wrong."""

from __future__ import annotations

import importlib
import re
import zoneinfo
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from types import MappingProxyType

from curecal.errors import ValueRefused
from curecal.toml_files.schema import Key
from curecal.toml_files.shown import nearest, shorten
from curecal.toml_files.values import text_of

_REGIONS = frozenset(
    {
        "Africa",
        "America",
        "Antarctica",
        "Arctic",
        "Asia",
        "Atlantic",
        "Australia",
        "Europe",
        "Indian",
        "Pacific",
    }
)
# One city for each clock people abbreviate, the likeliest first: fixed offsets change no clock, and
# nearly every site with a heated floor does.
_CITIES = (
    *("America/New_York", "America/Chicago", "America/Denver", "America/Los_Angeles"),
    *("America/Halifax", "America/St_Johns", "America/Anchorage", "Pacific/Honolulu"),
    *("Europe/London", "Europe/Berlin", "Europe/Helsinki", "Europe/Moscow", "Asia/Dubai"),
    *("Asia/Kolkata", "Asia/Shanghai", "Asia/Tokyo", "Australia/Sydney", "Australia/Adelaide"),
    *("Pacific/Auckland", "America/Sao_Paulo", "America/Phoenix"),
)
# What people call a clock, where the tz database has no such name.
_SPOKEN: Mapping[str, str] = MappingProxyType(
    {
        "eastern": "America/New_York",
        "edt": "America/New_York",
        "et": "America/New_York",
        "central": "America/Chicago",
        "cst": "America/Chicago",
        "cdt": "America/Chicago",
        "mountain": "America/Denver",
        "mdt": "America/Denver",
        "pacific": "America/Los_Angeles",
        "pst": "America/Los_Angeles",
        "pdt": "America/Los_Angeles",
        "atlantic": "America/Halifax",
        "ast": "America/Halifax",
        "adt": "America/Halifax",
        "bst": "Europe/London",
        "ist": "Europe/Dublin",
        "cest": "Europe/Berlin",
        "mez": "Europe/Berlin",
        "mesz": "Europe/Berlin",
        "eest": "Europe/Helsinki",
        "aest": "Australia/Sydney",
    }
)
_REGION = re.compile(r"[A-Z]{2}(?:-[A-Za-z0-9 ]{1,20})?", re.ASCII)


def time_zone(value: object, key: Key) -> zoneinfo.ZoneInfo:
    """Return the zone of a place, by its region and city.

    An abbreviation, or an offset by another name, does not change its clocks as the site does:
    "EST" is an hour off all summer. Only "UTC" says that no clock is meant to change.
    """
    name = text_of(value, key)
    is_place = name == "UTC" or name.partition("/")[0] in _REGIONS
    try:
        found = zoneinfo.ZoneInfo(name)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError):
        found = None
    if found is not None and is_place:
        return found
    example = "America/Halifax"
    if found is not None:
        meant = _like(found)
        raise ValueRefused("timezone-no-place", text=shorten(name), nearest=meant, example=example)
    spoken = " ".join(name.casefold().replace("time", "").replace("standard", "").split())
    if spoken in _SPOKEN:
        meant = _SPOKEN[spoken]
        raise ValueRefused("timezone-no-place", text=shorten(name), nearest=meant, example=example)
    known = sorted(zoneinfo.available_timezones())
    place = name.rpartition("/")[2].replace(" ", "_").casefold()
    same = [zone for zone in known if zone.rpartition("/")[2].casefold() == place]
    meant = same[0] if same else nearest(name, known)
    raise ValueRefused("timezone-unknown", text=shorten(name), nearest=meant, example=example)


@cache
def countries_of(zone: str) -> frozenset[str]:
    """Return the countries (ISO 3166, two letters) a time zone is kept in; none where unknown."""
    folder = Path(str(importlib.import_module("tzdata").__file__)).parent / "zoneinfo"
    found = set()
    for table in ("zone.tab", "zone1970.tab"):
        for line in (folder / table).read_text("utf-8").splitlines():
            countries, _, name, *_ = [*line.split("\t"), "", ""]
            if name == zone:
                found.update(countries.split(","))
    return frozenset(found)


def _like(zone: zoneinfo.ZoneInfo) -> str:
    """Return the city whose clocks agree with a zone's in winter, if possible in summer too."""
    dates = [datetime(2026, month, 1, 12, tzinfo=UTC) for month in (1, 7)]
    winter, summer = (day.astimezone(zone).utcoffset() for day in dates)
    fitting = []
    for city in _CITIES:
        there = [day.astimezone(zoneinfo.ZoneInfo(city)).utcoffset() for day in dates]
        if there[0] == winter:
            fitting.append((there[1] != summer, city))
    return min(fitting, key=lambda found: found[0], default=(False, ""))[1]


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
