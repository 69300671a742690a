"""What a job is read from, as octets: its file, its company's files, its log, its readings.

The book keeps the octets. To be read again they are laid out in a folder as they once lay.
"""

from __future__ import annotations

import contextlib
import hashlib
import tempfile
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import field
from pathlib import Path, PurePosixPath
from typing import TypeVar

from curecal.book.jobs.job_file_export import whole_job
from curecal.book.jobs.paths_inside import is_inside, write_inside
from curecal.errors import BookError, ErrorCode, SourceError
from curecal.records import PlainTable, PlainView, Record, record
from curecal.site_log_files.entry_toml import block
from curecal.toml_files.toml_source import LARGEST_BYTES, loads

T = TypeVar("T")

JOB_FILE = "job.toml"
BARE_JOB_FILE = "job-without-its-log.toml"
"""A job file that must not be planned with alone, because its log did not go into it."""
LOG_FILE = "job-book.toml"
_COMPANY = Path("company", "company.toml")
# Years of a reading a minute: a file beyond it is not one logger's readings.
_LARGEST_READINGS_BYTES = 1 << 26


@record(kw_only=True)
class Sources(Record):
    """The octets a job is read from. `series` are its readings, by the name the log has."""

    job: bytes
    company: bytes | None = None
    materials: bytes | None = None
    series: Mapping[str, bytes] = field(default_factory=dict)


@record
class SourceTables(Record):
    """A job's tables, and those of its company's files: `company`, `materials`.

    `names_readings` says whether its log counts on files of readings, be they there or lost.
    """

    job: PlainTable
    shared: tuple[tuple[str, PlainTable], ...]
    names_readings: bool


@record
class Laid(Record):
    """Where the files lie: a job file, its company's, and the log that the book holds."""

    job: Path
    company: Path | None
    logs: tuple[Path, ...]


def sha256(data: bytes) -> str:
    """Return the name that content goes by.

    Args:
        data: The content.

    Returns:
        Its SHA-256 in hexadecimal.
    """
    return hashlib.sha256(data).hexdigest()


def gather(path: Path, *, company: Path | None = None) -> Sources:
    """Return the octets of a job file and of what it names, readings left out.

    Args:
        path: The job file.
        company: The company's file; else the one the job names, beside the job file.

    Returns:
        The octets.

    Raises:
        SourceError: a file cannot be read.
        BookError: the company names its materials by a place of this machine alone
            (`book-materials-absolute`).
    """
    data = _octets(path)
    if company is None:
        named = _named(loads(data, str(path)).get("job"), "company")
        company = path.parent / named if named else None
    if company is None:
        return Sources(job=data)
    shared = _octets(company)
    named = _named(loads(shared, str(company)), "materials")
    if named and not is_inside(named, climbing=True):
        raise BookError(ErrorCode.BOOK_MATERIALS_ABSOLUTE, path=str(company))
    materials = _octets(company.parent / named) if named else None
    return Sources(job=data, company=shared, materials=materials)


def readings_beside(path: Path, tables: Iterable[PlainView]) -> dict[str, bytes]:
    """Return the octets of the readings that a log names, of those that lie beside the job file.

    Args:
        path: The job file.
        tables: The log's entries.

    Returns:
        The octets by name.

    Raises:
        SourceError: a file cannot be read.
        BookError: readings lie elsewhere (`book-readings-elsewhere`), are too large, or are not
            those of the entry (`book-readings-changed`).
    """
    found: dict[str, bytes] = {}
    for table in tables:
        name = table.get("file")
        if table.get("kind") != "readings" or not isinstance(name, str):
            continue
        if not _is_below(name):
            raise BookError(ErrorCode.BOOK_READINGS_ELSEWHERE, file=name)
        if not (path.parent / name).is_file():
            continue
        data = found.get(name) or _octets(path.parent / name, limit=_LARGEST_READINGS_BYTES)
        if table.get("sha256") not in {None, sha256(data)}:
            raise BookError(ErrorCode.BOOK_READINGS_CHANGED, file=name)
        found[name] = data
    return found


