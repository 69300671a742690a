"""Which language somebody reads: a person's own before the job's, and English else."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime

from curecal.trade.job import Job, Role
from curecal.words.catalogue import DEFAULT_LANGUAGE, languages


def reader_language(job: Job, own: str | None = None) -> str:
    """Return the language of one reader.

    Args:
        job: the job, whose language counts where a reader has none.
        own: the reader's own language.

    Returns:
        The first of them that there are texts in.
    """
    known = languages()
    return next((wish for wish in (own, job.language) if wish in known), DEFAULT_LANGUAGE)


def language_of(job: Job, roles: Collection[Role], at: datetime) -> str:
    """Return the language of what several people of a job read together.

    Args:
        job: the job.
        roles: what its readers are on the job.
        at: when.

    Returns:
        The one that all of them read; the job's where they differ or nobody is named.
    """
    wished = {
        reader_language(job, person.language)
        for role in roles
        for person in job.people_as(role, at)
    }
    return wished.pop() if len(wished) == 1 else reader_language(job)
