"""A channel's readings into a job: a file beside it, and one entry of its log that names it."""

from __future__ import annotations

import contextlib
import os
import re
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from itertools import islice
from pathlib import Path

from curecal.errors import SourceError
from curecal.readings.series.decoded_channels import DecodedChannels
from curecal.readings.series.same_device import are_different_places, have_same_readings
from curecal.readings.series.stored_readings import decode_channel, digest, encode_channel
from curecal.readings.table.export_types import LoggerChannel, readings_of
from curecal.records import Record, record
from curecal.toml_files.atomic_write import locked, real_path, unwritten
from curecal.toml_files.spans import refuse_hot
from curecal.trade.logged_points import LoggedPoints, microseconds
from curecal.trade.site_log import Entry, Place, Series

_ODD = re.compile(r"[^a-z0-9]+")
_UNPORTABLE = re.compile(r"[\\:]")
_LONGEST_PART = 24
# Eight signs of a digest tell apart what one job will ever hold.
_PRINTED = 8
# A log is read by people: what says more than this is cut.
MOST_UNDERSTOOD = 1000

Append = Callable[[Mapping[str, object], Callable[[], None]], str]
"""Adds an entry of kind `readings` with these keys to the job's log, after a last look with the
job locked, which may refuse it; returns its id."""

Log = Callable[[], Iterable[Entry]]
"""Gives what the job's log holds now, with corrections counted."""


@record
class Destination(Record):
    """What a person says of readings that go into a job: zone's id, place, from when to when."""

    zone: str | None
    place: Place
    start: datetime | None = None
    end: datetime | None = None


@record
class AddedChannel(Record):
    """What became of a channel: its entry's id and file, None where the job had it all."""

    device: str
    rows: int
    new: int
    id: str | None = None
    path: Path | None = None


@record
class _Before(Record):
    """What was where a file is kept: its bytes, None without one; whether there was the folder."""

    data: bytes | None
    folder: bool


class _MeanwhileError(Exception):
    """Another has added the same readings since the log was read. It never leaves this module."""


def count_new_readings(
    channel: LoggerChannel, wanted: Destination, log: Iterable[Entry], job: str
) -> int:
    """Return how many readings the job would get, after judging that it can get them.

    Args:
        channel: The readings.
        wanted: Zone, place, from when to when.
        log: What the job's log holds, with corrections counted.
        job: What a person calls the job, to be named in what is to be done.

    Returns:
        How many of the readings the job does not have.

    Raises:
        SourceError: Nothing is left between the two instants, no room is as hot, the job has
            these readings as those of another place, or counts more of them than is wanted now.
    """
    points = channel.between(wanted.start, wanted.end).points()
    if not points:
        raise SourceError("readings-window-empty", device=channel.device)
    refuse_hot(channel.device, list(readings_of(points.temperature_c)))
    own = [entry for entry in log if isinstance(entry, Series) and entry.device == channel.device]
    for entry in own:
        if are_different_places(
            (wanted.place, wanted.zone), (entry.place, entry.zone)
        ) and have_same_readings(points, LoggedPoints.of(entry.points)):
            raise SourceError(
                "readings-place-twice",
                device=channel.device,
                reading_place=entry.place.value,
                entry_id=entry.id,
                path=job,
            )
    here = [entry for entry in own if (entry.place, entry.zone) == (wanted.place, wanted.zone)]
    if not here:
        return len(points)
    _refuse_wider(here, channel, wanted, job)
    return count_not_in(here, points)


def count_not_in(entries: Iterable[Series], points: LoggedPoints) -> int:
    """Return how many readings no entry has.

    Args:
        entries: Those of the same device at the same place.
        points: The readings.

    Returns:
        How many.
    """
    there = {row for entry in entries for row in LoggedPoints.of(entry.points).rows()}
    return sum(row not in there for row in points.rows())


def _refuse_wider(
    here: Sequence[Series], channel: LoggerChannel, wanted: Destination, job: str
) -> None:
    """Refuse instants that an entry of the same readings goes beyond: it would count on."""
    low_us = microseconds(wanted.start or channel.first)
    high_us = microseconds(wanted.end or channel.last)
    own = set(channel.points().rows())
    columns = [LoggedPoints.of(entry.points) for entry in here]
    firsts = {row for points in columns for row in points[:1].rows()}
    holders = Counter(row for points in columns for row in points.rows() if row in firsts)
    for entry, points in zip(here, columns, strict=True):
        # Entries that follow one another share the reading between them.
        joint = any(holders[row] > 1 for row in points[:1].rows())
        same = [row for row in islice(points.rows(), int(joint), None) if row in own]
        inside = [row for row in same if low_us <= row[0] <= high_us]
        if 1 < len(inside) < len(same):
            ends = {"from": wanted.start, "until": wanted.end}
            changes = [f'"{key}={at.isoformat(" ")}"' for key, at in ends.items() if at is not None]
            raise SourceError(
                "readings-window-wider",
                device=channel.device,
                entry_id=entry.id,
                path=job,
                changes=" ".join(changes),
            )