@contextlib.contextmanager
def laid_out(sources: Sources, tables: Iterable[PlainView]) -> Iterator[Laid]:
    """Lay a job's files out in a folder of this machine for as long as they are looked at.

    Args:
        sources: The octets.
        tables: The log that the book holds.

    Yields:
        Where the files lie.

    Raises:
        SourceError: there is no room for them (`laid-out-unwritable`).
    """
    with _filled(lambda folder: lay_out(folder, sources, tables)) as laid:
        yield laid


@contextlib.contextmanager
def _filled(fill: Callable[[Path], T]) -> Iterator[T]:
    """Give what filling a new folder gives; the folder goes at the end."""
    with contextlib.ExitStack() as stack:
        try:
            made = tempfile.TemporaryDirectory(prefix="curecal-", ignore_cleanup_errors=True)
            filled = fill(Path(stack.enter_context(made)))
        except OSError as error:
            reason = error.strerror or type(error).__name__
            raise SourceError("laid-out-unwritable", reason=reason) from None
        yield filled


def _write_readings(folder: Path, series: Mapping[str, bytes]) -> Path:
    for name, data in series.items():
        write_inside(folder, name, data)
    return folder


def lay_out(folder: Path, sources: Sources, tables: Iterable[PlainView]) -> Laid:
    """Lay a job's files out in a folder, each where the others look for it, for its owner alone.

    Args:
        folder: An empty folder.
        sources: The octets.
        tables: The log that the book holds.

    Returns:
        Where the files lie.
    """
    tables = tuple(tables)
    refuse_outside(sources, tables)
    job = write_inside(folder, JOB_FILE, sources.job)
    return Laid(job, _lay_out_beside(folder, sources), tuple(_write_log(folder, tables)))


def lay_out_whole(folder: Path, sources: Sources, tables: Iterable[PlainView]) -> Laid:
    """Lay a job's files out so that the job file can be read alone: with its log and company.

    Args:
        folder: An empty folder.
        sources: The octets.
        tables: The log that the book holds.

    Returns:
        Where the files lie. Where the log does not go into the job file, it stands beside it, and
        the job file's name says so.
    """
    tables = tuple(tables)
    refuse_outside(sources, tables)
    company = _lay_out_beside(folder, sources)
    named = None if company is None else company.relative_to(folder).as_posix()
    made = whole_job(sources.job, tables, company=named)
    if made is not None:
        return Laid(write_inside(folder, JOB_FILE, made), company, ())
    job = write_inside(folder, BARE_JOB_FILE, sources.job)
    return Laid(job, company, tuple(_write_log(folder, tables)))


def refuse_outside(sources: Sources, tables: Iterable[PlainView]) -> None:
    """Refuse what names a file outside the folder it is laid out in, before any is written.

    Args:
        sources: The octets.
        tables: The log that the book holds.

    Raises:
        BookError: readings lie elsewhere (`book-readings-elsewhere`), or the company's file or the
            materials do (`book-path-outside`).
    """
    parse_sources(sources, tables, with_company=False)


def parse_sources(
    sources: Sources, tables: Iterable[PlainView], *, with_company: bool = True
) -> SourceTables:
    """Return what a job is read from as tables; refuse what names a file outside of them.

    Args:
        sources: The octets.
        tables: The log that the book holds.
        with_company: Whether it is read with its own company's files.

    Returns:
        The tables.

    Raises:
        SourceError: They are no TOML, or materials that are named did not come with the company.
        BookError: readings lie elsewhere (`book-readings-elsewhere`), or the company's file or the
            materials do (`book-path-outside`).
    """
    _refuse_elsewhere(sources.series)
    job = loads(sources.job, JOB_FILE)
    shared: list[tuple[str, PlainTable]] = []
    if sources.company is not None:
        company = loads(sources.company, str(_COMPANY))
        shared.append(("company", company))
        named = _named(company, "materials")
        if named and not is_inside(named, climbing=True):
            raise BookError(ErrorCode.BOOK_PATH_OUTSIDE, file=named)
        if named and sources.materials is not None:
            shared.append(("materials", loads(sources.materials, named)))
        elif named and with_company:
            raise SourceError("file-missing", path=named)
    elif named := _named(job.get("job"), "company"):
        # What did not come with the job would be looked for wherever its name leads.
        raise BookError(ErrorCode.BOOK_PATH_OUTSIDE, file=named)
    own = job.get("log")
    named_readings = _readings_named((*tables, *(own if isinstance(own, list) else ())))
    _refuse_elsewhere(named_readings)
    return SourceTables(job, tuple(shared), bool(sources.series or named_readings))


