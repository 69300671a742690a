"""Answers kept in the book: used while all they rest on stands, and made anew when it moved."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

import pytest
from job_samples import AIR_LATER, AS_OF, JOB_FILE, JOB_ID, folder_of
from sqlalchemy import insert, select, update

from curecal.book.jobs.import_job import add_job
from curecal.book.jobs.jobs import read_in
from curecal.book.jobs.kept_answers import keep_answers, kept_answers
from curecal.book.schema.tables import answer, content, job
from curecal.job_files import load_rules, parse_job
from curecal.overview import kept_answers as overview
from curecal.overview.kept_answers import Answered, answers_of, planned_answer

if TYPE_CHECKING:
    from pathlib import Path

    from curecal.book.connection.open_book import Book


@pytest.fixture
def filled(book: Book, tmp_path: Path) -> Book:
    add_job(book, folder_of(tmp_path), now=AS_OF)
    return book


def only(book: Book, **how: object) -> Answered:
    (found,) = answers_of(book, **{"now": AS_OF, **how})  # type: ignore[arg-type]
    return found


def test_an_answer_is_planned_once_and_then_kept(filled: Book) -> None:
    first = only(filled, with_days=True)
    assert not first.is_kept
    again = only(filled, with_days=True)
    assert again.is_kept
    assert (again.answer, again.days) == (first.answer, first.days)
    assert first.answer.answer.startswith("No: ")
    with filled.reading() as connection:
        read = read_in(connection, JOB_ID)
    made, days, until = planned_answer(read, AS_OF, load_rules())
    assert (first.answer, first.days) == (made, days)
    assert only(filled, now=until - timedelta(seconds=1)).is_kept
    assert not only(filled, now=until).is_kept
    # The newer one has taken its place: it says nothing of what was before.
    assert not only(filled, keeping=False).is_kept


def test_without_days_none_are_read(filled: Book) -> None:
    assert only(filled, with_days=True).days
    assert only(filled).days == ()


def test_a_new_fact_is_planned(filled: Book, tmp_path: Path) -> None:
    only(filled)
    path = folder_of(tmp_path / "again")
    path.write_text(path.read_text(encoding="utf-8") + AIR_LATER, encoding="utf-8")
    add_job(filled, path, now=AS_OF)
    assert not only(filled).is_kept
    assert only(filled).is_kept


def test_another_program_or_other_rules_keep_nothing(
    filled: Book, monkeypatch: pytest.MonkeyPatch
) -> None:
    only(filled)
    monkeypatch.setattr(overview, "basis_of_answers", lambda: "other")
    assert not only(filled).is_kept


def test_what_rests_on_the_program_names_its_version() -> None:
    assert overview.basis_of_answers().startswith(f"{overview.__version__}/")


def test_another_instant_is_asked_of_the_log_and_not_kept(filled: Book) -> None:
    only(filled)
    assert not only(filled, now=AS_OF + timedelta(days=9), keeping=False).is_kept
    assert only(filled).is_kept


def test_a_kept_answer_that_somebody_wrote_into_is_made_anew(filled: Book) -> None:
    first = only(filled)
    with filled.writing() as connection:
        connection.execute(update(answer).values(answer={"state": "clear"}))
    again = only(filled)
    assert not again.is_kept
    assert again.answer == first.answer


def test_a_job_that_cannot_be_read_says_so_and_hides_no_other(filled: Book) -> None:
    with filled.writing() as connection:
        connection.execute(insert(job).values(id="bare", name="Bare", timezone="UTC"))
    bare, whole = sorted(answers_of(filled, now=AS_OF), key=lambda one: one.job_id != "bare")
    assert bare.answer.has_problem
    assert [risk.code for risk in bare.answer.risks] == ["not-planned"]
    assert bare.answer.answer == "No: this job cannot be read from the book."
    assert whole.answer.risks is not None
    assert not any(one.is_kept for one in answers_of(filled, now=AS_OF) if one.job_id == "bare")


def test_a_job_with_mistakes_names_the_first() -> None:
    refused = parse_job(JOB_FILE.replace('air = "20 °C"', 'air = "20"').encode())
    made, days, until = planned_answer(refused, AS_OF, load_rules())
    assert (made.has_problem, days, until) == (True, (), AS_OF)
    assert made.answer.startswith("The job file has ")
    assert made.risks[0].why


def test_a_book_that_cannot_be_written_is_answered_all_the_same(
    filled: Book, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(filled, "looks", True)
    first = only(filled)
    assert first.answer.answer.startswith("No: ")
    assert not only(filled).is_kept
    assert not only(filled).is_kept


def test_progress_counts_what_is_planned(filled: Book) -> None:
    seen: list[tuple[int, int]] = []
    only(filled, progress=lambda done, count: seen.append((done, count)))
    only(filled, progress=lambda done, count: seen.append((done, count)))
    assert seen == [(1, 1)]


def test_nothing_to_keep_changes_nothing(filled: Book) -> None:
    with filled.writing() as connection:
        keep_answers(connection, [])
    with filled.reading() as connection:
        assert connection.execute(select(answer.c.job_id)).all() == []
        (row,) = kept_answers(connection, with_days=True)
        assert connection.execute(select(content.c.sha256)).all()
    assert (row.job_id, row.kept_of, row.since, row.days) == (JOB_ID, None, None, None)


def test_an_answer_is_kept_in_each_language_that_asked(filled: Book) -> None:
    english = only(filled)
    german = only(filled, language="de")
    assert not german.is_kept
    assert german.answer.answer.startswith("Nein")
    # Whoever asked before is still answered from what is kept.
    assert only(filled).is_kept
    assert only(filled).answer == english.answer
    assert only(filled, language="de").is_kept
    assert (german.answer.start_on, german.answer.owner_on) == (
        english.answer.start_on,
        english.answer.owner_on,
    )


def test_what_was_decoded_is_not_read_again(filled: Book) -> None:
    memory: overview.Memory = {}
    first = only(filled, with_days=True, memory=memory)
    second = only(filled, with_days=True, memory=memory)
    assert second.is_kept
    assert (second.answer, second.days) == (first.answer, first.days)
    # From memory: the very same object.
    assert only(filled, with_days=True, memory=memory) is second
    with filled.writing() as connection:
        connection.execute(update(answer).values(made_of="another"))
    assert not only(filled, with_days=True, memory=memory).is_kept


def test_memory_forgets_with_a_new_fact(filled: Book, tmp_path: Path) -> None:
    memory: overview.Memory = {}
    for _ in range(2):
        only(filled, with_days=True, memory=memory)
    path = folder_of(tmp_path / "again")
    path.write_text(path.read_text(encoding="utf-8") + AIR_LATER, encoding="utf-8")
    add_job(filled, path, now=AS_OF)
    assert not only(filled, with_days=True, memory=memory).is_kept


def test_whoever_cannot_wait_gets_what_is_there(filled: Book) -> None:
    assert answers_of(filled, now=AS_OF, may_go_on=lambda: False) == ()
    only(filled)
    (kept,) = answers_of(filled, now=AS_OF, may_go_on=lambda: False)
    assert kept.is_kept


def test_a_damaged_book_says_so_without_english_in_german(filled: Book) -> None:
    with filled.writing() as connection:
        connection.execute(insert(job).values(id="bare", name="Bare", timezone="UTC"))
    bare = next(one for one in answers_of(filled, now=AS_OF, language="de") if one.job_id == "bare")
    assert bare.answer.answer.startswith("Nein: Dieser Auftrag lässt sich nicht")
    assert [risk.why for risk in bare.answer.risks] == [
        "Wer das Auftragsbuch betreut, muss nachsehen."
    ]
