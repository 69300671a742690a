"""What a file's words say of an offset from UTC: read where they are clear, never half of them."""

from __future__ import annotations

import re
from datetime import UTC, timedelta, timezone, tzinfo

_NAME = r"(?:GMT|UTC)"
_NAMES = re.compile(rf"{_NAME}(?:\s?/\s?{_NAME})?", re.IGNORECASE)
_SIGNED = (
    r"(?P<sign>[+\-\u2212])\s?(?:(?P<h>\d{1,2})(?::(?P<min>\d\d))?|(?P<hh>\d\d)(?P<mm>\d\d))"
    r"(?![\d:.,]*\d)"
)
_OFFSET = re.compile(
    rf"(?P<etc>Etc/)?{_NAMES.pattern}"
    rf"(?:\s*(?:offset)?\s*[:=(]?\s*{_SIGNED}\s?(?:h|hrs?|hours?)?(?![A-Za-z])\)?)?",
    re.IGNORECASE,
)
_BARE = re.compile(_SIGNED)
_SERIAL = re.compile(
    r"(?<![A-Za-z])(?:LGR|logger|serial|S/N|SN)\b[\s:#]*(?:no|number|S/N|SN)?[.\s:#]*[\w-]*\d[\w-]*",
    re.IGNORECASE,
)
_WORD = re.compile(r"[A-Z]?[^\W\d_A-Z]+|[A-Z]+(?![^\W\d_A-Z])")
# What stands beside an offset and changes nothing about it. Any other word may: "local, not UTC",
# "GMT Daylight Time", the name of a region whose clocks change under the offset of its winter.
_NEUTRAL = re.compile(
    r"at|changed|clock|coordinated|created|data|dates?|datetime|datum|fecha|fuseau|fuso|gmt|h|heures?|horas?"
    r"|horaire|horario|horodatage|hours?|huso|in|is|last|logged|logger|measured|of|offset|ora|recorded|stamp|tijd|tijdzone"
    r"|times?|timestamp|timezone|tz|uhrzeit|universal|utc|z|zeit|zeitstempel|zeitzone|zone",
    re.IGNORECASE,
)
_MOST_HOURS, _HOUR_MIN = 15, 60


def mentions(text: str) -> bool:
    """Return whether a text names UTC or GMT: whether it says something of an offset."""
    return _NAMES.search(text) is not None


def offset_in(text: str) -> tzinfo | None:
    """Return the offset that a text states: "GMT-05:00", "UTC offset: +1", "(UTC)".

    None where there is none, or where something beside it may change it.
    """
    matches = list(_OFFSET.finditer(text))
    zones = [_zone(match) for match in matches]
    offsets = {None if zone is None else zone.utcoffset(None) for zone in zones}
    if len(offsets) != 1 or None in offsets:
        return None
    rest = _SERIAL.sub(" ", _OFFSET.sub(" ", text))
    words = {word.lower() for word in _WORD.findall(rest) if not _NEUTRAL.fullmatch(word)}
    if any(match["sign"] for match in matches):
        # A local time at a stated distance is that distance; "local, not UTC" is none.
        words.discard("local")
    return zones[0] if not words and not any(sign.isdigit() for sign in rest) else None


def offset_named(text: str) -> tzinfo | None:
    """Return the offset that a text is, and nothing beside it: "UTC+1", "-05:00"; else None."""
    plain = text.strip()
    match = _OFFSET.fullmatch(plain)
    if match is not None:
        return _zone(match)
    match = _BARE.fullmatch(plain)
    return None if match is None else _fixed(match, turned=False)


def offset_behind(text: str) -> tzinfo | None:
    """Return the offset that stands behind a name and its colon: "Time zone: -05:00".

    None where anything else stands there.
    """
    match = _BARE.fullmatch(text.partition(":")[2].strip())
    return None if match is None else _fixed(match, turned=False)


def _zone(match: re.Match[str]) -> tzinfo | None:
    if match["sign"]:
        # The names of the list of zones count westward.
        return _fixed(match, turned=match["etc"] is not None)
    return UTC


def _fixed(match: re.Match[str], *, turned: bool) -> tzinfo | None:
    hours, minutes = int(match["h"] or match["hh"]), int(match["min"] or match["mm"] or 0)
    if not (hours < _MOST_HOURS and minutes < _HOUR_MIN):
        return None
    offset = timedelta(hours=hours, minutes=minutes)
    return timezone(offset if (match["sign"] == "+") is not turned else -offset)
