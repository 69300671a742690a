"""The outbox, the same rules in a file and on a server: claims, fences, order, leases, limits."""

from __future__ import annotations

import threading
import time
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from book_samples import JOB, NOW, filled, later, message, put_job, sending, sent
from sqlalchemy import event, update

from curecal.book.connection.open_book import Book, open_book
from curecal.book.message_states import LostClaim, MessageState, Who
from curecal.book.meta import hold, release_hold
from curecal.book.outbox.outbox import back_off, claim, fire, message_of, messages_of, move
from curecal.book.outbox.reaper import expire, reap
from curecal.book.schema.tables import outbox
from curecal.errors import CurecalError

if TYPE_CHECKING:
    from datetime import datetime

    from sqlalchemy import URL

    from curecal.book.outbox.outbox_rows import OutboxRow


def take(book: Book, now: datetime = NOW, *, limit: int = 100) -> tuple[OutboxRow, ...]:
    return claim(book, limit=limit, owner="one", lease_s=60, now=now).rows


def states(book: Book) -> dict[str, str]:
    with book.reading() as connection:
        return {each.message_id: each.state.value for each in messages_of(connection)}


def end_leases(book: Book) -> None:
    """Let every lease run out, as if its holder had been away for long."""
    with book.writing() as connection:
        connection.execute(
            update(outbox).where(outbox.c.lease_owner.is_not(None)).values(lease_until_s=0)
        )


def test_a_message_goes_its_way_and_is_never_taken_twice(book: Book) -> None:
    filled(book, message(1))
    (leased,) = take(book)
    assert (leased.state, leased.claim, leased.lease_owner, leased.tries) == (
        MessageState.LEASED,
        1,
        "one",
        0,
    )
    assert leased.body == message(1).body
    assert leased.created_at == NOW
    assert take(book) == ()
    with book.writing() as connection:
        leaving = sending(connection, leased)
    assert (leaving.state, leaving.claim, leaving.tries) == (MessageState.SENDING, 1, 1)
    with book.writing() as connection:
        gone = sent(connection, leaving, at=later(minutes=1))
    assert (gone.state, gone.sent_at, gone.lease_owner) == (
        MessageState.SENT,
        later(minutes=1),
        None,
    )
    assert take(book, later(hours=1)) == ()
    assert reap(book).due == reap(book).uncertain == ()


def test_the_same_key_goes_in_once(book: Book) -> None:
    assert len(filled(book, message(1))) == 1
    with book.writing() as connection:
        assert fire(connection, [message(1, message_id="<other@example.org>")]) == ()
        assert len(fire(connection, [message(1, zone_id="", message_id="<whole@x>")])) == 1
        assert fire(connection, [message(1, zone_id="", message_id="<again@x>")]) == ()
    assert set(states(book)) == {"<1@example.org>", "<whole@x>"}


def test_of_one_recipient_the_first_goes_first_and_alone(book: Book) -> None:
    filled(book, message(1), message(2), message(3, recipient="owner@example.org"))
    first = take(book)
    assert [row.message_id for row in first] == ["<1@example.org>", "<3@example.org>"]
    with book.writing() as connection:
        for row in first:
            sent(connection, sending(connection, row))
    assert [row.message_id for row in take(book)] == ["<2@example.org>"]


def test_another_channel_is_another_line(book: Book) -> None:
    filled(book, message(1), message(2, channel="text"))
    assert len(take(book)) == 2


@pytest.mark.parametrize("stuck", ["leased", "sending", "backoff"])
def test_a_head_holds_its_tail_until_its_limit(book: Book, stuck: str) -> None:
    filled(book, message(1, not_after=later(hours=2)), message(2, not_after=later(hours=50)))
    (head,) = take(book)
    with book.writing() as connection:
        if stuck == "backoff":
            back_off(connection, head, next_try_at=later(hours=30), reason="greylisted")
        if stuck == "sending":
            sending(connection, head)
    assert take(book, later(hours=1)) == ()
    assert [row.message_id for row in take(book, later(hours=3))] == ["<2@example.org>"]


def test_what_is_put_off_goes_again_when_it_is_time(book: Book) -> None:
    filled(book, message(1))
    (row,) = take(book)
    with book.writing() as connection:
        back_off(connection, row, next_try_at=later(minutes=10), reason="busy")
    assert take(book, later(minutes=9)) == ()
    (again,) = take(book, later(minutes=10))
    assert (again.claim, again.reason) == (2, "busy")


def test_what_stops_a_floor_overtakes(book: Book) -> None:
    filled(book, message(1), message(2, kind="stopped", order_key=-1))
    assert [row.kind for row in take(book)] == ["stopped"]


def test_a_message_not_yet_due_waits_and_holds_its_tail(book: Book) -> None:
    filled(book, message(1, next_try_at=later(hours=5)), message(2))
    assert take(book) == ()
    assert [row.message_id for row in take(book, later(hours=5))] == ["<1@example.org>"]


def test_the_limit_is_kept_and_the_ripest_go_first(book: Book) -> None:
    made = [
        message(number, recipient=f"r{number}@example.org", next_try_at=later(minutes=-number))
        for number in range(1, 8)
    ]
    filled(book, *made)
    assert {row.generation for row in take(book, limit=3)} == {5, 6, 7}


def test_an_old_holder_has_lost_its_claim(book: Book) -> None:
    filled(book, message(1))
    (old,) = take(book)
    end_leases(book)
    assert reap(book).due == (old.id,)
    (new,) = take(book)
    assert new.claim == old.claim + 1
    with pytest.raises(LostClaim) as lost, book.writing() as connection:
        sending(connection, old)
    assert lost.value.code == "outbox-claim-lost"
    assert lost.value.exit_code == 6
    with book.reading() as connection:
        assert message_of(connection, new.id) == new


