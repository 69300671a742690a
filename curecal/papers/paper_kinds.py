"""Which papers there are, who reads them, and one made by its kind."""

from __future__ import annotations

from datetime import datetime
from enum import StrEnum

from curecal.papers.blocks import Paper, PaperContext
from curecal.papers.commissioning_record import commissioning_record
from curecal.papers.hold_card import hold_card
from curecal.papers.owner_sheet import owner_sheet
from curecal.trade.job import Job, Role
from curecal.words.reader_language import language_of


class PaperKind(StrEnum):
    """A paper of a job."""

    CARD = "card"
    OWNER = "owner"
    RECORD = "record"

    @property
    def file_name(self) -> str:
        """What its file is called behind the job's id, without an ending."""
        return _FILES[self]


_FILES = {
    PaperKind.CARD: "hold-card",
    PaperKind.OWNER: "owner-sheet",
    PaperKind.RECORD: "commissioning-record",
}


def language_of_paper(kind: PaperKind, job: Job, at: datetime) -> str:
    """Return the language of a paper: card and sheet have the owner's, the record the job's.

    Args:
        kind: Which paper.
        job: The job.
        at: When.
    """
    read_by = () if kind is PaperKind.RECORD else (Role.OWNER,)
    return language_of(job, read_by, at)


def make_paper(
    kind: PaperKind, ctx: PaperContext, *, draft: bool = False, page: str = ""
) -> Paper | None:
    """Return a paper; None for the card of a job whose floors are all released.

    Args:
        kind: Which paper.
        ctx: The plan and what it is shown with.
        draft: Whether sheet and record are marked as a draft.
        page: The address of a page, for the card.
    """
    if kind is PaperKind.CARD:
        return hold_card(ctx, page=page)
    make = owner_sheet if kind is PaperKind.OWNER else commissioning_record
    return make(ctx, draft=draft)
