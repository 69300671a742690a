"""The papers of a job: as pages to print for everyone, and as PDF where typst is installed."""

from __future__ import annotations

import hashlib
import importlib.util
from typing import TYPE_CHECKING

from flask import Response

from curecal.book.jobs.jobs import newest_revision
from curecal.book.jobs.log_entries import count_known, entries_of
from curecal.book.jobs.written_papers import WrittenPaper, record_papers
from curecal.errors import BookError
from curecal.job_files import load_rules
from curecal.papers.blocks import Paper, PaperContext
from curecal.papers.commissioning_record import record_hash
from curecal.papers.paper_kinds import PaperKind, language_of_paper, make_paper
from curecal.papers.typeset import typeset
from curecal.web.page_request import job_address
from curecal.web.rendering import render
from curecal.words.catalogue import languages
from curecal.words.sentences import words_for

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from curecal.web.page_request import PageRequest


def show(page: PageRequest) -> Response:
    """Answer with a paper as a page."""
    kind = _kind(page)
    address = job_address(page.job.id)
    pdf = f"{address}/paper/{kind.value}/pdf" if can_typeset() else ""
    return _shown(page, kind, address, pdf)


def owner_sheet_page(page: PageRequest) -> Response:
    """Answer with the owner's sheet as a page, for the owner's link."""
    return _shown(page, PaperKind.OWNER, f"{page.home}/", "")


def as_pdf(page: PageRequest) -> Response:
    """Answer with a paper as PDF, kept in the book by its hash before it is handed out."""
    kind = _kind(page)
    paper = _paper(page, kind)
    if paper is None or not can_typeset():
        return _shown(page, kind, job_address(page.job.id), "")
    octets = typeset(paper)
    with page.serving.book.writing() as connection:
        record_papers(connection, page.job.id, [_written(connection, page, kind, paper, octets)])
    response = Response(octets, mimetype="application/pdf")
    name = f"{page.job.id}-{kind.file_name}.pdf"
    response.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    return response


def _written(
    connection: Connection, page: PageRequest, kind: PaperKind, paper: Paper, octets: bytes
) -> WrittenPaper:
    as_of = page.here.as_of
    entries = entries_of(connection, page.job.id)
    return WrittenPaper(
        sha256=hashlib.sha256(octets).hexdigest(),
        kind=kind.value,
        language=paper.language,
        draft=bool(paper.draft),
        recorded_at=page.now,
        record_sha256=record_hash(paper) if kind is PaperKind.RECORD else "",
        revision=newest_revision(connection, page.job.id).number,
        entry_count=count_known(entries, as_of),
        as_of=as_of,
    )


def can_typeset() -> bool:
    """Return whether PDF can be made here: what sets it is an extra."""
    return importlib.util.find_spec("typst") is not None


def _kind(page: PageRequest) -> PaperKind:
    try:
        return PaperKind(page.values["kind"])
    except ValueError:
        # An address that nobody was given.
        raise BookError("book-job-unknown", job_id=page.values["job_id"]) from None


def _paper(page: PageRequest, kind: PaperKind) -> Paper | None:
    here = page.here
    if page.clock_doubt:
        # What is printed is believed for years: its day and its set-points rest on the clock.
        return None
    asked = page.request.args.get("language")
    own = language_of_paper(kind, page.job, page.now)
    # A paper is kept for as long as the floor lies: its days carry their years.
    words = words_for(page.job, load_rules(), language=asked if asked in languages() else own)
    return make_paper(
        kind, PaperContext(here.plan, here.read.log, here.facts, words, here.calendar)
    )


def _shown(page: PageRequest, kind: PaperKind, back: str, pdf: str) -> Response:
    return render(
        page,
        "office/paper.html",
        paper=_paper(page, kind),
        kind=kind.value,
        back=back,
        pdf=pdf,
    )
