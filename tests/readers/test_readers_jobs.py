"""Four readers see of the calendars of whole jobs what was planned."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import pytest
from calendar_samples import stamped
from golden import EXAMPLES
from jobs import around, asked_at, calendars, life, logged, understood
from known import differences
from reading import Reader, meant

from curecal.calendars import Feed
from curecal.planning.plan import State

JOBS = understood()
SHOWN = [folder for folder in JOBS if folder.parent == EXAMPLES]


def misseen(reader: Reader, feeds: tuple[Feed, ...]) -> list[str]:
    """What a reader sees otherwise than it was planned, in all calendars of a job."""
    return [
        line
        for feed in feeds
        for line in differences(reader.name, meant(feed), reader.read(stamped(feed)))
    ]


def misseen_at(reader: Reader, folder: Path, instants: list[datetime]) -> list[str]:
    return [line for at in instants for line in misseen(reader, calendars(folder, at))]


@pytest.mark.parametrize("folder", JOBS, ids=lambda folder: folder.name)
def test_a_golden_job_is_seen_as_planned(reader: Reader, folder: Path) -> None:
    assert misseen_at(reader, folder, [asked_at(folder)]) == []


@pytest.mark.parametrize("folder", SHOWN, ids=lambda folder: folder.name)
def test_an_example_is_seen_as_planned_before_in_and_after_the_work(
    reader: Reader, folder: Path
) -> None:
    assert misseen_at(reader, folder, around(folder)) == []


@pytest.mark.slow
@pytest.mark.parametrize("folder", JOBS, ids=lambda folder: folder.name)
def test_a_job_is_seen_as_planned_after_each_entry_of_its_log(reader: Reader, folder: Path) -> None:
    assert misseen_at(reader, folder, [*around(folder), *logged(folder)]) == []


def test_a_floor_is_seen_as_planned_in_each_state_of_its_life(reader: Reader) -> None:
    lived = life()
    assert {State.CURING, State.RELEASED, State.HEATING_UP, State.IN_SERVICE} <= lived.keys()
    for state, feeds in lived.items():
        assert misseen(reader, feeds) == [], state


def test_every_text_of_a_job_s_calendars_says_something() -> None:
    """A property without a value is an error to libical; no job may come to that."""
    for folder in JOBS:
        for feed in calendars(folder, asked_at(folder)):
            for event in meant(feed):
                assert event.summary.strip(), event
                assert event.description.strip(), event


def test_no_job_rests_on_what_a_reader_is_excused_for(reader: Reader) -> None:
    for folder in JOBS:
        for feed in calendars(folder, asked_at(folder)):
            assert reader.read(stamped(feed)).events == meant(feed)
