"""Honest jobs, as experienced installers write them, and what is said of one of them."""

from __future__ import annotations

import re
from collections import Counter
from datetime import UTC, datetime
from functools import cache
from pathlib import Path

from curecal.errors import CurecalError
from curecal.job_files import load_rules
from curecal.job_files.days_off import day_off_for
from curecal.job_files.job_reader import parse_job
from curecal.planning.make_plan import make_plan
from curecal.planning.plan import State, ZonePlan
from curecal.records import Record, record
from curecal.trade.findings import Severity
from curecal.trade.hold_codes import HoldCode

FOLDER = Path(__file__).parent / "honest"
NAMES = sorted(path.stem for path in FOLDER.glob("*.toml"))
NEVER = datetime.max.replace(tzinfo=UTC)
# From a floor that nobody may touch to one that is on: what comes later here is nearer to heat.
NEARER = (
    *(State.NO_DATE, State.PLANNED, State.STOPPED, State.CURING, State.ON_HOLD, State.CLEAR),
    *(State.RELEASED, State.HEATING_UP, State.IN_SERVICE),
)


@record
class Told(Record):
    """One zone's answer: its two ends, its state, and what is outstanding."""

    earliest: datetime
    latest: datetime
    state: State
    outstanding: Counter[HoldCode]


@record
class Answer(Record):
    """What is said of a whole job: every code, and each zone's answer by its name."""

    codes: Counter[str]
    errors: tuple[str, ...]
    zones: dict[str, Told]


def text_of(name: str) -> str:
    """Return a job's text."""
    return (FOLDER / f"{name}.toml").read_text(encoding="utf-8")


def seen_at(text: str) -> datetime:
    """Return the instant a job is looked at from: its first line says it."""
    match = re.match(r"# Seen (\S+)\. \S", text)
    assert match, "the first line says when the job is seen, and what it is"
    return datetime.fromisoformat(match[1])


@cache
def honest_answer(name: str) -> Answer:
    """Return what is said of a job as it stands."""
    text = text_of(name)
    return answer(text, seen_at(text))


def answer(text: str, now: datetime) -> Answer:
    """Return what is said of a job's text, read and planned at an instant."""
    try:
        read = parse_job(text.encode(), clock=now)
    except CurecalError as error:
        return Answer(Counter([error.code]), (error.code,), {})
    errors = tuple(found.code for found in read.findings if found.severity is Severity.ERROR)
    codes = Counter(finding.code for finding in read.findings)
    if read.job is None:
        return Answer(codes, errors, {})
    plan = make_plan(read.job, read.log, now, rules=load_rules(), day_off=day_off_for(read.job))
    codes |= Counter(finding.code for finding in plan.findings)
    return Answer(codes, errors, {zone.zone.name: _told(zone) for zone in plan.zones})


def _told(zone: ZonePlan) -> Told:
    window = zone.energize.window
    outstanding = Counter(hold.code for hold in zone.holds if hold.is_outstanding)
    # The clocks say that already, and by the second.
    del outstanding[HoldCode.CURE]
    if window is None:
        return Told(NEVER, NEVER, zone.state, outstanding)
    return Told(window.earliest, window.latest or NEVER, zone.state, outstanding)


def is_named(found: Answer, honest: Answer) -> bool:
    """Return whether a slip was refused, or something is said that was not said before."""
    more = any(
        told.outstanding - honest.zones[name].outstanding
        for name, told in found.zones.items()
        if name in honest.zones
    )
    return bool(found.errors) or bool(found.codes - honest.codes) or more


def what_came_nearer(found: Answer, honest: Answer) -> str:
    """Return which zone's date, state or evidence came nearer to heat; none where nothing did."""
    # A zone by another name is held against the latest there was.
    last = max(honest.zones.values(), key=lambda told: told.earliest)
    for name, told in found.zones.items():
        was = honest.zones.get(name, last)
        if told.earliest < was.earliest:
            return f"{name}: {was.earliest} came to {told.earliest}"
        if told.latest < was.latest:
            return f"{name}: late end {was.latest} came to {told.latest}"
        if NEARER.index(told.state) > NEARER.index(was.state):
            return f"{name}: {was.state} became {told.state}"
        if was.outstanding - told.outstanding:
            return f"{name}: nobody asks for {was.outstanding - told.outstanding} any more"
    return ""
