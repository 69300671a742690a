"""A text broken as people, programs and disks break it: by one value, by a line, by octets."""

from __future__ import annotations

import os
import random
import re
from collections.abc import Callable

LONG = os.environ.get("CURECAL_TESTS_LONG") == "1"
# What the long run mutates of each kind: a hundred thousand in all, held by a test.
COUNTS = {
    "job file": 30_000,
    "company file": 4_000,
    "further log": 8_000,
    "logger export": 20_000,
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
    "K": "\u212aК", "h": "һ", "d": "ԁ", "m": "rn", "-": "−–—‐", ".": ",·。", " ": "\u00a0\u2009\u3000",
    "°": "º˚", "Ω": "\u2126", "A": "АΑ",
}  # fmt: skip
UNITS = (
    *("°F", "°C", "K", "F", "C", "h", "d", "min", "s", "week", "in", "mm", "cm", "m", "ft", "Ω"),
    *("kΩ", "MΩ", "mΩ", "V", "W", "kW", "A", "mA", "%", "ft²", "m²", "% RH", "CM-%", ""),
)
_UNIT = re.compile(r"(?<=\d)( ?)(°?[FC]|h|d|min|in|mm|cm|ft²|m²|[kMG]?Ω|V|k?W|m?A|%|week)\b|(?<=\d)( ?)([%Ω])")


def spoil_value(text: str, draw: random.Random) -> str:
    """Return a value with one thing in it changed."""
    places = [at for at, sign in enumerate(text) if sign in "0123456789"]
    at = draw.choice(places) if places else draw.randrange(len(text) + 1)
    any_at = draw.randrange(len(text) + 1)
    here = text[at : at + 1]
    match draw.randrange(20):
        case 0 | 1 | 2:
            return text[:at] + str(draw.randrange(10)) + text[at + 1 :]
        case 3:
            return text[:at] + str(draw.randrange(10)) + text[at:]
        case 4:
            return text[:at] + text[at + 1 :]
        case 5:
            return text.replace(".", ",", 1) if "." in text else text[:at] + "," + text[at:]
        case 6:
            return text[:at] + "." + text[at:]
        case 7:
            return text[:any_at] + text[any_at : any_at + 2][::-1] + text[any_at + 2 :]
        case 8 | 9:
            return _UNIT.sub(lambda found: f"{found[1] or ''}{draw.choice(UNITS)}", text, count=1)
        case 10:
            return draw.choice("-−–+") + text
        case 11:
            zero = ord(draw.choice(OTHER_ZEROS))
            return text[:at] + (chr(zero + int(here)) if here.isdigit() else here) + text[at + 1 :]
        case 12:
            alike = [place for place, sign in enumerate(text) if sign in ALIKE]
            place = draw.choice(alike) if alike else 0
            sign = text[place : place + 1]
            return text[:place] + draw.choice(ALIKE.get(sign, sign or "x")) + text[place + 1 :]
        case 13:
            return text[:any_at] + draw.choice(BIDI + ZERO_WIDTH) + text[any_at:]
        case 14:
            return text[:at] + draw.choice(("9" * 40, "1e400", "1e5", "e3", "000", "'000")) + text[at:]
        case 15:
            return text[:any_at] + draw.choice("\x00\x07\x1b\t\n") + text[any_at:]
        case 16:
            return text[:any_at]
        case 17:
            return text + draw.choice((" ", " ", text, "?", " or so", " (about)", "~"))
        case 18:
            return re.sub(r"(\d\d)-(\d\d)(?=T|$|\b)", r"\2-\1", text, count=1)
        case _:
            return draw.choice(("", " ", "nan", "inf", "-", "0", "none", "n/a", "true", "1/0", text.upper(), text.lower()))


def spoil_octets(data: bytes, draw: random.Random) -> bytes:
    """Return octets flipped, cut, doubled, or in another encoding."""
    start = draw.randrange(len(data) + 1)
    end = min(len(data), start + draw.choice((1, 1, 2, 8, 64)))
    match draw.randrange(11):
        case 0 | 1:
            flipped = bytes(octet ^ (1 << draw.randrange(8)) for octet in data[start : start + 1])
            return data[:start] + flipped + data[start + 1 :]
        case 2:
            return data[:start] + data[end:]
        case 3:
            return data[:end] + data[start:end] + data[end:]
        case 4:
            return data[:start]
        case 5:
            return data[:start] + draw.randbytes(end - start) + data[end:]
        case 6:
            text = data.decode("utf-8", "replace")
            return text.encode(draw.choice(("utf-16", "utf-16-le", "latin-1", "cp1252", "utf-32", "utf-8-sig")), "replace")
        case 7:
            return data.replace(b"\n", draw.choice((b"\r\n", b"\r", b"\n\n", b"\x0b")))
        case 8:
            return data[:start] + draw.choice((b"\x00", b"\xff\xfe", b"\xef\xbb\xbf", b"\x80", b"\xc0\xae")) + data[start:]
        case 9:
            return data[:start] + b"[" * draw.choice((1, 2, 50, 3000)) + data[start:]
        case _:
            return data.replace("°".encode(), draw.choice((b"", b"\xb0", "º".encode(), b"\xc3\x82\xc2\xb0")))


def spoil_lines(text: str, draw: random.Random) -> str:
    """Return a text with a line lost, doubled, swapped, commented out, or joined to the next."""
    lines = text.split("\n")
    one, other = draw.randrange(len(lines)), draw.randrange(len(lines))
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
            first, last = sorted((one, other))
            del lines[first : min(last, first + 12)]
        case _:
            first, last = sorted((one, other))
            lines[other:other] = lines[first : min(last, first + 8)]
    return "\n".join(lines)


_VALUE = re.compile(r'(?<=[=\[{,] )(?:"(?P<text>[^"\n]*)"|(?P<bare>[^"\s,\]}][^\n,\]}]*))')


def spoil_toml(data: bytes, draw: random.Random) -> bytes:
    """Return a TOML file with something in it changed; mostly one value."""
    text = data.decode()
    kind = draw.randrange(10)
    if kind == 0:
        return spoil_octets(data, draw)
    if kind == 1:
        return spoil_lines(text, draw).encode()
    values = list(_VALUE.finditer(text))
    found = draw.choice(values)
    group = "text" if found["text"] is not None else "bare"
    if kind == 2:
        # Two values change places: each stands where another was meant.
        other = draw.choice(values)
        first, second = sorted((found, other), key=lambda value: value.start())
        if first.end() > second.start():
            return data
        between = text[first.end() : second.start()]
        swapped = text[: first.start()] + second[0] + between + first[0] + text[second.end() :]
        return swapped.encode()
    spoiled = spoil_value(found[group], draw)
    return (text[: found.start(group)] + spoiled + text[found.end(group) :]).encode("utf-8", "replace")


Spoil = Callable[[bytes, random.Random], bytes]
