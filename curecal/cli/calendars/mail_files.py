"""Mail messages of a job's calendars into a folder: each revision once to each of its readers."""

from __future__ import annotations

import json
from email.utils import parseaddr
from typing import TYPE_CHECKING, NamedTuple

from curecal.errors import UsageError

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from datetime import datetime
    from pathlib import Path

    from curecal.calendars import Audience, Party, Revision
    from curecal.cli.calendars.calendar_files import Written
    from curecal.cli.shared.common import Planned
    from curecal.words.sentences import Words


RECORD = ".curecal.told"
"""The file that keeps which messages were written: they leave the folder when they are sent."""
ROLES = {"crew": "crew_lead", "electrician": "electrician", "owner": "owner"}
"""Whose calendar each is, as the job file and the words name the role."""


class Mailed(NamedTuple):
    """The messages written, how many were there already, and who has no address.

    `left` are addresses that were told before and are no reader's any more; `senders` are those
    who sent before and are not who sends now.
    """

    written: Sequence[tuple[Party, Sequence[Path]]]
    there: int
    unreachable: Sequence[str]
    left: Sequence[str] = ()
    senders: Sequence[str] = ()

    def json(self) -> dict[str, object]:
        """Return the same for a program."""
        return {
            "written": [str(path) for _, paths in self.written for path in paths],
            "there_already": self.there,
            "without_address": list(self.unreachable),
            "told_before": list(self.left),
            "sent_before": list(self.senders),
        }

    def lines(self, words: Words) -> Iterator[str]:
        """Return the same in sentences."""
        from curecal.words.values import clean

        for reader, paths in self.written:
            params = {"to": reader.name or reader.address, "message_count": len(paths)}
            yield words.text("mail.written" if paths else "mail.nothing-new", params)
        for role in self.unreachable:
            yield words.text("mail.no-address", {"role": words.person(role)})
        for address in self.left:
            yield words.text("mail.told-before", {"to": clean(address)})
        for address in self.senders:
            yield words.text("mail.sent-before", {"by": clean(address)})


def sender_of(made: Planned, asked: str | None) -> Party:
    """Return who sends: asked for, else the crew lead.

    Args:
        made: The plan.
        asked: What was typed: an address, or a name with an address in angle brackets.

    Returns:
        The sender.

    Raises:
        UsageError: nobody was named and no crew lead has an address (`mail-no-sender`).
        SourceError: no address (`mail-address`).
    """
    from curecal.calendars.ical.mail_message import party
    from curecal.trade.job import Role

    if asked is not None:
        name, address = parseaddr(asked)
        return party(address or asked, name)
    leads = [each for each in made.job.people if each.role is Role.CREW_LEAD and each.email]
    if not leads or leads[0].email is None:
        raise UsageError("mail-no-sender")
    return party(leads[0].email, leads[0].name or "")


def readers_of(made: Planned) -> Mapping[Audience, Sequence[Party]]:
    """Return who gets each calendar.

    Args:
        made: The plan.

    Returns:
        By audience the people of its role that have an address.

    Raises:
        SourceError: what stands as an address is none (`mail-address`).
    """
    from curecal.calendars import Audience
    from curecal.calendars.ical.mail_message import party

    return {
        audience: [
            party(person.email, person.name or "")
            for person in made.job.people
            if person.role.value == ROLES[audience.value] and person.email
        ]
        for audience in Audience
    }


def write_messages(
    made: Planned,
    written: Written,
    *,
    organizer: Party,
    readers: Mapping[Audience, Sequence[Party]],
) -> Mailed:
    """Write a message for each revision that a reader has not been told.

    What is over, and what was cancelled before its reader ever heard of it, is told nobody.

    Args:
        made: The plan.
        written: The calendars, as they were just brought up to date.
        organizer: Who sends.
        readers: Who gets each calendar.

    Returns:
        What was written.

    Raises:
        SourceError: the folder cannot be written (`calendar-unwritable`).
    """
    from curecal.calendars.ical.mail_message import file_name, message
    from curecal.delivery.ics_folder import names_in, write_files

    told = _read_told(written.directory)
    there = names_in(written.directory) | told.keys()
    found: list[tuple[Party, list[Path]]] = []
    files: dict[Path, bytes] = {}
    already = 0
    for audience, people in readers.items():
        mine = [each for each in written.revised.revisions if each.audience is audience]
        for reader in people:
            paths: list[Path] = []
            for revision in mine:
                name = file_name(revision, reader)
                if name in there:
                    already += 1
                elif _tells(revision, reader, there, made.plan.as_of):
                    path = written.directory / name
                    files[path] = message(
                        revision,
                        job_id=made.job.id,
                        organizer=organizer,
                        reader=reader,
                        words=made.words,
                    ).as_bytes()
                    paths.append(path)
                    told[name] = (reader.address, organizer.address)
            found.append((reader, paths))
    # Behind the messages: a crash in between writes them once more, and never leaves one out.
    files[written.directory / RECORD] = json.dumps(told, indent=0, sort_keys=True).encode()
    write_files(written.directory, files)
    missing = [ROLES[audience.value] for audience, people in readers.items() if not people]
    now = {reader.address.casefold() for people in readers.values() for reader in people}
    left = {to for to, _ in told.values() if to.casefold() not in now}
    senders = {by for _, by in told.values() if by.casefold() != organizer.address.casefold()}
    return Mailed(found, already, missing, sorted(left), sorted(senders))


def _read_told(directory: Path) -> dict[str, tuple[str, str]]:
    """Return what was told: of each message's name its reader and its sender.

    Messages leave the folder when they are sent; this record stays. One that cannot be read
    counts as none: the messages in the folder still do.
    """
    try:
        found = json.loads((directory / RECORD).read_bytes())
    except (OSError, ValueError):
        return {}
    if not isinstance(found, dict):
        return {}
    return {
        name: (each[0], each[1])
        for name, each in found.items()
        if isinstance(each, list) and len(each) == len(("to", "by")) and all(map(_is_text, each))
    }


def _is_text(value: object) -> bool:
    return isinstance(value, str)


def _tells(revision: Revision, reader: Party, there: frozenset[str], as_of: datetime) -> bool:
    """Whether a reader needs to be told a revision."""
    from curecal.calendars.ical.ical_writer import DONE_PROPERTY, day_text, utc_text
    from curecal.calendars.ical.mail_message import file_stem

    # Nobody needs a letter about what they did; only hours that are free again are told.
    if revision.value(DONE_PROPERTY):
        return False
    stem = file_stem(revision, reader)
    if any(name.startswith(stem) for name in there):
        return True
    # Days are compared as days, instants as instants; both are written so that they sort.
    end = revision.value("DTEND") or ""
    over = end <= (utc_text(as_of) if "T" in end else day_text(as_of))
    return not revision.cancelled and not over
