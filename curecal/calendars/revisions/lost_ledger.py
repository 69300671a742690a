"""Going on after a ledger was lost: the one rule, and what can be salvaged from the outputs.

The rule: SEQUENCE goes on a hundred above the highest that any output shows or the ledger knows;
at a thousand where none is known. Everything is published anew from there, so that no program
takes what people hold for the newer one.

Source: RFC 5546, 2.1.4: receivers go by SEQUENCE. The hundred and the thousand are ours.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import UTC, datetime

from curecal.calendars.content_lines import refuse_controls, unescape
from curecal.calendars.event import Audience, Stamp
from curecal.calendars.ical.ical_writer import document, least_head, stamped
from curecal.calendars.ical.loose_reader import blocks, first_value
from curecal.calendars.ical.validate import faults
from curecal.calendars.revision import (
    GREATEST_SEQUENCE,
    OURS,
    STAMPS,
    Draft,
    History,
    Revision,
    name_of,
    spelled_as_ours,
    value_of,
)
from curecal.errors import ValueRefused

AFTER_LOSS = 100
"""Far above what anybody could have published unseen, far below what receivers can count to."""
UNKNOWN_FIRST = 1000
"""Where SEQUENCE starts when nothing is known of what people hold."""
PLAUSIBLE = GREATEST_SEQUENCE // 2
"""What stands higher was typed by somebody or broke: no job counts up to it."""
# The last year a site can name: what stands there beyond it was not written by us.
_LAST_YEAR = 2100
_INSTANT = re.compile(r"[0-9]{8}T[0-9]{6}Z")
_DIGITS = re.compile(r"[0-9]{1,10}")


@dataclass(frozen=True, slots=True)
class Salvaged:
    """What an output still tells: events that are whole, every SEQUENCE, the latest stamp."""

    revisions: tuple[Revision, ...] = ()
    sequences: tuple[int, ...] = ()
    newest_at: datetime | None = None


def first_after(sequences: Iterable[int]) -> int:
    """Where SEQUENCE goes on after a loss.

    Args:
        sequences: All that are known.

    Returns:
        A hundred above the highest plausible one; a thousand where none is known.
    """
    highest = max((one for one in sequences if one <= PLAUSIBLE), default=None)
    return UNKNOWN_FIRST if highest is None else highest + AFTER_LOSS


def after_loss(history: History, found: Iterable[Salvaged]) -> History:
    """A history to go on from, above all that the ledger and the outputs know.

    Args:
        history: What the ledger knows, if there is one.
        found: What the outputs still tell.

    Returns:
        The later revision of each event, all of them to be published anew.
    """
    revisions = dict(history.revisions)
    sequences = [one.sequence for one in revisions.values()]
    stamps = [one.changed_at for one in revisions.values()]
    stamps += [history.newest_at] if history.newest_at else []
    for salvaged in found:
        sequences += salvaged.sequences
        stamps += [salvaged.newest_at] if salvaged.newest_at else []
        for revision in salvaged.revisions:
            known = revisions.get(revision.uid)
            if known is None or known.sequence < revision.sequence:
                revisions[revision.uid] = revision
    return replace(
        history,
        revisions=revisions,
        first=max(history.first, first_after(sequences)),
        newest_at=max(stamps, default=None),
        suspect=frozenset(revisions),
        is_lost=False,
    )


def salvage(lines: list[str], audience: Audience) -> Salvaged:
    """Return what can be taken out of a calendar that no ledger knows.

    Args:
        lines: Its content lines.
        audience: Whose calendar it is.

    Returns:
        Its events as far as they keep our form, in our spelling; every SEQUENCE and stamp in it.
    """
    named = {name: [value_of(line) for line in lines if name_of(line) == name] for name in STAMPS}
    numbers = [sequence_in(text) for text in named["SEQUENCE"]]
    stamps = [at for text in named["DTSTAMP"] if (at := instant_in(text))]
    whole: list[Revision] = []
    for block in blocks(lines, "VEVENT"):
        revision = _revision(block, audience)
        # One that does not keep the form would bar all that is published later.
        if revision and not faults(document(least_head("any"), (*whole, revision))):
            whole.append(revision)
    return Salvaged(
        tuple(whole),
        tuple(number for number in numbers if number is not None),
        max(stamps, default=None),
    )


def sequence_in(text: str) -> int | None:
    """A SEQUENCE as it is written; None for what no counting comes to."""
    found = int(text) if _DIGITS.fullmatch(text) else None
    return found if found is not None and found <= PLAUSIBLE else None


def instant_in(text: str) -> datetime | None:
    """An instant as we write it; None for anything else, and for years no job lies in."""
    if not _INSTANT.fullmatch(text):
        return None
    try:
        found = datetime.strptime(text, "%Y%m%dT%H%M%SZ").replace(tzinfo=UTC)
    except ValueError:
        return None
    return found if found.year <= _LAST_YEAR else None


def _revision(block: list[str], audience: Audience) -> Revision | None:
    """An event as a revision in our form; None where it cannot be one."""
    try:
        for line in block:
            refuse_controls(line, "calendar")
    except ValueRefused:
        return None
    uid = unescape(first_value(block, "UID"))
    sequence = sequence_in(first_value(block, "SEQUENCE") or "0")
    changed_at = instant_in(first_value(block, "DTSTAMP"))
    if not uid or sequence is None or changed_at is None:
        return None
    return stamped(Draft(uid, audience, _in_our_form(uid, block)), Stamp(sequence, changed_at))


def _in_our_form(uid: str, block: list[str]) -> tuple[str, ...]:
    """An event's lines without what another program put in: identity first, alarms last."""
    event: list[str] = []
    alarms: list[str] = []
    depth = 0
    for line in block[1:-1]:
        name = name_of(line)
        depth += name == "BEGIN"
        if depth and name in OURS:
            alarms.append(spelled_as_ours(line))
        elif name in OURS and name not in STAMPS and name != "UID":
            event.append(spelled_as_ours(line))
        depth -= name == "END"
    return ("BEGIN:VEVENT", f"UID:{uid}", *event, *alarms, "END:VEVENT")
