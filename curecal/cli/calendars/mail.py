"""`curecal calendars mail`: the calendars' changes as mail messages, one event each."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from curecal.cli.calendars.write import anyway_option, withdraw_option
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


@click.command("mail")
@job_options
@click.argument("directory", metavar="DIR", type=click.Path(path_type=Path))
@click.option(
    "--sender",
    metavar="ADDRESS",
    help="Who sends: an address, or a name with <address>. If left out: the crew lead.",
)
@click.option(
    "--whole",
    is_flag=True,
    help="Send who was told nothing yet one message with the whole calendar.",
)
@withdraw_option
@anyway_option
@json_option
def command(
    *,
    job: Path,
    directory: Path,
    sender: str | None,
    whole: bool,
    withdrawn: Sequence[str],
    anyway: bool,
    as_json: bool,
    width: int | None,
    **asked: Any,
) -> int:
    """Write the changes as mail messages, ready to send.

    Brings the calendars in the folder up to date, and puts beside them an invitation, a change or
    a cancellation for each entry that its reader has not been told yet: one .eml file each. What
    was written to somebody once is not written to them again, wherever the files are by now.
    """
    made = planned_or_told(job, as_json=as_json, width=width, **asked)
    if made is None:
        return PROBLEM
    from curecal.cli.calendars.calendar_files import Asked, write_directory
    from curecal.cli.calendars.mail_files import readers_of, sender_of, write_messages
    from curecal.words.layout import bullet, paragraph
    from curecal.words.report.headline import headline
    from curecal.words.report.published_calendars import issued_json, issued_lines

    organizer = sender_of(made, sender)
    readers = readers_of(made)
    how = Asked(asked.get("as_of") is not None, withdrawn, anyway)
    written = write_directory(made, directory, asked=how)
    mailed = write_messages(made, written, organizer=organizer, readers=readers, whole=whole)
    if as_json:
        print_json({**issued_json(written.told()), "messages": mailed.json()})
    else:
        columns = width_of(width)
        lines = paragraph(headline(made.plan, made.words), columns, style="head")
        lines += [(), *issued_lines(written.told(), words=made.words, width=columns), ()]
        for text in mailed.lines(made.words):
            lines += bullet(text, columns)
        print_lines(lines)
    return 0
