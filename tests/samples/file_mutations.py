"""A text broken as people, programs and disks break it: by one value, by a line, by octets."""

from __future__ import annotations

import os
import random
import re
from dataclasses import dataclass, field

LONG = os.environ.get("CURECAL_TESTS_LONG") == "1"
# What the long run mutates of each kind: a hundred thousand in all, held by a test.
COUNTS = {
    "job file": 30_000,
    "company file": 4_000,
    "further log": 8_000,
    "logger export": 20_000,
    "workbook": 2_000,
    "every command": 8_000,
    "ledger": 4_000,
    "calendar folder": 4_000,
    "book export": 2_000,
    "settings": 4_000,
    "form": 6_000,
    "address": 4_000,
    "mail server": 1_000,
    "gateway": 1_000,
    "calendar server": 1_000,
    "command line": 6_000,
}
_QUICK = 1 / 250


def count_of(kind: str) -> int:
    """Return how many of a kind are mutated: all in the long run, else a small share."""
    return COUNTS[kind] if LONG else max(8, round(COUNTS[kind] * _QUICK))


def drawn(kind: str) -> random.Random:
    """Return the source of a kind's mutations: the same ones every time."""
    return random.Random(f"mutated {kind}")  # noqa: S311 - files are drawn, no secrets


ZERO_WIDTH = "\u200b\u200d\u2060\ufeff\u00ad"
BIDI = "\u202a\u202b\u202d\u202e\u2066\u2067\u2068\u2069\u200e\u200f\u061c"
# Digits of other scripts, and signs that look like a digit or a letter of a unit.
OTHER_ZEROS = "\uff10\u0660\u06f0\u0966\u0e50\U0001d7ce"
ALIKE = {
    "0": "OОο", "1": "lIІ|", "2": "²Ƨ", "3": "ЗƷ³", "5": "Ѕ", "8": "Β", "C": "С", "F": "Ϝ",
    "K": "\u212aК", "h": "һ", "d": "ԁ", "m": "rn", "-": "−–—‐", ".": ",·。",
    " ": "\u00a0\u2009\u3000",
    "°": "º˚", "Ω": "\u2126", "A": "АΑ",
}  # fmt: skip
UNITS = (
    *("°F", "°C", "K", "F", "C", "h", "d", "min", "s", "week", "in", "mm", "cm", "m", "ft", "Ω"),
    *("kΩ", "MΩ", "mΩ", "V", "W", "kW", "A", "mA", "%", "ft²", "m²", "% RH", "CM-%", ""),
)
_UNIT = re.compile(
    r"(?<=\d)( ?)(°?[FC]|h|d|min|in|mm|cm|ft²|m²|[kMG]?Ω|V|k?W|m?A|%|week)\b|(?<=\d)( ?)([%Ω])"
)


@dataclass
class Value:
    """A value to be changed: its text, one of its digits, and any place in it."""

    text: str
    draw: random.Random
    at: int = field(init=False)
    anywhere: int = field(init=False)

    def __post_init__(self) -> None:
        digits = [at for at, sign in enumerate(self.text) if sign in "0123456789"]
        self.anywhere = self.draw.randrange(len(self.text) + 1)
        self.at = self.draw.choice(digits) if digits else self.anywhere

    def put(self, text: str, *, at: int, over: int = 0) -> str:
        """Return the text with something put into it, over so many of its signs."""
        return self.text[:at] + text + self.text[at + over :]


def _other_digit(value: Value) -> str:
    return value.put(str(value.draw.randrange(10)), at=value.at, over=1)


def _more_digits(value: Value) -> str:
    return value.put(str(value.draw.randrange(10)), at=value.at)


def _no_digit(value: Value) -> str:
    return value.put("", at=value.at, over=1)


def _decimal_comma(value: Value) -> str:
    if "." in value.text:
        return value.text.replace(".", ",", 1)
    return value.put(",", at=value.at)


def _decimal_point(value: Value) -> str:
    return value.put(".", at=value.at)


def _two_swapped(value: Value) -> str:
    two = value.text[value.anywhere : value.anywhere + 2]
    return value.put(two[::-1], at=value.anywhere, over=len(two))


def _other_unit(value: Value) -> str:
    unit = value.draw.choice(UNITS)
    return _UNIT.sub(lambda found: f"{found[1] or ''}{unit}", value.text, count=1)


def _sign(value: Value) -> str:
    return value.draw.choice("-\u2212\u2013+") + value.text


def _foreign_digit(value: Value) -> str:
    here = value.text[value.at : value.at + 1]
    if not here.isdecimal():
        return value.text
    return value.put(chr(ord(value.draw.choice(OTHER_ZEROS)) + int(here)), at=value.at, over=1)


def _look_alike(value: Value) -> str:
    places = [at for at, sign in enumerate(value.text) if sign in ALIKE]
    if not places:
        return value.text
    at = value.draw.choice(places)
    return value.put(value.draw.choice(ALIKE[value.text[at]]), at=at, over=1)


def _unseen(value: Value) -> str:
    return value.put(value.draw.choice(BIDI + ZERO_WIDTH), at=value.anywhere)


