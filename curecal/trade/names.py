"""Names as people read them."""

from __future__ import annotations

import unicodedata


def comparable_name(text: str) -> str:
    """Return a name as it is compared: signs composed, one case, single spaces.

    Two keyboards write one name in two ways that nobody can tell apart on paper. What is shown is
    the name as it was written.
    """
    composed = unicodedata.normalize("NFC", text).casefold()
    return " ".join(unicodedata.normalize("NFC", composed).split())