def _refuse_elsewhere(names: Iterable[str]) -> None:
    for name in names:
        if not _is_below(name):
            raise BookError(ErrorCode.BOOK_READINGS_ELSEWHERE, file=name)


def _readings_named(tables: Iterable[PlainView]) -> list[str]:
    found = ((table, _named(table, "file")) for table in tables)
    return [named for table, named in found if named and table.get("kind") == "readings"]


@contextlib.contextmanager
def readings_laid_out(series: Mapping[str, bytes]) -> Iterator[Path]:
    """Lay loggers' readings out in a folder of this machine for as long as they are looked at.

    Args:
        series: The octets of each, by the name that the log has.

    Yields:
        The folder.

    Raises:
        SourceError: there is no room for them (`laid-out-unwritable`).
    """
    with _filled(lambda folder: _write_readings(folder, series)) as folder:
        yield folder


def materials_named(company: bytes) -> str:
    """Return where a company's file says its materials are.

    Args:
        company: The file's octets.

    Returns:
        The name; empty where it names none.
    """
    return _named(loads(company, str(_COMPANY)), "materials")


def _lay_out_beside(folder: Path, sources: Sources) -> Path | None:
    """Lay out a job's company and readings; give the company's file."""
    company = None
    if sources.company is not None:
        named = materials_named(sources.company)
        # As deep as the name climbs, so that whatever it names lies inside the folder.
        below = ["below"] * PurePosixPath(named).parts.count("..")
        parent = PurePosixPath(_COMPANY.parent.name, *below)
        company = write_inside(folder, f"{parent}/{_COMPANY.name}", sources.company)
        if named and sources.materials is not None:
            write_inside(folder, f"{parent}/{named}", sources.materials)
    _write_readings(folder, sources.series)
    return company


def _write_log(folder: Path, tables: Iterable[PlainView]) -> Iterator[Path]:
    """Write a log into as many files as it takes: one that is too large would not be read."""
    data = b""
    number = 1
    for table in tables:
        entry = block(table, "\n").encode()
        if data and len(data) + len(entry) >= LARGEST_BYTES:
            yield write_inside(folder, _log_name(number), data)
            data, number = b"", number + 1
        data += b"\n" + entry if data else entry
    if data:
        yield write_inside(folder, _log_name(number), data)


def _log_name(number: int) -> str:
    path = Path(LOG_FILE)
    return LOG_FILE if number == 1 else f"{path.stem}-{number}{path.suffix}"


def _octets(path: Path, *, limit: int | None = None) -> bytes:
    try:
        with path.open("rb") as file:
            data = file.read(-1 if limit is None else limit + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or type(error).__name__
        raise SourceError("file-unreadable", path=str(path), reason=reason) from None
    if limit is not None and len(data) > limit:
        raise BookError(ErrorCode.BOOK_READINGS_LARGE, file=str(path))
    return data


def _named(table: object, key: str) -> str:
    named = table.get(key) if isinstance(table, dict) else None
    return named.strip() if isinstance(named, str) and "\0" not in named else ""


def _is_below(name: str) -> bool:
    """Return whether readings of a name lie beside the job file, in no place of our own files."""
    first = name.split("/", maxsplit=1)[0]
    ours = first in {JOB_FILE, BARE_JOB_FILE, _COMPANY.parts[0]} or first.startswith(
        Path(LOG_FILE).stem
    )
    return is_inside(name) and not ours
