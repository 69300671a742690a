"""Reminders to come, holds, signs of life: what is kept and given back."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from book_samples import JOB, NOW, later, message, put_job, wanted

from curecal.book.connection.open_book import Book, LeaseNow
from curecal.book.message_states import ReminderState
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
    generations_of,
    jobs_due,
    put_off,
    put_one,
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
        return tuple(put_one(connection, wish) for wish in reminders)


def test_a_reminder_comes_back_as_it_was_put(book: Book) -> None:
    put(book, wanted())
    with book.reading() as connection:
        (found,) = wanted_of(connection, JOB)
    assert found == wanted(id=found.id)
    assert found.payload["text"] == "größer als ∞"


def test_a_job_is_due_once_the_time_of_a_reminder_has_come(book: Book) -> None:
    put(book, wanted(generation=1, fire_at=later(hours=1)))
    with book.reading() as connection:
        assert jobs_due(connection, now=NOW) == ()
        assert jobs_due(connection, now=later(hours=1)) == (JOB,)


def test_nothing_is_due_of_a_job_on_hold(book: Book) -> None:
    put(book, wanted())
    with book.writing() as connection:
        hold(connection, "restored", now=NOW, job_id=JOB)
        assert jobs_due(connection, now=NOW) == ()
        assert held_jobs(connection) == {JOB: "restored"}
        release_hold(connection, job_id=JOB)
        assert jobs_due(connection, now=NOW) == (JOB,)


def test_what_is_withdrawn_is_wanted_no_more(book: Book) -> None:
    (number,) = put(book, wanted())
    with book.writing() as connection:
        assert withdraw(connection, [number]) == 1
        assert withdraw(connection, [number]) == 0
        assert withdraw(connection, []) == 0
        assert jobs_due(connection, now=NOW) == ()
        assert wanted_of(connection, JOB) == ()


def test_many_are_put_at_once_and_counted(book: Book) -> None:
    put(book)
    with book.writing() as connection:
        assert put_wanted(connection, []) == 0
        assert put_wanted(connection, [wanted(generation=2), wanted(generation=5)]) == 2
        assert generations_of(connection, JOB) == {
            (wish.kind, wish.zone_id, wish.channel, wish.recipient): 5 for wish in [wanted()]
        }


def test_one_that_waits_is_due_later_and_keeps_what_is_kept_of_it(book: Book) -> None:
    put(book, wanted(generation=1), wanted(generation=2, payload={"text": "2"}))
    with book.writing() as connection:
        first, second = wanted_of(connection, JOB)
        put_off(connection, [(first, later(hours=3), {"meant": "then"})])
        assert wanted_of(connection, JOB) == (
            second,
            wanted(id=first.id, generation=1, fire_at=later(hours=3), payload={"meant": "then"}),
        )


def test_what_is_urgent_is_due_before_what_waited_longer(book: Book) -> None:
    with book.writing() as connection:
        for job_id in ("a", "b", "c"):
            put_job(connection, job_id)
        put_one(connection, wanted(job_id="a", fire_at=later(hours=-1)))
        put_one(connection, wanted(job_id="b", fire_at=later(hours=-2)))
        put_one(connection, wanted(job_id="c", kind="stopped"))
        assert jobs_due(connection, now=NOW) == ("b", "a", "c")
        assert jobs_due(connection, now=NOW, urgent=["stopped"]) == ("c", "b", "a")


def test_what_is_fired_stays_fired(book: Book) -> None:
    (number,) = put(book, wanted())
    with book.writing() as connection:
        assert len(fire(connection, [message(1, reminder_id=number)])) == 1
        assert wanted_of(connection, JOB) == ()
        assert withdraw(connection, [number]) == 0
        (found,) = wanted_of(connection, JOB, states=tuple(ReminderState))
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
