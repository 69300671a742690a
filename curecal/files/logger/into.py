"""A channel's readings into a job: a file beside it, and one entry of its log that names it."""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from curecal.errors import SourceError
from curecal.files.logger.canonical import digest, read_back, written
from curecal.files.logger.shape import Channel
from curecal.records import Record
from curecal.trade.log import Entry, Place, Series

_ODD = re.compile(r"[^a-z0-9]+")
_UNPORTABLE = re.compile(r"[\\:]")
_LONGEST_PART = 24
_PRINTED = 8
MOST_UNDERSTOOD = 1000

Append = Callable[[Mapping[str, object]], str]
"""Adds an entry of kind `readings` with these keys to the job's log; returns its id."""


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Wanted(Record):
    """What a person says of readings that go into a job: zone's id, place, from when to when."""

    zone: str | None
    place: Place
    start: datetime | None = None
    end: datetime | None = None


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Added(Record):
    """What became of a channel: its entry's id and file, None where the job had it all."""

    device: str
    rows: int
    new: int
    id: str | None = None
    path: Path | None = None


def add(
    job: Path,
    channel: Channel,
    wanted: Wanted,
    *,
    log: Iterable[Entry],
    understood: str,
    append: Append,
) -> Added:
    """Keep a channel's readings beside a job and name them in its log.

    Args:
        job: The job file.
        channel: The readings.
        wanted: Zone, place, from when to when.
        log: What the job's log holds, with corrections counted.
        understood: In words, what the logger's file was understood to say.
        append: What adds the entry.

    Returns:
        What was added; nothing where the job has every reading of it.

    Raises:
        SourceError: The file cannot be written, or nothing is left between the two instants.
    """
    data = written(channel)
    # What counts is what will be read back, to the last digit.
    kept = read_back(data, channel.device)
    shown = kept.between(wanted.start, wanted.end)
    if not len(shown):
        raise SourceError("readings-window-empty", device=channel.device)
    there = _there(log, channel.device, wanted)
    new = sum(point not in there for point in shown.points())
    if not new:
        return Added(channel.device, len(shown), 0)
    folder = _UNPORTABLE.sub("-", job.stem)
    path = job.parent / f"{folder}.readings" / _name(kept, wanted, data)
    begun = _keep(path, data)
    values: dict[str, object] = {
        "file": path.relative_to(job.parent).as_posix(),
        "sha256": digest(data),
        "place": wanted.place.value,
        "device": channel.device,
        "rows": len(kept),
        "first": kept.first,
        "last": kept.last,
        "from": wanted.start,
        "until": wanted.end,
        "understood": understood[:MOST_UNDERSTOOD],
    }
    try:
        made = append({name: value for name, value in values.items() if value is not None})
    except BaseException:
        # Readings that no entry names are nobody's.
        if begun:
            path.unlink(missing_ok=True)
        raise
    return Added(channel.device, len(shown), new, made, path)


def _there(log: Iterable[Entry], device: str, wanted: Wanted) -> set[object]:
    """Return the readings that the job has of a device at a place."""
    return {
        point
        for entry in log
        if isinstance(entry, Series)
        and (entry.device, entry.place, entry.zone) == (device, wanted.place, wanted.zone)
        for point in entry.points
    }


def _name(channel: Channel, wanted: Wanted, data: bytes) -> str:
    """Return the file's name: what it is about, its first day, and its content's hash."""
    day = datetime.fromtimestamp(channel.at_s[0], UTC).date().isoformat()
    about = (wanted.zone or "job", wanted.place.value, channel.device)
    parts = [_ODD.sub("-", part.lower()).strip("-")[:_LONGEST_PART] for part in about]
    return "-".join([*filter(None, parts), day, digest(data)[:_PRINTED]]) + ".csv"


def _keep(path: Path, data: bytes) -> bool:
    """Write a file whole or not at all; return whether it was not there before."""
    try:
        if path.exists() and path.read_bytes() == data:
            return False
        path.parent.mkdir(exist_ok=True)
        beside = path.with_name(f".{path.name}.{os.getpid()}")
        try:
            beside.write_bytes(data)
            beside.replace(path)
        finally:
            beside.unlink(missing_ok=True)
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise SourceError("file-not-written", path=str(path), reason=reason) from None
    return True
