"""A file's bytes into TOML: size, text and form are judged before anything is read."""

from __future__ import annotations

import re
import stat
from pathlib import Path

import tomli

from curecal.errors import SourceError
from curecal.records import PlainTable

LARGEST_BYTES = 1 << 20
_LARGEST_SHOWN = "1 MiB"
# The parser names a table by a tuple of its parts.
_TUPLE = re.compile(r"\((?:'[^']*'(?:, |,)?)+\)")
_QUOTED = re.compile(r"'([^']*)'")


def load(path: Path) -> PlainTable:
    """Return the tables of a TOML file.

    Raises:
        SourceError: It is missing, no file, too large, empty, no UTF-8, or no TOML.
    """
    name = str(path)
    try:
        found = path.stat()
        if stat.S_ISDIR(found.st_mode):
            raise SourceError("file-is-folder", path=name)
        if not stat.S_ISREG(found.st_mode):
            raise SourceError("file-not-regular", path=name)
        if found.st_size > LARGEST_BYTES:
            raise SourceError("file-too-large", path=name, limit=_LARGEST_SHOWN)
        with path.open("rb") as file:
            data = file.read(LARGEST_BYTES + 1)
    except FileNotFoundError:
        raise SourceError("file-missing", path=name) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or type(error).__name__
        raise SourceError("file-unreadable", path=name, reason=reason) from None
    return loads(data, name)


def loads(data: bytes, name: str) -> PlainTable:
    """Return the content of a TOML file's bytes.

    Args:
        data: The bytes.
        name: What to call the file in an error.

    Returns:
        Its tables.

    Raises:
        SourceError: They are too many, none, no UTF-8, or no TOML.
    """
    if len(data) > LARGEST_BYTES:
        raise SourceError("file-too-large", path=name, limit=_LARGEST_SHOWN)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise SourceError("file-not-utf8", path=name, line=line) from None
    if not text.strip():
        raise SourceError("file-empty", path=name)
    try:
        return tomli.loads(text)
    except tomli.TOMLDecodeError as error:
        reason = _plainly(str(error.args[0]).partition(" (at ")[0])
        raise SourceError(
            "file-not-toml", path=name, line=error.lineno, column=error.colno, reason=reason
        ) from None
    except RecursionError:
        raise SourceError("file-nested-too-deeply", path=name) from None
    except (ValueError, OverflowError):
        # Python reads no integer of thousands of digits.
        raise SourceError("file-number-too-long", path=name) from None


def _plainly(reason: str) -> str:
    """Return a parser's reason with the names of tables as they stand in the file."""
    return _TUPLE.sub(lambda match: f"[{'.'.join(_QUOTED.findall(match[0]))}]", reason)
