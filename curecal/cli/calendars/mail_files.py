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

    from curecal.calendars import Audience, History, Mailed, Party, Revision
    from curecal.cli.calendars.calendar_files import WrittenCalendars
    from curecal.cli.shared.common import PlannedJob
    from curecal.delivery.channels import Answer, Wire
    from curecal.words.sentences import Words


_SEND_S = 60.0
ROLES = {"crew": "crew_lead", "electrician": "electrician", "owner": "owner"}
"""Whose calendar each is, as the job file and the words name the role."""


class MailFile(NamedTuple):
    """A message, where it is written, whom it is to, and the revisions it tells."""

    path: Path
    octets: bytes
    reader: Party
    revisions: Sequence[Revision]


class MailFiles(NamedTuple):
    """The messages written, how many were there already, and who has no address.

    `left` are addresses that were told before and are no reader's any more; `senders` are those
    who sent before and are not who sends now. `overtaken` are readers whose calendar somebody else
    published anew meanwhile: what was left out for them is still to be told. `sent_count` is None
    where nothing was to be sent;
    `not_sent` are the messages that did not certainly arrive at the server, with the reason.
    """

    written: Sequence[tuple[Party, Sequence[Path]]]
    there: int
    unreachable: Sequence[str]
    left: Sequence[str] = ()
    senders: Sequence[str] = ()
    overtaken: Sequence[Party] = ()
    sent_count: int | None = None
    not_sent: Sequence[tuple[MailFile, Answer]] = ()

    def json(self) -> dict[str, object]:
        """Return the same for a program."""
        return {
            "written": [str(path) for _, paths in self.written for path in paths],
            "there_already": self.there,
            "without_address": list(self.unreachable),
            "told_before": list(self.left),
            "sent_before": list(self.senders),
            "overtaken": [reader.address for reader in self.overtaken],
            "sent": self.sent_count,
            "not_sent": [str(file.path) for file, _ in self.not_sent],
        }

    def lines(self, words: Words) -> Iterator[str]:
        """Return the same in sentences."""
        from curecal.words.values import clean

        for reader, paths in self.written:
            params = {"to": reader.name or reader.address, "message_count": len(paths)}
            if paths or reader not in self.overtaken:
                yield words.text("mail.written" if paths else "mail.nothing-new", params)
        for reader in self.overtaken:
            yield words.text("mail.overtaken", {"to": clean(reader.name or reader.address)})
        for role in self.unreachable:
            yield words.text("mail.no-address", {"role": words.person(role)})
        for address in self.left:
            yield words.text("mail.told-before", {"to": clean(address)})
        for address in self.senders:
            yield words.text("mail.sent-before", {"by": clean(address)})
        if self.sent_count is not None:
            yield words.text("mail.sent", {"count": self.sent_count})
        if self.sent_count == 0 and self.there and not self.not_sent:
            # Who only looked at the files first must not believe that they went out now.
            yield words.text("mail.written-before")
        for file, answer in self.not_sent:
            to = file.reader.name or file.reader.address
            key = "unsure" if answer.outcome == "unsure" else "not-sent"
            params = {"to": clean(to), "file": file.path.name, "reason": answer.reason}
            yield words.text(f"mail.{key}", params)


class MailWay(NamedTuple):
    """How mail is sent, and who it is from."""

    wire: Wire
    sender: Party


def mail_way(environment: Mapping[str, str]) -> MailWay:
    """Return the way mail goes, as it is set up for reminders.

    Args:
        environment: The environment's variables.

    Returns:
        The way with its sender.

    Raises:
        UsageError: no mail server is set up (`mail-no-server`).
        SourceError: a setting is not understood.
    """
    from curecal.calendars.ical.mail_message import party
    from curecal.delivery.channel_settings import mail_server, settings_from
    from curecal.delivery.mail import MailWire

    server = mail_server(settings_from(environment))
    if server is None:
        raise UsageError("mail-no-server")
    return MailWay(MailWire(server), party(server.sender, server.sender_name))


