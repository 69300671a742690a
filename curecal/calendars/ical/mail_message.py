"""Revisions as mail: one event a message, as an invitation, a change of one, or a cancellation.

Source: RFC 5546 (REQUEST 3.2.2, CANCEL 3.2.5, PUBLISH 3.2.1) and RFC 6047, 2.4: the calendar is
an alternative of the text, its method stands in the type of the part. Many programs take only
the first event of a message; each travels alone.
"""

from __future__ import annotations

import hashlib
import re
import unicodedata
from collections.abc import Sequence
from email.errors import HeaderParseError
from email.headerregistry import Address
from email.message import EmailMessage
from email.policy import SMTP
from email.utils import format_datetime

from curecal.calendars.content_lines import unescape
from curecal.calendars.ical.ical_writer import CalendarMethod, Party, Sending, document, least_head
from curecal.calendars.ical.round_trip_check import refuse_faults
from curecal.calendars.revision import Revision
from curecal.errors import SourceError
from curecal.trade.job import Job
from curecal.words.sentences import Words

_LONGEST_STEM = 48
_LONGEST_ADDRESS = 254  # RFC 5321, 4.5.3.1.3, less its brackets


def party(address: str, name: str = "") -> Party:
    """Somebody who can get mail.

    Args:
        address: The address alone: "robin@example.org".
        name: A name to show.

    Returns:
        The party.

    Raises:
        SourceError: no address that mail can be sent to (`mail-address`).
    """
    made = Party(address.strip(), " ".join(name.split()))
    try:
        found = Address(addr_spec=made.address)
        made.address.encode("ascii")
    except (ValueError, IndexError, HeaderParseError):
        raise SourceError("mail-address", address=address) from None
    if not (found.username and found.domain) or len(made.address) > _LONGEST_ADDRESS:
        raise SourceError("mail-address", address=address)
    return made


def sending(revision: Revision, *, organizer: Party, reader: Party) -> Sending:
    """How a revision goes to a reader.

    Args:
        revision: The revision.
        organizer: Who sends, always the same one for a job.
        reader: Who is told.

    Returns:
        A request or a cancellation; the organizer's own copy is published to them, since nobody
        can invite themselves.
    """
    if organizer.address.casefold() == reader.address.casefold():
        return Sending(CalendarMethod.PUBLISH, organizer)
    method = CalendarMethod.CANCEL if revision.cancelled else CalendarMethod.REQUEST
    return Sending(method, organizer, reader)


def message(
    revision: Revision, *, job_id: str, organizer: Party, reader: Party, words: Words
) -> EmailMessage:
    """A revision as a complete message, the same octets each time.

    Args:
        revision: The revision.
        job_id: The job's id.
        organizer: Who sends.
        reader: Who is told.
        words: The reader's words.

    Returns:
        The message, with text and calendar as alternatives.

    Raises:
        CurecalError: the calendar is not what may be sent (`calendar-form`); our own fault.
    """
    how = sending(revision, organizer=organizer, reader=reader)
    data = document(least_head(job_id), (revision,), sending=how)
    refuse_faults(data)
    made = EmailMessage(policy=SMTP)
    made["From"] = _mailbox(organizer)
    made["To"] = _mailbox(reader)
    made["Subject"] = revision.summary
    made["Date"] = format_datetime(revision.changed_at)
    made["Message-ID"] = message_id(revision, organizer=organizer, reader=reader)
    made["Auto-Submitted"] = "auto-generated"
    made.set_content(_text(revision, how, words))
    made.add_alternative(
        data,
        maintype="text",
        subtype="calendar",
        disposition="inline",
        cte="base64",
        params={"method": how.method.value, "charset": "UTF-8"},
    )
    # Python draws a boundary at random; the same message must be the same octets.
    made.set_boundary(f"=_{_digest(revision, reader)}")
    return made


