"""A bar for whoever waits at a terminal: after a second, and to nobody else."""

from __future__ import annotations

import io
import sys
import time

import pytest

from curecal.cli.shared.progress import progress


class Terminal(io.StringIO):
    """What somebody sees on a terminal."""

    def isatty(self) -> bool:
        return True


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    """The seconds that have passed, for the test to move."""
    passed = [0.0]
    monkeypatch.setattr(time, "monotonic", lambda: passed[0])
    return passed


def test_a_pipe_is_told_nothing() -> None:
    with progress("jobs") as show:
        assert show is None


def test_what_is_done_within_a_second_shows_no_bar(
    clock: list[float], monkeypatch: pytest.MonkeyPatch
) -> None:
    seen = Terminal()
    monkeypatch.setattr(sys, "stderr", seen)
    with progress("jobs") as show:
        assert show is not None
        for done in range(1, 31):
            clock[0] += 0.03
            show(done, 30)
    assert seen.getvalue() == ""


def test_a_bar_says_what_is_done_and_how_far(
    clock: list[float], monkeypatch: pytest.MonkeyPatch
) -> None:
    seen = Terminal()
    monkeypatch.setattr(sys, "stderr", seen)
    with progress("readings", file="porch.csv") as show:
        assert show is not None
        for done in (10, 20, 30, 40):
            clock[0] += 1.5
            show(done, 40)
    assert "Reading porch.csv" in seen.getvalue()
    assert " 50%" in seen.getvalue()
    assert "100%" in seen.getvalue()
    assert seen.getvalue().endswith("\n")


def test_what_lies_ahead_may_grow(clock: list[float], monkeypatch: pytest.MonkeyPatch) -> None:
    seen = Terminal()
    monkeypatch.setattr(sys, "stderr", seen)
    with progress("play") as show:
        assert show is not None
        clock[0] = 2.0
        show(5, 10)
        clock[0] = 4.0
        show(10, 40)
    assert " 25%" in seen.getvalue()
