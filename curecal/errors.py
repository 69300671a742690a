"""What stops an operation.

    CurecalError                 70  something inside is wrong
    ├── UsageError                2  the command line asks for what does not exist
    ├── SourceError               3  a file or a setting cannot be used
    │   └── StoreMoved                somebody else wrote what was about to be written
    ├── JobRefused                1  the job file is not understood; carries its findings
    ├── NoDate                    4  `--require date`, and there is none
    ├── NotClear                  5  `--require clear`, and it is not
    ├── BookError                 6  the job book cannot be used, or has not what is asked for
    ├── DeliveryError             7  what should reach people did not
    └── ValueRefused             70  a value is not what its place needs; the reader of the
        ├── QuantityRefused          file turns it into a finding at the value's place
        ├── InstantRefused
        └── OutsideValidity          an equation was asked outside the range it holds for

What the site says (frost, a failed reading, a wait that has not run out) is never an error:
it is a finding inside the result. Every error carries a *code* and *parameters*; the
sentence is made of them by `curecal.words`, in the reader's language.
"""

from __future__ import annotations

from enum import StrEnum
from typing import ClassVar


class ErrorCode(StrEnum):
    """Codes of errors that something asks for; all others are only said."""

    BOOK_BUSY = "book-busy"
    BOOK_CANNOT_OPEN = "book-cannot-open"
    BOOK_CONTENT_DAMAGED = "book-content-damaged"
    BOOK_DAMAGED = "book-damaged"
    BOOK_DATABASE = "book-database"
    BOOK_DISK = "book-disk"
    BOOK_ENTRY_CONTRADICTS = "book-entry-contradicts"
    BOOK_JOB_ID = "book-job-id"
    BOOK_JOB_TWICE = "book-job-twice"
    BOOK_JOB_UNKNOWN = "book-job-unknown"
    BOOK_JOB_WITHOUT_ID = "book-job-without-id"
    BOOK_MATERIALS_ABSOLUTE = "book-materials-absolute"
    BOOK_PATH_OUTSIDE = "book-path-outside"
    BOOK_READ_ONLY = "book-read-only"
    BOOK_READINGS_CHANGED = "book-readings-changed"
    BOOK_READINGS_ELSEWHERE = "book-readings-elsewhere"
    BOOK_READINGS_LARGE = "book-readings-large"
    BOOK_READINGS_MISSING = "book-readings-missing"
    BOOK_REPLACED = "book-replaced"
    BOOK_ROW_DAMAGED = "book-row-damaged"
    CALENDAR_JOB_CHANGED = "calendar-job-changed"
    CALENDAR_MOVED_ON_SERVER = "dav-moved"
    INSTANT_FOLD = "instant-fold"
    INSTANT_UNCLEAR = "instant-unclear"
    INSTANT_UNREADABLE = "instant-unreadable"
    TIMEZONE_UNKNOWN = "timezone-unknown"


class CurecalError(Exception):
    """An operation cannot go on; `code` and `params` say why, `exit_code` how the command ends."""

    exit_code: ClassVar[int] = 70

    def __init__(self, code: str, **params: object) -> None:
        self.code = code
        self.params = params
        super().__init__(code, params)

    def __reduce__(self) -> tuple[object, ...]:
        """Return what another process makes the same error of."""
        return _error_again, (type(self), self.code, self.params)

    def __str__(self) -> str:
        """The code and its parameters: for a developer; people read `curecal.words`."""
        inside = ", ".join(f"{key}={value!r}" for key, value in self.params.items())
        return f"{self.code}({inside})"


def _error_again(kind: type[CurecalError], code: str, params: dict[str, object]) -> CurecalError:
    return kind(code, **params)


class UsageError(CurecalError):
    """The command line asks for something that does not exist."""

    exit_code: ClassVar[int] = 2


class SourceError(CurecalError):
    """A file or a setting cannot be read, written or used."""

    exit_code: ClassVar[int] = 3


class StoreMoved(SourceError):
    """What a writer built on was changed by somebody else; nothing was written, try again."""


class JobRefused(CurecalError):
    """The job file is not understood; `params["findings"]` names every place."""

    exit_code: ClassVar[int] = 1


class NoDate(CurecalError):
    """`--require date` was asked, and a zone has none."""

    exit_code: ClassVar[int] = 4


class NotClear(CurecalError):
    """`--require clear` was asked, and a zone is not."""

    exit_code: ClassVar[int] = 5


class BookError(CurecalError):
    """The job book cannot be opened, read or written, or holds no such job."""

    exit_code: ClassVar[int] = 6


class DeliveryError(CurecalError):
    """A message or a calendar did not reach where it was sent, or not all of it."""

    exit_code: ClassVar[int] = 7


class OutputLost(CurecalError):
    """What was done, or found, could not be shown: whoever asks again may do it twice."""

    exit_code: ClassVar[int] = 8


class ValueRefused(CurecalError):
    """A value is not what its place needs."""


class QuantityRefused(ValueRefused):
    """A quantity in words cannot be read: no unit, another dimension, no finite number."""


class InstantRefused(ValueRefused):
    """An instant cannot be used: naive, or a local time that the clock skipped or ran twice."""


class OutsideValidity(ValueRefused):
    """An equation was asked for a value outside the range it holds for."""