def whole_message(
    revisions: Sequence[Revision], job: Job, *, organizer: Party, reader: Party, words: Words
) -> EmailMessage:
    """A whole calendar as one message, for a reader who has none of it yet.

    It is published to them as a file to open (RFC 5546, 3.2.1): of an invitation many programs
    take only the first entry.

    Args:
        revisions: The entries of the reader's calendar, at least one.
        job: The job.
        organizer: Who sends.
        reader: Who is told.
        words: The reader's words.

    Returns:
        The message, the same octets each time.

    Raises:
        CurecalError: the calendar is not what may be sent (`calendar-form`); our own fault.
    """
    how = Sending(CalendarMethod.PUBLISH, organizer)
    data = document(least_head(job.id), revisions, sending=how)
    refuse_faults(data)
    digest = _hash(
        "\n".join(message_id(one, organizer=organizer, reader=reader) for one in revisions)
    )
    made = EmailMessage(policy=SMTP)
    made["From"] = _mailbox(organizer)
    made["To"] = _mailbox(reader)
    made["Subject"] = words.text("mail.whole-subject", {"job": job.name})
    made["Date"] = format_datetime(max(one.changed_at for one in revisions))
    made["Message-ID"] = f"<{digest[:40]}@{organizer.address.rpartition('@')[2]}>"
    made["Auto-Submitted"] = "auto-generated"
    lines = [words.text("mail.whole"), "", *(one.summary for one in revisions), ""]
    lines.append(words.text("mail.answer", {"organizer": organizer.name or organizer.address}))
    made.set_content("\n".join(lines) + "\n")
    made.add_attachment(
        data,
        maintype="text",
        subtype="calendar",
        filename=f"{file_stem(job.name) or 'calendar'}.ics",
        cte="base64",
        params={"method": how.method.value, "charset": "UTF-8"},
    )
    made.set_boundary(f"=_{digest[:24]}")
    return made


def message_id(revision: Revision, *, organizer: Party, reader: Party) -> str:
    """The identity of a message: of one revision to one reader there is one, however often sent.

    Args:
        revision: The revision.
        organizer: Who sends.
        reader: Who is told.

    Returns:
        A Message-ID with its brackets; nothing personal but the sender's domain.
    """
    domain = organizer.address.rpartition("@")[2]
    return f"<{revision.uid}.{revision.sequence}.{_digest(revision, reader)}@{domain}>"


def file_name(revision: Revision, reader: Party) -> str:
    """The name of a message's file: one for each revision and reader, that a person can read.

    Args:
        revision: The revision.
        reader: Who is told.

    Returns:
        For example "owner-alder-lane-do-not-switch-on-1a2b3c4d-3.eml".
    """
    title = "-".join(
        part for part in (revision.audience.value, file_stem(revision.summary)) if part
    )
    about = _hash(f"{revision.uid}\n{reader.address.casefold()}")[:8]
    return f"{title}-{about}-{revision.sequence}.eml"


def file_stem(text: str) -> str:
    """Return a text as part of a file name that a person can read: plain letters and hyphens.

    Args:
        text: A name or a title, as people typed it.

    Returns:
        At most 48 signs; empty where none of them can stand in a file name.
    """
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode().casefold()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:_LONGEST_STEM].strip("-")


def _digest(revision: Revision, reader: Party) -> str:
    return _hash(f"{revision.uid}\n{revision.sequence}\n{reader.address.casefold()}")[:24]


def _hash(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


def _mailbox(who: Party) -> Address:
    return Address(display_name=who.name, addr_spec=who.address)


def _text(revision: Revision, how: Sending, words: Words) -> str:
    """Return what a reader without a calendar reads, and where to answer: no reply is read."""
    lines = [revision.summary, "", unescape(revision.value("DESCRIPTION") or ""), ""]
    location = unescape(revision.value("LOCATION") or "")
    if location:
        lines[1:1] = [location]
    lines.append(words.text(f"mail.{how.method.value.lower()}", {}))
    lines.append(
        words.text("mail.answer", {"organizer": how.organizer.name or how.organizer.address})
    )
    return "\n".join(lines) + "\n"
