"""The file of a new job: its id and name, written whole, and never over another file."""

from __future__ import annotations

import errno
import os
from pathlib import Path
from typing import TYPE_CHECKING

from curecal.errors import BookError, SourceError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from curecal.records import PlainView


def refuse_place(path: Path | None) -> None:
    """Raise where no new file can be written, before anybody answers a question.

    Args:
        path: The file; None for one that is named later, in the folder that one stands in.

    Raises:
        SourceError: There is a file of that name, no such folder, or none to write to.
    """
    if path is not None and os.path.lexists(path):
        raise SourceError("job-file-exists", path=str(path))
    folder = Path() if path is None else path.parent
    if not folder.is_dir():
        raise SourceError("new-folder-missing", path=str(folder))
    if not os.access(folder, os.W_OK):
        reason = os.strerror(errno.EACCES)
        raise SourceError("file-not-written", path=str(path or folder), reason=reason)


def fresh_job_id(name: str, folder: Path) -> str:
    """Return an id made of a job's name that no job has, in the folder or in the user's book."""
    from curecal.job_files.job_keys import fresh_id, slug

    return fresh_id(slug(name, "job"), taken_ids(folder))


def taken_ids(folder: Path) -> set[str]:
    """Return the ids of the jobs in a folder and in the user's book."""
    return {*_ids_in_folder(folder), *_ids_in_book()}


def fresh_path(job_id: str, folder: Path, suffix: str = ".toml") -> Path:
    """Return a path of the job's id that is no file yet."""
    from curecal.job_files.job_keys import fresh_id

    taken = {path.stem for path in folder.glob(f"*{suffix}")}
    return folder / f"{fresh_id(job_id, taken)}{suffix}"


def _ids_in_folder(folder: Path) -> Iterator[str]:
    from curecal.toml_files.toml_source import load

    for path in folder.glob("*.toml"):
        try:
            head = load(path).get("job")
        except SourceError:
            continue
        if isinstance(head, dict) and isinstance(head.get("id"), str):
            yield head["id"]


def _ids_in_book() -> list[str]:
    from curecal.cli.shared.job_source import is_book_there

    if not is_book_there(None):
        return []
    from curecal.book.connection.open_book import book_url, open_book
    from curecal.book.jobs.jobs import list_jobs

    try:
        url = book_url(None, os.environ)
        with open_book(url, create=False) as book, book.reading() as connection:
            return [found.job_id for found in list_jobs(connection)]
    except BookError:
        # A book that cannot be read now refuses a second job of the same id when it is added.
        return []


def write_job(path: Path, job: PlainView) -> None:
    """Write a job into a file that is not there yet.

    Raises:
        SourceError: There is one meanwhile, or it cannot be written.
    """
    from curecal.job_files.new_job.job_text import job_text

    text = job_text(job)
    try:
        with path.open("x", encoding="utf-8", newline="\n") as file:
            file.write(text)
    except FileExistsError:
        raise SourceError("job-file-exists", path=str(path)) from None
    except OSError as error:
        raise SourceError(
            "file-not-written", path=str(path), reason=error.strerror or type(error).__name__
        ) from None


def seen_from(path: Path, folder: Path) -> str:
    """Return a path as a file in a folder names it."""
    try:
        return Path(os.path.relpath(path.resolve(), folder.resolve())).as_posix()
    except ValueError:  # on another drive there is no way from here to there
        return str(path.resolve())