def add_channel(
    job: Path,
    channel: LoggerChannel,
    wanted: Destination,
    *,
    log: Log,
    understood: str,
    append: Append,
    name: str = "",
    channels: DecodedChannels | None = None,
) -> AddedChannel:
    """Keep a channel's readings beside a job and name them in its log.

    Args:
        job: The job file, or a link to it; the readings are kept beside the file itself.
        channel: The readings.
        wanted: Zone, place, from when to when.
        log: What gives the job's log.
        understood: In words, what the logger's file was understood to say.
        append: What adds the entry.
        name: What a person calls the job; silent: its path.
        channels: Readings that were decoded before.

    Returns:
        What was added; nothing where the job has every reading of it.

    Raises:
        SourceError: The file or the job cannot be written, or the readings are refused.
    """
    own = real_path(job)
    name = name or str(job)
    data = encode_channel(channel)
    # What counts is what will be read back, to the last digit.
    decoded = DecodedChannels() if channels is None else channels
    sha256 = digest(data)
    found = decoded.get(sha256) or decoded.keep(sha256, decode_channel(data, channel.device))
    kept = replace(found.channel, device=channel.device)
    count = len(kept.between(wanted.start, wanted.end))
    new = count_new_readings(kept, wanted, log(), name)
    if not new:
        return AddedChannel(channel.device, count, 0)
    if not os.access(own, os.W_OK):
        raise SourceError("readings-job-protected", path=name)
    said = entry_values(own.stem, kept, wanted, data, understood)
    path = own.parent / str(said["file"])

    def last_look() -> None:
        if not count_new_readings(kept, wanted, log(), name):
            raise _MeanwhileError
        # Whoever was refused the same has taken it away by now.
        _keep(path, data)

    before = _keep(path, data)
    try:
        made = append(said, last_look)
    except _MeanwhileError:
        _take_back(own, path, before)
        return AddedChannel(channel.device, count, 0)
    except BaseException:
        _take_back(own, path, before)
        raise
    return AddedChannel(channel.device, count, new, made, path)


def entry_values(
    job: str, kept: LoggerChannel, wanted: Destination, data: bytes, understood: str
) -> dict[str, object]:
    """Return what an entry of kind `readings` says of a channel.

    Args:
        job: The job file's name, without its ending.
        kept: The readings, as they are read back from what is kept.
        wanted: Zone, place, from when to when.
        data: What is kept.
        understood: In words, what the logger's file was understood to say.
    """
    folder = _UNPORTABLE.sub("-", job)
    values: dict[str, object] = {
        "file": f"{folder}.readings/{_name(kept, wanted, data)}",
        "sha256": digest(data),
        "place": wanted.place.value,
        "device": kept.device,
        "rows": len(kept),
        "first": kept.first,
        "last": kept.last,
        "from": wanted.start,
        "until": wanted.end,
        "understood": understood[:MOST_UNDERSTOOD],
    }
    return {name: value for name, value in values.items() if value is not None}


def _name(channel: LoggerChannel, wanted: Destination, data: bytes) -> str:
    """Return the file's name: what it is about, its first day, and its content's hash."""
    day = datetime.fromtimestamp(channel.at_s[0], UTC).date().isoformat()
    about = (wanted.zone or "job", wanted.place.value, channel.device)
    parts = [_ODD.sub("-", part.lower()).strip("-")[:_LONGEST_PART] for part in about]
    return "-".join([*filter(None, parts), day, digest(data)[:_PRINTED]]) + ".csv"


def _keep(path: Path, data: bytes) -> _Before:
    """Write a file whole or not at all; return what was there before."""
    try:
        before = _Before(path.read_bytes() if path.is_file() else None, path.parent.exists())
        if before.data != data:
            path.parent.mkdir(exist_ok=True)
            _write(path, data)
    except OSError as error:
        raise unwritten(path, error) from None
    return before


def _write(path: Path, data: bytes) -> None:
    beside = path.with_name(f".{path.name}.{os.getpid()}")
    try:
        with beside.open("wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        beside.replace(path)
    finally:
        beside.unlink(missing_ok=True)


def _take_back(job: Path, path: Path, before: _Before) -> None:
    """Leave no readings that no entry names, and every file that an entry names as it was."""
    # What a system in trouble cannot do is left: the refusal it comes with is worth more. Nobody
    # names the file meanwhile.
    with contextlib.suppress(OSError, SourceError), locked(job):
        if before.data is not None:
            if path.read_bytes() != before.data:
                _write(path, before.data)
        elif path.name.encode() not in job.read_bytes():
            path.unlink(missing_ok=True)
            if not before.folder:
                path.parent.rmdir()
