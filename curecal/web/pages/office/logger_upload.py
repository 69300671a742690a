"""A logger's file, in two steps: what it was understood to say, and only then into the job."""

from __future__ import annotations

import secrets
import tempfile
from collections.abc import Iterable, Iterator
from dataclasses import replace
from pathlib import Path, PurePath
from typing import TYPE_CHECKING

from curecal.book.jobs.import_job import append_entries
from curecal.errors import CurecalError, JobRefused, SourceError, ValueRefused
from curecal.papers.blocks import Fact
from curecal.planning.site_log.authority import persons_named
from curecal.planning.site_log.log_at_instant import facts_at
from curecal.readings.clock.clock import zone_named
from curecal.readings.columns.by_hand import columns_named
from curecal.readings.export.read_export import read_export
from curecal.readings.export.summary import channel_facts, file_facts, summarize
from curecal.readings.series.add_to_job import Destination, count_new_readings, entry_values
from curecal.readings.series.stored_readings import decode_channel, encode_channel
from curecal.readings.table.export_types import (
    Answers,
    AskedFor,
    LoggerChannel,
    LoggerExport,
    Order,
    QuestionError,
    UnderstoodBy,
)
from curecal.records import PlainTable, Record, record
from curecal.trade.site_log import Place
from curecal.web.entries import LogMovedError, looked_again
from curecal.web.page_request import job_address
from curecal.web.pages.office.office_parts import go_to
from curecal.web.rendering import render
from curecal.words.catalogue import DEFAULT_LANGUAGE
from curecal.words.values import clean

if TYPE_CHECKING:
    from flask import Response

    from curecal.job_files import ReadJob
    from curecal.trade.site_log import Entry
    from curecal.web.page_request import PageRequest

_LONGEST = 200
_LONGEST_ENDING = 8
_MOST_DIGITS = 8
_UNITS = ("C", "F")
_JOB_FILE = "job"
"""What the book lays a job out as: readings are named after it."""


@record(kw_only=True)
class DeviceSummary(Record):
    """One sensor of a file as the page shows it; `new_count` readings the job has not got."""

    device: str
    facts: tuple[Fact, ...]
    reading_count: int
    new_count: int
    refused: str


@record(kw_only=True)
class FromForm(Record):
    """What was typed beside the file: where it lay, and what the file leaves open."""

    zone: str
    place: Place
    unit: str
    order: str
    timezone: str
    columns: str


def ask(page: PageRequest) -> Response:
    """Answer with the form for a file."""
    return _form(page, _typed(page))


def send(page: PageRequest) -> Response:
    """Show what a file was understood to say; take it once that was confirmed."""
    asked = _typed(page)
    mark = page.request.form.get("upload", "")
    kept = page.serving.uploads.find(mark, page.job.id, page.link.id)
    sent = page.request.files.get("file")
    if kept is None and (sent is None or not sent.filename):
        return _form(page, asked, problem=page.text("office.file-wanted"), status=422)
    if kept is None and sent is not None:
        data = sent.read()
        name = clean(PurePath(sent.filename or "").name)[:_LONGEST]
        mark = page.serving.uploads.keep(page.job.id, page.link.id, name, data)
        kept = page.serving.uploads.find(mark, page.job.id, page.link.id)
    if kept is None:
        return _form(page, asked, problem=page.text("office.file-wanted"), status=422)
    try:
        export = _read(page, kept.name, kept.data, asked)
        if page.request.form.get("confirm") == "yes":
            count = _add(page, export, asked)
            page.serving.uploads.drop(mark)
            return go_to(f"{job_address(page.job.id)}/readings", added=str(count))
    except QuestionError as error:
        return _form(page, asked, upload=mark, name=kept.name, asks=error.asks, status=422)
    except (SourceError, ValueRefused, JobRefused) as error:
        return _form(page, asked, problem=_why(page, error), status=422)
    return _shown(page, asked, export, mark)


def _typed(page: PageRequest) -> FromForm:
    form = page.request.form
    zones = {zone.id for zone in page.job.zones}
    zone = form.get("zone", "")
    # A job of one floor asks nothing: its logger lay there.
    only = next(iter(zones)) if len(zones) == 1 else ""
    place = form.get("place", "")
    return FromForm(
        zone=zone if zone in zones else only,
        place=Place(place) if place in set(Place) else Place.AIR,
        unit=form.get("unit", "") if form.get("unit") in _UNITS else "",
        order=form.get("order", "") if form.get("order") in set(Order) else "",
        timezone=clean(form.get("timezone", ""))[:_LONGEST].strip(),
        columns=clean(form.get("columns", ""))[:_LONGEST].strip(),
    )


def _read(page: PageRequest, name: str, data: bytes, asked: FromForm) -> LoggerExport:
    """Return a file as understood.

    Raises:
        QuestionError: It leaves something open that only a person can say.
        SourceError: It is no logger's file.
    """
    now = page.now
    answers = Answers(
        unit=asked.unit or None,
        columns=columns_named(asked.columns) if asked.columns else (),
        order=Order(asked.order) if asked.order else None,
        zone=zone_named(asked.timezone) if asked.timezone else page.job.tz,
        zone_from=UnderstoodBy.OPTION if asked.timezone else UnderstoodBy.JOB,
        latest_year=now.year + 1,
        now=now,
    )
    with tempfile.TemporaryDirectory() as folder:
        # By its ending a workbook is known; the rest of the name may be anything.
        ending = PurePath(name).suffix[:_LONGEST_ENDING]
        path = Path(folder) / f"logger{ending if ending[1:].isalnum() else '.txt'}"
        path.write_bytes(data)
        export = read_export(path, answers)
    return replace(export, name=name)


