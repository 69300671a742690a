"""What a ledger remembers of a log entry: what it said, not where it stood."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

from curecal.calendars.revisions.log_marks import log_marks
from curecal.trade.site_log import Place, Reading, Remark, Series

AT = datetime(2026, 12, 2, 20, tzinfo=UTC)
AIR = Reading(
    id="air", at=AT, recorded=AT, zone="hall", path="log.0", place=Place.AIR, temperature_c=19.5
)


def digest(entry: Reading) -> str:
    return log_marks([entry])["air"].digest


def test_a_mark_names_its_entry() -> None:
    (mark,) = log_marks([AIR]).values()
    assert (mark.kind, mark.at, len(mark.digest)) == ("reading", AT, 24)


def test_what_is_said_makes_the_digest_and_where_it_stands_does_not() -> None:
    same = (AIR, replace(AIR, path="log.7"), replace(AIR, zone="bath"))
    assert len({digest(entry) for entry in same}) == 1
    others = (
        replace(AIR, temperature_c=20.5),
        replace(AIR, at=AT - timedelta(minutes=1)),
        replace(AIR, by="Lee"),
        replace(AIR, note="by the window"),
        replace(AIR, place=Place.FLOOR),
        replace(AIR, heating_on=True),
    )
    assert len({digest(entry) for entry in (AIR, *others)}) == len(others) + 1


def test_a_field_that_was_not_given_is_not_said() -> None:
    """A later version's new field changes no digest of an entry that does not give it."""
    assert digest(AIR) == digest(replace(AIR, humidity=None))


def test_entries_of_every_shape_have_one() -> None:
    assert len(log_marks([AIR, Remark(id="r", at=AT, recorded=AT)])) == 2


def test_a_series_has_the_mark_that_ledgers_hold_of_it() -> None:
    """Made before its readings were kept in columns: a published log must be known again."""
    at = datetime(2026, 11, 5, 6, 30, tzinfo=UTC)
    hour = timedelta(hours=1)
    made = Series(
        id="s",
        at=at,
        recorded=at,
        by="Ada",
        place=Place.AIR,
        device="a",
        interval_s=3600.0,
        points=((at, 15.5, None), (at + hour, None, 0.5), (at + hour * 2, -0.25, 0.55)),
    )
    assert log_marks([made])["s"].digest == "b83fab7a524fa4ec96850a7a"
