"""Where a number comes from. No number that can move a date goes without one."""

from __future__ import annotations

from enum import StrEnum

from curecal.records import Record, record


class Basis(StrEnum):
    """How much weight a number's source has."""

    DATA_SHEET = "data sheet"
    PUBLISHED = "published"
    COMMON_PRACTICE = "common practice"
    OWN_RULE = "own rule"
    FALLBACK = "fallback"


@record
class Source(Record):
    """A basis, and the words that let a reader find the number again.

    `works` are the published works alone, by their numbers: what every language reads alike.
    """

    basis: Basis
    text: str
    works: str | None = None
