"""`curecal paper`: hold card, owner's sheet and commissioning record, as PDF files."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

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

    from curecal.cli.shared.common import PlannedJob
    from curecal.papers.blocks import Paper, PaperContext
    from curecal.papers.paper_kinds import PaperKind
    from curecal.words.layout import Line

_KINDS = ("card", "owner", "record")


@click.command("paper")
@job_options
@click.argument("directory", metavar="DIR", type=click.Path(path_type=Path))
@click.option("--only", type=click.Choice(_KINDS), help="Write this paper alone.")
@click.option("--draft", is_flag=True, help="Mark owner's sheet and record as a draft.")
@language_option
@json_option
def command(
    *,
    job: Path,
    directory: Path,
    only: str | None,
    draft: bool,
    language: str | None,
    as_json: bool,
    width: int | None,
    **asked: Any,
) -> int:
    """Write hold card, owner's sheet and commissioning record as PDF.

    The hash (SHA-256) of each file is printed: the same job gives the same file, so that a copy
    can be compared. A floor that is released gets no hold card. Card and sheet are in the owner's
    language, the record in the job's, unless --language names one.
    """
    made = planned_or_told(job, as_json=as_json, width=width, **asked)
    if made is None:
        return PROBLEM
    from curecal.papers.paper_kinds import PaperKind, make_paper

    papers = {
        kind: make_paper(kind, _context(made, kind, language), draft=draft)
        for kind in PaperKind
        if only in {None, kind}
    }
    hashes = _write(papers, made.job.id, directory)
    if as_json:
        print_json({"schema": 1, "papers": [dict(entry) for entry in hashes]})
    else:
        print_lines(_told(made, papers, hashes, width_of(width)))
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


def _write(
    papers: Mapping[PaperKind, Paper | None], job_id: str, directory: Path
) -> list[Mapping[str, str]]:
    """Set every paper before the first is written; return kind, file and hash of each."""
    import hashlib

    from curecal.delivery.whole_files import write_all
    from curecal.errors import SourceError
    from curecal.papers.typeset import typeset

    set_papers = {kind: typeset(paper) for kind, paper in papers.items() if paper is not None}
    paths = {kind: directory / f"{job_id}-{kind.file_name}.pdf" for kind in set_papers}
    try:
        directory.mkdir(parents=True, exist_ok=True)
        write_all({paths[kind]: octets for kind, octets in set_papers.items()})
    except OSError as error:
        reason = error.strerror or ""
        raise SourceError("file-not-written", path=str(directory), reason=reason) from None
    return [
        {
            "paper": kind.value,
            "file": str(paths[kind]),
            "sha256": hashlib.sha256(octets).hexdigest(),
        }
        for kind, octets in set_papers.items()
    ]


def _told(
    made: PlannedJob,
    papers: Mapping[PaperKind, Paper | None],
    hashes: Sequence[Mapping[str, str]],
    columns: int,
) -> list[Line]:
    from curecal.words.layout import TextRun, paragraph

    lines: list[Line] = []
    for entry in hashes:
        lines.append((TextRun(entry["file"]),))
        # In one piece, so that it can be copied.
        lines.append((TextRun(f"  sha256 {entry['sha256']}", "dim"),))
    from curecal.papers.paper_kinds import PaperKind

    if made.plan.zones and PaperKind.CARD in papers and papers[PaperKind.CARD] is None:
        lines += paragraph(made.words.text("paper.no-card"), columns)
    return lines
