"""`curecal calendars write`: the three calendars into a folder, and what changed in them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from curecal.cli.shared.common import (
    PROBLEM,
    job_options,
    json_option,
    planned_or_told,
    print_json,
    print_lines,
    width_of,
)

if TYPE_CHECKING:
    from collections.abc import Sequence


withdraw_option = click.option(
    "--withdraw",
    "withdrawn",
    metavar="ZONE",
    multiple=True,
    help='Cancel the entry "do not switch on" of a zone that left the job.',
)
anyway_option = click.option(
    "--anyway",
    is_flag=True,
    help="Publish although the record or the log is not the one published from before.",
)


@click.command("write")
@job_options
@click.argument("directory", metavar="DIR", type=click.Path(path_type=Path))
@click.option(
    "--sender",
    metavar="ADDRESS",
    help="Who publishes (METHOD:PUBLISH): an address, or a name with <address>.",
)
@withdraw_option
@anyway_option
@json_option
def command(
    *,
    job: Path,
    directory: Path,
    sender: str | None,
    withdrawn: Sequence[str],
    anyway: bool,
    as_json: bool,
    width: int | None,
    **asked: Any,
) -> int:
    """Write the three calendars into a folder.

    What was published before is kept in the job book, or in a file beside the job file. Entries
    that have not changed stay byte for byte, those that are no longer planned are shown as
    canceled.
    """
    made = planned_or_told(job, as_json=as_json, width=width, **asked)
    if made is None:
        return PROBLEM
    from curecal.cli.calendars.calendar_files import Asked, write_directory
    from curecal.cli.calendars.mail_files import sender_of
    from curecal.words.layout import paragraph
    from curecal.words.report.headline import headline
    from curecal.words.report.published_calendars import issued_json, issued_lines

    how = Asked(asked.get("as_of") is not None, withdrawn, anyway)
    organizer = None if sender is None else sender_of(made, sender)
    written = write_directory(made, directory, asked=how, sender=organizer)
    if as_json:
        print_json(issued_json(written.told()))
    else:
        columns = width_of(width)
        answer = paragraph(headline(made.plan, made.words), columns, style="head")
        told = issued_lines(written.told(), words=made.words, width=columns)
        print_lines([*answer, (), *told])
    return 0
