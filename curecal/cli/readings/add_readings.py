"""A logger's readings into a job, as a command adds them: judged first, then one after another."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from curecal.cli.readings.ask_readings import ReadingsOptions, choose_zone
from curecal.cli.shared.common import instant_asked

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from datetime import datetime, tzinfo

    from curecal.job_files import ReadJob
    from curecal.readings.series.add_to_job import AddedChannel, Destination
    from curecal.readings.series.decoded_channels import DecodedChannels
    from curecal.readings.table.export_types import LoggerChannel, LoggerExport
    from curecal.trade.site_log import Entry
    from curecal.words.sentences import Words


class TargetJob(NamedTuple):
    """The job that readings go into."""

    path: Path
    company: Path | None
    read: ReadJob
    tz: tzinfo
    channels: DecodedChannels
    logs: tuple[Path, ...] = ()
    job_id: str = ""


def read_target(
    path: Path,
    company: Path | None,
    logs: Sequence[Path] = (),
    channels: DecodedChannels | None = None,
) -> TargetJob:
    """Return the job that readings go into, as it is read now."""
    import os
    from datetime import UTC, datetime

    from curecal.job_files import read_job
    from curecal.readings.series.decoded_channels import DecodedChannels

    named = os.environ.get("CURECAL_COMPANY")
    shared = company or (Path(named) if named else None)
    decoded = DecodedChannels() if channels is None else channels
    now = datetime.now(UTC)
    read = read_job(path, company=shared, extra_log=logs, clock=now, channels=decoded)
    tz = UTC if read.job is None else read.job.tz
    return TargetJob(path, shared, read, tz, decoded, tuple(logs))


def destination_of(
    job: TargetJob, asked: ReadingsOptions, words: Words, *, may_ask: bool
) -> Destination:
    """Return what the options say of the readings, and what is asked where they do not."""
    from curecal.instants import Toward
    from curecal.readings.series.add_to_job import Destination
    from curecal.trade.site_log import Place

    return Destination(
        choose_zone(job.read.job, asked.zone, words, may_ask=may_ask),
        Place(asked.place or "air"),
        None if asked.start is None else _first_asked(asked.start, job.tz),
        None if asked.end is None else instant_asked(asked.end, job.tz, Toward.UNTIL),
    )


def _first_asked(text: str, zone: tzinfo) -> datetime:
    """Return from when on readings count: a day alone is the whole of it, as at the other end."""
    from datetime import date

    from curecal.instants import Toward, start_of_day

    try:
        day = date.fromisoformat(text.strip())
    except ValueError:
        return instant_asked(text, zone, Toward.PAST)
    instant_asked(text, zone)  # for its refusals
    return start_of_day(day, zone)


def judge_channels(job: TargetJob, channels: Sequence[LoggerChannel], wanted: Destination) -> None:
    """Refuse what cannot be added, before anything is."""
    from curecal.readings.series.add_to_job import count_new_readings
    from curecal.readings.series.stored_readings import decode_channel, digest, encode_channel

    entries = _log_of(job.read)
    for channel in channels:
        # As it will be read back, to the last digit.
        data = encode_channel(channel)
        kept = decode_channel(data, channel.device)
        job.channels.keep(digest(data), kept)
        count_new_readings(kept, wanted, entries, job.job_id or str(job.path))


def put_channel(
    job: TargetJob,
    export: LoggerExport,
    channel: LoggerChannel,
    wanted: Destination,
    *,
    by: str | None,
    words: Words,
) -> AddedChannel:
    """Add one device's readings to the job."""
    from curecal.readings.export.summary import summarize
    from curecal.readings.series.add_to_job import add_channel

    return add_channel(
        job.path,
        channel,
        wanted,
        log=CurrentLog(job),
        understood=summarize(export, channel, words),
        append=_append(job, channel, wanted, by),
        name=job.job_id,
        channels=job.channels,
    )


class CurrentLog:
    """What gives a job's log as it stands; a file that is the same is read once."""

    def __init__(self, job: TargetJob) -> None:
        self._job = job
        self._seen: bytes | None = None
        self._entries: tuple[Entry, ...] = ()

    def __call__(self) -> tuple[Entry, ...]:
        """Return the entries, corrections counted, whenever they were made."""
        from curecal.toml_files.atomic_write import look, real_path

        job = self._job
        data = look(real_path(job.path)).data
        if data != self._seen:
            self._entries = _log_of(read_target(job.path, job.company, job.logs, job.channels).read)
            self._seen = data
        return self._entries


def _log_of(read: ReadJob) -> tuple[Entry, ...]:
    from datetime import UTC, datetime

    from curecal.planning.site_log.log_at_instant import facts_at

    people = () if read.job is None else read.job.people
    return tuple(facts_at(read.log, datetime.max.replace(tzinfo=UTC), people).entries)


def _append(
    job: TargetJob, channel: LoggerChannel, wanted: Destination, by: str | None
) -> Callable[[Mapping[str, object], Callable[[], None]], str]:
    """Return what adds an entry to the job's log, after the job was read with it."""

    def append(values: Mapping[str, object], last_look: Callable[[], None]) -> str:
        from datetime import UTC, datetime

        from curecal.site_log_files.append import append_entry

        def check(path: Path) -> None:
            from curecal.errors import SourceError

            last_look()
            if read_target(path, job.company, job.logs, job.channels).read.job is None:
                raise SourceError("readings-job-refused", path=str(job.path))

        now = datetime.now(UTC).replace(microsecond=0)
        made = append_entry(
            job.path,
            "readings",
            values,
            # What a logger says of a time to come must not hide what it says of the past.
            at=min(channel.last, now).astimezone(job.tz),
            recorded=now.astimezone(job.tz),
            zone=wanted.zone,
            by=by,
            check=check,
        )
        return made.id

    return append
