"""What readings of the climate give away: jumps, false statements, a floor warm without heat."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from curecal.planning.climate.outliers import Doubt, doubts
from curecal.planning.climate.temperature_readings import by_device, contradicted, heated_from, seen
from curecal.planning.zone_context import ZoneContext
from curecal.trade.findings import Severity
from curecal.trade.site_log import Kept, Place, Reading, Release, Series


def reading_checks(ctx: ZoneContext) -> None:
    """Note what is wrong with a zone's readings of its climate.

    Rule: R5, R7.

    Args:
        ctx: the zone; findings are noted on it.
    """
    _jumps(ctx)
    _warm_floor(ctx)
    readings, series = (
        ctx.facts.of(Reading, ctx.zone),
        ctx.facts.of(Series, ctx.zone),
    )
    for kept in ctx.facts.of(Kept, ctx.zone):
        colder = contradicted(kept, readings, series)
        if colder is not None:
            at, read_c = colder
            params = {
                "kept_c": kept.above_c,
                "read_c": read_c,
                "seen_at": at,
                "by": kept.by or "",
            }
            ctx.find(Severity.WARNING, "kept-contradicted", kept.path, params)
    heated_at = heated_from(ctx.facts, ctx.zone)
    if heated_at is None:
        return
    for entry in series:
        if entry.place is Place.FLOOR and any(at >= heated_at for at, _, _ in entry.points):
            params = {"heated_at": heated_at, "device": entry.device}
            ctx.find(Severity.CAUTION, "floor-logger-heated", entry.path, params)


def coldest_check(ctx: ZoneContext) -> None:
    """Note the coldest that was read where it is colder than the coldest the plan counts with.

    What was so cold once may be so cold again, and the late end does not know.

    Rule: R6.

    Args:
        ctx: the zone; findings are noted on it.
    """
    climate = ctx.clocks.climate
    coldest_c = climate.assumed.coldest_air_c
    looks, series = ctx.facts.of(Reading, ctx.zone), ctx.facts.of(Series, ctx.zone)
    heated_at = heated_from(ctx.facts, ctx.zone)
    read = [
        (look.value_c - (0.0 if look.place is Place.AIR else climate.assumed.offset_k), look.at_s)
        for look in seen(looks, series, (), climate.seconds, heated_at, coldest_c)
        if look.at_s >= 0.0
    ]
    air_c, at_s = min(read, default=(coldest_c, 0.0))
    if air_c < coldest_c:
        params = {"read_c": air_c, "seen_at": climate.instant(at_s), "coldest_c": coldest_c}
        ctx.find(Severity.WARNING, "colder-than-coldest", "expected.coldest", params)


def _warm_floor(ctx: ZoneContext) -> None:
    """Note the first floor that was warmer than its room by no heat of its own, it is said.

    Once it is released, heat left from the day before is no riddle.
    """
    released = min((entry.at for entry in ctx.facts.of(Release, ctx.zone)), default=None)
    climate = ctx.clocks.climate
    most_k = ctx.rules.bed.warmer_k
    for look in ctx.facts.of(Reading, ctx.zone):
        if look.place is not Place.FLOOR or not look.heating_off or look.temperature_c is None:
            continue
        at_s = climate.seconds(look.at)
        over = [piece.at(at_s) for piece in climate.air if piece.start_s <= at_s <= piece.end_s]
        room_c = max(over, default=ctx.job.expected.air_c)
        if look.temperature_c - room_c > most_k and (released is None or look.at < released):
            params = {
                "floor_c": look.temperature_c,
                "room_c": room_c,
                "seen_at": look.at,
                "id": look.id,
            }
            ctx.find(Severity.WARNING, "floor-warm-while-off", look.path, params)
            return


def _jumps(ctx: ZoneContext) -> None:
    """Note readings no room makes: of a logger its first, of single looks the first of a place."""
    climate = ctx.clocks.climate
    heated_at = heated_from(ctx.facts, ctx.zone)
    series, looks = ctx.facts.of(Series, ctx.zone), ctx.facts.of(Reading, ctx.zone)
    for place in Place:
        for entries, points in by_device(place, series, climate.seconds, heated_at):
            found = doubts(points, ctx.rules)
            if found:
                who = {"device": entries[0].device, "id": ""}
                _note(ctx, found, place, entries[0].path, who)
        those = [look for look in looks if look.place is place and look.temperature_c is not None]
        spots = [(climate.seconds(look.at), look.temperature_c or 0.0) for look in those]
        found = doubts(spots, ctx.rules)
        if found:
            odd = next(look for look in those if climate.seconds(look.at) == found[0].at_s)
            _note(ctx, found, place, odd.path, {"device": "", "id": odd.id})


def _note(
    ctx: ZoneContext, found: Sequence[Doubt], place: Place, path: str, who: Mapping[str, str]
) -> None:
    first = found[0]
    params = {
        "place": place.value,
        "before_c": first.from_c,
        "after_c": first.to_c,
        "jumped_at": ctx.clocks.climate.instant(first.at_s),
        "count": len(found),
        "device": who["device"],
        "id": who["id"],
    }
    code = "reading-alone" if first.alone else "reading-jumped"
    ctx.find(Severity.WARNING, code, path, params)
