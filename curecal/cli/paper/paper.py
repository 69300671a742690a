"""`curecal paper`: hold card, owner's sheet and commissioning record, as PDF files."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from curecal.cli.shared.common import (
    PROBLEM,
    job_options,
    json_option,
    planned_or_told,
    print_json,
    print_lines,
    width_of,
)

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from curecal.cli.shared.common import PlannedJob
    from curecal.papers.blocks import Paper, PaperContext
    from curecal.words.layout import Line

_FILES: Mapping[str, str] = {
    "card": "hold-card",
    "owner": "owner-sheet",
    "record": "commissioning-record",
}


@click.command("paper")
@job_options
@click.argument("directory", metavar="DIR", type=click.Path(path_type=Path))
@click.option("--only", type=click.Choice(list(_FILES)), help="Write this paper alone.")
@click.option("--draft", is_flag=True, help="Mark owner's sheet and record as a draft.")
@json_option
def command(
    *,
    job: Path,
    directory: Path,
    only: str | None,
    draft: bool,
    as_json: bool,
    width: int | None,
    **asked: Any,
) -> int:
    """Write hold card, owner's sheet and commissioning record as PDF.

    The hash (SHA-256) of each file is printed: the same job gives the same file, so that a copy
    can be compared. A floor that is released gets no hold card.
    """
    made = planned_or_told(job, as_json=as_json, width=width, **asked)
    if made is None:
        return PROBLEM
    ctx = _context(made)
    papers = {kind: _paper(kind, ctx, draft=draft) for kind in _FILES if only in {None, kind}}
    hashes = _write(papers, made.job.id, directory)
    if as_json:
        print_json({"schema": 1, "papers": [dict(entry) for entry in hashes]})
    else:
        print_lines(_told(ctx, papers, hashes, width_of(width)))
    return 0


def _context(made: PlannedJob) -> PaperContext:
    from dataclasses import replace

    from curecal.papers.blocks import PaperContext
    from curecal.planning.site_log.log_at_instant import facts_at
    from curecal.planning.working_time.working_calendar import Calendar

    # A paper is kept for as long as the floor lies: its days carry their years.
    words = replace(made.words, reader=replace(made.words.reader, today=None))
    calendar = Calendar(made.job.work, made.job.tz, made.day_off)
    facts = facts_at(made.log, made.plan.as_of, made.job.people)
    return PaperContext(made.plan, made.log, facts, words, calendar)


def _paper(kind: str, ctx: PaperContext, *, draft: bool) -> Paper | None:
    if kind == "card":
        from curecal.papers.hold_card import hold_card

        return hold_card(ctx)
    if kind == "owner":
        from curecal.papers.owner_sheet import owner_sheet

        return owner_sheet(ctx, draft=draft)
    from curecal.papers.commissioning_record import commissioning_record

    return commissioning_record(ctx, draft=draft)


def _write(
    papers: Mapping[str, Paper | None], job_id: str, directory: Path
) -> list[Mapping[str, str]]:
    """Set every paper before the first is written; return kind, file and hash of each."""
    import hashlib

    from curecal.delivery.whole_files import write_all
    from curecal.errors import SourceError
    from curecal.papers.typeset import typeset

    set_papers = {kind: typeset(paper) for kind, paper in papers.items() if paper is not None}
    paths = {kind: directory / f"{job_id}-{_FILES[kind]}.pdf" for kind in set_papers}
    try:
        directory.mkdir(parents=True, exist_ok=True)
        write_all({paths[kind]: octets for kind, octets in set_papers.items()})
    except OSError as error:
        reason = error.strerror or ""
        raise SourceError("file-not-written", path=str(directory), reason=reason) from None
    return [
        {"paper": kind, "file": str(paths[kind]), "sha256": hashlib.sha256(octets).hexdigest()}
        for kind, octets in set_papers.items()
    ]


def _told(
    ctx: PaperContext,
    papers: Mapping[str, Paper | None],
    hashes: Sequence[Mapping[str, str]],
    columns: int,
) -> list[Line]:
    from curecal.words.layout import TextRun, paragraph

    lines: list[Line] = []
    for entry in hashes:
        lines.append((TextRun(entry["file"]),))
        # In one piece, so that it can be copied.
        lines.append((TextRun(f"  sha256 {entry['sha256']}", "dim"),))
    if ctx.plan.zones and "card" in papers and papers["card"] is None:
        lines += paragraph(ctx.text("no-card"), columns)
    return lines
