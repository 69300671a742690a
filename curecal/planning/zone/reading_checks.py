"""Checks of the climate's readings: jumps, false statements, a floor warm without heat."""

from __future__ import annotations

from collections.abc import Sequence

from curecal.planning.climate.coldest import find_stated_coldest
from curecal.planning.climate.outliers import Outlier, find_outliers
from curecal.planning.climate.temperature_readings import (
    find_cold,
    find_contradiction,
    find_first_heated,
    group_by_device,
)
from curecal.planning.zone_context import ZoneContext
from curecal.trade.findings import Finding, Severity
from curecal.trade.logged_points import LoggedPoints, microseconds
from curecal.trade.site_log import Kept, Place, Reading, Release, Series


def check_readings(ctx: ZoneContext) -> tuple[Finding, ...]:
    """Return what is wrong with a zone's readings of its climate.

    Rule: R5, R7.
    """
    return (
        *_jumps(ctx),
        *_warmer_alone(ctx),
        *_long_before(ctx),
        *_warm_floor(ctx),
        *_statements(ctx),
        *_heated_loggers(ctx),
    )


def check_coldest(ctx: ZoneContext) -> tuple[Finding, ...]:
    """Return a warning if it was colder than the coldest the job, or the plan, counts with.

    What was so cold once may be so cold again, and the late end does not know. What was so cold
    twice, nights apart, it knows.

    Rule: R6.
    """
    climate = ctx.clocks.climate
    coldest_c = climate.assumed.coldest_air_c
    readings, series = ctx.facts.of(Reading, ctx.zone), ctx.facts.of(Series, ctx.zone)
    heated_at = find_first_heated(ctx.facts, ctx.zone)
    read = [
        (told.value_c - (0.0 if told.place is Place.AIR else climate.assumed.offset_k), told.at_s)
        for told in find_cold(readings, series, (), climate.seconds, heated_at, coldest_c)
        if told.at_s >= 0.0
    ]
    found = []
    told_c = find_stated_coldest(ctx.job.expected, ctx.rules)
    if coldest_c < told_c:
        lowered = {"told_c": told_c, "coldest_c": coldest_c}
        found.append(ctx.finding(Severity.WARNING, "coldest-lowered", "expected.coldest", lowered))
    air_c, at_s = min(read, default=(coldest_c, 0.0))
    if not air_c < coldest_c:
        return tuple(found)
    params = {"read_c": air_c, "seen_at": climate.instant(at_s), "coldest_c": coldest_c}
    found.append(ctx.finding(Severity.WARNING, "colder-than-coldest", "expected.coldest", params))
    return tuple(found)


def _statements(ctx: ZoneContext) -> list[Finding]:
    """Return what is wrong with statements that a room was kept warm."""
    readings, series = ctx.facts.of(Reading, ctx.zone), ctx.facts.of(Series, ctx.zone)
    found = []
    for kept in ctx.facts.of(Kept, ctx.zone):
        colder = find_contradiction(kept, readings, series)
        if colder is not None:
            at, read_c = colder
            told = {
                "kept_c": kept.above_c,
                "read_c": read_c,
                "seen_at": at,
                "by": kept.by or "",
                "id": kept.id,
            }
            found.append(ctx.finding(Severity.WARNING, "kept-contradicted", kept.path, told))
    return found


def _heated_loggers(ctx: ZoneContext) -> list[Finding]:
    """Return loggers in the floor that went on reading once it was heated: those do not count."""
    heated_at = find_first_heated(ctx.facts, ctx.zone)
    if heated_at is None:
        return []
    heated_us = microseconds(heated_at)
    return [
        ctx.finding(
            Severity.CAUTION,
            "floor-logger-heated",
            entry.path,
            {"heated_at": heated_at, "device": entry.device},
        )
        for entry in ctx.facts.of(Series, ctx.zone)
        if entry.place is Place.FLOOR and _last_us(entry) >= heated_us
    ]


def _last_us(entry: Series) -> int:
    return max(LoggedPoints.of(entry.points).at_us, default=0)


