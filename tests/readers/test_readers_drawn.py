"""Four readers see of any calendar what was meant, whatever stands in its texts."""

from __future__ import annotations

from calendar_samples import stamped
from drawn import feeds
from hypothesis import given
from known import differences
from reading import Reader, meant

from curecal.calendars import Feed


@given(feeds())
def test_a_calendar_is_seen_as_meant(reader: Reader, feed: Feed) -> None:
    assert differences(reader.name, meant(feed), reader.read(stamped(feed))) == []
