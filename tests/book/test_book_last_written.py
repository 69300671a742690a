"""Which writing of a book was the last, in the book and with the user of this machine."""

from __future__ import annotations

import stat
import sys
from threading import Thread
from typing import TYPE_CHECKING

import pytest
from platformdirs import user_state_path

from curecal.book.connection.last_seen import Writing, keep_seen, last_seen
from curecal.book.last_written import accept_copy, count_writing, is_older_copy
from curecal.book.meta import keep_value, value_of

if TYPE_CHECKING:
    from curecal.book.connection.open_book import Book
    from curecal.records import PlainView


def written(book: Book) -> PlainView:
    with book.writing() as connection:
        count_writing(connection)
    with book.reading() as connection:
        found = value_of(connection, "written")
    assert found is not None
    return found


def is_older(book: Book) -> bool:
    with book.reading() as connection:
        return is_older_copy(connection)


def test_a_book_that_lost_its_last_writing_is_older(book: Book) -> None:
    assert not is_older(book)
    first = written(book)
    assert not is_older(book)
    written(book)
    with book.writing() as connection:
        keep_value(connection, "written", first)
    assert is_older(book)
    # Written into, it stays one, up to any number.
    for _ in range(5):
        written(book)
        assert is_older(book)
    with book.writing() as connection:
        accept_copy(connection)
    assert not is_older(book)
    written(book)
    assert not is_older(book)


def test_another_writing_of_the_same_number_is_another_book(book: Book) -> None:
    last = written(book)
    with book.writing() as connection:
        keep_value(connection, "written", {**last, "token": "another"})
    assert is_older(book)


def test_what_was_taken_back_is_not_remembered(book: Book) -> None:
    before = written(book)

    def fail() -> None:
        with book.writing() as connection:
            count_writing(connection)
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        fail()
    seen = last_seen(before["id"])
    assert seen is not None
    assert seen.count == before["count"]
    assert not is_older(book)


def test_an_older_writing_is_not_kept_over_a_newer_one() -> None:
    keep_seen(Writing("abc", 7, "x"))
    keep_seen(Writing("abc", 6, "y"))
    assert last_seen("abc") == Writing("abc", 7, "x")
    folder = user_state_path("curecal", appauthor=False) / "books"
    if sys.platform != "win32":
        assert stat.S_IMODE((folder / "abc.json").stat().st_mode) == 0o600
    for text in ("", "{", "[]", '{"count": "x", "token": ""}', '{"count": null}'):
        (folder / "abc.json").write_text(text)
        assert last_seen("abc") is None


@pytest.mark.parametrize("book_id", ["", "../x", "a/b", "a.b"])
def test_an_id_that_is_a_path_leads_nowhere(book_id: str) -> None:
    keep_seen(Writing(book_id, 1, "x"))
    assert last_seen(book_id) is None


def test_two_that_write_at_once_are_counted_one_after_the_other(book: Book) -> None:
    written(book)
    other = Thread(target=written, args=(book,))
    with book.writing() as connection:
        count_writing(connection)
        # It begins while this is not stored yet, and has to wait for it.
        other.start()
        other.join(0.5)
        assert other.is_alive()
    other.join()
    # Of two with the same number this machine would take one for an older copy of the book.
    assert written(book)["count"] == 4
    assert not is_older(book)


def test_who_writes_while_it_is_asked_makes_no_older_copy(
    book: Book, monkeypatch: pytest.MonkeyPatch
) -> None:
    written(book)

    def seen_meanwhile(book_id: str) -> Writing | None:
        monkeypatch.undo()
        # In a file nobody else writes within the transaction of who asks.
        if not book.is_file:
            written(book)
        return last_seen(book_id)

    monkeypatch.setattr("curecal.book.last_written.last_seen", seen_meanwhile)
    with book.writing() as connection:
        assert not is_older_copy(connection)
