"""A job file, its company's file and further site logs, read into a job, a log and findings."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import field, replace
from datetime import UTC, datetime, tzinfo
from pathlib import Path

from curecal.job_files.job_keys import expected_in, people_in, sensors_in, work_in
from curecal.job_files.materials import materials_in
from curecal.job_files.site_place import check_code, check_holidays
from curecal.job_files.zones import Stock, zones_in
from curecal.readings.series.decoded_channels import DecodedChannels
from curecal.records import PlainView, Record, record
from curecal.site_log_files.log_reader import log_in
from curecal.toml_files.shown import digest
from curecal.toml_files.table_reader import (
    Read,
    Table,
    TableReader,
    clean_table,
    read_table,
    table_in,
)
from curecal.toml_files.toml_source import load, loads
from curecal.trade.data_sheets import DataSheet
from curecal.trade.findings import Finding, Severity
from curecal.trade.job import Code, Job, Person, Thermistor, Units, Work
from curecal.trade.site_log import Log
from curecal.words.catalogue import DEFAULT_LANGUAGE

_NO_WORK = Work()


@record
class ReadJob(Record):
    """What a job file was understood to say.

    `job` is None where any finding is an error; `raw` is the file's content, for the names
    behind a finding's place.
    """

    job: Job | None
    log: Log
    findings: tuple[Finding, ...]
    raw: PlainView


@record
class Company(Record):
    """What a company's file gives to all of its jobs."""

    materials: Mapping[str, DataSheet | None] = field(default_factory=dict)
    sensors: Mapping[str, Thermistor | None] = field(default_factory=dict)
    people: tuple[Person, ...] = ()
    work: Work = _NO_WORK
    language: str = DEFAULT_LANGUAGE


Clock = datetime | Callable[[tzinfo], datetime]


def read_job(
    path: Path,
    *,
    company: Path | None = None,
    extra_log: Sequence[Path] = (),
    clock: Clock | None = None,
    edit: Callable[[Table], Table] | None = None,
    channels: DecodedChannels | None = None,
) -> ReadJob:
    """Return what a job file says, with every problem in it.

    Args:
        path: The job file.
        company: The company's file; else the one the job names, beside the job file.
        extra_log: Further files of log entries.
        clock: The instant "done in the future" is judged by, or what gives it for the site's
            zone; None judges nothing.
        edit: Gives the content to read in place of the file's: what if it said something else?
        channels: Loggers' readings that were decoded before, for who reads a job again.

    Returns:
        The job, its log, and the findings.

    Raises:
        SourceError: A file is missing, too large, no text, or no TOML.
    """
    raw = load(path) if edit is None else edit(load(path))
    logs = [(log.name, load(log)) for log in extra_log]
    tables = shared_tables(raw, company, path.parent)
    # A job's readings lie beside the file itself, also where a link leads to it.
    return _with_logs(raw, tables, logs, clock, path.resolve().parent, channels)


def read_tables(
    raw: Table,
    *,
    shared: Sequence[tuple[str, Table]] = (),
    logs: Sequence[tuple[str, Table]] = (),
    folder: Path | None = None,
    clock: Clock | None = None,
) -> ReadJob:
    """Return what the tables of a job say whose files somebody else keeps.

    Args:
        raw: The job's tables.
        shared: The company's tables, and those of its materials: `company`, `materials`.
        logs: Further logs, each with the name of its file.
        folder: Where the loggers' readings lie.
        clock: As of `read_job`.

    Returns:
        The job, its log, and the findings.
    """
    return _with_logs(raw, shared, logs, clock, folder, None)


def _with_logs(
    raw: Table,
    shared: Sequence[tuple[str, Table]],
    logs: Sequence[tuple[str, Table]],
    clock: Clock | None,
    folder: Path | None,
    channels: DecodedChannels | None,
) -> ReadJob:
    found = _read(raw, shared, [log for _, log in logs], clock, folder, channels)
    # A finding in a further log is said with the name of its file.
    files = [{"name": name, **log} for name, log in logs]
    return replace(found, raw={**found.raw, "further_log": files})


def read_draft(
    raw: Table, folder: Path, *, company: Path | None = None, clock: Clock | None = None
) -> ReadJob:
    """Return what the tables of a job say that no file holds yet.

    Args:
        raw: The tables.
        folder: Where the file will lie: the company's file is seen from there.
        company: The company's file; else the one the job names.
        clock: As of `read_job`.

    Returns:
        The job, its log, and the findings.

    Raises:
        SourceError: The company's file is missing, too large, no text, or no TOML.
    """
    return _read(raw, shared_tables(raw, company, folder), [], clock, folder)


