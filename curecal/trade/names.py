"""Names, mail addresses and phone numbers as people read them: two spellings of one compare."""

from __future__ import annotations

import re
import unicodedata
from collections import Counter
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

_WORD = re.compile(r"\w+")
_NOT_DIALED = re.compile(r"[^0-9+]")

# What people write where they have none.
_NONE = frozenset(
    {
        *("none", "nil", "unknown", "not known", "tbd", "tba", "n/a", "na", "nothing", "no idea"),
        *("no sheet", "no data sheet", "none given", "not given", "missing", "lost", "to follow"),
        *("don't know", "dont know", "i don't know", "later", "yes", "no", "sheet", "data sheet"),
        *("experience", "my experience", "memory", "from memory", "in my head", "rule of thumb"),
        *("as always", "as usual", "keine", "keines", "unbekannt", "aucun", "aucune", "ninguna"),
    }
)


def comparable_name(text: str) -> str:
    """Return a name as it is compared: signs composed, one case, single spaces.

    Two keyboards write one name in two ways that nobody can tell apart on paper. What is shown is
    the name as it was written.
    """
    composed = unicodedata.normalize("NFC", text).casefold()
    return " ".join(unicodedata.normalize("NFC", composed).split())


def told_apart(names: Mapping[str, str]) -> dict[str, str]:
    """Return what each job is called where several stand in one list: a shared name with its id.

    Args:
        names: what each is called, by its id.

    Returns:
        The names by the same ids, no two of them alike.
    """
    found = Counter(comparable_name(name) for name in names.values())
    return {
        job_id: name if found[comparable_name(name)] == 1 else f"{name} ({job_id})"
        for job_id, name in names.items()
    }


def says_name(text: str, name: str) -> bool:
    """Return whether a text has a name in it, whole words: "Alder Lane, hall bath" has "Hall bath".

    A job whose name says its only zone needs no word for the zone beside it.
    """
    spoken, words = (f" {' '.join(_WORD.findall(comparable_name(part)))} " for part in (text, name))
    return words.strip() != "" and words in spoken


def names_nothing(text: str) -> bool:
    """Return whether a text says that there is none: "none", "n/a", "-"."""
    said = comparable_name(text).strip(" .!?()[]\"'").replace("\u2019", "'")
    return said in _NONE or not any(sign.isalnum() for sign in said)


def comparable_email(address: str) -> str:
    """Return a mail address as it is compared: signs composed, small letters.

    The part before the sign may tell large letters from small; hardly any does, and two messages
    to one person are the lesser harm than none.
    """
    return unicodedata.normalize("NFC", address.strip()).casefold()


def dialed(number: str) -> str:
    """Return a phone number as it is dialed: digits, and the plus in front where it has one."""
    plain = _NOT_DIALED.sub("", number)
    if plain.startswith("00"):
        plain = f"+{plain[2:]}"
    return plain[:1] + plain[1:].replace("+", "")


def comparable_phone(number: str) -> str:
    """Return a phone number as it is compared: with a plus or without, it is dialed alike."""
    return dialed(number).removeprefix("+")
