"""What people write in the log in their own words: who they are, and whether it says no."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence
from typing import TypeVar

from curecal.trade.buildup import Person, Role
from curecal.trade.log import Entry

E = TypeVar("E", bound=Entry)

# What turns a word into its contrary, in the languages crews write in. "No. 3" is a number.
_NO = re.compile(
    r"\bno\b(?!\.? ?\d)|n/a|w/o|\bto be\b|"
    r"\b(?:not|non|none|nobody|nil|without|missing|lacks|lacking|absent|removed|bypassed|"
    r"defeated|disabled|planned|pending|later|unknown|unlicensed|unlicenced|expired|faulty|broken|"
    r"defective|"
    r"ohne|kein|keine|keiner|keinen|nicht|fehlt|unbekannt|defekt|"
    r"sans|pas|aucun|aucune|manque|inconnu|"
    r"sin|ningun|ninguna|ninguno|falta|senza|nessun|nessuno|nessuna|manca|sem|nenhum|nenhuma|nao|"
    r"geen|zonder|niet|utan|ingen|inget|inte|uden|ikke|uten|ilman|ei|bez|brak|nie|zadny)\b(?!-\d)|^na$"
)
OWNERS = frozenset({Role.OWNER})
"""Who lives there: their word meets no hold point that others answer for."""
_OWNER_WORDS = frozenset({"owner", "the owner", "homeowner", "house owner", "client", "customer"})


def plain(text: str | None) -> str:
    """Return a text as it is compared: one form of its letters, no accents, single spaces.

    Rule: R25.

    Args:
        text: what somebody wrote.

    Returns:
        Lower case; empty where nothing was written.
    """
    apart = unicodedata.normalize("NFKD", text or "")
    letters = "".join(each for each in apart if not unicodedata.combining(each))
    return " ".join(letters.casefold().split())


def says_no(text: str | None) -> bool:
    """Return whether a text says that something is not there, or says nothing at all.

    Rule: R25.

    Args:
        text: what somebody wrote.

    Returns:
        True for "none", "no GFCI", "ohne FI", "-", and for nothing.
    """
    said = plain(text)
    return not any(each.isalnum() for each in said) or _NO.search(said) is not None


def may_say(people: Iterable[Person], by: str | None, *, barred: frozenset[Role]) -> bool:
    """Return whether somebody may put their name to a hold point.

    Nobody is nobody; and who has only other parts in the job is not who it takes. Who the job
    does not name may: an inspector, an electrician's colleague.

    Rule: R24.

    Args:
        people: the people of the job.
        by: who signed.
        barred: the roles that may not.

    Returns:
        True where the name counts.
    """
    said = plain(by)
    if says_no(by):
        return False
    roles = {person.role for person in people if plain(person.name) == said}
    if said in _OWNER_WORDS:
        roles.add(Role.OWNER)
    return not roles or bool(roles - barred)


def newest(entries: Sequence[E]) -> list[E]:
    """Return the last entry, with all of the same instant: the worst of them decides.

    Rule: R24.

    Args:
        entries: entries of one kind in order of time.

    Returns:
        The last one, or several in their order; none of none.
    """
    return [entry for entry in entries if entry.at == entries[-1].at]
