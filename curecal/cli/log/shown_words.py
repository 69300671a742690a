"""The words that outputs print, read back: "cable test" is resistance, "after laying" is laid."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curecal.errors import UsageError
from curecal.site_log_files.entry_fields import FIELDS
from curecal.toml_files.log_schema import KINDS
from curecal.toml_files.shown import nearest, shorten
from curecal.toml_files.table_reader import Read
from curecal.trade.names import comparable_name
from curecal.words.log_entries import parts_of

if TYPE_CHECKING:
    from curecal.toml_files.schema import Key
    from curecal.words.sentences import Words


def kind_as_typed(text: str, words: Words) -> str:
    """Return the kind a person means: by its own word, or as an output prints it.

    Args:
        text: What the person typed.
        words: The words outputs are printed in.

    Returns:
        The kind; the text with underscores where it is none.
    """
    wanted = _spoken(text)
    for kind in KINDS:
        printed = (words.text(f"log.kind.{kind}"), words.text(f"name.entry.{kind}"))
        if wanted in {_spoken(name) for name in (kind, *printed)}:
            return kind
    return wanted.replace(" ", "_")


def kind_named(text: str, words: Words) -> str:
    """Return the kind a person named: "heat step" is heat_step, "cable test" is resistance.

    Args:
        text: What the person typed.
        words: The words outputs are printed in.

    Returns:
        The kind.

    Raises:
        UsageError: it is none (`entry-kind-unknown`), or was left out (`note-kind-left-out`).
    """
    name = kind_as_typed(text, words)
    if name in KINDS:
        return name
    key = text.partition("=")[0].strip()
    kinds = [key] if key in KINDS else _kinds_with(key)
    if "=" in text and kinds:
        example = f'{kinds[0]} "{text}"' if len(kinds) == 1 else ""
        raise UsageError(
            "note-kind-left-out", text=shorten(text), example=example, known=", ".join(kinds)
        )
    known = tuple(KINDS)
    near = nearest(name, known)
    raise UsageError("entry-kind-unknown", text=shorten(text), nearest=near, known=", ".join(known))


def _kinds_with(key: str) -> list[str]:
    return [kind for kind, keys in KINDS.items() if any(own.name == key for own in keys)]


def _spoken(text: str) -> str:
    return comparable_name(text.replace("_", " ").replace("-", " "))


def choice_as_typed(text: str, kind: str, key: Key, words: Words) -> str:
    """Return the choice a person means: by its own word, or as an output prints it.

    Args:
        text: What the person typed.
        kind: The kind of the entry.
        key: The key.
        words: The words outputs are printed in.

    Returns:
        The choice; the text itself where it is none.
    """
    wanted = comparable_name(text)
    make = FIELDS.get((kind, key.name))
    for choice in key.choices:
        printed = [] if make is None else parts_of(make(choice, _NOTHING_READ), None, words)
        if wanted in {comparable_name(name) for name in (choice, *printed)}:
            return choice
    return text


_NOTHING_READ = Read({}, {}, "")
