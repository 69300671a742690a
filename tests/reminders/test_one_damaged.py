"""One job of the book is damaged: the others are looked after, and the office hears of it once."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from datetime import timedelta
from typing import TYPE_CHECKING

import pytest
from reminder_samples import (
    HOUR,
    Clock,
    Post,
    evening,
    job_text,
    plain,
    put_rows,
    url_of,
)

from curecal.book.jobs.jobs import newest_revision
from curecal.book.message_states import MessageState
from curecal.book.meta import held_jobs, hold
from curecal.book.outbox.outbox import claim
from curecal.book.outbox.reaper import reap
from curecal.book.outbox.reminders import wanted_of
from curecal.delivery.channels import Answer, Outcome

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

pytestmark = pytest.mark.slow

JOBS = ("ash-lane", "birch-lane", "cedar-lane")
AWAY = Answer(Outcome.LATER, "no answer", is_down=True)
NEVER = Answer(Outcome.NEVER, "550 no such person")
OFFICE = "office@tile.example"


def filled(path: Path, clock: Clock) -> Post:
    """A book of three jobs, each with people of its own."""
    post = Post(url_of(path), clock)
    for job_id in JOBS:
        text = job_text(job_id, name=job_id).replace("@", f"@{job_id}.")
        post.add(text, path)
    return post


def restarted(post: Post, path: Path) -> Post:
    """Start anew on the same book: nothing is remembered of its jobs."""
    post.close()
    return Post(url_of(path), post.clock)


def spoil_content(path: Path, job_id: str = JOBS[0]) -> None:
    """Change the octets of a job behind the program's back."""
    post = Post(url_of(path), Clock(evening()))
    with post.book.reading() as connection:
        name = newest_revision(connection, job_id).job_sha256
    post.close()
    by_hand(path, "UPDATE content SET data = x'00' WHERE sha256 = ?", name)


def spoil_reminders(path: Path) -> None:
    """Leave half of what the book keeps of a job's reminders."""
    by_hand(path, "UPDATE reminder SET payload = substr(payload, 1, 20) WHERE job_id = ?", JOBS[0])


def spoil_note(path: Path) -> None:
    """Leave half of what the book keeps of a job's settling, and its content damaged."""
    spoil_content(path)
    by_hand(path, "UPDATE meta SET value = '{' WHERE key = ?", f"replanned:{JOBS[0]}")


def by_hand(path: Path, statement: str, *values: str) -> None:
    with closing(sqlite3.connect(path / "book.sqlite3")) as connection:
        asked = "SELECT name FROM sqlite_master WHERE type = 'trigger'"
        for (name,) in connection.execute(asked).fetchall():
            connection.execute(f"DROP TRIGGER {name}")
        assert connection.execute(statement, values).rowcount
        connection.commit()


def reached(post: Post) -> set[str]:
    """Of which jobs somebody got a mail."""
    return {job for job in JOBS for to, _ in post.mail.sent if f"@{job}." in to}


def told(post: Post) -> list[bytes]:
    return [data for to, data in post.mail.sent if to == OFFICE]


SPOILED: list[Callable[[Path], None]] = [spoil_content, spoil_reminders, spoil_note]


@pytest.mark.parametrize("spoil", SPOILED)
@pytest.mark.parametrize("later", [4 * HOUR, 7 * 24 * HOUR], ids=["late", "expired"])
def test_messages_that_waited_go_out_of_all_other_jobs(
    tmp_path: Path, later: timedelta, spoil: Callable[[Path], None]
) -> None:
    post = filled(tmp_path, Clock(evening()))
    post.mail.answers = [AWAY] * 100
    post.cycle.run()
    assert len({row.job_id for row in post.messages()}) == len(JOBS)
    assert not post.mail.sent
    spoil(tmp_path)
    post = restarted(post, tmp_path)
    post.clock.go(later)
    for _ in range(9):
        # Over midnight: each job is planned anew.
        assert set(post.cycle.run().troubles) <= {JOBS[0]}
        post.clock.go(timedelta(hours=1))
    # A job with a message on its way is planned in each round: that of the damaged one waits.
    assert reached(post) == set(JOBS[1:])
    [notice] = told(post)
    assert JOBS[0] in plain(notice)
    with post.book.reading() as connection:
        assert held_jobs(connection) == {JOBS[0]: "damaged"}
    post.close()


