"""A book and a folder that shows its calendars: who knows newer ones, and where to go on.

Source: RFC 5546, 2.1.4 and 2.1.5: receivers go by SEQUENCE, then by DTSTAMP; what goes back is
not taken. The hundred is ours.
"""

from __future__ import annotations

import pytest
from book_samples import later

from curecal.book.ledger.ledger import met
from curecal.calendars import Audience, History, Revision


def revision(uid: str, sequence: int, *, minutes: float = 0, title: str = "x") -> Revision:
    lines = ("BEGIN:VEVENT", f"UID:{uid}", f"SUMMARY:{title}", "END:VEVENT")
    return Revision(uid, Audience.CREW, sequence, later(minutes=minutes), lines)


def known(*revisions: Revision, first: int = 0, suspect: frozenset[str] = frozenset()) -> History:
    return History("7", {each.uid: each for each in revisions}, first, None, suspect)


KEPT = known(revision("a", 2), revision("b", 5))


@pytest.mark.parametrize(
    "shown",
    [
        known(),
        KEPT,
        known(revision("a", 1, title="old"), revision("b", 5)),
        known(revision("a", 2, minutes=-5)),
        # Of a damaged file, what is cut says nothing.
        known(revision("a", 2, title="cu"), first=102, suspect=frozenset({"a"})),
    ],
)
def test_a_folder_that_shows_nothing_newer_changes_nothing(shown: History) -> None:
    assert met(KEPT, shown) is KEPT


@pytest.mark.parametrize(
    ("shown", "first"),
    [
        (known(revision("a", 3)), 105),
        (known(revision("b", 9)), 109),
        (known(revision("a", 2, minutes=1)), 105),
        (known(revision("a", 2, title="else")), 105),
        (known(revision("c", 0)), 105),
        (known(revision("a", 3), first=400), 400),
        (known(revision("a", 2**31 - 1)), 105),
    ],
)
def test_one_that_is_ahead_makes_all_of_it_new(shown: History, first: int) -> None:
    found = met(KEPT, shown)
    assert found.first == first
    assert found.suspect == {"a", "b"} | set(shown.revisions)
    assert found.generation == "7"
    stamps = [each.changed_at for each in (*KEPT.revisions.values(), *shown.revisions.values())]
    assert found.newest_at == max(stamps)


def test_of_two_revisions_the_later_one_is_known() -> None:
    shown = known(revision("a", 1, title="old"), revision("b", 6, title="new"))
    found = met(KEPT, shown).revisions
    assert (found["a"].sequence, found["b"].summary) == (2, "new")
