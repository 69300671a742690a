"""Checks of how a heating cable lies, against common practice: they hold no date."""

from __future__ import annotations

from collections.abc import Iterator

from curecal.planning.hold_points.cable_limits import called
from curecal.planning.hold_points.judged_hold import finding_of
from curecal.planning.tolerances import HAIR
from curecal.planning.zone_context import ZoneContext
from curecal.trade.findings import Finding, Params, Severity
from curecal.trade.job import Cable, Heating, SensorPlace

# Floors under tile are heated with 100 to 160 W/m², some with more; common practice. Beyond this
# span power or area is of another floor, or in another unit.
_DENSITY_W_M2 = (60.0, 250.0)
# A trade that works in feet straps every 3 ft where the other straps every 0.9 m.
_ROUNDED = 1.02
_Said = tuple[Severity, str, Params]


def check_cable_laying(ctx: ZoneContext, path: str) -> list[Finding]:
    """Return where a cable lies otherwise than usual, or its power is not of its area.

    Rule: R25a.

    Args:
        ctx: the zone.
        path: the heating's place in the job file.

    Returns:
        The findings; what the job does not say is not asked for.
    """
    said = [one for cable in ctx.zone.heating.cables for one in _lies(ctx, cable)]
    said += [*_area(ctx), *_density(ctx)]
    return [finding_of(ctx, severity, code, path, params) for severity, code, params in said]


def _lies(ctx: ZoneContext, cable: Cable) -> Iterator[_Said]:
    """Yield what is unusual about one cable's spacing, clearances, straps and sensor."""
    rule, laying = ctx.rules.cable_laying, cable.laying
    name = {"cable": called(cable)}
    spacing_m = laying.spacing_m
    if spacing_m is not None and spacing_m < rule.closest_m - HAIR:
        yield Severity.WARNING, "cable-runs-too-close", {**name, "spacing_m": spacing_m}
    elif spacing_m is not None and not (
        rule.usual_least_m <= spacing_m * _ROUNDED and spacing_m <= rule.usual_most_m * _ROUNDED
    ):
        yield Severity.CAUTION, "cable-spacing-unusual", {**name, "spacing_m": spacing_m}
    drains_m = laying.clearance_drains_m
    if drains_m is not None and drains_m < rule.drains_m - HAIR:
        yield Severity.WARNING, "cable-near-drain", {**name, "drains_m": drains_m}
    strapping_m = laying.strapping_m
    if strapping_m is not None and strapping_m > rule.strapping_m * _ROUNDED:
        yield Severity.CAUTION, "cable-straps-far-apart", {**name, "strapping_m": strapping_m}
    if laying.sensor_place is SensorPlace.CLOSE:
        yield Severity.CAUTION, "sensor-close-to-run", name
    if laying.sensor_place is SensorPlace.OUTSIDE:
        yield Severity.WARNING, "sensor-outside-heated-area", name


def heated_area(heating: Heating) -> float | None:
    """Return the area that a heating's cables heat together [m²].

    Rule: R25a.

    Args:
        heating: the heating of a zone.

    Returns:
        The heating's own figure, else the sum of its cables'; None where one is missing.
    """
    if heating.heated_area_m2 is not None:
        return heating.heated_area_m2
    areas = [cable.laying.heated_area_m2 for cable in heating.cables]
    known = [area_m2 for area_m2 in areas if area_m2 is not None]
    return sum(known) if known and len(known) == len(areas) else None


def _area(ctx: ZoneContext) -> Iterator[_Said]:
    floor_m2, heated_m2 = ctx.zone.floor_area_m2, heated_area(ctx.zone.heating)
    if floor_m2 is not None and heated_m2 is not None and heated_m2 > floor_m2 * (1 + HAIR):
        params = {"heated_m2": heated_m2, "floor_m2": floor_m2}
        yield Severity.WARNING, "heated-area-over-floor", params


def _density(ctx: ZoneContext) -> Iterator[_Said]:
    """Yield a power that no floor of that area has: of each cable, else of all together."""
    cables = ctx.zone.heating.cables
    powers = [cable.power_w for cable in cables if cable.power_w]
    if not powers or len(powers) < len(cables):
        return
    areas = [cable.laying.heated_area_m2 for cable in cables]
    if all(areas):
        pairs = [
            (called(cable), cable.power_w, area_m2)
            for cable, area_m2 in zip(cables, areas, strict=True)
        ]
    else:
        pairs = [("", sum(powers), heated_area(ctx.zone.heating) or ctx.zone.floor_area_m2)]
    least, most = _DENSITY_W_M2
    for name, power_w, area_m2 in pairs:
        if power_w and area_m2 and not least <= power_w / area_m2 <= most:
            params = {"cable": name, "rated_w": power_w, "area_m2": area_m2}
            yield Severity.WARNING, "power-not-of-area", params