@pytest.mark.parametrize("spoil", SPOILED)
def test_a_stop_of_another_job_goes_out_at_once(
    tmp_path: Path, spoil: Callable[[Path], None]
) -> None:
    post = filled(tmp_path, Clock(evening()))
    post.cycle.run()
    spoil(tmp_path)
    post = restarted(post, tmp_path)
    post.clock.go(timedelta(minutes=40))
    energized = {
        "id": "on",
        "at": post.clock.at,
        "kind": "energized",
        "zone": "hall",
        "by": "Sam Okoro-Lind",
    }
    post.note(energized, job_id=JOBS[1])
    post.cycle.run()
    stops = [row for row in post.messages() if row.kind == "early-switch-on"]
    assert {row.job_id for row in stops} == {JOBS[1]}
    assert {row.state for row in stops} == {MessageState.SENT}
    post.close()


def test_a_stop_that_was_written_before_the_damage_still_goes(tmp_path: Path) -> None:
    post = filled(tmp_path, Clock(evening()))
    post.cycle.run()
    post.clock.go(timedelta(minutes=5))
    energized = {
        "id": "on",
        "at": post.clock.at,
        "kind": "energized",
        "zone": "hall",
        "by": "Sam Okoro-Lind",
    }
    post.note(energized, job_id=JOBS[0])
    post.mail.answers = [AWAY] * 100
    post.cycle.run()
    spoil_content(tmp_path)
    post = restarted(post, tmp_path)
    post.clock.go(4 * HOUR)
    for _ in range(3):
        post.cycle.run()
        post.clock.go(timedelta(minutes=2))
    stops = [row for row in post.messages() if row.kind == "early-switch-on"]
    assert stops
    assert {row.state for row in stops} == {MessageState.SENT}
    waiting = [row for row in post.messages() if row.job_id == JOBS[0] and row.order_key]
    assert not {row.state for row in waiting} & {MessageState.LEASED, MessageState.SENDING}
    post.close()


def test_what_one_job_cannot_be_told_of_leaves_the_other_answers_marked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # No plan wants these messages: planned anew, it would take them back before they leave.
    monkeypatch.setattr("curecal.reminders.replanning.replan_notes.is_on_the_way", lambda *_: False)
    post = filled(tmp_path, Clock(evening()))
    post.cycle.run()
    put_rows(post.book, 3, post.clock.at, job_id=JOBS[0])
    for number in range(len(JOBS)):
        statement = "UPDATE outbox SET job_id = ?, kind = 'next-step' WHERE recipient = ?"
        by_hand(tmp_path, statement, JOBS[number], f"p{number}@many.example")
    spoil_content(tmp_path)
    post = restarted(post, tmp_path)
    answers = {"p0@many.example": NEVER, "p1@many.example": Answer(Outcome.TAKEN)}

    class Some:
        def send(self, address: str, data: bytes, *, deadline_s: float) -> Answer:
            del data, deadline_s
            return answers.get(address, NEVER)

    post.sender.wires = {**post.sender.wires, "email": Some()}
    done = post.cycle.run()
    found = {row.recipient: row.state for row in post.messages() if "many" in row.recipient}
    assert found == {
        "p0@many.example": MessageState.DEAD,
        "p1@many.example": MessageState.SENT,
        "p2@many.example": MessageState.DEAD,
    }
    assert set(done.troubles) == {JOBS[0]}
    # Of the whole job the crew lead hears.
    with post.book.reading() as connection:
        wanted = [row for job_id in JOBS for row in wanted_of(connection, job_id)]
    assert {row.job_id for row in wanted if row.kind == "undelivered"} == {JOBS[2]}
    post.cycle.run()
    assert [row.recipient for row in post.messages("damaged")] == [OFFICE]
    post.close()


DAMAGED_ROWS = [
    "created_at = 'no date'",
    "next_try_at = '2026'",
    "not_after = '9999-99-99'",
    "body = 'a text'",
]


@pytest.mark.parametrize("column", DAMAGED_ROWS)
@pytest.mark.parametrize("later", [2 * HOUR, 7 * 24 * HOUR], ids=["waiting", "too late"])
def test_a_message_whose_row_is_damaged_holds_up_no_other(
    tmp_path: Path, later: timedelta, column: str
) -> None:
    post = filled(tmp_path, Clock(evening()))
    post.mail.answers = [AWAY] * 100
    post.cycle.run()
    by_hand(tmp_path, f"UPDATE outbox SET {column} WHERE job_id = ?", JOBS[0])  # noqa: S608
    post.mail.answers = []
    post.clock.go(later)
    # Planned anew, its lines wait for their reader's next hour.
    for _ in range(24):
        assert set(post.cycle.run().troubles) <= {JOBS[0]}
        post.clock.go(HOUR)
    # What it said is whole, and goes out in a message of its own.
    assert reached(post) == set(JOBS)
    assert told(post) == []
    post.close()


