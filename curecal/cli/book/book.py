"""`curecal book`: jobs kept for good, with their log and what was told, in a file or a database."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from curecal.cli.book.book_shown import (
    added_json,
    exported_texts,
    listed_json,
    listed_of,
    published_json,
    revision_json,
    say,
    say_added,
    say_job,
    say_namesakes,
    say_refused,
    words_in,
)
from curecal.cli.book.known_paper import found_json, hash_asked, paper_json, say_papers
from curecal.cli.shared.common import (
    PROBLEM,
    json_option,
    print_json,
    print_lines,
    width_of,
)
from curecal.cli.shared.progress import progress
from curecal.errors import JobRefused, UsageError

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from curecal.book.connection.open_book import Book
    from curecal.book.jobs.written_papers import WrittenPaper

SCHEMA = 1
# The code that a `BookError` ends a command with: here faults are listed, and none is raised.
FAULTY = 6
_PATH = click.Path(path_type=Path)


def book_option(function: Callable[..., Any]) -> Callable[..., Any]:
    """Add the option that says which book is meant."""
    return click.option(
        "--book",
        "place",
        metavar="PATH|URL",
        help="The book: a file, or postgresql://… (or CURECAL_BOOK).",
    )(function)


def book_named(place: str | None, *, create: bool = False) -> Book:
    """Return the book that is meant, open: named, else of the environment, else the user's own."""
    from curecal.book.connection.open_book import book_url, open_book

    return open_book(book_url(place, os.environ), create=create)


def _options(function: Callable[..., Any]) -> Callable[..., Any]:
    return book_option(json_option(function))


@click.group("book")
def command() -> None:
    """Keep jobs, their logs, and what people were told, in the job book.

    What is in the book stays: a changed file is a further revision, and a wrong fact is corrected
    by another one.
    """


@command.command("add", short_help="Add job files to the book, with their logs and readings.")
@click.argument("jobs", type=_PATH, nargs=-1, required=True, metavar="JOB...")
@click.option(
    "--log", "logs", type=_PATH, multiple=True, metavar="FILE", help="Another log of the job."
)
@click.option("--company", type=_PATH, metavar="FILE", help="Company file (or CURECAL_COMPANY).")
@_options
def add(
    *,
    jobs: Sequence[Path],
    logs: Sequence[Path],
    company: Path | None,
    place: str | None,
    as_json: bool,
) -> int:
    """Add job files to the book, each with its company file, its log and its readings.

    Adding the same files again changes nothing. If one of several files has a mistake, it is named
    and left out; the others are added.
    What was published from the file is known to the book from now on, and its calendars are
    published from there.
    """
    from datetime import UTC, datetime

    from curecal.cli.book.put_in_book import added_from_file

    now = datetime.now(UTC)
    if len(jobs) > 1:
        from curecal.cli.book.add_many import add_many

        if logs:
            raise UsageError("book-add-log-of")
        return add_many(jobs, company=company, place=place, now=now, schema=SCHEMA, as_json=as_json)
    [job] = jobs
    try:
        added, namesakes = added_from_file(job, logs=logs, company=company, place=place, now=now)
    except JobRefused as refused:
        return say_refused(refused, as_json=as_json)
    if as_json:
        same = {"same_name": list(namesakes)}
        print_json({"schema": SCHEMA, **added_json(added, now), **same})
        return 0
    say_added(added, now)
    say_namesakes(namesakes)
    return 0


@command.command("list")
@_options
def list_(*, place: str | None, as_json: bool) -> int:
    """List the jobs of the book."""
    from curecal.book.jobs.jobs import list_jobs

    with book_named(place) as book, book.reading() as connection:
        jobs = list_jobs(connection)
    if as_json:
        print_json({"schema": SCHEMA, "jobs": [listed_json(listed) for listed in jobs]})
        return 0
    from curecal.words.sentences import plain_words

    if not jobs:
        say([plain_words().text("book.empty")])
    for listed in jobs:
        say_job(listed)
    return 0


@command.command("show")
@click.argument("job_id", metavar="JOB")
@_options
def show(*, job_id: str, place: str | None, as_json: bool) -> int:
    """Show what the book holds of a job."""
    from curecal.book.jobs.jobs import newest_revision, series_of
    from curecal.book.jobs.written_papers import papers_of
    from curecal.book.ledger.ledger import history_of
    from curecal.cli.shared.job_source import job_id_named

    with book_named(place) as book, book.reading() as connection:
        job_id = job_id_named(connection, job_id)
        newest = newest_revision(connection, job_id)
        listed = listed_of(connection, job_id)
        series = series_of(connection, job_id)
        papers = papers_of(connection, job_id)
        published = history_of(connection, job_id).revisions
    if as_json:
        print_json(
            {
                "schema": SCHEMA,
                **listed_json(listed),
                "newest": revision_json(newest),
                "readings": series,
                "papers": [paper_json(written) for written in papers],
                "published": [published_json(revision) for revision in published.values()],
            }
        )
        return 0
    words = words_in(listed.timezone)
    say_job(listed)
    say(
        [
            *([words.text("book.readings", {"count": len(series)})] if series else []),
            *([words.text("book.published", {"count": len(published)})] if published else []),
            *([words.text("book.papers", _papers_params(papers))] if papers else []),
            words.text("book.files", {"sha256": newest.job_sha256}),
        ],
        indent=2,
    )
    return 0


