"""The plural form that a number wants, by the plural rules of CLDR for the languages we write.

The six names of the forms are CLDR's: zero, one, two, few, many, other. A language uses some of
them: English two, Polish four.
"""

from __future__ import annotations

FORMS = ("zero", "one", "two", "few", "many", "other")
FORMS_OF = {
    "de": ("one", "other"),
    "en": ("one", "other"),
    "es": ("one", "many", "other"),
    "fr": ("one", "many", "other"),
    "pl": ("one", "few", "many", "other"),
}
_MILLION = 1_000_000


def plural_form(language: str, count: float) -> str:
    """Return the name of the form that a count wants in one of the languages of `FORMS_OF`."""
    if language == "pl":
        return _polish(count)
    # French counts nothing and one and a half as one; the others only one.
    one = int(abs(count)) in {0, 1} if language == "fr" else count == 1
    if one:
        return "one"
    is_whole = count == int(count)
    if "many" in FORMS_OF[language] and count and is_whole and int(count) % _MILLION == 0:
        return "many"
    return "other"


def _polish(count: float) -> str:
    if count != int(count):
        return "other"
    if count == 1:
        return "one"
    last, last_two = int(count) % 10, int(count) % 100
    return "few" if last in {2, 3, 4} and last_two not in {12, 13, 14} else "many"
