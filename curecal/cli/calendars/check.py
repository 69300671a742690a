"""`curecal calendars check`: the validator that every calendar passes before it leaves."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from curecal.cli.shared.common import PROBLEM, json_option, print_json
from curecal.errors import SourceError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from curecal.calendars.ical.components import Fault

SCHEMA = 1
_NO_CALENDAR = "calendar-none"
# A calendar of a job has some hundred entries; what is larger was not written here.
_LARGEST = 64 * 1024 * 1024


@click.command("check")
@click.argument(
    "files", metavar="FILE...", nargs=-1, required=True, type=click.Path(path_type=Path)
)
@json_option
def command(*, files: Sequence[Path], as_json: bool) -> int:
    """Check a calendar file for faults.

    Holds it to the form curecal writes, which is narrower than iCalendar allows: a calendar of
    another program may be in order and have faults here. A message of `mail` is looked into.
    """
    from curecal.calendars import faults

    found = {path: faults(_calendar(path)) for path in files}
    if as_json:
        print_json(
            {"schema": SCHEMA, "files": [_json(path, wrong) for path, wrong in found.items()]}
        )
    else:
        for path, wrong in found.items():
            _say(path, wrong)
    return PROBLEM if any(found.values()) else 0


def _calendar(path: Path) -> bytes:
    """Return the calendar in a file: all of it, or the calendar part of a mail message."""
    try:
        with path.open("rb") as file:
            data = file.read(_LARGEST + 1)
    except OSError as error:
        reason = error.strerror or str(error)
        raise SourceError("calendar-unreadable", path=str(path), reason=reason) from None
    if len(data) > _LARGEST:
        raise SourceError("calendar-unreadable", path=str(path), reason="larger than 64 MiB")
    if path.suffix.lower() != ".eml":
        return data
    from email import message_from_bytes
    from email.policy import default

    parts = message_from_bytes(data, policy=default).walk()
    inside = [part for part in parts if part.get_content_type() == "text/calendar"]
    content = inside[0].get_payload(decode=True) if inside else None
    if not isinstance(content, bytes):
        raise SourceError("calendar-unreadable", path=str(path), reason="no calendar in it")
    return content


def _json(path: Path, wrong: Sequence[Fault]) -> dict[str, object]:
    return {
        "file": str(path),
        "faults": [
            {"code": fault.code, "line": fault.line_count, "detail": fault.detail}
            for fault in wrong
        ],
    }


def _say(path: Path, wrong: Sequence[Fault]) -> None:
    from curecal.words.sentences import plain_words

    words = plain_words()
    shown = {"path": str(path)}
    if [fault.code for fault in wrong] == [_NO_CALENDAR]:
        click.echo(words.text("check.no-calendar", shown))
        return
    for fault in wrong:
        what = words.text(f"fault.{fault.code}", {"detail": fault.detail})
        params = {**shown, "line_count": fault.line_count, "what": what}
        click.echo(words.text("check.fault", params))
    counted = {**shown, "fault_count": len(wrong)}
    click.echo(words.text("check.count" if wrong else "check.good", counted))
