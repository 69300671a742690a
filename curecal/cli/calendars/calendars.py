"""`curecal calendars`: what crew, electrician and owner find in their calendars."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from curecal.cli.shared.lazy import LazyGroup

if TYPE_CHECKING:
    from collections.abc import Mapping

COMMANDS: Mapping[str, tuple[str, str]] = {
    "write": ("curecal.cli.calendars.write", "Write the three calendars into a folder."),
    "mail": ("curecal.cli.calendars.mail", "Write the changes as mail messages, ready to send."),
    "publish": (
        "curecal.cli.calendars.publish",
        "Put the calendars on a CalDAV server.",
    ),
    "people": (
        "curecal.cli.calendars.people",
        "Write one calendar for each person, over all jobs of the book.",
    ),
    "check": ("curecal.cli.calendars.check", "Check a calendar file for faults."),
}


@click.group("calendars", cls=LazyGroup, table=COMMANDS)
def command() -> None:
    """Write, mail, publish and check the calendars of crew, electrician and owner.

    A calendar that is there already is brought up to date: what has not changed stays as it is,
    what moved keeps its identity, and what is no longer planned is shown as canceled.
    """
