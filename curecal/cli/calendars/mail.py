"""`curecal calendars mail`: the calendars' changes as mail messages, one event each."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

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


@click.command("mail")
@job_options
@click.argument("directory", metavar="DIR", type=click.Path(path_type=Path))
@click.option(
    "--sender",
    metavar="ADDRESS",
    help="Who sends: an address, or a name with <address>. If left out: the crew lead, or with "
    "--send who reminders are sent from.",
)
@click.option(
    "--whole",
    is_flag=True,
    help="Send who was told nothing yet one message with the whole calendar.",
)
@click.option(
    "--send",
    "sends",
    is_flag=True,
    help="Send the messages too, by the mail server that is set up for reminders.",
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
    sends: bool,
    as_json: bool,
    width: int | None,
    **asked: Any,
) -> int:
    """Write the changes as mail messages, ready to send, and with --send send them.

    Brings the calendars in the folder up to date, and puts beside them an invitation, a change or
    a cancellation for each entry that its reader has not been told yet: one .eml file each. What
    was written to somebody once is not written to them again, wherever the files are by now.
    """
    from curecal.cli.calendars.calendar_files import Asked, write_directory
    from curecal.cli.calendars.mail_files import mail_way, readers_of, sender_of, write_messages
    from curecal.errors import DeliveryError, UsageError

    if sends and asked["as_of"] is not None:
        raise UsageError("mail-as-of")
    way = mail_way(os.environ) if sends else None
    how = Asked(asked["as_of"] is not None, asked.pop("withdrawn"), asked.pop("anyway"))
    made = planned_or_told(job, as_json=as_json, width=width, **asked)
    if made is None:
        return PROBLEM
    from curecal.words.layout import bullet, paragraph
    from curecal.words.report.headline import headline
    from curecal.words.report.published_calendars import issued_json, issued_lines

    organizer = sender_of(made, sender, way)
    readers = readers_of(made)
    written = write_directory(made, directory, asked=how)
    mailed = write_messages(
        made,
        written,
        organizer=organizer,
        readers=readers,
        whole=whole,
        wire=None if way is None else way.wire,
    )
    if as_json:
        print_json({**issued_json(written.told()), "messages": mailed.json()})
    else:
        columns = width_of(width)
        lines = paragraph(headline(made.plan, made.words), columns, style="head")
        lines += [(), *issued_lines(written.told(), words=made.words, width=columns), ()]
        for text in mailed.lines(made.words):
            lines += bullet(text, columns)
        print_lines(lines)
    if mailed.not_sent:
        raise DeliveryError("mail-not-sent", count=len(mailed.not_sent))
    return 0
