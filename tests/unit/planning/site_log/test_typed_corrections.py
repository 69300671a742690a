"""Corrections that somebody else typed, that came too late, or that only look like bad news."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

import pytest
from planning_log import HOUR, fact
from planning_samples import DAY, START, expected, job, layer, plan, reading, sheet, zone

from curecal.planning.site_log.corrections import may_change
from curecal.trade.job import Below, Person, Role
from curecal.trade.site_log import Cause, Correction, Entry, Origin, Place, Stopped

LEAD, SPARK, OWNER = "Robin Lead", "Sam Spark", "Kim Owner"
PEOPLE = (
    Person(Role.CREW_LEAD, LEAD),
    Person(Role.ELECTRICIAN, SPARK),
    Person(Role.OWNER, OWNER),
)
BED = zone(layer(sheet("thinset", 10.0), START, "bed"))


def corrected(entry: Entry, by: str, at: datetime = START + DAY, **changes: object) -> Correction:
    """A correction; without a change, a withdrawal."""
    return Correction(
        id=f"{entry.id}-{by}",
        at=at,
        recorded=at,
        by=by,
        of=entry.id,
        withdrawn=not changes,
        changes=changes,
        path="log.9",
    )


@pytest.mark.parametrize(
    ("entered_by", "origin", "photo", "counts"),
    [
        (None, None, None, True),
        (SPARK, None, None, True),
        (OWNER, Origin.PHONE, "meter.jpg", False),
        (LEAD, None, "meter.jpg", False),
        (LEAD, Origin.PHONE, None, False),
        (LEAD, Origin.PHONE, "meter.jpg", True),
    ],
)
def test_who_types_anothers_correction_says_how_they_know(
    entered_by: str | None, origin: Origin | None, photo: str | None, *, counts: bool
) -> None:
    stop = fact(Stopped, START, cause=Cause.TRIPPED, by=OWNER)
    typed = replace(corrected(stop, SPARK), entered_by=entered_by, origin=origin, photo=photo)
    assert may_change(PEOPLE, typed, stop) is counts


def test_who_has_left_corrects_nothing_with_a_day_before_they_left() -> None:
    people = tuple(replace(person, until_at=START + DAY) for person in PEOPLE)
    stop = fact(Stopped, START, cause=Cause.OTHER, by=OWNER)
    then = corrected(stop, LEAD, START + HOUR)
    assert may_change(people, then, stop)
    assert not may_change(people, replace(then, recorded=START + DAY), stop)


def test_a_colder_air_of_a_stranger_does_not_warm_a_floor_over_ground() -> None:
    pairs = [
        look
        for hours in (0, 8, 16, 24)
        for look in (
            reading(START + HOUR * hours, 20.0, Place.AIR),
            reading(START + HOUR * hours, 16.0, Place.SURFACE),
        )
    ]
    airs = pairs[::2]
    over_ground = replace(job(BED, people=PEOPLE), expected=expected(20.0, below=Below.GROUND))
    as_read = plan(over_ground, pairs, START + DAY * 2).zones[0].energize.window
    colder = [corrected(look, "Max", START + DAY * 2, temperature_c=16.0) for look in airs]
    made = plan(over_ground, [*pairs, *colder], START + DAY * 2)
    assert made.zones[0].energize.window == as_read
    by_lead = [corrected(look, LEAD, START + DAY * 2, temperature_c=16.0) for look in airs]
    nearer = plan(over_ground, [*pairs, *by_lead], START + DAY * 2).zones[0].energize.window
    assert as_read is not None
    assert nearer is not None
    assert nearer.earliest < as_read.earliest
