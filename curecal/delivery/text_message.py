"""Text messages: signs of the small alphabet where that can be, and how many parts it takes.

Source: 3GPP TS 23.038 (default alphabet and its extension), TS 23.040 (parts); both from memory.
A message of 160 signs of the default alphabet is one part, a longer one is cut at 153; with any
other sign it is 70, then 67.
"""

from __future__ import annotations

import math
import unicodedata

from curecal.records import Record, record

_BASIC = frozenset(
    "@£$¥èéùìòÇ\nØø\rÅåΔ_ΦΓΛΩΠΨΣΘΞÆæßÉ !\"#¤%&'()*+,-./0123456789:;<=>?"
    "¡ABCDEFGHIJKLMNOPQRSTUVWXYZÄÖÑÜ§¿abcdefghijklmnopqrstuvwxyzäöñüà"
)
_EXTENDED = frozenset("^{}\\[~]|€\f")
_ONE, _MANY = 160, 153
_WIDE_ONE, _WIDE_MANY = 70, 67
# Signs with a plain one that says the same.
_PLAIN = {
    "°": " deg ",
    "\u2013": "-",
    "\u2014": "-",
    "\u2212": "-",
    "\u2026": "...",
    "\u2019": "'",
    "\u2018": "'",
    "\u201c": '"',
    "\u201d": '"',
    "\u201e": '"',
    "«": '"',
    "ł": "l",
    "Ł": "L",
    "»": '"',
    "\u00d7": "x",
    "²": "2",
    "³": "3",
    "±": "+/-",
    "\u00a0": " ",
    "\u202f": " ",
}
_DEGREES = {" deg C": " C", " deg F": " F"}


@record
class Short(Record):
    """A text message as it goes out, and in how many parts."""

    text: str
    part_count: int
    is_small: bool


def short(text: str) -> Short:
    """Return a text as a text message.

    Args:
        text: What to say.

    Returns:
        In the small alphabet, where nothing but accents is lost by that; else as it is.
    """
    small = _small(text)
    if small is not None:
        length = sum(2 if sign in _EXTENDED else 1 for sign in small)
        return Short(small, _parts(length, _ONE, _MANY), is_small=True)
    # Parts of the large alphabet count in halves of 32 bits.
    length = len(text.encode("utf-16-le")) // 2
    return Short(text, _parts(length, _WIDE_ONE, _WIDE_MANY), is_small=False)


def _small(text: str) -> str | None:
    for sign, plain in _PLAIN.items():
        text = text.replace(sign, plain)
    for long, brief in _DEGREES.items():
        text = text.replace(" " + long, brief).replace(long, brief)
    found = []
    for sign in text:
        if sign in _BASIC or sign in _EXTENDED:
            found.append(sign)
            continue
        bare = unicodedata.normalize("NFD", sign)[0]
        # Another script is not made readable by leaving signs out.
        if bare not in _BASIC:
            return None
        found.append(bare)
    return "".join(found)


def _parts(length: int, one: int, many: int) -> int:
    return 1 if length <= one else math.ceil(length / many)
