"""The calendars of whole jobs: golden jobs and examples, before, in and after their work."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path

from golden import expected_path, folders
from planning_samples import RULES, job, layer, sheet, weekdays
from planning_samples import zone as floor
from planning_site import CLIMATE, Site

from curecal.calendars import Feed, feeds
from curecal.job_files import read_job
from curecal.job_files.days_off import day_off_for
from curecal.planning.make_plan import make_plan
from curecal.planning.plan import State

_WEEK = timedelta(weeks=1)
# Before anything is laid; while it is; while it hardens; long after every wait.
_WEEKS = (-8, 1, 6, 30)


@cache
def asked_at(folder: Path) -> datetime:
    """The instant that a golden job is looked at from."""
    said = json.loads(expected_path(folder).read_text(encoding="utf-8"))["asked_at"]
    return datetime.fromisoformat(said)


def understood() -> list[Path]:
    """The folders of jobs that a plan is made of: one golden job is there to be refused."""
    return [
        folder
        for folder in folders()
        if "as_of" in json.loads(expected_path(folder).read_text(encoding="utf-8"))
    ]


@cache
def calendars(folder: Path, as_of: datetime) -> tuple[Feed, ...]:
    """The three calendars of a job at an instant, worked out once for all readers."""
    read = read_job(folder / "job.toml")
    assert read.job is not None, folder.name
    day_off = day_off_for(read.job)
    plan = make_plan(read.job, read.log, as_of, rules=RULES, day_off=day_off)
    return feeds(plan, rules=RULES, day_off=day_off, log=read.log)


def around(folder: Path) -> list[datetime]:
    """Instants before, in and after the work of a job."""
    asked = asked_at(folder)
    return sorted([asked, *(asked + count * _WEEK for count in _WEEKS)])


def logged(folder: Path) -> list[datetime]:
    """Just after each entry of a job's log: every state that its log gives is among them."""
    read = read_job(folder / "job.toml")
    known = {entry.recorded for entry in read.log}
    return sorted(at + timedelta(minutes=1) for at in known)


@cache
def life() -> dict[State, tuple[Feed, ...]]:
    """A screed heated bare, then tiled: its calendars on the first morning of each state."""
    found: dict[State, tuple[Feed, ...]] = {}
    for state, made in _mornings():
        found.setdefault(state, made)
    return found


def _mornings() -> Iterator[tuple[State, tuple[Feed, ...]]]:
    layers = [
        layer("sand-cement screed", thickness_m=0.05, heat_before_covering=True),
        layer(sheet("thinset", heat_d=14.0), name="tile bed"),
        layer(sheet("cement grout", heat_d=10.0)),
    ]
    made = job(floor(*layers), climate=CLIMATE)
    site = Site(made, weather=lambda _: CLIMATE.air_c, works=lambda _: True)
    for morning in site.mornings():
        told = feeds(morning.told, rules=RULES, day_off=weekdays, log=morning.log)
        yield morning.floor.state, told
