"""The changes that usually help, for whoever asks for none."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from curecal.instants import parse_instant
from curecal.job_files.what_if.changes import EARLIEST, Change, change_of
from curecal.units import show_temperature

if TYPE_CHECKING:
    from curecal.records import PlainView
    from curecal.trade.data_sheets import DataSheet
    from curecal.trade.job import Job, Layer
    from curecal.trade.rules import Rules
    from curecal.words.sentences import Words

_SATURDAY = 5
_WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


def usual_changes(
    job: Job, raw: PlainView, as_of: datetime, *, rules: Rules, words: Words
) -> list[Change]:
    """Return what usually brings a date forward, of this job.

    A room as warm as the warmest sheet is rated at, a room measured and never colder than
    expected, rapid products for what is not laid, work on Saturday, no day planned later than
    need be.

    Args:
        job: the job with the log folded in.
        raw: the job file's content.
        as_of: now.
        rules: the rules as data.
        words: the language and units of the job.
    """
    said = [*_warm(job, words), *_measured(raw), *_rapid(job, rules), *_saturday(job)]
    texts = (*said, *_unpinned(job))
    return [change_of(text, job, as_of, lambda at: parse_instant(at, job.tz)) for text in texts]


def _warm(job: Job, words: Words) -> list[str]:
    rated_c = [
        layer.sheet.rated_c for zone in job.zones for layer in zone.layers if not layer.existing
    ]
    warm_c = max(rated_c, default=job.expected.air_c)
    if not warm_c > job.expected.air_c:
        return []
    return [f"air={show_temperature(warm_c, words.reader.units.value)}"]


def _measured(raw: PlainView) -> list[str]:
    """Return that the room is measured and stays as expected: then both ends are one."""
    expected = raw["expected"]
    found = [f"coldest={expected['air']}"]
    return [*found, f"dampest={expected['humidity']}"] if "humidity" in expected else found


def _rapid(job: Job, rules: Rules) -> list[str]:
    found = []
    for layer in (layer for zone in job.zones for layer in zone.layers):
        name = _rapid_class(layer, rules)
        if name is not None:
            found.append(f"{layer.name}={name}")
    return _sayable(found)


def _rapid_class(layer: Layer, rules: Rules) -> str | None:
    """Return the rapid class of a layer's kind, where it is still to be laid and is not rapid."""
    sheet: DataSheet = layer.sheet
    if layer.existing or layer.done_at is not None or sheet.rapid:
        return None
    return next(
        (
            name
            for name, other in rules.classes.items()
            if other.kind is sheet.kind and other.hardens_by is sheet.hardens_by and other.rapid
        ),
        None,
    )


def _saturday(job: Job) -> list[str]:
    if _SATURDAY in job.work.days or not job.work.days:
        return []
    days = [_WEEKDAYS[day] for day in sorted({*job.work.days, _SATURDAY})]
    whole = len(days) == _SATURDAY + 1
    return [f"days={days[0]}-{days[-1]}" if whole else f"days={', '.join(days)}"]


def _unpinned(job: Job) -> list[str]:
    return _sayable(
        [
            f"{layer.name} start={EARLIEST}"
            for zone in job.zones
            for layer in zone.layers
            if layer.done_at is None and (layer.planned_start_at or layer.planned_finish_at)
        ]
    )


def _sayable(texts: list[str]) -> list[str]:
    """Return each text once; a name with an "=" in it cannot be said on a command line."""
    return [text for text in dict.fromkeys(texts) if text.count("=") == 1]
