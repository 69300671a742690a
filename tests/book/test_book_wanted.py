"""Reminders to come, holds, signs of life: what is kept and given back."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from book_samples import JOB, NOW, later, message, put_job, wanted

from curecal.book.connection.open_book import Book, LeaseNow
from curecal.book.meta import (
    beat,
    beats,
    held_jobs,
    hold,
    hold_of,
    keep_value,
    release_hold,
    value_of,
)
from curecal.book.outbox.outbox import fire
from curecal.book.outbox.reminders import (
    jobs_due,
    put_wanted,
    wanted_of,
    withdraw,
)
from curecal.errors import BookError

if TYPE_CHECKING:
    from curecal.book.outbox.outbox_rows import Wanted


def put(book: Book, *reminders: Wanted) -> tuple[int, ...]:
    with book.writing() as connection:
        put_job(connection)
        return put_wanted(connection, reminders)


def test_a_reminder_comes_back_as_it_was_put(book: Book) -> None:
    put(book, wanted())
    with book.reading() as connection:
        (found,) = wanted_of(connection, JOB)
    assert found == wanted(id=found.id)
    assert found.payload["text"] == "größer als ∞"


def test_a_job_is_due_once_the_time_of_a_reminder_has_come(book: Book) -> None:
    put(book, wanted(generation=1, fire_at=later(hours=1)))
    with book.reading() as connection:
        assert jobs_due(connection, now=NOW) == frozenset()
        assert jobs_due(connection, now=later(hours=1)) == {JOB}


def test_nothing_is_due_of_a_job_on_hold(book: Book) -> None:
    put(book, wanted())
    with book.writing() as connection:
        hold(connection, "restored", now=NOW, job_id=JOB)
        assert jobs_due(connection, now=NOW) == frozenset()
        assert held_jobs(connection) == {JOB: "restored"}
        release_hold(connection, job_id=JOB)
        assert jobs_due(connection, now=NOW) == {JOB}


def test_what_is_withdrawn_can_be_wanted_again_in_other_words(book: Book) -> None:
    (number,) = put(book, wanted())
    with book.writing() as connection:
        assert withdraw(connection, [number]) == 1
        assert withdraw(connection, [number]) == 0
        assert jobs_due(connection, now=NOW) == frozenset()
        again = wanted(fire_at=later(hours=2), payload={"day": "2026-12-05"})
        assert put_wanted(connection, [again]) == (number,)
        assert wanted_of(connection, JOB) == (
            wanted(id=number, fire_at=later(hours=2), payload={"day": "2026-12-05"}),
        )


def test_what_is_fired_stays_fired(book: Book) -> None:
    (number,) = put(book, wanted())
    with book.writing() as connection:
        assert len(fire(connection, [message(1, reminder_id=number)])) == 1
        assert wanted_of(connection, JOB) == ()
        assert put_wanted(connection, [wanted(fire_at=later(hours=2))]) == (number,)
        assert withdraw(connection, [number]) == 0
        (found,) = wanted_of(connection, JOB, state=None)
    assert (found.state, found.fire_at) == ("fired", NOW)


def test_a_failure_between_leaves_reminder_and_outbox_as_they_were(book: Book) -> None:
    (number,) = put(book, wanted())

    def half() -> None:
        with book.writing() as connection:
            fire(connection, [message(1, reminder_id=number)])
            raise InterruptedError

    with pytest.raises(InterruptedError):
        half()
    with book.reading() as connection:
        assert len(wanted_of(connection, JOB)) == 1


def test_a_hold_keeps_its_first_reason_until_released(book: Book) -> None:
    with book.writing() as connection:
        assert hold_of(connection) is None
        hold(connection, "clock-jumped", now=NOW)
        hold(connection, "restored", now=later(hours=1))
    with book.reading() as connection:
        assert hold_of(connection) == {"reason": "clock-jumped", "since": NOW.isoformat()}
    with book.writing() as connection:
        release_hold(connection)
        assert hold_of(connection) is None


@pytest.mark.parametrize("doing", [hold, release_hold])
def test_a_hold_of_no_job_is_refused(book: Book, doing: object) -> None:
    asked = {"job_id": "nobody"} if doing is release_hold else {"job_id": "nobody", "now": NOW}
    words = () if doing is release_hold else ("restored",)
    with pytest.raises(BookError) as refused, book.writing() as connection:
        doing(connection, *words, **asked)  # type: ignore[operator]
    assert refused.value.code == "book-job-unknown"


def test_the_last_sign_of_life_is_kept(book: Book) -> None:
    with book.writing() as connection:
        beat(connection, "daemon", at=NOW, clock=LeaseNow("boot-1", 12.5), note={"pid": 7})
        beat(connection, "daemon", at=later(minutes=1), clock=LeaseNow("boot-1", 72.5), note={})
    with book.reading() as connection:
        (found,) = beats(connection)
    assert (found.name, found.at) == ("daemon", later(minutes=1))
    assert found.clock == LeaseNow("boot-1", 72.5)


def test_a_value_is_kept_by_its_name_and_forgotten(book: Book) -> None:
    with book.writing() as connection:
        keep_value(connection, "told", {"day": "2027-01-04"})
        keep_value(connection, "told", {"day": "2027-01-08"})
        assert value_of(connection, "told") == {"day": "2027-01-08"}
        keep_value(connection, "told", None)
        assert value_of(connection, "told") is None