def _destination(asked: FromForm) -> Destination:
    return Destination(asked.zone or None, asked.place)


def _as_kept(channel: LoggerChannel) -> tuple[LoggerChannel, bytes]:
    """Return a sensor's readings as they will be read back, to the last digit."""
    data = encode_channel(channel)
    return decode_channel(data, channel.device), data


def _new_count(page: PageRequest, channel: LoggerChannel, asked: FromForm) -> int:
    return _count_new(page, channel, asked, page.here.read.log)


def _count_new(
    page: PageRequest, channel: LoggerChannel, asked: FromForm, log: Iterable[Entry]
) -> int:
    # What somebody else wrote since the request came in counts as well.
    known = facts_at(log, page.serving.now(), page.job.people).entries
    return count_new_readings(channel, _destination(asked), known, clean(page.job.name))


def _add(page: PageRequest, export: LoggerExport, asked: FromForm) -> int:
    """Put the readings into the book, all sensors or none; return how many were new."""
    count = sum(_new_count(page, _as_kept(channel)[0], asked) for channel in export.channels)
    # Of several sensors only some may have come in meanwhile.
    looked_again(page, lambda seen: _write(seen, export, asked))
    return count


def _write(page: PageRequest, export: LoggerExport, asked: FromForm) -> None:
    tables: list[PlainTable] = []
    series: dict[str, bytes] = {}
    fresh: list[LoggerChannel] = []
    for channel in export.channels:
        kept, data = _as_kept(channel)
        if not _new_count(page, kept, asked):
            continue
        understood = summarize(export, channel, page.words)
        values = entry_values(_JOB_FILE, kept, _destination(asked), data, understood)
        series[str(values["file"])] = data
        tables.append(_entry(page, kept, asked, values))
        fresh.append(kept)

    def check(read: ReadJob) -> None:
        # Pressed twice, or sent by two people: under two entries taking one back would not do.
        own = {table["id"] for table in tables}
        before = [entry for entry in read.log if entry.id not in own]
        if not all(_count_new(page, channel, asked, before) for channel in fresh):
            raise LogMovedError

    if tables:
        append_entries(
            page.serving.book,
            page.job.id,
            tables,
            source=f"page:{page.link.id}",
            now=page.now,
            clock=page.now,
            check=check,
            series=series,
        )
        page.serving.written()


def _entry(
    page: PageRequest, kept: LoggerChannel, asked: FromForm, values: PlainTable
) -> PlainTable:
    zone, recorded = page.job.tz, page.now.replace(microsecond=0)
    table: PlainTable = {
        "id": f"r-{secrets.token_hex(8)}",
        # What a logger says of a time to come must not hide what it says of the past.
        "at": min(kept.last, recorded).astimezone(zone),
        "kind": "readings",
        **values,
        "recorded": recorded.astimezone(zone),
    }
    if asked.zone:
        table["zone"] = asked.zone
    if persons_named(page.job.people, page.link.person):
        table["by"] = page.link.person
    return table


def _why(page: PageRequest, error: CurecalError) -> str:
    """Return why a file is not taken: what it is about in English alone is said generally."""
    if page.language == DEFAULT_LANGUAGE and not isinstance(error, JobRefused):
        return page.words.error(error)
    return page.text("office.file-refused")


def _summary(page: PageRequest, export: LoggerExport, asked: FromForm) -> Iterator[DeviceSummary]:
    for channel in export.channels:
        kept, _ = _as_kept(channel)
        refused, new = "", 0
        try:
            new = _new_count(page, kept, asked)
        except SourceError as error:
            refused = _why(page, error)
        yield DeviceSummary(
            device=clean(channel.device),
            facts=_facts(page, channel_facts(channel, page.words)),
            reading_count=len(channel),
            new_count=new,
            refused=refused,
        )


def _facts(page: PageRequest, told: Iterator[tuple[str, str]]) -> tuple[Fact, ...]:
    return tuple(Fact(page.words.text(f"readings.label-{label}"), text) for label, text in told)


def _shown(page: PageRequest, asked: FromForm, export: LoggerExport, mark: str) -> Response:
    devices = list(_summary(page, export, asked))
    return render(
        page,
        "office/logger_understood.html",
        job_name=clean(page.job.name),
        address=job_address(page.job.id),
        name=clean(export.name),
        devices=devices,
        facts=_facts(page, file_facts(export, page.words)),
        findings=[page.words.finding(one) for one in export.findings],
        asked=asked,
        zone_name=next((clean(z.name) for z in page.job.zones if z.id == asked.zone), ""),
        place=page.words.name("reading_place", asked.place.value),
        upload=mark,
        may_add=any(one.new_count for one in devices) and not any(one.refused for one in devices),
    )


def _form(
    page: PageRequest,
    asked: FromForm,
    *,
    problem: str = "",
    upload: str = "",
    name: str = "",
    asks: AskedFor | None = None,
    status: int = 200,
) -> Response:
    added = page.request.args.get("added", "")
    is_count = added.isascii() and added.isdigit() and len(added) <= _MOST_DIGITS
    return render(
        page,
        "office/logger_file.html",
        status=status,
        job_name=clean(page.job.name),
        address=job_address(page.job.id),
        zones=[(zone.id, clean(zone.name)) for zone in page.job.zones],
        places=[(place.value, page.words.name("reading_place", place.value)) for place in Place],
        orders=[order.value for order in Order],
        asked=asked,
        problem=problem,
        upload=upload,
        name=name,
        asks="" if asks is None else asks.value,
        added=int(added) if is_count else None,
    )
