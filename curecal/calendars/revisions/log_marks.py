"""Log entries as a ledger remembers them: a digest of what each said, and how to name it."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import MISSING, fields
from datetime import datetime
from enum import Enum

from curecal.calendars.revision import LogMark
from curecal.trade.logged_points import LoggedPoints
from curecal.trade.site_log import Entry

# Where an entry stands in its file says nothing about the site; and a zone that an entry does not
# name is the job's only one, under whatever id that has.
_NOT_SAID = frozenset({"path", "zone"})


def log_marks(log: Iterable[Entry]) -> dict[str, LogMark]:
    """The marks of a log's entries.

    Args:
        log: The entries.

    Returns:
        By id; alike for entries that say the same.
    """
    return {
        entry.id: LogMark(_digest(entry), type(entry).__name__.lower(), entry.at) for entry in log
    }


def _digest(entry: Entry) -> str:
    said = [type(entry).__name__, _said(entry)]
    return hashlib.sha256(json.dumps(said, sort_keys=True).encode()).hexdigest()[:24]


def _said(value: object) -> object:
    """A value as JSON; of a record only what was given, so that a new field changes no digest."""
    if isinstance(value, Enum):
        return str(value.value)
    if isinstance(value, datetime):
        return value.isoformat()
    if isinstance(value, Mapping):
        return {str(key): _said(part) for key, part in value.items()}
    if isinstance(value, list | tuple | set | frozenset | LoggedPoints):
        return [_said(part) for part in value]
    if hasattr(value, "__dataclass_fields__"):
        return {
            field.name: _said(given)
            for field in fields(value)  # type: ignore[arg-type]
            if field.name not in _NOT_SAID
            and (given := getattr(value, field.name))
            != (None if field.default is MISSING else field.default)
        }
    return value if isinstance(value, str | int | float | bool | None) else str(value)
