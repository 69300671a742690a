"""`curecal paper`: hold card, owner's sheet and commissioning record, as PDF files."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import click

from curecal.cli.shared.common import (
    PROBLEM,
    job_options,
    json_option,
    language_option,
    planned_or_told,
    print_json,
    print_lines,
    width_of,
)

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import datetime

    from curecal.book.jobs.written_papers import WrittenPaper
    from curecal.cli.shared.common import PlannedJob
    from curecal.cli.shared.job_source import BookState
    from curecal.papers.blocks import Paper, PaperContext
    from curecal.papers.paper_kinds import PaperKind
    from curecal.words.layout import Line

_KINDS = ("card", "owner", "record")


class _SetPaper(NamedTuple):
    """A paper as bytes, and where they go. `record_sha256` is empty where it is no record."""

    kind: str
    language: str
    path: Path
    octets: bytes
    draft: bool
    sha256: str
    record_sha256: str


@click.command("paper")
@job_options
@click.argument("directory", metavar="DIR", type=click.Path(path_type=Path))
@click.option("--only", type=click.Choice(_KINDS), help="Write this paper alone.")
@click.option("--draft", is_flag=True, help="Mark owner's sheet and record as a draft.")
@click.option(
    "--page",
    default="",
    metavar="ADDRESS",
    help="Print the owner's page on the hold card, to be scanned (curecal links add).",
)
@language_option
@json_option
def command(
    *,
    job: Path,
    directory: Path,
    only: str | None,
    draft: bool,
    page: str,
    language: str | None,
    as_json: bool,
    width: int | None,
    **asked: Any,
) -> int:
    """Write hold card, owner's sheet and commissioning record as PDF.

    The hash (SHA-256) of each file is printed: the same job gives the same file, so that a copy
    can be compared. For a job of the book the hashes are kept there: "curecal book paper FILE"
    tells whether a file is unchanged. A floor that is released gets no hold card. Card and sheet
    are in the owner's language, the record in the job's, unless --language names one.
    """
    made = planned_or_told(job, as_json=as_json, width=width, **asked)
    if made is None:
        return PROBLEM
    from curecal.papers.paper_kinds import PaperKind, make_paper

    papers = {
        kind: make_paper(kind, _context(made, kind, language), draft=draft, page=page)
        for kind in PaperKind
        if only in {None, kind}
    }
    made_papers = [
        _typeset(kind, paper, directory / f"{made.job.id}-{kind.file_name}.pdf")
        for kind, paper in papers.items()
        if paper is not None
    ]
    # Kept first: a paper that the book does not know is never handed out.
    kept = _keep(made, made_papers)
    _write(made_papers, directory)
    if as_json:
        shown = [
            {"paper": entry.kind, "file": str(entry.path), "sha256": entry.sha256}
            for entry in made_papers
        ]
        print_json({"schema": 1, "papers": shown, "kept_in_book": kept})
    else:
        print_lines(_told(made, papers, made_papers, kept=kept, columns=width_of(width)))
    return 0


def _context(made: PlannedJob, kind: PaperKind, language: str | None) -> PaperContext:
    from curecal.papers.blocks import PaperContext
    from curecal.papers.paper_kinds import language_of_paper
    from curecal.planning.site_log.log_at_instant import facts_at
    from curecal.planning.working_time.working_calendar import Calendar

    # A paper is kept for as long as the floor lies: its days carry their years.
    words = made.words_in(language or language_of_paper(kind, made.job, made.plan.as_of))
    calendar = Calendar(made.job.work, made.job.tz, made.day_off)
    facts = facts_at(made.log, made.plan.as_of, made.job.people)
    return PaperContext(made.plan, made.log, facts, words, calendar)


def _typeset(kind: PaperKind, paper: Paper, path: Path) -> _SetPaper:
    import hashlib

    from curecal.papers.commissioning_record import record_hash
    from curecal.papers.paper_kinds import PaperKind
    from curecal.papers.typeset import typeset

    octets = typeset(paper)
    return _SetPaper(
        kind.value,
        paper.language,
        path,
        octets,
        bool(paper.draft),
        hashlib.sha256(octets).hexdigest(),
        record_hash(paper) if kind is PaperKind.RECORD else "",
    )


def _keep(made: PlannedJob, papers: Sequence[_SetPaper]) -> bool:
    """Keep the hashes of papers in the book that the job stands in; return whether it has them."""
    if made.book_state is None:
        return False
    from datetime import UTC, datetime

    from curecal.book.jobs.written_papers import record_papers
    from curecal.cli.book.book import book_named

    now = datetime.now(UTC)
    written = [_written(made, made.book_state, paper, now) for paper in papers]
    with book_named(made.place) as book:
        # One that cannot be written here is still good for papers.
        if book.looks:
            return False
        with book.writing() as connection:
            record_papers(connection, made.job.id, written)
    return True


def _written(made: PlannedJob, state: BookState, paper: _SetPaper, now: datetime) -> WrittenPaper:
    from curecal.book.jobs.written_papers import WrittenPaper

    return WrittenPaper(
        sha256=paper.sha256,
        kind=paper.kind,
        language=paper.language,
        draft=paper.draft,
        recorded_at=now,
        record_sha256=paper.record_sha256,
        revision=state.revision,
        entry_count=state.entry_count,
        as_of=made.plan.as_of,
    )


def _write(papers: Sequence[_SetPaper], directory: Path) -> None:
    from curecal.delivery.whole_files import write_all
    from curecal.errors import SourceError

    try:
        directory.mkdir(parents=True, exist_ok=True)
        write_all({paper.path: paper.octets for paper in papers})
    except OSError as error:
        reason = error.strerror or ""
        raise SourceError("file-not-written", path=str(directory), reason=reason) from None


def _told(
    made: PlannedJob,
    papers: Mapping[PaperKind, Paper | None],
    made_papers: Sequence[_SetPaper],
    *,
    kept: bool,
    columns: int,
) -> list[Line]:
    from curecal.words.layout import TextRun, paragraph
    from curecal.words.sentences import plain_words

    lines: list[Line] = []
    for paper in made_papers:
        lines.append((TextRun(str(paper.path)),))
        # In one piece, so that it can be copied.
        lines.append((TextRun(f"  sha256 {paper.sha256}", "dim"),))
    from curecal.papers.paper_kinds import PaperKind

    if made.plan.zones and PaperKind.CARD in papers and papers[PaperKind.CARD] is None:
        lines += paragraph(made.words.text("paper.no-card"), columns)
    if made.in_book and made_papers:
        said = plain_words().text(f"book.paper.{'kept' if kept else 'not-kept'}")
        lines += paragraph(said, columns, style="" if kept else "warn")
    return lines