def shared_tables(raw: Table, company: Path | None, folder: Path) -> list[tuple[str, Table]]:
    """Return the tables of the company's files: of the one given, else of the one a job names.

    Args:
        raw: The job's tables.
        company: The company's file.
        folder: Where a company's file that the job names is seen from.

    Returns:
        The company's tables, and those of its materials: `company`, `materials`.

    Raises:
        SourceError: A file is missing, too large, no text, or no TOML.
    """
    if company is None:
        named = raw.get("job", {}).get("company") if isinstance(raw.get("job"), dict) else None
        if isinstance(named, str) and named.strip() and "\0" not in named:
            company = folder / named.strip()
    tables: list[tuple[str, Table]] = []
    if company is not None:
        shared = load(company)
        tables.append(("company", shared))
        named = shared.get("materials")
        if isinstance(named, str) and named.strip() and "\0" not in named:
            tables.append(("materials", load(company.parent / named.strip())))
    return tables


def parse_job(data: bytes, *, origin: str = "job.toml", clock: Clock | None = None) -> ReadJob:
    """Return what the bytes of a job file say; no other file that it names is read.

    Args:
        data: The file's content.
        origin: What to call it in an error.
        clock: The instant "done in the future" is judged by, or what gives it for the site's
            zone; None judges nothing.

    Returns:
        The job, its log, and the findings.

    Raises:
        SourceError: It is too large, no text, or no TOML.
    """
    return _read(loads(data, origin), [], [], clock)


def _read(
    raw: Table,
    shared: Sequence[tuple[str, Table]],
    logs: Sequence[Table],
    clock: Clock | None,
    folder: Path | None = None,
    channels: DecodedChannels | None = None,
) -> ReadJob:
    reader = TableReader()
    raw = clean_table(reader, raw)
    read = read_table(reader, raw, "file", "")
    head = read_table(reader, table_in(read, "job"), "job", "job")
    reader.tz = head.get("timezone", UTC)
    reader.clock = clock(reader.tz) if callable(clock) else clock
    company = _company(reader, shared)
    work = work_in(reader, table_in(read, "work"), "work", company.work)
    people = people_in(reader, table_in(read, "people"), "people", company.people)
    materials = materials_in(reader, table_in(read, "material"), "material")
    sensors = sensors_in(reader, table_in(read, "sensor"), "sensor")
    stock = Stock({**company.materials, **materials}, {**company.sensors, **sensors})
    expected = expected_in(reader, table_in(read, "expected"))
    zones = zones_in(reader, read.get("zone", ()), stock)
    tables = [*_entries(read, "log"), *_further(reader, logs)]
    log = log_in(reader, tables, zones, folder, people=people, channels=channels)
    name = head.get("name", "")
    if "timezone" in head:
        check_holidays(reader, str(reader.tz), work.holidays)
        # A floor without a cable is not tested by an electrical code.
        if any(zone.heating.cables for zone in zones):
            check_code(reader, str(reader.tz), Code(head.get("code", Code.OTHER)))
    job = Job(
        id=_identity(reader, head, name),
        name=name,
        timezone=str(reader.tz),
        tz=reader.tz,
        expected=expected,
        zones=zones,
        units=Units(head.get("units", Units.METRIC)),
        language=head.get("language") or company.language,
        code=Code(head.get("code", Code.OTHER)),
        address=head.get("address"),
        work=work,
        people=people,
    )
    return ReadJob(None if reader.has_error else job, log, tuple(reader.findings), raw)


def _identity(reader: TableReader, head: Read, name: str) -> str:
    """Return the job's id; one made of its name where it has none, which is said."""
    own = head.get("id")
    if own is not None:
        return str(own)
    made = f"job-{digest(name, 12)}"
    if "id" not in head.raw:
        reader.find(Severity.WARNING, "job-id-missing", "job.id", {"example": f'id = "{made}"'})
    return made


def _company(reader: TableReader, shared: Sequence[tuple[str, Table]]) -> Company:
    """Return what the company's files give; its own materials come before those of a list."""
    company = Company()
    for kind, content in shared:
        # The job's own reading sets working hours later; these are the company's.
        read = read_table(reader, _within(reader, content, kind), kind, kind)
        sheets = materials_in(reader, table_in(read, "material"), read.at("material"))
        company = replace(company, materials={**sheets, **company.materials})
        if kind == "company":
            work = work_in(reader, table_in(read, "work"), read.at("work"), _NO_WORK)
            people = people_in(reader, table_in(read, "people"), read.at("people"))
            sensors = sensors_in(reader, table_in(read, "sensor"), read.at("sensor"))
            language = read.get("language") or DEFAULT_LANGUAGE
            company = replace(company, work=work, people=people, sensors=sensors, language=language)
    return company


def _within(reader: TableReader, content: Table, kind: str) -> Table:
    """Return another file's content cleaned, its findings under that file's name."""
    inner = TableReader()
    kept = clean_table(inner, content)
    for finding in inner.findings:
        reader.findings.append(replace(finding, path=f"{kind}.{finding.path}"))
    return kept


def _entries(read: Read, prefix: str) -> list[tuple[str, Table]]:
    return [(f"{prefix}.{i}", table) for i, table in enumerate(read.get("log", ()))]


def _further(reader: TableReader, logs: Sequence[Table]) -> list[tuple[str, Table]]:
    found = []
    for index, content in enumerate(logs):
        path = f"further_log.{index}"
        read = read_table(reader, _within(reader, content, path), "log file", path)
        found += _entries(read, read.at("log"))
    return found
