"""Message texts of one language: TOML files under `data/text`, read once, looked up by dotted key.

A file is read when the first of its texts is asked for: its name says which they are, so that what
a plan says costs nothing of the pages, the mails and the errors.

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
_FILE = re.compile(r"(?P<language>[a-z]{2,3})-(?P<group>[a-z]+)(?:-[a-z-]+)?\.toml", re.ASCII)
_READERS = "readers"
_TERMINAL = "terminal"
_MORE_GROUPS = {"values": ("electrical", "month", "value", "weekday"), "issued": ("ledger",)}
"""What a file holds besides the group it is called by: every key begins with its group."""


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


@functools.cache
def languages() -> tuple[str, ...]:
    """Return the languages that people read, sorted."""
    return tuple(sorted({language for language, _, _ in _files(_READERS)}))


class _TextsOfFiles(Mapping[str, Text]):
    """Texts by dotted key, read group by group as they are asked for."""

    def __init__(self, language: str) -> None:
        self._language = language
        self._files: dict[str, list[tuple[str, str]]] = {}
        self._read: dict[str, dict[str, Text]] = {}
        for audience in (_READERS, _TERMINAL):
            for own, name, group in _files(audience):
                if own == language:
                    for held in (group, *_MORE_GROUPS.get(group, ())):
                        self._files.setdefault(held, []).append((audience, name))
        if not self._files:
            raise CurecalError("language-unknown", language=language)

    def _group(self, group: str) -> dict[str, Text]:
        found = self._read.get(group)
        if found is None:
            files = self._files.get(group, ())
            documents = [tomli.loads(shipped_text("text", *place)) for place in files]
            own = [{group: document[group]} for document in documents if group in document]
            found = self._read[group] = merged(own, self._language)
        return found

    def __getitem__(self, key: str) -> Text:
        return self._group(key.partition(".")[0])[key]

    def __iter__(self) -> Iterator[str]:
        for group in self._files:
            yield from self._group(group)

    def __len__(self) -> int:
        return sum(len(self._group(group)) for group in self._files)


@functools.cache
def catalogue(language: str) -> Catalogue:
    """Return a language's texts, those of all its files; one key in two files is an error."""
    return Catalogue(language, _TextsOfFiles(language))


def merged(documents: Iterable[Mapping[str, object]], language: str) -> dict[str, Text]:
    """Return the texts of several TOML documents by dotted key."""
    texts: dict[str, Text] = {}
    for document in documents:
        for key, text in _flat(document, ""):
            if key in texts:
                raise CurecalError("text-twice", key=key, language=language)
            texts[key] = text
    return texts


def _files(audience: str) -> list[tuple[str, str, str]]:
    """Return the language, the name and the group of each file of an audience, sorted."""
    names = sorted(entry.name for entry in (DATA / "text" / audience).iterdir())
    found = [(_FILE.fullmatch(name), name) for name in names]
    return [(match["language"], name, match["group"]) for match, name in found if match]


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
