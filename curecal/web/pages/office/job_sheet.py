"""One job for the office: the answer, its pictures, what was measured, what is to be done, the log.

What it says of layers, climate and hold points is what the commissioning record says.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from curecal.book.jobs.closed_jobs import closed_jobs
from curecal.job_files.entry_lines import EntryRow, rows
from curecal.overview.risks import risks_of
from curecal.papers.blocks import PaperContext, Section
from curecal.papers.record_climate import climate_section
from curecal.papers.record_evidence import entry_row, holds_section
from curecal.papers.record_heat_up import heat_up_section
from curecal.papers.record_layers import layers_table
from curecal.pictures.section import make_section
from curecal.pictures.section_svg import section_svg
from curecal.pictures.timeline import make_timeline
from curecal.pictures.timeline_svg import timeline_svg
from curecal.planning.plan import ZonePlan
from curecal.records import Record, record
from curecal.trade.findings import Finding, Severity
from curecal.trade.job import Person
from curecal.trade.site_log import Correction
from curecal.web.page_request import job_address
from curecal.web.pages.notes.noted_page import picture_address
from curecal.web.pages.office.office_parts import page_of_list
from curecal.web.pages.owner_page import paper_context
from curecal.web.pages.site.work_links import other_links
from curecal.web.rendering import drawn, render
from curecal.web.site_work import floor_answer
from curecal.words.log_entries import changes_of
from curecal.words.sentences import whole
from curecal.words.values import clean

if TYPE_CHECKING:
    from flask import Response
    from markupsafe import Markup

    from curecal.web.page_request import PageRequest

_NEWEST = 10
"""Log entries on the page of the job; all of them have a page of their own."""
_MOST = 100
_WIDTH = 340.0


@record(kw_only=True)
class OfficeZone(Record):
    """One floor as the office sees it."""

    name: str
    answer: str
    timeline: Markup
    section: Markup
    parts: tuple[Section, ...]


@record(kw_only=True)
class LogLine(Record):
    """An entry of the log: what, when, what it says, by whom; corrections of it stand below."""

    entry_id: str
    what: str
    at: str
    said: str
    who: str
    further: str
    is_withdrawn: bool
    corrections: tuple[str, ...]
    picture: str = ""


def show(page: PageRequest) -> Response:
    """Answer with the page of a job."""
    with page.serving.book.reading() as connection:
        is_closed = page.values["job_id"] in closed_jobs(connection)
    ctx = paper_context(page)
    here = page.here
    lines = list(_log_lines(page, ctx))
    risks = risks_of(here.plan, here.read.log, words=page.words, calendar=here.calendar)
    return render(
        page,
        "office/job.html",
        job=page.job,
        here="",
        address=job_address(page.job.id),
        is_closed=is_closed,
        zones=[_zone(page, ctx, zone, number) for number, zone in enumerate(ctx.plan.zones)],
        risks=[whole(risk.why) for risk in risks],
        findings=[page.words.finding(one) for one in _told(here.plan.findings)],
        people=[_person(page, person) for person in page.job.people],
        forms=other_links(page, ()),
        log=lines[:_NEWEST],
        log_count=len(lines),
    )


def show_log(page: PageRequest) -> Response:
    """Answer with the whole log, the newest first, by page."""
    lines = list(_log_lines(page, paper_context(page)))
    return render(
        page,
        "office/log.html",
        job_name=clean(page.job.name),
        address=job_address(page.job.id),
        log=page_of_list(page, lines, most=_MOST),
    )


def not_understood(page: PageRequest) -> Response:
    """Answer for a job that cannot be planned: what is wrong with it."""
    read = page.serving.jobs.read(page.values["job_id"])
    errors = [one for one in read.findings if one.severity is Severity.ERROR]
    return render(
        page,
        "office/not_understood.html",
        job_id=page.values["job_id"],
        findings=[page.words.finding(one) for one in errors],
    )


def _told(findings: Sequence[Finding]) -> Iterator[Finding]:
    """Yield what the office has to know, the worst first."""
    worst = (Severity.STOP, Severity.ERROR, Severity.WARNING, Severity.CAUTION)
    for severity in worst:
        yield from (one for one in findings if one.severity is severity)


def _zone(page: PageRequest, ctx: PaperContext, zone: ZonePlan, number: int) -> OfficeZone:
    plan = ctx.plan
    timeline = make_timeline(plan, zone, ctx.log, page.words)
    section = make_section(plan, zone, page.words)
    return OfficeZone(
        name=clean(zone.zone.name),
        answer=floor_answer(page, plan, zone),
        timeline=drawn(timeline_svg(timeline, width=_WIDTH, name=f"time{number}")),
        section=drawn(section_svg(section, width=_WIDTH, name=f"floor{number}")),
        parts=(
            layers_table(ctx, zone),
            holds_section(ctx, zone),
            climate_section(ctx, zone),
            *(() if page.clock_doubt else (heat_up_section(ctx, zone),)),
        ),
    )


def _person(page: PageRequest, person: Person) -> tuple[str, str, str]:
    roles = ", ".join(page.words.person(role.value) for role in person.every_role)
    ways = ", ".join(clean(way) for way in (person.phone, person.email) if way)
    return clean(person.name), roles, ways


def _log_lines(page: PageRequest, ctx: PaperContext) -> Iterator[LogLine]:
    """Yield the log, the newest entry first, each with the corrections of it."""
    for row in reversed(rows(page.here.read, page.here.as_of)):
        if row.entry is None:
            yield _unread_line(page, row)
            continue
        cells = entry_row(ctx, row.entry)
        what, at, said, who = cells.cells
        yield LogLine(
            entry_id=row.id,
            what=what,
            at=at,
            said=said,
            who=who,
            further=cells.below,
            is_withdrawn=row.withdrawn_by is not None,
            corrections=tuple(_correction(page, ctx, one) for one in row.corrections),
            picture=picture_address(page, row.entry),
        )


def _unread_line(page: PageRequest, row: EntryRow) -> LogLine:
    return LogLine(
        entry_id=row.id,
        what=clean(row.kind),
        at="",
        said=page.text("office.entry-not-understood"),
        who="",
        further="",
        is_withdrawn=False,
        corrections=(),
    )


def _correction(page: PageRequest, ctx: PaperContext, one: Correction) -> str:
    said = changes_of(one, page.job, page.words)
    what = ctx.text("withdrawn") if one.withdrawn else said
    return page.text(
        "office.correction", at=ctx.at(one.recorded), who=ctx.who(one), what=whole(what)
    )
