"""Lines of styled text that never run past a width: wrapping, hanging labels, tables."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence

from curecal.records import Record, record

NARROWEST = 40

_HARD_SPACE = "\u00a0"
_UNIT = re.compile(r"(?<=\d) (?=(?:°[CF]|K|mm|cm|m|m²|in|ft²|%|h|d|min|s|[kMG]?Ω|V|m?A|W)\b|°|%|Ω)")
_DAY = re.compile(
    r"\b(?:\w{2,4}\.? \d{1,2} \w{3,5}\b\.?(?: \d{4}\b)?|\d{1,2} \w{3,5}\.? \d{4}\b)"
    r"(?:,? \d\d:\d\d\b)?"
)


@record
class TextRun(Record):
    """A stretch of text in one style: "", "head", "good", "bad", "warn" or "dim"."""

    text: str
    style: str = ""


Line = tuple[TextRun, ...]
Cell = Sequence[str]


def plain(lines: Iterable[Line]) -> list[str]:
    """Return lines as plain texts."""
    return ["".join(segment.text for segment in line).rstrip() for line in lines]


def columns(text: str) -> int:
    """Return how many columns a text takes on a terminal."""
    if text.isascii():
        return len(text)
    taken = 0
    for sign in text:
        if unicodedata.combining(sign) or unicodedata.category(sign) in {"Mn", "Me", "Cf"}:
            continue
        taken += 2 if unicodedata.east_asian_width(sign) in {"W", "F"} else 1
    return taken


def wrap(text: str, width: int) -> list[str]:
    """Return a text in lines no wider than `width`; a number keeps its unit beside it."""
    if columns(text) <= width:
        return [text.replace(_HARD_SPACE, " ").lstrip(" ")]
    bound = _DAY.sub(lambda match: match[0].replace(" ", _HARD_SPACE), _UNIT.sub(_HARD_SPACE, text))
    lines: list[str] = []
    line, taken = "", 0
    for word in _pieces(bound.split(" "), width):
        wide = columns(word)
        if line and taken + 1 + wide <= width:
            line, taken = f"{line} {word}", taken + 1 + wide
            continue
        if line:
            lines.append(line)
        line, taken = word, wide
    lines.append(line)
    return [wrapped.replace(_HARD_SPACE, " ") for wrapped in lines]


def pad(text: str, width: int) -> str:
    """Return a text filled with spaces up to a width."""
    return text + " " * (width - columns(text))


def paragraph(text: str, width: int, *, indent: int = 0, style: str = "") -> list[Line]:
    """Return a text in lines behind an indent."""
    return [(TextRun(" " * indent), TextRun(line, style)) for line in wrap(text, width - indent)]


def hanging(label: str, text: str, width: int, *, indent: int, style: str = "") -> list[Line]:
    """Return a text beside a label that stands once; `indent` is where the text begins."""
    first, *rest = wrap(text, width - indent)
    lead = pad(f"  {label}", indent)
    if columns(lead) > indent:
        return [(TextRun(line),) for line in wrap(f"  {label}", width)] + paragraph(
            text, width, indent=indent, style=style
        )
    return [
        (TextRun(lead, "dim"), TextRun(first, style)),
        *((TextRun(" " * indent), TextRun(line, style)) for line in rest),
    ]


def bullet(
    text: str, width: int, *, indent: int = 2, style: str = "", mark: str = "- "
) -> list[Line]:
    """Return a text behind a mark, its further lines under its first word."""
    inner = indent + columns(mark)
    first, *rest = wrap(text, width - inner)
    return [
        (TextRun(" " * indent + mark, style), TextRun(first, style)),
        *((TextRun(" " * inner), TextRun(line, style)) for line in rest),
    ]


def table(head: Sequence[str], rows: Sequence[Sequence[Cell]], width: int) -> list[Line]:
    """Return rows in columns; the first column takes what is left and wraps.

    Where that is too little to read, every row becomes a small list instead.
    """
    used = [index for index in range(1, len(head)) if any(any(row[index]) for row in rows)]
    widths = {
        index: max(
            columns(text) for text in (head[index], *(t for row in rows for t in row[index]))
        )
        for index in used
    }
    natural = max(columns(text) for text in (head[0], *(t for row in rows for t in row[0])))
    first = min(natural, width - 2 - sum(widths[index] + 2 for index in used))
    if first < min(natural, 14):
        return _listed(head, rows, used, width)
    lines: list[Line] = [
        (
            TextRun(
                "  " + pad(head[0], first) if columns(head[0]) <= first else "  " + " " * first,
                "dim",
            ),
            *(TextRun("  " + pad(head[index], widths[index]), "dim") for index in used),
        )
    ]
    for row in rows:
        names = [line for text in row[0] for line in wrap(text, first)]
        for at in range(max(len(names), *(len(row[index]) for index in used), 1)):
            cells = [
                "  " + pad(row[index][at] if at < len(row[index]) else "", widths[index])
                for index in used
            ]
            name = names[at] if at < len(names) else ""
            lines.append((TextRun("  " + pad(name, first) + "".join(cells)),))
    return lines


def _listed(
    head: Sequence[str], rows: Sequence[Sequence[Cell]], used: Sequence[int], width: int
) -> list[Line]:
    lines: list[Line] = []
    for row in rows:
        lines += paragraph(" ".join(row[0]), width, indent=2)
        for index in used:
            if any(row[index]):
                text = f"{head[index]}: {'; '.join(row[index])}"
                lines += paragraph(text, width, indent=4)
    return lines


def _pieces(words: Sequence[str], width: int) -> Iterable[str]:
    """Return words, those wider than a line cut where the line ends."""
    for word in words:
        rest = word
        while columns(rest) > width:
            end = 1
            while columns(rest[: end + 1]) <= width:
                end += 1
            yield rest[:end]
            rest = rest[end:]
        yield rest