def test_a_lease_that_ends_on_the_wire_is_uncertain(book: Book) -> None:
    filled(book, message(1), message(2, recipient="owner@example.org"))
    first, _second = take(book)
    with book.writing() as connection:
        leaving = sending(connection, first)
    assert reap(book).uncertain == ()
    end_leases(book)
    reaped = reap(book)
    assert reaped.uncertain == (first.id,)
    assert len(reaped.due) == 1
    with pytest.raises(LostClaim), book.writing() as connection:
        sent(connection, leaving)
    assert states(book)["<1@example.org>"] == "uncertain"


@pytest.mark.parametrize("url", ["server"], indirect=True)
@pytest.mark.parametrize("leaves", [False, True])
def test_a_frozen_process_keeps_no_other_lease_from_running_out(url: URL, *, leaves: bool) -> None:
    """A server keeps what a frozen process was writing; in a file nobody else writes meanwhile."""
    with open_book(url, busy_s=0.3) as book, open_book(url) as frozen:
        filled(book, message(1), message(2, recipient="owner@example.org"))
        first, second = take(book)
        if leaves:
            with book.writing() as connection:
                first, second = sending(connection, first), sending(connection, second)
        end_leases(book)
        with frozen.writing() as connection:
            (sent if leaves else sending)(connection, first)
            over = reap(book)
            assert (over.uncertain if leaves else over.due) == (second.id,)
            connection.rollback()
        over = reap(book)
        assert (over.uncertain if leaves else over.due) == (first.id,)


def test_a_lease_runs_out_by_itself(book: Book) -> None:
    filled(book, message(1))
    claim(book, limit=1, owner="one", lease_s=0.05, now=NOW)
    until = time.monotonic() + 20
    while not reap(book).due:
        assert time.monotonic() < until
    assert states(book) == {"<1@example.org>": "due"}


def test_a_lost_claim_takes_the_whole_transaction_back(book: Book) -> None:
    filled(book, message(1), message(2, recipient="owner@example.org"))
    one, two = take(book)

    def both() -> None:
        with book.writing() as connection:
            sending(connection, two)
            sending(connection, replace(one, claim=0))

    with pytest.raises(LostClaim):
        both()
    assert set(states(book).values()) == {"leased"}


def test_a_move_the_table_has_not_is_refused(book: Book) -> None:
    filled(book, message(1))
    (row,) = take(book)
    with pytest.raises(CurecalError) as refused, book.writing() as connection:
        sent(connection, row)
    assert refused.value.code == "outbox-move"
    with pytest.raises(CurecalError), book.writing() as connection:
        move(connection, row, MessageState.SUPERSEDED, who=Who.SENDER)


def test_what_comes_too_late_is_not_taken_and_expires(book: Book) -> None:
    filled(book, message(1, not_after=later(hours=1)), message(2, not_after=None))
    late = later(hours=1)
    assert [row.message_id for row in take(book, late)] == ["<2@example.org>"]
    with book.writing() as connection:
        assert len(expire(connection, JOB, now=late)) == 1
        assert expire(connection, JOB, now=late) == ()


def test_a_lease_is_superseded_under_its_holder(book: Book) -> None:
    filled(book, message(1))
    (row,) = take(book)
    with book.writing() as connection:
        move(connection, row, MessageState.SUPERSEDED, who=Who.PLANNER)
    with pytest.raises(LostClaim), book.writing() as connection:
        sending(connection, row)


def test_a_hold_of_the_book_or_of_a_job_stops_claims(book: Book) -> None:
    filled(book, message(1))
    with book.writing() as connection:
        put_job(connection, "other")
        fire(connection, [message(2, job_id="other", recipient="owner@example.org")])
        hold(connection, "restored", now=NOW)
    assert take(book) == ()
    with book.writing() as connection:
        release_hold(connection)
        hold(connection, "restored", now=NOW, job_id=JOB)
    assert [row.job_id for row in take(book)] == ["other"]
    with book.writing() as connection:
        release_hold(connection, job_id=JOB)
    assert [row.job_id for row in take(book)] == [JOB]


def test_many_claimers_take_each_message_once(url: URL) -> None:
    made = [message(number, recipient=f"r{number}@example.org") for number in range(60)]
    with open_book(url) as book:
        filled(book, *made)
    taken: list[int] = []

    def work() -> None:
        with open_book(url) as own:
            while rows := claim(own, limit=4, owner="w", lease_s=60, now=NOW).rows:
                taken.extend(row.id for row in rows)

    workers = [threading.Thread(target=work) for _ in range(4)]
    for each in workers:
        each.start()
    for each in workers:
        each.join(60)
    assert len(taken) == 60
    assert len(set(taken)) == 60


def test_the_server_is_asked_to_skip_what_others_hold(book: Book) -> None:
    said: list[str] = []

    def listen(_c: object, _cursor: object, statement: str, *_rest: object) -> None:
        said.append(statement)

    event.listen(book.engine, "before_cursor_execute", listen)
    filled(book, message(1))
    take(book)
    claims = [
        statement for statement in said if "lease_owner" in statement and "UPDATE" in statement
    ]
    assert len(claims) == 1
    assert ("FOR UPDATE OF outbox SKIP LOCKED" in claims[0]) is not book.is_file
    assert "RETURNING" in claims[0]
    if book.is_file:
        # Nobody else writes meanwhile: that is what stands in for it.
        assert "BEGIN IMMEDIATE" in said
