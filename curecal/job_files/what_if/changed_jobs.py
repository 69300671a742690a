"""A job after each of several changes, and after all of them together."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from curecal.errors import UsageError
from curecal.job_files.days_off import day_off_for
from curecal.job_files.job_reader import ReadJob
from curecal.job_files.what_if.changes import Change
from curecal.planning.comparison.alternatives import Alternative
from curecal.records import PlainTable
from curecal.trade.findings import Severity
from curecal.trade.job import Job
from curecal.words.sentences import Words

Edit = Callable[[PlainTable], PlainTable]
Reader = Callable[[Edit], ReadJob]
"""Reads the job again, its file's content edited."""


def changed_jobs(
    job: Job, changes: Sequence[Change], read: Reader, words: Words
) -> tuple[list[Alternative], Alternative | None]:
    """Return the job after each change, and after all of them where they go together.

    Args:
        job: The job as it is.
        changes: The changes.
        read: Reads it again.
        words: What a refusal is said in.

    Raises:
        UsageError: The reader refuses the job after a change (`compare-refused`).
    """
    alternatives = [
        _alternative(change.said, read(change.edit), job, words, change.said) for change in changes
    ]
    targets = {change.target for change in changes}
    if not 1 < len(changes) == len(targets):
        return alternatives, None
    every = ", ".join(change.said for change in changes)
    said = words.text("compare.together")
    return alternatives, _alternative(said, read(_all_of(changes)), job, words, every)


def notes_of(changes: Sequence[Change], *, is_together: bool) -> list[str]:
    """Return the codes of what there is to say of the changes themselves.

    Args:
        changes: The changes.
        is_together: Whether they were planned together as well.
    """
    kinds = {change.target.partition(".")[0] for change in changes}
    clash = len(changes) > 1 and not is_together
    return [
        *(["clash"] if clash else []),
        *(["climate"] if "expected" in kinds else []),
        *(["sheet"] if "material" in kinds else []),
    ]


def _all_of(changes: Sequence[Change]) -> Edit:
    def edit(raw: PlainTable) -> PlainTable:
        for change in changes:
            raw = change.edit(raw)
        return raw

    return edit


def _alternative(said: str, read: ReadJob, job: Job, words: Words, asked: str) -> Alternative:
    """Return the job after a change; one that the reader refuses is refused, in its words."""
    if read.job is None:
        errors = [found for found in read.findings if found.severity is Severity.ERROR]
        why, do = words.finding(errors[0])
        raise UsageError("compare-refused", text=asked, why=why, remedy=do)
    # What was expected of the past stays.
    changed = replace(read.job, expected=job.expected)
    return Alternative(said, changed, read.job.expected, day_off_for(read.job))
