"""Finishes that look like a slip of the pen: by night, long before they were told, a year off.

A clock that begins a year early is over at once, so nothing is planned on such a finish until a
person says that it is right.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, time, timedelta, tzinfo

from curecal.planning.site_log.log_at_instant import Facts
from curecal.records import Record, record
from curecal.trade.findings import FindingCode, Message
from curecal.trade.job import Job, Layer, Zone
from curecal.trade.layers_below import place_of
from curecal.trade.site_log import Correction, Done

_NIGHT_FROM, _NIGHT_UNTIL = time(22), time(5)
# A day without an hour counts from its end, so midnight is what nobody typed.
_NO_HOUR = time()
# Two months later nobody knows the day without a paper; our own choice.
TOLD_LATE = timedelta(days=60)
# Next year instead of this one: a slip of the year is at least so far; our own choice.
FAR_OFF = timedelta(days=300)


@record
class _Finish(Record):
    """One layer's finish, with all that may cast doubt on it."""

    job: Job
    zone: Zone
    layer: Layer
    at: datetime
    facts: Facts


def doubt_about_finish(job: Job, zone: Zone, layer: Layer, facts: Facts) -> Message | None:
    """Return why a layer's finish is asked about; None where it is plain, or said to be sure.

    Rule: R27.

    Args:
        job: the job with the log folded in.
        zone: the layer's zone in it.
        layer: the layer in it.
        facts: what the log says.
    """
    if layer.done_at is None or layer.existing or layer.sure:
        return None
    finish = _Finish(job, zone, layer, layer.done_at, facts)
    return _by_night(finish) or _told_late(finish) or _far_before(finish)


def _by_night(finish: _Finish) -> Message | None:
    job = finish.job
    if not _is_night(finish.at, job):
        return None
    # Who works by night is asked once a job.
    if any(
        layer.sure and layer.done_at is not None and _is_night(layer.done_at, job)
        for zone in job.zones
        for layer in zone.layers
    ):
        return None
    return Message(FindingCode.FINISH_BY_NIGHT, {"layer": finish.layer.name, "done_at": finish.at})


def is_by_night(wall: time) -> bool:
    """Return whether hardly anybody finishes a layer at a time of the day.

    Rule: R27.

    Args:
        wall: the time on the clock of the site; midnight is a day without an hour.
    """
    return (wall >= _NIGHT_FROM or wall < _NIGHT_UNTIL) and wall != _NO_HOUR


def _is_night(at: datetime, job: Job) -> bool:
    wall = _wall(at, job.tz)
    return is_by_night(wall) and not job.work.is_within(wall)


def _wall(at: datetime, tz: tzinfo) -> time:
    return at.astimezone(tz).time()


def _told_late(finish: _Finish) -> Message | None:
    told = [
        entry.recorded
        for entry in finish.facts.of(Done, finish.zone)
        if entry.layer == finish.layer.id and entry.at == finish.at
    ]
    if not told or max(told) - finish.at <= TOLD_LATE:
        return None
    params = {"layer": finish.layer.name, "done_at": finish.at, "recorded_at": max(told)}
    return Message(FindingCode.FINISH_TOLD_LATE, params)


def _far_before(finish: _Finish) -> Message | None:
    """Return the doubt about a finish far before the next layer's, or before all of the log."""
    layers = finish.zone.layers
    above = layers[place_of(layers, finish.layer) + 1 :]
    following = _first_after(
        finish.at,
        [
            layer.done_at
            for layer in above
            # A repair comes years later by right.
            if layer.done_at is not None and not layer.existing and not layer.repair
        ],
    )
    if following is not None and following - finish.at > FAR_OFF:
        return _far(finish, following)
    # A log that also tells of the days before knows of that time: the years after are its life.
    since = finish.at - FAR_OFF
    near = (entry for entry in finish.facts.entries if entry.at >= since)
    first = next((entry.at for entry in near if not _is_own(entry, finish)), None)
    if first is None or first - finish.at <= FAR_OFF:
        return None
    return _far(finish, first)


def _is_own(entry: object, finish: _Finish) -> bool:
    is_done = isinstance(entry, Done) and entry.layer == finish.layer.id
    return is_done or isinstance(entry, Correction)


def _first_after(at: datetime, others: Iterable[datetime]) -> datetime | None:
    return min((other for other in others if other >= at), default=None)


def _far(finish: _Finish, next_at: datetime) -> Message:
    params = {"layer": finish.layer.name, "done_at": finish.at, "next_at": next_at}
    return Message(FindingCode.FINISH_FAR_BEFORE, params)
