"""What somebody changed in an output: ours goes above it, so that programs take it back.

Source: RFC 5546, 2.1.4: receivers go by SEQUENCE.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from test_revise import AS_OF, GOES, HOUR, UID_A, A, feed, step

from curecal.calendars import History, RevisionChange, drafts, revise


@pytest.mark.parametrize(("stands", "sequence"), [(0, 1), (6, 7)])
def test_an_edit_is_published_over_above_what_stands(stands: int, sequence: int) -> None:
    first = step(None, AS_OF, A)
    history = History(
        "1", {UID_A: first.revisions[0]}, raised={UID_A: stands}, edited=frozenset({UID_A})
    )
    second = revise(drafts(feed(A)), history, AS_OF + HOUR, goes=GOES)
    assert second.changes == {UID_A: RevisionChange.CHANGED}
    assert second.revisions[0].sequence == sequence
    assert second.revisions[0].content == first.revisions[0].content


def test_a_raised_number_alone_changes_nothing_until_the_plan_does() -> None:
    first = step(None, AS_OF, A)
    history = History("1", {UID_A: first.revisions[0]}, raised={UID_A: 6})
    same = revise(drafts(feed(A)), history, AS_OF + HOUR, goes=GOES)
    assert same.revisions == first.revisions
    moved = revise(drafts(feed(replace(A, summary="B"))), history, AS_OF + HOUR, goes=GOES)
    assert moved.revisions[0].sequence == 7
