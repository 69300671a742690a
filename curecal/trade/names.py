"""Names as people read them."""

from __future__ import annotations

import unicodedata

# What people write where they have none.
_NONE = frozenset(
    {
        *("none", "unknown", "not known", "tbd", "n/a", "na", "no sheet", "no data sheet"),
        *("experience", "my experience", "from memory", "rule of thumb", "as always", "as usual"),
    }
)


def comparable_name(text: str) -> str:
    """Return a name as it is compared: signs composed, one case, single spaces.

    Two keyboards write one name in two ways that nobody can tell apart on paper. What is shown is
    the name as it was written.
    """
    composed = unicodedata.normalize("NFC", text).casefold()
    return " ".join(unicodedata.normalize("NFC", composed).split())


def names_nothing(text: str) -> bool:
    """Return whether a text says that there is none: "none", "n/a", "-"."""
    said = comparable_name(text)
    return said in _NONE or not any(sign.isalnum() for sign in said)
