"""What a job is read from, as octets: its file, its company's files, its log, its readings.

The book keeps the octets. To be read again they are laid out in a folder as they once lay.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import tempfile
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path, PurePath
from typing import Any

from curecal.book.jobs.job_file_export import whole_job
from curecal.errors import BookError, SourceError
from curecal.records import Record
from curecal.site_log_files.entry_toml import block
from curecal.toml_files.toml_source import LARGEST_BYTES, loads

JOB_FILE = "job.toml"
BARE_JOB_FILE = "job-without-its-log.toml"
"""A job file that must not be planned with alone, because its log did not go into it."""
LOG_FILE = "job-book.toml"
_COMPANY = Path("company", "company.toml")
_LARGEST_READINGS_BYTES = 1 << 26


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Sources(Record):
    """The octets a job is read from. `series` are its readings, by the name the log has."""

    job: bytes
    company: bytes | None = None
    materials: bytes | None = None
    series: Mapping[str, bytes] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, eq=False, repr=False)
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
    if named and PurePath(named).is_absolute():
        raise BookError("book-materials-absolute", path=str(company))
    materials = _octets(company.parent / named) if named else None
    return Sources(job=data, company=shared, materials=materials)


def readings_beside(path: Path, tables: Iterable[Mapping[str, Any]]) -> dict[str, bytes]:
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
            raise BookError("book-readings-elsewhere", file=name)
        if not (path.parent / name).is_file():
            continue
        data = found.get(name) or _octets(path.parent / name, limit=_LARGEST_READINGS_BYTES)
        if table.get("sha256") not in {None, sha256(data)}:
            raise BookError("book-readings-changed", file=name)
        found[name] = data
    return found


@contextlib.contextmanager
def laid_out(sources: Sources, tables: Iterable[Mapping[str, Any]]) -> Iterator[Laid]:
    """Lay a job's files out in a folder of this machine for as long as they are looked at.

    Args:
        sources: The octets.
        tables: The log that the book holds.

    Yields:
        Where the files lie.

    Raises:
        SourceError: there is no room for them (`laid-out-unwritable`).
    """
    with contextlib.ExitStack() as stack:
        try:
            made = tempfile.TemporaryDirectory(prefix="curecal-", ignore_cleanup_errors=True)
            laid = lay_out(Path(stack.enter_context(made)), sources, tables)
        except OSError as error:
            reason = error.strerror or type(error).__name__
            raise SourceError("laid-out-unwritable", reason=reason) from None
        yield laid


def lay_out(folder: Path, sources: Sources, tables: Iterable[Mapping[str, Any]]) -> Laid:
    """Lay a job's files out in a folder, each where the others look for it, for its owner alone.

    Args:
        folder: An empty folder.
        sources: The octets.
        tables: The log that the book holds.

    Returns:
        Where the files lie.
    """
    job = write_own(folder / JOB_FILE, sources.job)
    return Laid(job, _lay_out_beside(folder, sources), tuple(_write_log(folder, tables)))


def lay_out_whole(folder: Path, sources: Sources, tables: Iterable[Mapping[str, Any]]) -> Laid:
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
    company = _lay_out_beside(folder, sources)
    named = None if company is None else company.relative_to(folder).as_posix()
    made = whole_job(sources.job, tables, company=named)
    if made is not None:
        return Laid(write_own(folder / JOB_FILE, made), company, ())
    job = write_own(folder / BARE_JOB_FILE, sources.job)
    return Laid(job, company, tuple(_write_log(folder, tables)))


def _lay_out_beside(folder: Path, sources: Sources) -> Path | None:
    """Lay out a job's company and readings; give the company's file."""
    company = None
    if sources.company is not None:
        named = _named(loads(sources.company, str(_COMPANY)), "materials")
        # As deep as the name climbs, so that whatever it names lies inside the folder.
        climbs = PurePath(named).parts.count("..")
        place = folder / _COMPANY.parent / Path(*["below"] * climbs) / _COMPANY.name
        company = write_own(place, sources.company)
        if named and sources.materials is not None:
            # Its name as it stands: also the folders have to be there that it leaves again.
            write_own(company.parent / named, sources.materials)
    for name, data in sources.series.items():
        if not _is_below(name):
            raise BookError("book-readings-elsewhere", file=name)
        write_own(folder / name, data)
    return company


def _write_log(folder: Path, tables: Iterable[Mapping[str, Any]]) -> Iterator[Path]:
    """Write a log into as many files as it takes: one that is too large would not be read."""
    data = b""
    number = 1
    for table in tables:
        entry = block(table, "\n").encode()
        if data and len(data) + len(entry) >= LARGEST_BYTES:
            yield write_own(_log_path(folder, number), data)
            data, number = b"", number + 1
        data += b"\n" + entry if data else entry
    if data:
        yield write_own(_log_path(folder, number), data)


def _log_path(folder: Path, number: int) -> Path:
    path = folder / LOG_FILE
    return path if number == 1 else path.with_stem(f"{path.stem}-{number}")


def write_own(path: Path, data: bytes) -> Path:
    """Write a file, and the folders it needs, for its owner alone: it may hold telephones.

    Args:
        path: The file.
        data: Its octets.

    Returns:
        The file.
    """
    _make_folder(path.parent)
    with os.fdopen(os.open(path, os.O_CREAT | os.O_TRUNC | os.O_WRONLY, 0o600), "wb") as file:
        file.write(data)
    return path


def _make_folder(path: Path) -> None:
    # Those between are made as well, and `parents` would give them to everybody.
    if not path.exists():
        _make_folder(path.parent)
        path.mkdir(0o700, exist_ok=True)


def _octets(path: Path, *, limit: int | None = None) -> bytes:
    try:
        with path.open("rb") as file:
            data = file.read(-1 if limit is None else limit + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or type(error).__name__
        raise SourceError("file-unreadable", path=str(path), reason=reason) from None
    if limit is not None and len(data) > limit:
        raise BookError("book-readings-large", file=str(path))
    return data


def _named(table: object, key: str) -> str:
    named = table.get(key) if isinstance(table, dict) else None
    return named.strip() if isinstance(named, str) and "\0" not in named else ""


def _is_below(name: str) -> bool:
    """Whether a name stays inside the folder it is looked for in, here and on other systems."""
    plain = name.replace("\\", "/")
    parts = plain.split("/")
    inside = bool(plain) and not plain.startswith("/") and ":" not in parts[0]
    ours = parts[0] in {JOB_FILE, BARE_JOB_FILE, _COMPANY.parts[0]} or parts[0].startswith(
        Path(LOG_FILE).stem
    )
    return inside and ".." not in parts and "\0" not in name and not ours