def _warm_floor(ctx: ZoneContext) -> list[Finding]:
    """Return the first floor that was warmer than its room, and was not said to be on.

    Once it is released, heat left from the day before is no riddle.
    """
    released = min((entry.at for entry in ctx.facts.of(Release, ctx.zone)), default=None)
    climate = ctx.clocks.climate
    most_k = ctx.rules.bed.warmer_k
    for reading in ctx.facts.of(Reading, ctx.zone):
        floor_c = reading.temperature_c
        if reading.place is not Place.FLOOR or reading.heating_on or floor_c is None:
            continue
        at_s = climate.seconds(reading.at)
        over = [piece.at(at_s) for piece in climate.air if piece.start_s <= at_s <= piece.end_s]
        room_c = max(over, default=ctx.job.expected.air_c)
        if floor_c - room_c > most_k and (released is None or reading.at < released):
            params = {
                "floor_c": floor_c,
                "heating": "off" if reading.heating_off else None,
                "room_c": room_c,
                "seen_at": reading.at,
                "id": reading.id,
            }
            # One is enough to ask about: whoever left it on did so for all of them.
            return [ctx.finding(Severity.WARNING, "floor-warm-while-off", reading.path, params)]
    return []


def _jumps(ctx: ZoneContext) -> list[Finding]:
    """Return the first reading no room makes, of each logger and of the single ones of a place."""
    climate = ctx.clocks.climate
    heated_at = find_first_heated(ctx.facts, ctx.zone)
    series, readings = ctx.facts.of(Series, ctx.zone), ctx.facts.of(Reading, ctx.zone)
    found = []
    for place in Place:
        for entries, points in group_by_device(place, series, climate.seconds, heated_at):
            odd = (
                find_outliers(points, ctx.rules)
                if isinstance(points, list)
                else points.find_outliers(ctx.rules)
            )
            if odd:
                first = entries[0]
                found.append(_jump(ctx, odd, place, first.path, device=first.device))
        here = [
            reading
            for reading in readings
            if reading.place is place and reading.temperature_c is not None
        ]
        spots = [(climate.seconds(reading.at), reading.temperature_c or 0.0) for reading in here]
        odd = find_outliers(spots, ctx.rules)
        if odd:
            told = next(reading for reading in here if climate.seconds(reading.at) == odd[0].at_s)
            found.append(_jump(ctx, odd, place, told.path, reading_id=told.id))
    return found


def _jump(
    ctx: ZoneContext,
    odd: Sequence[Outlier],
    place: Place,
    path: str,
    *,
    device: str = "",
    reading_id: str = "",
) -> Finding:
    """Return what to ask about the first of several odd readings."""
    first = odd[0]
    params = {
        "reading_place": place.value,
        # As it is typed into a correction, in every language.
        "typed": place.value,
        "before_c": first.from_c,
        "after_c": first.to_c,
        "jumped_at": ctx.clocks.climate.instant(first.at_s),
        "count": len(odd),
        "device": device,
        "id": reading_id,
    }
    code = "reading-alone" if first.alone else "reading-jumped"
    return ctx.finding(Severity.WARNING, code, path, params)


def _warmer_alone(ctx: ZoneContext) -> list[Finding]:
    """Return the first look at the air far warmer than those before and after it, days apart.

    A house may do that, and so may a slip: it counts, and is asked about.
    """
    most_k, within_s = ctx.rules.spot_readings.warmer_k, ctx.rules.spot_readings.warmer_s
    looks = [
        (reading, reading.temperature_c)
        for reading in ctx.facts.of(Reading, ctx.zone)
        if reading.place is Place.AIR and reading.temperature_c is not None
    ]
    for (before, before_c), (look, air_c), (after, after_c) in zip(
        looks, looks[1:], looks[2:], strict=False
    ):
        beside_c = max(before_c, after_c)
        near = max(look.at - before.at, after.at - look.at).total_seconds() <= within_s
        if near and air_c - beside_c > most_k:
            params = {"read_c": air_c, "beside_c": beside_c, "seen_at": look.at, "id": look.id}
            return [ctx.finding(Severity.WARNING, "reading-warmer-alone", look.path, params)]
    return []


def _long_before(ctx: ZoneContext) -> list[Finding]:
    """Return the first look long before anything else of the job: its date may be a slip."""
    finishes = [layer.done_at for layer in ctx.zone.layers if layer.done_at is not None]
    begun_at = min(finishes, default=None)
    for look in ctx.facts.of(Reading, ctx.zone):
        if begun_at is None or look.at >= begun_at:
            return []
        others = [entry.at for entry in ctx.facts.entries if entry.id != look.id]
        following = min(at for at in (*others, begun_at) if at >= look.at)
        before_s = (following - look.at).total_seconds()
        if before_s > ctx.rules.spot_readings.before_s:
            params = {"reading_place": look.place.value, "seen_at": look.at, "before_s": before_s}
            return [ctx.finding(Severity.WARNING, "reading-long-before", look.path, params)]
    return []
