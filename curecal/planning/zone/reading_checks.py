"""What readings of the climate give away: jumps, false statements, a heated floor's logger."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from curecal.planning.climate.outliers import Doubt, doubts
from curecal.planning.climate.temperature_readings import by_device, contradicted, heated_from
from curecal.planning.site_log.said import is_nobody
from curecal.planning.zone_context import Desk
from curecal.trade.findings import Severity
from curecal.trade.site_log import Kept, Place, Reading, Series


def reading_checks(desk: Desk) -> None:
    """Note what is wrong with a zone's readings of its climate.

    Rule: R5, R7.

    Args:
        desk: the zone on the desk; findings are noted on it.
    """
    _jumps(desk)
    readings, series = desk.facts.of(Reading, desk.zone), desk.facts.of(Series, desk.zone)
    for kept in desk.facts.of(Kept, desk.zone):
        if is_nobody(kept.by):
            unsigned = {"kept_c": kept.above_c, "seen_at": kept.at}
            desk.find(Severity.WARNING, "kept-unsigned", kept.path, unsigned)
        colder = contradicted(kept, readings, series)
        if colder is not None:
            at, read_c = colder
            params = {
                "kept_c": kept.above_c,
                "read_c": read_c,
                "seen_at": at,
                "by": kept.by or "",
            }
            desk.find(Severity.WARNING, "kept-contradicted", kept.path, params)
    heated_at = heated_from(desk.facts, desk.zone)
    if heated_at is None:
        return
    for entry in series:
        if entry.place is Place.FLOOR and any(at >= heated_at for at, _, _ in entry.points):
            params = {"heated_at": heated_at, "device": entry.device}
            desk.find(Severity.CAUTION, "floor-logger-heated", entry.path, params)


def _jumps(desk: Desk) -> None:
    """Note readings no room makes: of a logger its first, of single looks the first of a place."""
    climate = desk.clocks.climate
    heated_at = heated_from(desk.facts, desk.zone)
    series, looks = desk.facts.of(Series, desk.zone), desk.facts.of(Reading, desk.zone)
    for place in Place:
        for entries, points in by_device(place, series, climate.seconds, heated_at):
            found = doubts(points, desk.rules)
            if found:
                who = {"device": entries[0].device, "id": ""}
                _note(desk, found, place, entries[0].path, who)
        those = [look for look in looks if look.place is place and look.temperature_c is not None]
        spots = [(climate.seconds(look.at), look.temperature_c or 0.0) for look in those]
        found = doubts(spots, desk.rules)
        if found:
            odd = next(look for look in those if climate.seconds(look.at) == found[0].at_s)
            _note(desk, found, place, odd.path, {"device": "", "id": odd.id})


def _note(
    desk: Desk, found: Sequence[Doubt], place: Place, path: str, who: Mapping[str, str]
) -> None:
    first = found[0]
    params = {
        "place": place.value,
        "before_c": first.from_c,
        "after_c": first.to_c,
        "jumped_at": desk.clocks.climate.instant(first.at_s),
        "count": len(found),
        "device": who["device"],
        "id": who["id"],
    }
    code = "reading-alone" if first.alone else "reading-jumped"
    desk.find(Severity.WARNING, code, path, params)
