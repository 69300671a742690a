"""Papers of a job, as data: what a test reads of them."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from curecal.job_files import load_rules
from curecal.job_files.days_off import day_off_for
from curecal.job_files.job_reader import parse_job
from curecal.papers.blocks import (
    Block,
    Fact,
    FactList,
    Lines,
    Paper,
    PaperContext,
    PaperTable,
    Picture,
    Section,
    Signatures,
)
from curecal.planning.make_plan import make_plan
from curecal.planning.site_log.log_at_instant import facts_at
from curecal.planning.working_time.working_calendar import Calendar
from curecal.words.sentences import words_for


def paper_context(text: str, as_of: datetime, language: str = "en") -> PaperContext:
    """What papers of a job are made from, seen at an instant."""
    read = parse_job(text.encode(), clock=as_of)
    assert read.job is not None, read.findings
    job, rules, day_off = read.job, load_rules(), day_off_for(read.job)
    plan = make_plan(job, read.log, as_of, rules=rules, day_off=day_off)
    return PaperContext(
        plan,
        read.log,
        facts_at(read.log, as_of, job.people),
        words_for(job, rules, language=language),
        Calendar(job.work, job.tz, day_off),
    )


def texts(paper: Paper) -> list[str]:
    """Every text of a paper but what stands for its pictures."""
    own = [paper.title, paper.subtitle, paper.status, *paper.lead, paper.foot, paper.draft]
    said = [text.replace("\u00a0", " ") for text in own if text]
    return [*said, *(text for part in paper.sections for text in texts_of(part))]


def texts_of(part: Section) -> list[str]:
    """Every text of one section of a paper."""
    own = [part.title, *(text for block in part.blocks for text in _of_block(block))]
    return [text.replace("\u00a0", " ") for text in own if text]


def _of_block(block: Block) -> Iterator[str]:
    match block:
        case FactList(facts):
            yield from (text for fact in facts for text in (fact.label, fact.text))
        case PaperTable():
            yield from (block.title, *block.head)
            yield from (text for row in block.rows for text in (*row.cells, row.below))
        case Lines(lines):
            yield from lines
        case Signatures(places):
            yield from (f"{role}: {name}" if name else role for role, name in places)
        case Picture():
            return


def section(paper: Paper, title: str) -> Section:
    """The section of a paper with a title."""
    (found,) = [part for part in paper.sections if part.title == title]
    return found


def facts_in(found: Section) -> dict[str, Fact]:
    """The facts of a section by their labels."""
    lists = [block for block in found.blocks if isinstance(block, FactList)]
    return {fact.label: fact for block in lists for fact in block.facts}


def rows_in(found: Section, at: int = 0) -> list[tuple[str, ...]]:
    """The rows of one of a section's tables, the small line behind its cells."""
    tables = [block for block in found.blocks if isinstance(block, PaperTable)]
    return [(*row.cells, row.below) for row in tables[at].rows]
