"""Everything that a file leaves open, found in one go: one answer is assumed to find the next."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC
from pathlib import Path

from curecal.errors import SourceError
from curecal.readings.export.read_export import read_export
from curecal.readings.table.export_types import (
    Answers,
    AskedFor,
    LoggerExport,
    Order,
    QuestionError,
    UnderstoodBy,
)


def open_questions(
    path: Path, answers: Answers, first: QuestionError
) -> tuple[list[QuestionError], LoggerExport | None]:
    """Return what else a file leaves open beside a first question, each kind of answer once.

    Nothing but the names of its devices may be used of the export: it was read by answers that
    nobody gave. There is none where no answer can be assumed.
    """
    found = [first]
    while True:
        for assumed in _assumed(answers, found[-1]):
            try:
                return found, read_export(path, assumed)
            except QuestionError as error:
                if error.asks not in {question.asks for question in found}:
                    found.append(error)
                    answers = assumed
                    break
            except SourceError:
                continue
        else:
            return found, None


def _assumed(answers: Answers, question: QuestionError) -> Iterator[Answers]:
    """Return answers under which a file may be read far enough to find what else is open."""
    if question.asks == AskedFor.UNIT:
        yield from (replace(answers, unit=unit) for unit in "CF")
    elif question.asks == AskedFor.ORDER:
        yield from (replace(answers, order=order) for order in Order)
    elif question.asks == AskedFor.TIMEZONE:
        yield replace(answers, zone=UTC, zone_from=UnderstoodBy.OPTION)
