"""How `curecal book` shows what the book holds: a few lines, or machine output."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from curecal.cli.common import print_lines, width_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sqlalchemy import Connection

    from curecal.book.adding import Added
    from curecal.book.jobs import JobRevision, Listed
    from curecal.calendars import Revision
    from curecal.words.layout import Line
    from curecal.words.sentences import Words


def added_texts(added: Added) -> list[str]:
    """Return what adding a job changed, in sentences."""
    from curecal.words.sentences import plain_words

    words = plain_words()
    code = "unchanged"
    if added.is_changed:
        code = "added" if added.is_new_job else "revised" if added.is_new_revision else "facts"
    name = added.read.job.name if added.read.job else added.job_id
    params = {"name": name, "job_id": added.job_id, "revision": str(added.revision)}
    texts = [words.text(f"book.{code}", params)]
    if added.new_entry_count:
        texts.append(words.text("book.entries", {"count": added.new_entry_count}))
    if added.new_series_count:
        texts.append(words.text("book.series", {"count": added.new_series_count}))
    return texts


def listed_of(connection: Connection, job_id: str) -> Listed:
    """Return a job of the book as a list shows it."""
    from curecal.book.jobs import list_jobs

    return next(each for each in list_jobs(connection) if each.job_id == job_id)


def words_in(timezone: str) -> Words:
    """Return words that show instants in a zone's own time."""
    from zoneinfo import ZoneInfo

    from curecal.words.catalogue import DEFAULT_LANGUAGE, catalogue
    from curecal.words.sentences import Words
    from curecal.words.values import Reader

    return Words(catalogue(DEFAULT_LANGUAGE), Reader(tz=ZoneInfo(timezone)))


def say_job(each: Listed) -> None:
    """Print what the book holds of a job, in short."""
    from curecal.words.values import clean

    words = words_in(each.timezone)
    say([f"{clean(each.job_id)}: {clean(each.name)}"], style="head")
    params = {"count": each.revision_count, "recorded_at": each.recorded_at}
    texts = [
        words.text("book.revisions", params),
        words.text("book.log", {"count": each.entry_count}),
    ]
    if each.hold:
        texts.append(words.text("book.hold", {"reason": each.hold}))
    say(texts, indent=2)


def say(texts: Sequence[str], *, style: str = "", indent: int = 0) -> None:
    """Print texts, each a paragraph of its own."""
    from curecal.words.layout import paragraph

    lines: list[Line] = []
    for text in texts:
        lines += paragraph(text, width_of(None), style=style, indent=indent)
    print_lines(lines)


def listed_json(each: Listed) -> dict[str, Any]:
    """Return a listed job as machine output."""
    return {
        "job_id": each.job_id,
        "job": each.name,
        "timezone": each.timezone,
        "generation": each.generation,
        "revisions": each.revision_count,
        "entries": each.entry_count,
        "recorded_at": each.recorded_at.isoformat(),
        "hold": each.hold or None,
    }


def revision_json(each: JobRevision) -> dict[str, Any]:
    """Return a revision of a job as machine output."""
    return {
        "revision": each.number,
        "recorded_at": each.recorded_at.isoformat(),
        "job_sha256": each.job_sha256,
        "company_sha256": each.company_sha256,
        "materials_sha256": each.materials_sha256,
        "told": each.told,
    }


def published_json(each: Revision) -> dict[str, Any]:
    """Return a published calendar entry as machine output."""
    return {
        "uid": each.uid,
        "audience": each.audience.value,
        "sequence": each.sequence,
        "changed_at": each.changed_at.isoformat(),
        "cancelled": each.cancelled,
        "summary": each.summary,
    }
