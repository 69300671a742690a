"""Mail messages of a job's calendars into a folder: each revision once to each of its readers."""

from __future__ import annotations

from email.utils import parseaddr
from typing import TYPE_CHECKING, NamedTuple

from curecal.errors import UsageError
from curecal.trade.names import comparable_email

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
    from datetime import datetime
    from pathlib import Path

    from curecal.calendars import Audience, Mailed, Party, Revision
    from curecal.cli.calendars.calendar_files import WrittenCalendars
    from curecal.cli.shared.common import PlannedJob
    from curecal.words.sentences import Words


ROLES = {"crew": "crew_lead", "electrician": "electrician", "owner": "owner"}
"""Whose calendar each is, as the job file and the words name the role."""


class MailFiles(NamedTuple):
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


def sender_of(made: PlannedJob, asked: str | None) -> Party:
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
    leads = [
        person for person in made.job.people_as(Role.CREW_LEAD, made.plan.as_of) if person.email
    ]
    if not leads or leads[0].email is None:
        raise UsageError("mail-no-sender")
    return party(leads[0].email, leads[0].name or "")


def readers_of(made: PlannedJob) -> Mapping[Audience, Sequence[Party]]:
    """Return who gets each calendar.

    Args:
        made: The plan.

    Returns:
        By audience the people who have its role now, also as a further one, and an address.

    Raises:
        SourceError: what stands as an address is none (`mail-address`).
    """
    from curecal.calendars import Audience
    from curecal.calendars.ical.mail_message import party
    from curecal.trade.job import Role

    return {
        audience: [
            party(person.email, person.name or "")
            for person in made.job.people_as(Role(ROLES[audience.value]), made.plan.as_of)
            if person.email
        ]
        for audience in Audience
    }


def write_messages(
    made: PlannedJob,
    written: WrittenCalendars,
    *,
    organizer: Party,
    readers: Mapping[Audience, Sequence[Party]],
    whole: bool = False,
) -> MailFiles:
    """Write a message for each revision that a reader has not been told.

    What is over, and what was cancelled before its reader ever heard of it, is told nobody.

    Args:
        made: The plan.
        written: The calendars, as they were just brought up to date.
        organizer: Who sends.
        readers: Who gets each calendar.
        whole: Whether a reader who was told nothing yet gets all of it in one message.

    Returns:
        What was written.

    Raises:
        SourceError: the folder cannot be written (`calendar-unwritable`).
    """
    from curecal.cli.calendars.calendar_files import ledger_of
    from curecal.delivery.ics_folder import write_files

    with ledger_of(made) as ledger:
        told = ledger.history(made.job.id).mailed
        found: list[tuple[Party, list[Path]]] = []
        files: dict[Path, bytes] = {}
        news: list[Mailed] = []
        already = 0
        for audience, people in readers.items():
            mine = [one for one in written.revised.revisions if one.audience is audience]
            for reader in people:
                new = [one for one in mine if _tells(one, reader, told, made.plan.as_of)]
                first = whole and not any(_is_to(mail, reader) for mail in told)
                write = _whole_message if first and new else _messages
                messages = write(new, made, written, organizer, reader)
                found.append((reader, list(messages)))
                files |= messages
                news += [_mail(one, reader, organizer) for one in new]
                already += sum(_is_told(one, reader, told) for one in mine)
        if files:
            write_files(written.directory, files)
            # Behind the messages: a crash in between writes them once more, and leaves none out.
            ledger.add_mailed(made.job.id, news)
    missing = [ROLES[audience.value] for audience, people in readers.items() if not people]
    now = {comparable_email(reader.address) for people in readers.values() for reader in people}
    left = {mail.recipient for mail in told if comparable_email(mail.recipient) not in now}
    by = comparable_email(organizer.address)
    senders = {mail.sender for mail in told if comparable_email(mail.sender) != by}
    return MailFiles(found, already, missing, sorted(left), sorted(senders))


def _messages(
    revisions: Sequence[Revision],
    made: PlannedJob,
    written: WrittenCalendars,
    organizer: Party,
    reader: Party,
) -> dict[Path, bytes]:
    """A message for each revision, by the path that it gets."""
    from curecal.calendars.ical.mail_message import file_name, message

    return {
        written.directory / file_name(one, reader): message(
            one, job_id=made.job.id, organizer=organizer, reader=reader, words=made.words
        ).as_bytes()
        for one in revisions
    }


def _whole_message(
    revisions: Sequence[Revision],
    made: PlannedJob,
    written: WrittenCalendars,
    organizer: Party,
    reader: Party,
) -> dict[Path, bytes]:
    """One message with all of a reader's calendar, by the path that it gets."""
    from curecal.calendars.ical.mail_message import file_stem, whole_message

    audience = revisions[0].audience.value
    name = file_stem(f"{audience} whole calendar for {reader.name or reader.address}")
    octets = whole_message(
        revisions, job_id=made.job.id, organizer=organizer, reader=reader, words=made.words
    ).as_bytes()
    return {written.directory / f"{name}.eml": octets}


def _is_to(mail: Mailed, reader: Party) -> bool:
    return comparable_email(mail.recipient) == comparable_email(reader.address)


def _mail(revision: Revision, reader: Party, organizer: Party) -> Mailed:
    from curecal.calendars import Mailed

    return Mailed(revision.uid, revision.sequence, reader.address, organizer.address)


def _is_told(revision: Revision, reader: Party, told: Iterable[Mailed]) -> bool:
    to = comparable_email(reader.address)
    return any(
        (mail.uid, mail.sequence, comparable_email(mail.recipient))
        == (revision.uid, revision.sequence, to)
        for mail in told
    )


def _tells(revision: Revision, reader: Party, told: Collection[Mailed], as_of: datetime) -> bool:
    """Return whether a reader needs to be told a revision."""
    from curecal.calendars.ical.ical_writer import DONE_PROPERTY, day_text, utc_text

    # Nobody needs a letter about what they did; only hours that are free again are told.
    if revision.value(DONE_PROPERTY) or _is_told(revision, reader, told):
        return False
    to = comparable_email(reader.address)
    if any(mail.uid == revision.uid and comparable_email(mail.recipient) == to for mail in told):
        return True
    # Days are compared as days, instants as instants; both are written so that they sort.
    end = revision.value("DTEND") or ""
    over = end <= (utc_text(as_of) if "T" in end else day_text(as_of))
    return not revision.cancelled and not over
