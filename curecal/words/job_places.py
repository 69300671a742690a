"""A path of the job file as a person would point at it: `zone "hall bath", layer "leveler"`."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import date, datetime

from curecal.trade.job import Job
from curecal.trade.names import says_name
from curecal.words.sentences import Words
from curecal.words.values import clean

_LONGEST_NAME = 60
_LAYER_LAST = re.compile(r"\.layer\.\d+$")
_FURTHER_LOG = "further_log"
# How a job of the book is laid out while a command looks at it: nobody else knows these files.
_LAID_OUT = ("job-book", "log-of-the-command")


def names_of(job: Job) -> dict[str, object]:
    """Return a job's names in the shape of its file, for `place`."""
    return {
        "zone": [
            {"name": zone.name, "layer": [{"name": layer.name} for layer in zone.layers]}
            for zone in job.zones
        ]
    }


def place(path: str, raw: Mapping[str, object], words: Words) -> str:
    """Return where a path points, in words; empty for the whole job.

    `raw` is the file as read, or `names_of` a job: it gives the names behind the numbers.
    """
    return ", ".join(_places(path, raw, words))


def place_beside(said: str, path: str, raw: Mapping[str, object], words: Words) -> str:
    """Return where a path points, without what a reader knows: the only zone, a layer in `said`."""
    places = _places(path, raw, words)
    zones = raw.get("zone")
    if path.startswith("zone.") and isinstance(zones, Sequence) and len(zones) == 1:
        places = places[1:]
    if places and _LAYER_LAST.search(path):
        name = places[-1].partition('"')[2].rpartition('"')[0]
        if says_name(said, name):
            places = places[:-1]
    return ", ".join(places)


def _places(path: str, raw: Mapping[str, object], words: Words) -> list[str]:
    """Return what a path leads through, in words, the outermost first."""
    parts = [part for part in path.split(".") if part]
    said: list[str] = []
    inside: object = raw
    index = 0
    laid_out = False
    while index < len(parts):
        key = parts[index]
        inside = inside.get(key) if isinstance(inside, Mapping) else None
        index += 1
        if index < len(parts) and parts[index].isdecimal():
            number = int(parts[index])
            inside = _item(inside, number)
            index += 1
            if key == _FURTHER_LOG and _is_laid_out(inside):
                laid_out = True
                continue
            said.append(_numbered(key, number, inside, words, by_id=laid_out))
        elif key == "material" and index < len(parts):
            rest, inside, index = _named(parts, index, inside)
            said.append(f'{_key(key, words)} "{_short(rest)}"')
        else:
            said.append(_key(key, words))
    return said


def _item(inside: object, number: int) -> object:
    if isinstance(inside, Sequence) and not isinstance(inside, str) and number < len(inside):
        return inside[number]
    return None


def _is_laid_out(inside: object) -> bool:
    """Return whether a further log is one that only this program knows, or one not at hand."""
    name = inside.get("name") if isinstance(inside, Mapping) else None
    return not isinstance(name, str) or name.startswith(_LAID_OUT)


def _numbered(key: str, number: int, inside: object, words: Words, *, by_id: bool) -> str:
    """Return one of a list by its name or its number; with `by_id` an entry by its id."""
    plain = f"{_key(key, words)} {number + 1}"
    if not isinstance(inside, Mapping):
        return _key(key, words) if by_id else plain
    if by_id:
        # Its number is the file's, which nobody has seen.
        identity = inside.get("id")
        plain = " ".join(
            [_key(key, words), *([_short(identity)] if isinstance(identity, str) else [])]
        )
    # What has no name of its own goes by what it is made of, or by its identity.
    for known in ("name", "material", "id"):
        name = inside.get(known)
        if key != "log" and isinstance(name, str) and name:
            return f'{_key(key, words)} "{_short(name)}"'
    said = [_logged(inside.get(known), words) for known in ("kind", "at") if key == "log"]
    details = ", ".join(text for text in said if text)
    return f"{plain} ({details})" if details else plain


def _logged(value: object, words: Words) -> str:
    """Return a log entry's kind or its time; one without an offset is the site's time."""
    if isinstance(value, datetime):
        if value.tzinfo is not None:
            return words.at(value, down=True)
        return f"{words.day(value.date())}, {value:%H:%M}"
    if isinstance(value, date):
        return words.day(value)
    return _short(value) if isinstance(value, str) else ""


def _named(parts: Sequence[str], index: int, inside: object) -> tuple[str, object, int]:
    """Return a material's name, which may hold dots, what it holds, and where the path goes on."""
    for end in range(len(parts), index, -1):
        name = ".".join(parts[index:end])
        if isinstance(inside, Mapping) and name in inside:
            return name, inside[name], end
    return parts[index], None, index + 1


def _key(key: str, words: Words) -> str:
    """Return a key as people say it: with spaces, and by its name where it has one."""
    named = f"name.file_part.{key}"
    return words.text(named) if named in words.catalogue else clean(key.replace("_", " "))


def _short(name: str) -> str:
    shown = clean(name)
    return shown if len(shown) <= _LONGEST_NAME else shown[: _LONGEST_NAME - 1] + "…"
