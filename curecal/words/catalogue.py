"""Message texts of one language: TOML files under `data/text`, read once, looked up by dotted key.

A text holds places such as `{wait_s}`; `[? … ?]` around a part drops it where one of its places
has nothing to say. A text with `one` and `other` is chosen by the parameter named `count` or
ending in `_count`.
"""

from __future__ import annotations

import functools
import re
from collections.abc import Iterable, Iterator, Mapping

import tomli

from curecal.errors import CurecalError
from curecal.records import Record, record
from curecal.shipped import DATA, shipped_text

DEFAULT_LANGUAGE = "en"

PLACE = re.compile(r"\{([a-z][a-z0-9_]*)\}")
_FILE = re.compile(r"(?P<language>[a-z]{2,3})(?:-[a-z-]+)?\.toml", re.ASCII)
_FORMS = {"one", "other"}
# French counts nothing and one and a half as one; everyone else here only one.
_ONE_BELOW_TWO = {"fr"}


@record
class Text(Record):
    """One text in its forms: `one` is empty where the text has a single form."""

    other: str
    one: str = ""

    def form(self, count: float | None, language: str) -> str:
        """Return the form that a count wants; without a count, the general one."""
        if not self.one or count is None:
            return self.other
        # One and a half counts as one there.
        is_one = int(count) in {0, 1} if language in _ONE_BELOW_TWO else count == 1
        return self.one if is_one else self.other

    def places(self) -> frozenset[str]:
        """Return the names of its places, over both forms."""
        return frozenset(places(self.other)) | frozenset(places(self.one))


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
    """Return the languages there are texts in, sorted."""
    found = {match["language"] for name in _names() if (match := _FILE.fullmatch(name))}
    return tuple(sorted(found))


@functools.cache
def catalogue(language: str) -> Catalogue:
    """Return a language's texts, all of its files merged; one key in two files is an error."""
    documents = [
        tomli.loads(shipped_text("text", name))
        for name in sorted(_names())
        if (match := _FILE.fullmatch(name)) and match["language"] == language
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


def _names() -> list[str]:
    return [entry.name for entry in (DATA / "text").iterdir()]


def _flat(table: Mapping[str, object], prefix: str) -> Iterator[tuple[str, Text]]:
    for key, value in table.items():
        name = f"{prefix}{key}"
        if isinstance(value, str):
            yield name, Text(value)
        elif isinstance(value, dict) and value.keys() == _FORMS:
            yield name, Text(**value)
        elif isinstance(value, dict):
            yield from _flat(value, f"{name}.")
        else:
            raise CurecalError("text-not-text", key=name)