def test_a_stop_whose_row_is_damaged_is_given_up_and_the_office_told(tmp_path: Path) -> None:
    post = filled(tmp_path, Clock(evening()))
    post.cycle.run()
    post.clock.go(timedelta(minutes=5))
    energized = {"id": "on", "at": post.clock.at, "kind": "energized", "zone": "hall", "by": "Sam"}
    post.note(energized, job_id=JOBS[0])
    post.mail.answers = [AWAY] * 100
    post.cycle.run()
    stop = "kind = 'early-switch-on' AND state = 'backoff' AND job_id = ?"
    by_hand(tmp_path, f"UPDATE outbox SET created_at = 'none' WHERE {stop}", JOBS[0])  # noqa: S608
    # The job is set aside before its message is looked at: of it only a STOP may go.
    with post.book.writing() as connection:
        hold(connection, "damaged", now=post.clock.at, job_id=JOBS[0])
    post.mail.answers = []
    post.clock.go(4 * HOUR)
    assert set(post.cycle.run().troubles) == {JOBS[0]}
    with closing(sqlite3.connect(tmp_path / "book.sqlite3")) as connection:
        asked = "SELECT DISTINCT state, reason FROM outbox WHERE created_at = 'none'"
        assert connection.execute(asked).fetchall() == [("dead", "its row in the book is damaged")]
    post.cycle.run()
    assert len(told(post)) == 1
    post.close()


def test_leases_that_ran_out_are_looked_after_beside_a_damaged_row(tmp_path: Path) -> None:
    post = filled(tmp_path, Clock(evening()))
    post.mail.answers = [AWAY] * 100
    post.cycle.run()
    post.clock.go(HOUR)
    rows = claim(post.book, limit=9, owner="other", lease_s=60.0, now=post.clock.at).rows
    assert {row.job_id for row in rows} == set(JOBS)
    by_hand(tmp_path, "UPDATE outbox SET created_at = 'none' WHERE job_id = ?", JOBS[0])
    post.clock.go(HOUR)
    assert set(reap(post.book).due) >= {row.id for row in rows}
    post.close()


def test_a_hold_of_a_person_stays_theirs(tmp_path: Path) -> None:
    post = filled(tmp_path, Clock(evening()))
    with post.book.writing() as connection:
        hold(connection, "person", now=post.clock.at, job_id=JOBS[0])
    spoil_content(tmp_path)
    post = restarted(post, tmp_path)
    assert set(post.cycle.run().troubles) == {JOBS[0]}
    with post.book.reading() as connection:
        assert held_jobs(connection) == {JOBS[0]: "person"}
    assert not told(post)
    post.close()


def test_who_is_in_two_jobs_hears_of_the_one_while_the_other_is_on_hold(tmp_path: Path) -> None:
    post = Post(url_of(tmp_path), Clock(evening()))
    for job_id in JOBS[:2]:
        post.add(job_text(job_id, name=job_id), tmp_path)
    post.mail.answers = [AWAY] * 100
    post.cycle.run()
    with post.book.writing() as connection:
        hold(connection, "person", now=post.clock.at, job_id=JOBS[0])
    post.mail.answers = []
    for _ in range(6):
        post.clock.go(timedelta(minutes=2))
        post.cycle.run()
    found = {(row.job_id, row.state) for row in post.messages() if row.channel == "email"}
    assert (JOBS[1], MessageState.BACKOFF) not in found
    assert (JOBS[1], MessageState.SENT) in found
    assert (JOBS[0], MessageState.SENT) not in found
    post.close()


@pytest.mark.parametrize("spoil", SPOILED)
def test_a_stop_of_another_job_goes_out_while_the_clock_holds_all_else(
    tmp_path: Path, spoil: Callable[[Path], None]
) -> None:
    post = filled(tmp_path, Clock(evening()))
    post.cycle.run()
    energized = {"id": "on", "at": post.clock.at, "kind": "energized", "zone": "hall", "by": "Sam"}
    for job_id in JOBS[:2]:
        post.note(energized, job_id=job_id)
    spoil(tmp_path)
    post = restarted(post, tmp_path)
    post.cycle.start()
    post.clock.at += timedelta(days=3)
    assert post.cycle.run().held == "clock-jumped"
    stops = [row for row in post.messages() if row.kind == "early-switch-on"]
    assert (JOBS[1], MessageState.SENT) in {(row.job_id, row.state) for row in stops}
    post.close()
