"""`curecal calendars people`: one calendar a person, over all jobs of the book."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from curecal.cli.book.book import book_option
from curecal.cli.calendars.write import anyway_option
from curecal.cli.shared.common import json_option, print_json, print_lines, width_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from curecal.calendars.person_calendars import PersonCalendar
    from curecal.cli.calendars.calendar_files import Asked
    from curecal.cli.shared.common import PlannedJob

SCHEMA = 1
# Whoever notes something while its job is planned is through by the second time.
_TRIES = 5


@click.command("people")
@click.argument("directory", metavar="DIR", type=click.Path(path_type=Path))
@click.option(
    "--as-of", "as_of", metavar="INSTANT", help="Answer as of this date and time instead of now."
)
@book_option
@anyway_option
@json_option
def command(
    *, directory: Path, as_of: str | None, place: str | None, anyway: bool, as_json: bool
) -> int:
    """Write one calendar for each person, over all jobs of the book.

    A person is known by mail address, else by name. The entries are those of the jobs' own
    calendars, with the same identity and the same revisions.
    """
    from curecal.book.ledger.ledger import BookLedger
    from curecal.calendars.person_calendars import person_calendars
    from curecal.cli.book.book import book_named
    from curecal.cli.book.jobs_of_book import plan_one_by_one
    from curecal.cli.calendars.calendar_files import Asked
    from curecal.delivery.ics_folder import write_persons

    asked = Asked(as_of is not None, (), anyway)
    published = []
    unread = []
    # Each just before it is published: who changes it meanwhile would have to be waited for.
    for job_id, planned in plan_one_by_one(place, as_of):
        made = planned and _published(planned, as_of, asked)
        if made is None:
            unread.append(job_id)
        else:
            published.append(made)
    calendars: list[PersonCalendar] = []

    def make() -> dict[str, bytes]:
        with book_named(place) as book:
            ledger = BookLedger(book)
            jobs = [
                (made.plan, ledger.history(made.job.id).revisions.values()) for made in published
            ]
        calendars.extend(person_calendars(jobs))
        return {one.file_name: one.data for one in calendars}

    kept = write_persons(directory, make)
    if as_json:
        files = [{"name": one.name, "file": str(directory / one.file_name)} for one in calendars]
        aside = [str(path) for path in kept]
        print_json({"schema": SCHEMA, "files": files, "kept": aside, "unread": unread})
        return 0
    _say(directory, calendars, kept, unread)
    return 0


def _published(
    made: PlannedJob, as_of: str | None, asked: Asked, tries: int = _TRIES
) -> PlannedJob | None:
    """Publish a job, and return its plan; None where it is not understood any more.

    One that changed since it was planned is planned again: it keeps nobody from their calendar.
    """
    from curecal.cli.book.jobs_of_book import planned_again
    from curecal.cli.calendars.calendar_files import ledger_of, publish
    from curecal.errors import ErrorCode, SourceError

    try:
        with ledger_of(made, anyway=asked.anyway) as ledger:
            publish(made, ledger, None, asked=asked)
    except SourceError as error:
        if error.code != ErrorCode.CALENDAR_JOB_CHANGED or tries == 1:
            raise
    else:
        return made
    again = planned_again(made, as_of)
    return again and _published(again, as_of, asked, tries - 1)


def _say(
    directory: Path,
    calendars: Sequence[PersonCalendar],
    kept: Sequence[Path],
    unread: Sequence[str],
) -> None:
    from curecal.words.layout import paragraph
    from curecal.words.sentences import plain_words

    words = plain_words()
    said = [
        words.text("issued.person", {"place": str(directory / one.file_name), "name": one.name})
        for one in calendars
    ]
    said += [words.text("issued.person-kept", {"place": str(path)}) for path in kept]
    said += [words.text("visits.unread", {"id": job_id}) for job_id in unread]
    if not said:
        said = [words.text("issued.no-person")]
    print_lines(line for text in said for line in paragraph(text, width_of(None)))
