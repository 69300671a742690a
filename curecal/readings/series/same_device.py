"""Whether readings are those of one logger: it was in one place, so they are of one place."""

from __future__ import annotations

from curecal.trade.logged_points import LoggedPoints
from curecal.trade.site_log import Place

MeasuredPlace = tuple[Place, str | None]


def are_different_places(one: MeasuredPlace, other: MeasuredPlace) -> bool:
    """Return whether a logger cannot have been at two places at the same time.

    One room's air is that of every zone in it; a surface or a floor's sensor is one zone's.
    """
    return one != other and not (one[0] is other[0] is Place.AIR)


def have_same_readings(one: LoggedPoints, other: LoggedPoints) -> bool:
    """Return whether two series share instants, and most of the readings at those.

    More than one instant, and more than half: two loggers agree now and then, not most of the time.
    """
    known = {at_us: reading for at_us, *reading in other.rows()}
    shared = [known[at_us] == reading for at_us, *reading in one.rows() if at_us in known]
    return len(shared) > 1 and 2 * sum(shared) > len(shared)
