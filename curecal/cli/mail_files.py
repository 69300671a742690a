"""Mail messages of a job's calendars into a folder: each revision once to each of its readers."""

from __future__ import annotations

from email.utils import parseaddr
from typing import TYPE_CHECKING, NamedTuple

from curecal.errors import UsageError

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from datetime import datetime
    from pathlib import Path

    from curecal.calendars import Audience, Party, Revision
    from curecal.cli.calendar_files import Written
    from curecal.cli.common import Planned
    from curecal.words.sentences import Words


ROLES = {"crew": "crew_lead", "electrician": "electrician", "owner": "owner"}
"""Whose calendar each is, as the job file and the words name the role."""


class Mailed(NamedTuple):
    """The messages written, how many were there already, and who has no address."""

    written: Sequence[tuple[Party, Sequence[Path]]]
    there: int
    unreachable: Sequence[str]

    def json(self) -> dict[str, object]:
        """Return the same for a program."""
        return {
            "written": [str(path) for _, paths in self.written for path in paths],
            "there_already": self.there,
            "without_address": list(self.unreachable),
        }

    def lines(self, words: Words) -> Iterator[str]:
        """Return the same in sentences."""
        for reader, paths in self.written:
            params = {"to": reader.name or reader.address, "message_count": len(paths)}
            yield words.text("mail.written" if paths else "mail.nothing-new", params)
        for role in self.unreachable:
            yield words.text("mail.no-address", {"role": words.person(role)})


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
    from curecal.calendars.mail import party
    from curecal.trade.buildup import Role

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
    from curecal.calendars.mail import party

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
    from curecal.calendars.mail import file_name, message
    from curecal.delivery.directory import names_in, write_files

    there = names_in(written.directory)
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
            found.append((reader, paths))
    write_files(written.directory, files)
    missing = [ROLES[audience.value] for audience, people in readers.items() if not people]
    return Mailed(found, already, missing)


def _tells(revision: Revision, reader: Party, there: frozenset[str], as_of: datetime) -> bool:
    """Whether a reader needs to be told a revision."""
    from curecal.calendars.form import DONE_PROPERTY, day_text, utc_text
    from curecal.calendars.mail import file_stem

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
