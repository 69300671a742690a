"""Many job files into the book at once: what is wrong with one keeps none of the others out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from curecal.cli.book.book_shown import (
    added_json,
    refused_json,
    say,
    say_added,
    say_namesakes,
    say_refused,
)
from curecal.cli.book.put_in_book import added_from_file
from curecal.cli.shared.common import print_json
from curecal.cli.shared.progress import progress
from curecal.errors import BookError, CurecalError, ErrorCode, JobRefused, SourceError
from curecal.records import PlainTable
from curecal.words.sentences import plain_words
from curecal.words.values import clean

if TYPE_CHECKING:
    from curecal.book.jobs.import_job import Added

# The book has something against this job; all else that a book says is said of the whole of it.
_OF_ONE_JOB = frozenset(
    {
        ErrorCode.BOOK_CONTENT_DAMAGED,
        ErrorCode.BOOK_ENTRY_CONTRADICTS,
        ErrorCode.BOOK_JOB_ID,
        ErrorCode.BOOK_JOB_TWICE,
        ErrorCode.BOOK_JOB_WITHOUT_ID,
        ErrorCode.BOOK_MATERIALS_ABSOLUTE,
        ErrorCode.BOOK_PATH_OUTSIDE,
        ErrorCode.BOOK_READINGS_CHANGED,
        ErrorCode.BOOK_READINGS_ELSEWHERE,
        ErrorCode.BOOK_READINGS_LARGE,
        ErrorCode.BOOK_READINGS_MISSING,
        ErrorCode.BOOK_ROW_DAMAGED,
    }
)


@dataclass(slots=True)
class _Counts:
    new: int = 0
    changed: int = 0
    same: int = 0
    refused: list[tuple[Path, CurecalError]] = field(default_factory=list)

    def count(self, added: Added) -> None:
        if not added.is_changed:
            self.same += 1
        elif added.is_new_job:
            self.new += 1
        else:
            self.changed += 1


def add_many(
    jobs: Sequence[Path],
    *,
    company: Path | None,
    place: str | None,
    now: datetime,
    schema: int,
    as_json: bool,
) -> int:
    """Put job files into the book one after the other, and print what that changed.

    Args:
        jobs: The files.
        company: The company's file; else that of the environment.
        place: The book that was named, if one was.
        now: The instant, by the real clock.
        schema: The number of the machine output's form.
        as_json: Whether a machine reads it.

    Returns:
        How the command ends: as the first file that was not added would alone.

    Raises:
        BookError: the book as a whole cannot be used.
    """
    counts, documents = _Counts(), []
    files: dict[str, tuple[Path, str]] = {}
    with progress("adding") as shown:
        for number, job in enumerate(jobs):
            if shown is not None:
                shown(number, len(jobs))
            try:
                added, namesakes = added_from_file(
                    job, company=company, place=place, now=now, files=files
                )
            except (JobRefused, SourceError, BookError) as error:
                if isinstance(error, BookError) and error.code not in _OF_ONE_JOB:
                    raise
                counts.refused.append((job, error))
                documents.append(_refused(job, error, as_json=as_json))
                continue
            counts.count(added)
            if as_json:
                same = {"same_name": list(namesakes)}
                documents.append({"file": str(job), **added_json(added, now), **same})
            elif added.is_changed:
                say_added(added, now)
                say_namesakes(namesakes)
    _say_counts(counts, documents, schema, as_json=as_json)
    return counts.refused[0][1].exit_code if counts.refused else 0


def _refused(job: Path, error: CurecalError, *, as_json: bool) -> PlainTable:
    """Print why a file was not added, and return it as machine output."""
    words = plain_words()
    if as_json and isinstance(error, JobRefused):
        return {"file": str(job), **refused_json(error)}
    if as_json:
        return {"file": str(job), "findings": [], "code": error.code, "text": words.error(error)}
    # A path is copied, and stays in one piece.
    click.echo(words.text("book.not-added", {"file": clean(str(job))}))
    if isinstance(error, JobRefused):
        say_refused(error, as_json=False)
    else:
        click.echo(words.error(error), err=True)
    return {}


def _say_counts(
    counts: _Counts, documents: Sequence[PlainTable], schema: int, *, as_json: bool
) -> None:
    if as_json:
        print_json({"schema": schema, "jobs": list(documents)})
        return
    words = plain_words()
    kinds = {
        "count-new": counts.new,
        "count-changed": counts.changed,
        "count-same": counts.same,
        "count-refused": len(counts.refused),
    }
    texts = [words.text(f"book.{kind}", {"count": count}) for kind, count in kinds.items() if count]
    if counts.refused:
        click.echo()
    say(texts, style="bad" if counts.refused else "good")
