"""What `curecal note` looks at before it writes: ids, pictures, what a correction may say."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curecal.errors import UsageError
from curecal.records import PlainView

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import datetime, tzinfo
    from pathlib import Path


def whole_id(said: str, known: Mapping[str, object]) -> str:
    """Return the id of an entry as the log has it, also where its "e-" was left out."""
    whole = f"e-{said}"
    return whole if said not in known and whole in known else said


def check_pictures(values: Mapping[str, object], folder: Path) -> None:
    """Refuse a picture or a letter that is not there: nobody finds it later.

    Raises:
        UsageError: No such file beside the job.
    """
    for key in ("photo", "file"):
        named = values.get(key)
        if named is not None and not (folder / str(named)).is_file():
            beside = None if str(folder) == "." else str(folder)
            raise UsageError("note-file-missing", path=str(named)[:60], folder=beside)


def check_not_empty(kind: str, values: Mapping[str, object]) -> None:
    """Refuse a note that says nothing.

    Raises:
        UsageError: It has neither a text nor a file.
    """
    if kind == "note" and not {"text", "file", "note"} & values.keys():
        raise UsageError("note-empty")


def check_correction(given: Mapping[str, str], asked: PlainView) -> None:
    """Refuse what reads as if it corrected when something happened, or who did it.

    Raises:
        UsageError: It gives a time or a person.
    """
    if "at" in given or asked["at"] is not None:
        raise UsageError("correction-of-time")
    if "by" in given:
        raise UsageError("correction-of-person")


def check_not_ahead(at: datetime, now: datetime, zone: tzinfo) -> None:
    """Refuse what has not happened: a forecast would come true without anybody looking.

    Raises:
        UsageError: The instant is later than now.
    """
    if at > now:
        happened_at, now_at = at.astimezone(zone), now.astimezone(zone)
        raise UsageError("note-ahead", happened_at=happened_at, now_at=now_at)
