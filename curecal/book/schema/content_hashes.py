"""Digests of single rows, so that a slip, a script or a repair by hand is found by `book check`.

Each row that was said holds a SHA-256 of what it said. There is no key: whoever knows this can
forge a row with its digest, and a row that is gone leaves no trace here. What triggers cannot keep
from somebody with all rights, a digest cannot either.

How a digest is made never changes: books hold them.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from datetime import UTC, datetime
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sqlalchemy import RowMapping

    from curecal.records import PlainView

ENTRY = ("job_id", "entry_id", "kind", "at", "recorded", "body", "source")
REVISION = (
    "job_id",
    "number",
    "recorded_at",
    "job_sha256",
    "company_sha256",
    "materials_sha256",
    "told",
)
PAPER = (
    "job_id",
    "sha256",
    "kind",
    "language",
    "draft",
    "recorded_at",
    "record_sha256",
    "revision",
    "entry_count",
    "as_of",
)
EVENT = ("job_id", "uid", "audience", "sequence", "changed_at", "cancelled", "lines", "suspect")


def row_digest(row: PlainView | RowMapping, names: Sequence[str]) -> str:
    """Return the digest of what a row says.

    Args:
        row: The row.
        names: Which of its columns are said.

    Returns:
        A SHA-256 that rests on no order of keys, and on no way in which a database spells it.
    """
    said = json.dumps([row[name] for name in names], sort_keys=True, default=_spelled)
    return hashlib.sha256(said.encode()).hexdigest()


def is_as_written(row: RowMapping, names: Sequence[str]) -> bool:
    """Return whether a row says what its digest was made of.

    Args:
        row: The row, with its `digest`.
        names: Which of its columns are said.

    Returns:
        Whether both agree.
    """
    return bool(row["digest"] == row_digest(row, names))


def _spelled(value: object) -> str:
    if isinstance(value, datetime):
        # One that a database gives back without an offset is of UTC.
        at = value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)
        return at.isoformat()
    raise TypeError(type(value).__name__)
