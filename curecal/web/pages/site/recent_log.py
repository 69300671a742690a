"""The last entries of the log, the newest first."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curecal.job_files.entry_lines import EntryRow, rows
from curecal.records import Record, record
from curecal.trade.site_log import Entry
from curecal.web.pages.notes.noted_page import (
    may_change,
    picture_address,
    shown_text,
    signature_of,
)

if TYPE_CHECKING:
    from curecal.web.page_request import PageRequest

_SHOWN = 12


@record(kw_only=True)
class LoggedLine(Record):
    """One entry of the log as a page shows it."""

    text: str
    signed: str
    is_withdrawn: bool
    picture: str
    change: str


def recent_log(page: PageRequest) -> list[LoggedLine]:
    """Return the last entries of the log, the newest first.

    Args:
        page: The request.
    """
    known = [row for row in rows(page.here.read) if row.entry is not None]
    newest = sorted(known, key=lambda row: _written_at(row.entry), reverse=True)
    return [_line(page, row) for row in newest[:_SHOWN]]


def _written_at(entry: Entry | None) -> float:
    return 0.0 if entry is None else max(entry.at, entry.recorded).timestamp()


def _line(page: PageRequest, row: EntryRow) -> LoggedLine:
    counting = next((one for one in page.here.facts.entries if one.id == row.id), row.entry)
    return LoggedLine(
        text=shown_text(page, row, counting),
        signed=signature_of(page, row.entry),
        is_withdrawn=row.withdrawn_by is not None,
        picture=picture_address(page, row.entry),
        change=f"{page.home}/change/{row.id}" if may_change(page, row) else "",
    )
