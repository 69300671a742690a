"""What people write in the log in their own words: who they are, and whether it says no."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence
from typing import TypeVar

from curecal.trade.job import Person, Role
from curecal.trade.site_log import Entry

E = TypeVar("E", bound=Entry)

# Patterns of what people write are compiled when somebody wrote it, not whenever a plan is made.
# What turns a word into its contrary, in the languages crews write in. "No. 3" is a number.
_NO = (
    r"\bno\b(?!\.? ?\d)|n/a|w/o|\bto be\b|"
    r"\b(?:not|non|none|nobody|nil|without|missing|lacks|lacking|absent|removed|bypassed|"
    r"defeated|disabled|planned|pending|later|unknown|unlicensed|unlicenced|expired|faulty|broken|"
    r"defective|"
    r"ohne|kein|keine|keiner|keinen|nicht|fehlt|unbekannt|defekt|"
    r"sans|pas|aucun|aucune|manque|inconnu|"
    r"sin|ningun|ninguna|ninguno|falta|senza|nessun|nessuno|nessuna|manca|sem|nenhum|nenhuma|nao|"
    r"geen|zonder|niet|utan|ingen|inget|inte|uden|ikke|uten|ilman|ei|bez|brak|nie|zadny)\b(?!-\d)|^na$"
)
# What no name and no license number has in it: no person is called that, no number says it.
_CLEARLY_NO = (
    r"\bto be\b|\bn/a\b|"
    r"\b(?:not|none|nobody|without|missing|lacking|absent|planned|pending|unknown|unsigned|"
    r"unlicensed|unlicenced|expired|tbd|tba|kein|keine|keiner|keinen|nicht|niemand|fehlt|unbekannt|"
    r"aucun|aucune|inconnu|ningun|ninguna|ninguno|nessun|nessuno|nessuna|nenhum|nenhuma|geen|"
    r"ingen|inget)\b"
)
# Beside a word that may as well be somebody's name, these make it a "no": "no electrician".
_NO_NAME = (
    r"the|an?|d|one|body|yet|here|name|nom|nombre|firma|city|county|municipal|show|visit|permit|"
    r"(?:electri|elektri|eletri|elettri|inspe|licen|lizenz|signatur|unterschrift|person)\w*"
)
# "License no: 4711", "No E33", "SIN 4711": what stands before a number is its label.
_LABEL = r"\b(?:no|sin|nie|nil|na|ei)\b(?=\W*(?:(?!lic|liz)[a-z]{1,4}\W*)?\d)"
_LAPSED = (
    r"\bno longer\b|\b(?:invalid|revoked|suspended|lapsed|withdrawn|cancell?ed)\b|"
    r"\b(?:no|ohne|sans|sin|senza|sem|zonder|utan|uden|uten|bez|pas de)\W+(?:lic|liz|lis)"
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


def listed(text: str) -> frozenset[str]:
    """Return the words of a text, by spaces.

    Rule: R25.

    Args:
        text: the words, one after the other.

    Returns:
        Each once.
    """
    return frozenset(text.split())


def says_no(text: str | None) -> bool:
    """Return whether a text says that something is not there, or says nothing at all.

    Rule: R25.

    Args:
        text: what somebody wrote.

    Returns:
        True for "none", "no GFCI", "ohne FI", "-", and for nothing.
    """
    said = plain(text)
    return not any(each.isalnum() for each in said) or re.search(_NO, said) is not None


def is_nobody(by: str | None) -> bool:
    """Return whether a signature names nobody.

    A word for "no" may be a name: only the whole text says that nobody signed, or one that holds
    nothing else but what a signature is of.

    Rule: R24, R25.

    Args:
        by: who signed.

    Returns:
        True for "none", "no electrician", "pending"; False for "Lee No", "Sin Wei".
    """
    said = plain(by)
    if not any(each.isalnum() for each in said) or re.search(_CLEARLY_NO, said):
        return True
    rest, found = re.subn(_NO, " ", said)
    return found > 0 and all(
        re.fullmatch(_NO_NAME, word) for word in re.findall(r"[^\W\d_]+", rest)
    )


def is_licence(text: str | None) -> bool:
    """Return whether a text names a license.

    With a figure it is one, but for what begins with a "no" or says that it is none any more.

    Rule: R24, R25.

    Args:
        text: what somebody wrote.

    Returns:
        True for "E 1234", "License no: 4711"; False for "none", "no licence", "E 33 (expired)".
    """
    said = re.sub(_LABEL, " ", plain(text)).strip()
    if re.search(_CLEARLY_NO, said) or re.search(_LAPSED, said):
        return False
    has_figure = any(each.isdigit() for each in said)
    return re.match(_NO, said) is None if has_figure else not says_no(said)


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
    if is_nobody(by):
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
