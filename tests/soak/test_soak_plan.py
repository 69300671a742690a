"""What goes wrong in a soak, in a time that is played: in a long one everything, at least once."""

from __future__ import annotations

import random
from itertools import islice
from types import SimpleNamespace
from typing import Any, cast

import pytest
import test_soak
from soak_trouble import Trouble, Troubles

BOOKS = ("file", "server")
OWN = {"file": {"disk full"}, "server": {"server restarted", "sessions ended"}}


def troubles_of(book: str, seed: int) -> Troubles:
    """Return the troubles of a book that nothing is done to."""
    nothing = cast("Any", SimpleNamespace(kill=None))
    return Troubles(
        served=nothing,
        mail=nothing,
        clock=nothing,
        chance=random.Random(seed),  # noqa: S311 - a test's own
        restart_mail=lambda: None,
        command=(),
        environment={},
        server=None if book == "file" else nothing,
    )


def played(
    book: str, seed: int, monkeypatch: pytest.MonkeyPatch, *, length_s: float, each_s: float
) -> Troubles:
    """Play a soak, in which each thing that goes wrong takes as long."""
    passed = [0.0]

    def sleep(seconds: float) -> None:
        passed[0] += seconds

    def make(kind: str) -> None:
        troubles.happened.append(Trouble(kind, passed[0], passed[0] + each_s))
        sleep(each_s)

    troubles = troubles_of(book, seed)
    monkeypatch.setattr(troubles, "make", make)
    monkeypatch.setattr(test_soak, "LENGTH_S", length_s)
    monkeypatch.setattr(
        test_soak, "time", SimpleNamespace(monotonic=lambda: passed[0], sleep=sleep)
    )
    test_soak.make_trouble(cast("Any", SimpleNamespace(troubles=troubles)), length_s, [])
    return troubles


@pytest.mark.parametrize("book", BOOKS)
def test_everything_goes_wrong_before_anything_does_again(book: str) -> None:
    troubles = troubles_of(book, 1)
    kinds = set(troubles.kinds())
    plan = troubles.plan()
    for _ in range(3):
        assert set(islice(plan, len(kinds))) == kinds


@pytest.mark.parametrize("seed", range(1, 21))
@pytest.mark.parametrize("book", BOOKS)
def test_a_long_soak_has_time_for_everything_that_may_go_wrong(
    book: str, seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    # What takes longest is a mail server that comes back, and a clock that somebody looks at.
    assert played(book, seed, monkeypatch, length_s=300.0, each_s=8.0).missing() == []
    assert troubles_of(book, seed).missing() == sorted(troubles_of(book, seed).kinds())


def test_no_kind_is_left_out_of_every_short_soak(monkeypatch: pytest.MonkeyPatch) -> None:
    happened: dict[str, set[str]] = {book: set() for book in BOOKS}
    for seed in range(1, 21):
        for book in BOOKS:
            troubles = played(book, seed, monkeypatch, length_s=30.0, each_s=2.5)
            kinds = {one.kind for one in troubles.happened}
            assert {"kill on the wire", "book locked"} | OWN[book] <= kinds, seed
            happened[book] |= kinds
    assert happened == {book: set(troubles_of(book, 1).kinds()) for book in BOOKS}
