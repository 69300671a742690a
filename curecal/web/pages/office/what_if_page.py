"""What if: the days of a job as it is beside its days after each change. Nothing is written."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING

from curecal.book.jobs.job_sources import laid_out
from curecal.book.jobs.jobs import newest_revision, sources_of
from curecal.book.jobs.log_entries import entries_of
from curecal.errors import CurecalError, InstantRefused, UsageError
from curecal.instants import parse_instant
from curecal.job_files import ReadJob, load_rules, read_job
from curecal.job_files.days_off import day_off_for
from curecal.job_files.what_if.changed_jobs import Edit, changed_jobs, notes_of
from curecal.job_files.what_if.changes import Change, change_of
from curecal.job_files.what_if.usual_changes import usual_changes
from curecal.papers.blocks import PaperTable, Row
from curecal.planning.comparison.alternatives import WhatIf, what_if
from curecal.records import Record, record
from curecal.web.page_request import job_address
from curecal.web.rendering import render
from curecal.words.comparison.alternatives import (
    compared_head,
    compared_notes,
    compared_rows,
)
from curecal.words.sentences import whole
from curecal.words.values import clean

if TYPE_CHECKING:
    from flask import Response

    from curecal.trade.job import Layer
    from curecal.web.page_request import PageRequest

_LONGEST = 60
_CLIMATE = ("air", "humidity", "coldest", "dampest")
_DAYS = ("Mon-Fri", "Mon-Sat", "Mon-Sun")


@record(kw_only=True)
class LayerChoice(Record):
    """A layer still to be laid: its name, what else it could be, and what was typed."""

    name: str
    label: str
    number: int
    materials: tuple[str, ...]
    material: str
    start: str


def show(page: PageRequest) -> Response:
    """Answer with the form, and the days side by side for what it asks or what usually helps."""
    layers = [
        _choice(page, layer, number)
        for number, layer in enumerate(
            layer
            for zone in page.here.plan.job.zones
            for layer in zone.layers
            if layer.done_at is None and not layer.existing
        )
    ]
    problem, tables, notes, still, also = "", [], [], [], []
    try:
        found, changes = _compared(page, layers)
    except (UsageError, InstantRefused) as error:
        problem = _why(page, error)
    else:
        tables = list(_tables(page, found))
        notes = compared_notes(
            found, page.words, notes_of(changes, is_together=found.together is not None)
        )
        still = [one.said for one in found.outcomes if not one.moves]
        also = list(_also(page, found))
    return render(
        page,
        "office/what_if.html",
        status=422 if problem else 200,
        job_name=clean(page.job.name),
        address=job_address(page.job.id),
        layers=layers,
        climate=[(key, _typed(page, key)) for key in _CLIMATE],
        days=_DAYS,
        chosen_days=_typed(page, "days"),
        problem=problem,
        tables=tables,
        notes=notes,
        still=still,
        also=also,
    )


def _typed(page: PageRequest, key: str) -> str:
    return clean(page.request.args.get(key, ""))[:_LONGEST].strip()


def _choice(page: PageRequest, layer: Layer, number: int) -> LayerChoice:
    """Return a layer with the classes of its kind."""
    classes = load_rules().classes
    same = [name for name, sheet in classes.items() if sheet.kind is layer.sheet.kind]
    return LayerChoice(
        name=layer.name,
        label=clean(layer.title),
        number=number,
        materials=tuple(same),
        material=_typed(page, f"material{number}"),
        start=_typed(page, f"start{number}"),
    )


def _asked(page: PageRequest, layers: Sequence[LayerChoice]) -> list[str]:
    """Return what was asked for, as it is typed for a command."""
    asked = [f"{key}={value}" for key in _CLIMATE if (value := _typed(page, key))]
    if _typed(page, "days") in _DAYS:
        asked.append(f"days={_typed(page, 'days')}")
    for layer in layers:
        if layer.material in layer.materials:
            asked.append(f"{layer.name}={layer.material}")
        if layer.start:
            asked.append(f"{layer.name} start={layer.start}")
    return asked


def _compared(page: PageRequest, layers: Sequence[LayerChoice]) -> tuple[WhatIf, list[Change]]:
    here, rules = page.here, load_rules()
    job, as_of = here.plan.job, here.as_of

    def typed(text: str) -> datetime:
        return parse_instant(text, job.tz)

    asked = _asked(page, layers)
    changes = (
        [change_of(text, job, as_of, typed) for text in asked]
        if asked
        else usual_changes(job, here.read.raw, as_of, rules=rules, words=page.words)
    )
    changes = [replace(change, said=_said(page, change)) for change in changes]
    with page.serving.book.reading() as connection:
        sources = sources_of(connection, job.id, newest_revision(connection, job.id))
        entries = entries_of(connection, job.id)
    with laid_out(sources, [entry.table for entry in entries]) as laid:

        def read(edit: Edit) -> ReadJob:
            return read_job(laid.job, company=laid.company, extra_log=laid.logs, edit=edit)

        alternatives, together = changed_jobs(page.job, changes, read, page.words)
    found = what_if(
        page.job,
        here.read.log,
        as_of,
        alternatives,
        together,
        rules=rules,
        day_off=day_off_for(page.job),
    )
    return found, changes


def _said(page: PageRequest, change: Change) -> str:
    """Return a change in words: what it is about, and the value that was typed."""
    about, _, value = change.said.partition(" = ")
    kind, _, key = change.target.partition(".")
    if kind in {"expected", "work"}:
        return page.text(f"office.change.{key}", value=value)
    return page.text(f"office.change.{kind}", layer=about.removesuffix(" start"), value=value)


def _why(page: PageRequest, error: CurecalError) -> str:
    """Return why a change cannot be tried; the reader's reason is in the reader's language."""
    if "why" in error.params:
        why, remedy = str(error.params["why"]), str(error.params.get("remedy", ""))
        return f"{whole(why)} {remedy}".strip()
    return page.text("office.change-refused")


def _tables(page: PageRequest, found: WhatIf) -> Iterator[PaperTable]:
    """Yield each zone's days, as they are and after each change that moves one."""
    moving = [one for one in found.outcomes if one.moves]
    shown = [*moving, *([found.together] if found.together and moving else [])]
    head = tuple(whole(name).rstrip(".") for name in compared_head(page.words))
    for index, zone in enumerate(found.now):
        rows = compared_rows(zone, [(one, one.zones[index]) for one in shown], page.words)
        yield PaperTable(
            clean(zone.name) if len(found.now) > 1 else "",
            head,
            tuple(Row(tuple(", ".join(cell) for cell in row)) for row in rows),
            tuple(1.0 for _ in head),
        )


def _also(page: PageRequest, found: WhatIf) -> Iterator[str]:
    """Yield what each change brings with it, said once."""
    told = set()
    for outcome in (*found.outcomes, *([found.together] if found.together else [])):
        for finding in outcome.findings:
            said, do = page.words.finding(finding)
            if said not in told:
                told.add(said)
                params = {"change": outcome.said, "what": f"{whole(said)} {do}".strip()}
                yield page.words.text("compare.also", params)
