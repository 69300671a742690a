r"""Content lines: TEXT escaping, folding at 75 octets, and the way back.

Written here because the library that reads our files back escapes a backslash before a capital N
as a line break, escapes neither COLOR nor `X-` values, and keeps a line break out of a value
with an `assert` only, which `python -O` drops.
"""

from __future__ import annotations

import re
import unicodedata

from curecal.errors import ValueRefused

LONGEST = 75
"""Octets of a physical line, without its CRLF (RFC 5545, 3.1)."""

_ESCAPES = {"\\": "\\\\", ";": "\\;", ",": "\\,", "\n": "\\n"}
_ESCAPED = re.compile(r"[\\;,\n]")
# In UTF-8 every octet of a sign but its first is 10xxxxxx.
_CONTINUES_MASK, _CONTINUES = 0xC0, 0x80
_WRITTEN = re.compile(r"\\([\\;,nN])")
# Cc: control characters; Cs: halves of a pair, which UTF-8 cannot hold; Zl and Zp: signs that
# some readers take for the end of a line.
_REFUSED = frozenset({"Cc", "Cs", "Zl", "Zp"})


def refuse_controls(text: str, field: str, *, breaks: bool = False) -> None:
    """Refuse a text that could end its line, and so become a property of its own.

    Args:
        text: What will stand in a calendar.
        field: The name of the place it comes from, for the person who has to mend it.
        breaks: Whether a line break may stand in it.

    Raises:
        ValueRefused: a control character (`control-character`), named by its code point.
    """
    # Nearly every text ends here: no refused sign is printable.
    if (text.replace("\n", "") if breaks else text).isprintable():
        return
    for place, sign in enumerate(text, start=1):
        if unicodedata.category(sign) in _REFUSED and not (breaks and sign == "\n"):
            raise ValueRefused(
                "control-character", field=field, sign=f"U+{ord(sign):04X}", place_count=place
            )


def escape(text: str) -> str:
    """The text as a TEXT value (RFC 5545, 3.3.11).

    Args:
        text: Free text; a line break is allowed.

    Returns:
        The value, on one line.
    """
    return _ESCAPED.sub(lambda found: _ESCAPES[found[0]], text)


def unescape(value: str) -> str:
    """The text that a TEXT value holds.

    Args:
        value: What stands after the colon.

    Returns:
        The text with its line breaks.
    """
    return _WRITTEN.sub(lambda found: "\n" if found[1] in "nN" else found[1], value)


def fold(line: str) -> bytes:
    """One content line as octets, folded, with its CRLF.

    Args:
        line: A content line without any line break.

    Returns:
        Physical lines of at most 75 octets, none cut inside a character.

    Raises:
        ValueRefused: a control character stands in it (a tab as well: we write none).
    """
    refuse_controls(line, line.partition(":")[0][:LONGEST])
    octets = line.encode()
    parts: list[bytes] = []
    start, room = 0, LONGEST
    while len(octets) - start > room:
        end = start + room
        while octets[end] & _CONTINUES_MASK == _CONTINUES:
            end -= 1
        parts.append(octets[start:end])
        # From the second line on, the space before it takes one octet.
        start, room = end, LONGEST - 1
    parts.append(octets[start:])
    return b"\r\n ".join(parts) + b"\r\n"


def unfold(data: bytes) -> list[str]:
    """The content lines of a file.

    Args:
        data: Physical lines, each with its CRLF.

    Returns:
        The lines without their folds.

    Raises:
        UnicodeDecodeError: not UTF-8.
    """
    joined = data.replace(b"\r\n ", b"").replace(b"\r\n\t", b"").decode()
    return joined.removesuffix("\r\n").split("\r\n") if joined else []


def text_property(name: str, text: str) -> str:
    """A content line whose value is free text.

    Args:
        name: The property's name.
        text: Its value, not yet escaped.

    Returns:
        The line.
    """
    return f"{name}:{escape(text)}"