def sender_of(made: PlannedJob, asked: str | None, way: MailWay | None = None) -> Party:
    """Return who sends: asked for, else who mail is sent from, else the crew lead.

    Args:
        made: The plan.
        asked: What was typed: an address, or a name with an address in angle brackets.
        way: How mail is sent, where it is.

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
    if way is not None:
        return way.sender
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
    wire: Wire | None = None,
) -> MailFiles:
    """Write a message for each revision that a reader has not been told, and send it if asked.

    What is over, and what was cancelled before its reader ever heard of it, is told nobody. What
    was to be sent and was not certainly taken counts as not told: the next time it goes again.

    Args:
        made: The plan.
        written: The calendars, as they were just brought up to date.
        organizer: Who sends.
        readers: Who gets each calendar.
        whole: Whether a reader who was told nothing yet gets all of it in one message.
        wire: The way mail goes; None to write files only.

    Returns:
        What was written.

    Raises:
        SourceError: the folder cannot be written (`calendar-unwritable`).
    """
    from curecal.cli.calendars.calendar_files import ledger_of
    from curecal.delivery.ics_folder import write_files
    from curecal.delivery.whole_files import READ_BY_OWNER

    with ledger_of(made) as ledger:
        told = ledger.history(made.job.id).mailed
        found: list[tuple[Party, list[Path]]] = []
        files: list[MailFile] = []
        already = 0
        for audience, people in readers.items():
            mine = [one for one in written.revised.revisions if one.audience is audience]
            for reader in people:
                new = [one for one in mine if _tells(one, reader, told, made.plan.as_of)]
                first = whole and not any(_is_to(mail, reader) for mail in told)
                write = _whole_message if first and new else _messages
                messages = write(new, made, written, organizer, reader)
                found.append((reader, [file.path for file in messages]))
                files += messages
                already += sum(_is_told(one, reader, told) for one in mine)
        not_sent: list[tuple[MailFile, Answer]] = []
        left_out: set[Path] = set()
        overtaken: list[Party] = []
        # Each behind its message: a crash in between tells one once more, and leaves none out.
        for batch in [files] if wire is None else [[file] for file in files]:
            # The messages before it may have taken minutes, and somebody else told this meanwhile.
            now_known = ledger.history(made.job.id)
            going = [file for file in batch if _is_news(file, now_known)]
            for file in batch:
                if file not in going:
                    left_out.add(file.path)
                    if _is_untold(file, now_known, made.plan.as_of):
                        overtaken.append(file.reader)
            if not going:
                continue
            octets = {file.path: file.octets for file in going}
            write_files(written.directory, octets, mode=READ_BY_OWNER)
            failed = [] if wire is None else _sent(going, wire)
            not_sent += failed
            ledger.add_mailed(made.job.id, [] if failed else _news(going, organizer))
    missing = [ROLES[audience.value] for audience, people in readers.items() if not people]
    now = {comparable_email(reader.address) for people in readers.values() for reader in people}
    left = {mail.recipient for mail in told if comparable_email(mail.recipient) not in now}
    by = comparable_email(organizer.address)
    senders = {mail.sender for mail in told if comparable_email(mail.sender) != by}
    return MailFiles(
        [(reader, [path for path in paths if path not in left_out]) for reader, paths in found],
        already,
        missing,
        sorted(left),
        sorted(senders),
        tuple(dict.fromkeys(overtaken)),
        sent_count=None if wire is None else len(files) - len(left_out) - len(not_sent),
        not_sent=not_sent,
    )


def _is_news(file: MailFile, history: History) -> bool:
    """Return whether a message tells what is published now, and nobody told its reader any of it.

    What somebody else publishes meanwhile is told by them, or the next time: see `_is_untold`.
    """
    known = history.revisions
    return all(
        one.uid in known
        and known[one.uid].sequence == one.sequence
        and not _is_told(one, file.reader, history.mailed)
        for one in file.revisions
    )


def _is_untold(file: MailFile, history: History, as_of: datetime) -> bool:
    """Return whether a message's reader still needs to be told what is published of it now."""
    known = history.revisions
    return any(
        _tells(known.get(one.uid, one), file.reader, history.mailed, as_of)
        for one in file.revisions
    )


def _news(files: Iterable[MailFile], organizer: Party) -> list[Mailed]:
    """Return what the ledger keeps of messages that their readers have."""
    return [_mail(one, file.reader, organizer) for file in files for one in file.revisions]


def _sent(files: Iterable[MailFile], wire: Wire) -> list[tuple[MailFile, Answer]]:
    """Send messages, and return those that were not certainly taken, with the answer."""
    from curecal.delivery.channels import Outcome

    answers = [
        (file, wire.send(file.reader.address, file.octets, deadline_s=_SEND_S)) for file in files
    ]
    return [(file, answer) for file, answer in answers if answer.outcome is not Outcome.TAKEN]


def _messages(
    revisions: Sequence[Revision],
    made: PlannedJob,
    written: WrittenCalendars,
    organizer: Party,
    reader: Party,
) -> list[MailFile]:
    """A message for each revision."""
    from curecal.calendars.ical.mail_message import file_name, message

    words = _words_of(made, reader)
    return [
        MailFile(
            written.directory / file_name(one, reader),
            message(
                one, job_id=made.job.id, organizer=organizer, reader=reader, words=words
            ).as_bytes(),
            reader,
            (one,),
        )
        for one in revisions
    ]


def _whole_message(
    revisions: Sequence[Revision],
    made: PlannedJob,
    written: WrittenCalendars,
    organizer: Party,
    reader: Party,
) -> list[MailFile]:
    """One message with all of a reader's calendar."""
    from curecal.calendars.ical.mail_message import file_stem, whole_message

    audience = revisions[0].audience.value
    name = file_stem(f"{audience} whole calendar for {reader.name or reader.address}")
    octets = whole_message(
        revisions, made.job, organizer=organizer, reader=reader, words=_words_of(made, reader)
    ).as_bytes()
    return [MailFile(written.directory / f"{name}.eml", octets, reader, revisions)]


def _words_of(made: PlannedJob, reader: Party) -> Words:
    """Return the words of who reads a message: their own language, else the job's."""
    from curecal.words.reader_language import reader_language

    address = comparable_email(reader.address)
    own = (
        person.language
        for person in made.job.people
        if person.language and comparable_email(person.email or "") == address
    )
    return made.words_in(reader_language(made.job, next(own, None)))


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
