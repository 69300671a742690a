"""Calendars into a folder: all of them or none, and never over somebody else's file."""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from curecal.errors import SourceError

if TYPE_CHECKING:
    from curecal.planning.plan import Plan
    from curecal.planning.workdays import DayOff
    from curecal.trade.log import Entry
    from curecal.trade.rules import Rules


def write_directory(
    plan: Plan,
    directory: Path,
    *,
    rules: Rules,
    replace: bool = False,
    day_off: DayOff | None = None,
    log: Iterable[Entry] = (),
) -> list[Path]:
    """Write the calendars of a plan into a folder.

    Args:
        plan: The plan.
        directory: The folder; it is made where it is missing.
        rules: The rules, whose titles people read.
        replace: Whether calendars of this job that are already there are written over.
        day_off: Knows weekends and holidays; else the job's own, with its public holidays.
        log: The log the plan was made from, for the readings the electrician is shown.

    Returns:
        The files, in order of their names.

    Raises:
        SourceError: a calendar is there already (`calendar-exists`), a file of that name is not
            this job's (`calendar-not-ours`), or the folder cannot be written
            (`calendar-unwritable`). Nothing is changed then, but for a disk that fails between
            two renames.
    """
    from curecal.calendars import build

    if day_off is None:
        from curecal.files.days_off import day_off_for

        day_off = day_off_for(plan.job)
    files = {
        directory / name: data
        for name, data in sorted(build(plan, rules=rules, day_off=day_off, log=log).items())
    }
    with _unwritable(directory):
        _refuse_present(files, plan.job.id, replace=replace)
        directory.mkdir(parents=True, exist_ok=True)
        _write_all(files)
    return list(files)


@contextlib.contextmanager
def _unwritable(directory: Path) -> Iterator[None]:
    """Turn what the system says into our own refusal."""
    try:
        yield
    except OSError as error:
        reason = error.strerror or str(error)
        raise SourceError("calendar-unwritable", path=str(directory), reason=reason) from None


def _refuse_present(files: Mapping[Path, bytes], job_id: str, *, replace: bool) -> None:
    """Look at every name before a byte is written."""
    from curecal.calendars import job_of

    places: set[Path] = set()
    for path in files:
        # A link to nowhere counts as a file: writing would put one in its place.
        if not os.path.lexists(path):
            continue
        if not replace:
            raise SourceError("calendar-exists", path=str(path))
        if not path.is_file() or job_of(path.read_bytes()) != job_id:
            raise SourceError("calendar-not-ours", path=str(path))
        # Two links to one file: one person's calendar would stand in another's place.
        if path.resolve() in places:
            raise SourceError("calendar-not-ours", path=str(path))
        places.add(path.resolve())


def _write_all(files: Mapping[Path, bytes]) -> None:
    """Write every file beside its place and put it on the disk, then rename them all."""
    ready: dict[Path, Path] = {}
    # A link stays one: who put it there reads the file that it leads to.
    places = {path.resolve(): data for path, data in files.items()}
    try:
        for path, data in places.items():
            number, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
            ready[path] = Path(name)
            with os.fdopen(number, "wb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            # A temporary file is its owner's alone; a calendar is read by other programs.
            ready[path].chmod(0o644)
        for path, made in ready.items():
            made.replace(path)
    finally:
        for made in ready.values():
            made.unlink(missing_ok=True)
    for folder in {path.parent for path in places}:
        _sync_folder(folder)


def _sync_folder(folder: Path) -> None:
    """Put the renames on the disk, where the system lets a folder be opened."""
    with contextlib.suppress(OSError):
        number = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(number)
        finally:
            os.close(number)
