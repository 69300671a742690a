"""Message texts of one language: TOML files under `data/text`, read once, looked up by dotted key.

`data/text/readers` holds what an owner, a crew, an electrician or an inspector reads, in every
language; `data/text/terminal` holds what only the terminal says, in English.

A text holds places such as `{wait_s}`; `[? … ?]` around a part drops it where one of its places
has nothing to say. A text with several plural forms is chosen by the parameter named `count` or
ending in `_count`.
"""

from __future__ import annotations

import functools
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import field

import tomli

from curecal.errors import CurecalError
from curecal.records import Record, record
from curecal.shipped import DATA, shipped_text
from curecal.words.plural_forms import FORMS, plural_form

DEFAULT_LANGUAGE = "en"

PLACE = re.compile(r"\{([a-z][a-z0-9_]*)\}")
_FILE = re.compile(r"(?P<language>[a-z]{2,3})(?:-[a-z-]+)?\.toml", re.ASCII)
_READERS = "readers"
_TERMINAL = "terminal"


@record
class Text(Record):
    """One text: `other` is its general form, `forms` the further plural forms by CLDR's names."""

    other: str
    forms: Mapping[str, str] = field(default_factory=dict)

    def form(self, count: float | None, language: str) -> str:
        """Return the form that a count wants; without a count, the general one."""
        if not self.forms or count is None:
            return self.other
        return self.forms.get(plural_form(language, count), self.other)

    def every_form(self) -> tuple[str, ...]:
        """Return all of its forms, the general one first."""
        return (self.other, *self.forms.values())

    def places(self) -> frozenset[str]:
        """Return the names of its places, over all forms."""
        return frozenset(name for form in self.every_form() for name in places(form))


@record
class Catalogue(Record):
    """All texts of one language."""

    language: str
    texts: Mapping[str, Text]

    def text(self, key: str) -> Text:
        """Return a text, or raise `CurecalError` for a key the language does not have."""
        try:
            return self.texts[key]
        except KeyError:
            raise CurecalError("text-missing", key=key, language=self.language) from None

    def __contains__(self, key: str) -> bool:
        """Return whether the language has a key."""
        return key in self.texts


def places(text: str) -> list[str]:
    """Return the names of a text's places, in order."""
    return PLACE.findall(text)


def languages() -> tuple[str, ...]:
    """Return the languages that people read, sorted."""
    return tuple(sorted({language for language, _ in _files(_READERS)}))


@functools.cache
def catalogue(language: str) -> Catalogue:
    """Return a language's texts, all of its files merged; one key in two files is an error."""
    documents = [
        tomli.loads(shipped_text("text", audience, name))
        for audience in (_READERS, _TERMINAL)
        for own, name in _files(audience)
        if own == language
    ]
    if not documents:
        raise CurecalError("language-unknown", language=language)
    return Catalogue(language, merged(documents, language))


def merged(documents: Iterable[Mapping[str, object]], language: str) -> dict[str, Text]:
    """Return the texts of several TOML documents by dotted key."""
    texts: dict[str, Text] = {}
    for document in documents:
        for key, text in _flat(document, ""):
            if key in texts:
                raise CurecalError("text-twice", key=key, language=language)
            texts[key] = text
    return texts


def _files(audience: str) -> list[tuple[str, str]]:
    """Return the language and the name of each file of an audience, sorted."""
    names = sorted(entry.name for entry in (DATA / "text" / audience).iterdir())
    return [(match["language"], name) for name in names if (match := _FILE.fullmatch(name))]


def _flat(table: Mapping[str, object], prefix: str) -> Iterator[tuple[str, Text]]:
    for key, value in table.items():
        name = f"{prefix}{key}"
        if isinstance(value, str):
            yield name, Text(value)
        elif isinstance(value, dict) and "other" in value and value.keys() <= set(FORMS):
            further = {form: text for form, text in value.items() if form != "other"}
            yield name, Text(value["other"], further)
        elif isinstance(value, dict):
            yield from _flat(value, f"{name}.")
        else:
            raise CurecalError("text-not-text", key=name)
