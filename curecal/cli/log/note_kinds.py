"""The kinds of log entries and the keys of each, as a person types them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curecal.toml_files.log_schema import KINDS
from curecal.words.layout import TextRun, hanging, paragraph
from curecal.words.sentences import plain_words

if TYPE_CHECKING:
    from curecal.toml_files.schema import Key
    from curecal.words.layout import Line

_INDENT = 30
_INSTANT = "2026-11-30 16:00"


def kind_lines(columns: int) -> list[Line]:
    """Return every kind of entry with its keys, an example and a meaning each.

    Args:
        columns: Columns to write in.

    Returns:
        The lines, from the one table that also reads them.
    """
    words = plain_words()
    lines = paragraph(words.text("note.kinds"), columns)
    for kind, keys in KINDS.items():
        name = words.text(f"log.kind.{kind}")
        lines += [(), (TextRun(kind, "head"), TextRun("" if name == kind else f"  {name}"))]
        for key in keys:
            lines += _key_lines(key, columns)
    return [*lines, (), *paragraph(words.text("note.every"), columns)]


def _key_lines(key: Key, columns: int) -> list[Line]:
    label = pair(key)
    if len(label) + 3 <= _INDENT:
        return hanging(label, _means(key), columns, indent=_INDENT)
    return [
        *paragraph(label, columns, indent=2, style="dim"),
        *paragraph(_means(key), columns, indent=_INDENT),
    ]


def pair(key: Key) -> str:
    """Return a key with its example as it is typed; one that is required has a star."""
    example = _INSTANT if key.reads == "instant" else key.example.strip('"')
    typed = f"{key.name}={example}"
    quoted = typed if typed.isascii() and typed.replace("=", "").isalnum() else f'"{typed}"'
    return f"{quoted} *" if key.required else quoted


def _means(key: Key) -> str:
    if not key.choices:
        return key.means
    known = plain_words().text("note.choices", {"known": ", ".join(key.choices)})
    return f"{key.means}; {known}"