def _huge(value: Value) -> str:
    more = ("9" * 40, "1e400", "1e5", "e3", "000", "'000")
    return value.put(value.draw.choice(more), at=value.at)


def _control(value: Value) -> str:
    return value.put(value.draw.choice("\x00\x07\x1b\t\n"), at=value.anywhere)


def _cut(value: Value) -> str:
    return value.text[: value.anywhere]


def _tail(value: Value) -> str:
    return value.text + value.draw.choice((" ", value.text, "?", " or so", " (about)", "~"))


def _month_as_day(value: Value) -> str:
    return re.sub(r"(\d\d)-(\d\d)(?=T|$|\b)", r"\2-\1", value.text, count=1)


def _other_value(value: Value) -> str:
    others = ("", " ", "nan", "inf", "-", "0", "none", "n/a", "true", "1/0")
    return value.draw.choice((*others, value.text.upper(), value.text.lower()))


_CHANGES = (
    *(_other_digit, _other_digit, _other_digit, _more_digits, _no_digit, _decimal_comma),
    *(_decimal_point, _two_swapped, _other_unit, _other_unit, _sign, _foreign_digit, _look_alike),
    *(_unseen, _huge, _control, _cut, _tail, _month_as_day, _other_value),
)


def spoil_value(text: str, draw: random.Random) -> str:
    """Return a value with one thing in it changed."""
    return draw.choice(_CHANGES)(Value(text, draw))


_ENCODINGS = ("utf-16", "utf-16-le", "latin-1", "cp1252", "utf-32", "utf-8-sig")
_STRANGE = (b"\x00", b"\xff\xfe", b"\xef\xbb\xbf", b"\x80", b"\xc0\xae")
_LINE_ENDS = (b"\r\n", b"\r", b"\n\n", b"\x0b")
_DEGREES = (b"", b"\xb0", "º".encode(), b"\xc3\x82\xc2\xb0")


def spoil_octets(data: bytes, draw: random.Random) -> bytes:
    """Return octets flipped, cut, doubled, or in another encoding."""
    start = draw.randrange(len(data) + 1)
    end = min(len(data), start + draw.choice((1, 1, 2, 8, 64)))
    before, piece, after = data[:start], data[start:end], data[end:]
    flipped = bytes(octet ^ (1 << draw.randrange(8)) for octet in piece[:1])
    text = data.decode("utf-8", "replace")
    return draw.choice(
        (
            before + flipped + data[start + 1 :],
            before + flipped + data[start + 1 :],
            before + after,
            before + piece + piece + after,
            before,
            before + draw.randbytes(len(piece)) + after,
            text.encode(draw.choice(_ENCODINGS), "replace"),
            data.replace(b"\n", draw.choice(_LINE_ENDS)),
            before + draw.choice(_STRANGE) + piece + after,
            before + b"[" * draw.choice((1, 2, 50, 3000)) + piece + after,
            data.replace("°".encode(), draw.choice(_DEGREES)),
        )
    )


def spoil_lines(text: str, draw: random.Random) -> str:
    """Return a text with a line lost, doubled, swapped, commented out, or joined to the next."""
    lines = text.split("\n")
    one, other = draw.randrange(len(lines)), draw.randrange(len(lines))
    first, last = min(one, other), max(one, other)
    match draw.randrange(7):
        case 0:
            del lines[one]
        case 1:
            lines.insert(other, lines[one])
        case 2:
            lines[one], lines[other] = lines[other], lines[one]
        case 3:
            lines[one] = f"# {lines[one]}"
        case 4:
            lines[one : one + 2] = [" ".join(lines[one : one + 2])]
        case 5:
            del lines[first : min(last, first + 12)]
        case _:
            lines[other:other] = lines[first : min(last, first + 8)]
    return "\n".join(lines)


_VALUE = re.compile(r'(?<=[=\[{,:] )(?:"(?P<text>[^"\n]*)"|(?P<bare>[^"\s,\]}][^\n,\]}]*))')


def spoil_value_of(data: bytes, draw: random.Random) -> bytes:
    """Return a text file with one of its values changed."""
    text = data.decode()
    found = draw.choice(list(_VALUE.finditer(text)))
    group = "text" if found["text"] is not None else "bare"
    spoiled = spoil_value(found[group], draw)
    whole = text[: found.start(group)] + spoiled + text[found.end(group) :]
    return whole.encode("utf-8", "replace")


def spoil_toml(data: bytes, draw: random.Random) -> bytes:
    """Return a TOML file with something in it changed; mostly one value."""
    text = data.decode()
    kind = draw.randrange(10)
    if kind == 0:
        return spoil_octets(data, draw)
    if kind == 1:
        return spoil_lines(text, draw).encode()
    if kind == 2:
        # Two values change places: each stands where another was meant.
        values = list(_VALUE.finditer(text))
        pair = draw.choice(values), draw.choice(values)
        first, second = sorted(pair, key=lambda value: value.start())
        if first.end() > second.start():
            return data
        between = text[first.end() : second.start()]
        swapped = text[: first.start()] + second[0] + between + first[0] + text[second.end() :]
        return swapped.encode()
    return spoil_value_of(data, draw)