def _papers_params(papers: Sequence[WrittenPaper]) -> dict[str, object]:
    return {"count": len(papers), "recorded_at": papers[-1].recorded_at}


@command.command("history")
@click.argument("job_id", metavar="JOB")
@_options
def history(*, job_id: str, place: str | None, as_json: bool) -> int:
    """Show every revision of a job, with the answer that was told then."""
    from curecal.book.jobs.jobs import newest_revision, revisions_of
    from curecal.cli.shared.job_source import job_id_named

    with book_named(place) as book, book.reading() as connection:
        job_id = job_id_named(connection, job_id)
        newest_revision(connection, job_id)
        found = revisions_of(connection, job_id)
        timezone = listed_of(connection, job_id).timezone
    if as_json:
        revisions = [revision_json(revision) for revision in found]
        print_json({"schema": SCHEMA, "job_id": job_id, "revisions": revisions})
        return 0
    words = words_in(timezone)
    for revision in found:
        params = {"revision": str(revision.number), "recorded_at": revision.recorded_at}
        say([words.text("book.revision.head", params)], style="head")
        told = revision.told if isinstance(revision.told, dict) else {}
        answer = told.get("answer") or words.text("book.no-plan")
        say([str(answer)], indent=2)
    return 0


@command.command("export", short_help="Write a whole job into a folder.")
@click.argument("job_id", metavar="JOB")
@click.argument("directory", metavar="DIR", type=_PATH)
@_options
def export(*, job_id: str, directory: Path, place: str | None, as_json: bool) -> int:
    """Write a job into a folder: its files, its log, its readings, and all that was published."""
    from curecal.book.export_restore.export import export_job
    from curecal.cli.shared.job_source import job_id_named

    with book_named(place) as book:
        with book.reading() as connection:
            job_id = job_id_named(connection, job_id)
        made = export_job(book, job_id, directory)
    if as_json:
        print_json(
            {
                "schema": SCHEMA,
                "job_id": job_id,
                "path": str(made.folder),
                "job_file": str(made.laid.job),
                "company": None if made.laid.company is None else str(made.laid.company),
                "logs": [str(path) for path in made.laid.logs],
                "revisions": made.revision_count,
                "entries": made.entry_count,
                "published": made.published_count,
            }
        )
        return 0
    say(exported_texts(made, job_id))
    return 0


@command.command("restore")
@click.argument("export", metavar="DIR", type=_PATH)
@_options
def restore(*, export: Path, place: str | None, as_json: bool) -> int:
    """Put an exported job back into a book that does not have it. Its messages start on hold."""
    from curecal.book.export_restore.restore import read_export, restore_job
    from curecal.words.sentences import plain_words

    # Read before there is a book: what is no export makes none.
    found = read_export(export)
    try:
        with book_named(place, create=True) as book:
            made = restore_job(book, found)
    except JobRefused as refused:
        return say_refused(refused, as_json=as_json)
    if as_json:
        document = {"job_id": made.job_id, "first_sequence": made.first_sequence, "on_hold": True}
        print_json({"schema": SCHEMA, **document})
        return 0
    words = plain_words()
    name = made.read.job.name if made.read.job else made.job_id
    params = {"name": name, "job_id": made.job_id, "sequence": str(made.first_sequence)}
    say([words.text("book.restored", params), words.text("book.restored-hold", params)])
    return 0


@command.command("paper", short_help="Tell whether a paper was written from the book.")
@click.argument("paper", metavar="FILE|HASH", type=_PATH)
@_options
def known_paper(*, paper: Path, place: str | None, as_json: bool) -> int:
    """Tell whether a paper is unchanged, and whether its job has gone on since.

    Give the PDF, or the hash that "curecal paper" printed or that is at the foot of a record.
    """
    from datetime import UTC, datetime

    from curecal.book.jobs.written_papers import find_papers

    sha256, is_file = hash_asked(paper)
    with book_named(place) as book, book.reading() as connection:
        found = find_papers(connection, sha256, now=datetime.now(UTC))
    if as_json:
        papers = [found_json(known) for known in found]
        print_json({"schema": SCHEMA, "sha256": sha256, "is_file": is_file, "papers": papers})
    else:
        say_papers(found, is_file=is_file)
    return 0 if found else PROBLEM


@command.command("check", short_help="Check the whole book for damage.")
@_options
def check(*, place: str | None, as_json: bool) -> int:
    """Look through the whole book for damage: database, contents, every job."""
    from curecal.book.export_restore.check_book import check_book
    from curecal.words.layout import bullet
    from curecal.words.sentences import plain_words

    with book_named(place) as book, progress("book") as show:
        checked = check_book(book, show)
    words = plain_words()
    said = [words.message(fault) for fault in checked.faults]
    if as_json:
        faults = [
            {"code": fault.code, "message": text, **fault.params}
            for fault, text in zip(checked.faults, said, strict=True)
        ]
        print_json({"schema": SCHEMA, "jobs": checked.job_count, "faults": faults})
    else:
        say([words.text("book.checked", {"count": checked.job_count})])
        if said:
            bad = [line for text in said for line in bullet(text, width_of(None), style="bad")]
            print_lines(bad)
        ended = (
            words.text("book.faults", {"count": len(said)}) if said else words.text("book.whole")
        )
        say([ended])
    return FAULTY if said else 0
