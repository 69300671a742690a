"""Four readers see revisions as published: moved, cancelled, back again."""

from __future__ import annotations

from dataclasses import replace

import pytest
from known import differences
from reading import Reader, meant
from revised import CREW, ELECTRICIAN, by_uid, moved, off, published

from curecal.calendars import Feed, RevisionChange, document, head


@pytest.mark.parametrize("feed", [CREW, ELECTRICIAN], ids=lambda feed: feed.audience.value)
def test_revisions_are_seen_as_published(reader: Reader, feed: Feed) -> None:
    first = published(feed, None, 0)
    kept = replace(feed, events=(moved(feed.events[0]),))
    second = published(kept, first, 1)
    third = published(feed, second, 2)

    stay = {feed.uid(event.key): event for event in kept.events}
    changed = feed.uid(kept.events[0].key)
    gone = [off(seen, feed) for seen in meant(feed) if seen.uid not in stay]
    assert gone
    wanted = [*meant(kept, {changed: 1}), *gone]
    data = document(head(feed), second.revisions)
    assert differences(reader.name, by_uid(wanted), reader.read(data)) == []

    # Back again: the moved event and those cancelled are at their third revision.
    returned = {seen.uid: 2 for seen in gone}
    data = document(head(feed), third.revisions)
    assert differences(reader.name, meant(feed, {**returned, changed: 2}), reader.read(data)) == []
    assert {third.changes[uid] for uid in returned} == {RevisionChange.RETURNED}
