"""Ticks over a real book: what goes out, what is taken back, what is told of what did not."""

from __future__ import annotations

import email
from datetime import UTC, datetime, timedelta
from email.policy import SMTP
from typing import TYPE_CHECKING, Any

import pytest
from book_samples import sending
from reminder_samples import (
    DAY,
    FINISHED,
    HOUR,
    Clock,
    Post,
    evening,
    evidence,
    job_text,
    plain,
    put_rows,
    released,
    url_of,
)

from curecal.book.message_states import MessageState
from curecal.book.meta import hold, hold_of
from curecal.book.outbox.outbox import claim
from curecal.book.outbox.reminders import wanted_of
from curecal.errors import BookError
from curecal.reminders.replanning.planned_jobs import replan_job
from curecal.reminders.replanning.replan import replan
from curecal.reminders.sending.send_holds import resume

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

pytestmark = pytest.mark.slow

NOW = FINISHED + HOUR
MONDAY = evening()
CLEAR = datetime(2026, 12, 8, 12, 30, tzinfo=UTC)


@pytest.fixture
def clock() -> Clock:
    return Clock(MONDAY)


@pytest.fixture
def post(tmp_path: Path, clock: Clock) -> Iterator[Post]:
    found = Post(url_of(tmp_path), clock)
    found.add(job_text(), tmp_path)
    yield found
    found.close()


def kinds(post: Post, *states: MessageState) -> list[str]:
    return sorted(row.kind for row in post.messages() if not states or row.state in states)


def test_what_is_due_goes_out_once(post: Post, clock: Clock) -> None:
    first = post.cycle.run()
    assert first.taken == len(post.mail.sent) == 3
    assert {row.state for row in post.messages()} == {MessageState.SENT}
    clock.go(timedelta(seconds=20))
    assert post.cycle.run().taken == 0


def test_a_mail_names_its_reader_and_its_job_and_no_more(post: Post) -> None:
    post.cycle.run()
    [data] = [data for to, data in post.mail.sent if to == "ida@home.example"]
    read = email.message_from_bytes(data, policy=SMTP)
    assert [each.addr_spec for each in read["To"].addresses] == ["ida@home.example"]
    assert read["Subject"] == "Elm Road, hall: please leave the floor heating off"
    body = read.get_body().get_content()  # type: ignore[union-attr]
    assert "Not before Tue 8 Dec, and only when we tell you" in body


def test_a_release_is_one_mail_to_the_electrician_with_its_invitation(
    post: Post, clock: Clock
) -> None:
    ready(post, clock)
    # Released on the day that was told, in the afternoon: the visit is the next morning.
    post.cycle.run()
    [mail] = [
        email.message_from_bytes(data, policy=SMTP)
        for to, data in post.mail.sent
        if to == "sam@sparks.example"
    ]
    assert str(mail["Subject"]) == "Elm Road, hall: please switch the floor on, Wed 9 Dec, 08:00"
    parts = [each for each in mail.walk() if each.get_content_type() == "text/calendar"]
    assert [each.get_param("method") for each in parts] == ["REQUEST"]
    # 08:00 at four hours behind UTC.
    entry = parts[0].get_payload(decode=True)
    assert b"METHOD:REQUEST" in entry
    assert b"DTSTART:20261209T120000Z" in entry


def test_settling_twice_changes_nothing(post: Post, clock: Clock) -> None:
    post.cycle.run()
    # What was heard lets more be wanted: once.
    replan_job(post.book, post.context, "elm-road", now=clock.at)
    done = replan_job(post.book, post.context, "elm-road", now=clock.at)
    assert done == type(done)()


def ready(post: Post, clock: Clock) -> None:
    """Bring the job to the day of its release, everything on record and told."""
    post.cycle.run()
    clock.at, clock.since_boot_s = CLEAR, clock.since_boot_s + (CLEAR - MONDAY).total_seconds()
    post.note(*evidence(CLEAR - HOUR / 2))
    post.cycle.run()
    post.mail.sent.clear()
    clock.go(timedelta(minutes=1))
    post.note(released(clock.at))


def fault(at: datetime) -> dict[str, Any]:
    return {
        "id": "fault",
        "at": at,
        "kind": "resistance",
        "zone": "hall",
        "stage": "in service",
        "conductor": "90 Ω",
        "to_earth": "26 Ω",
        "by": "Sam Okoro-Lind",
    }


def test_a_release_goes_out_and_its_end_at_once_to_all(post: Post, clock: Clock) -> None:
    ready(post, clock)
    post.cycle.run()
    assert "released" in kinds(post, MessageState.SENT)
    clock.go(timedelta(minutes=5))
    post.note(fault(clock.at))
    post.cycle.run()
    back = [row for row in post.messages("no-longer", "stopped") if row.state is MessageState.SENT]
    assert {row.recipient for row in back} >= {"ida@home.example", "sam@sparks.example"}
    assert {row.order_key for row in back} == {0}


def test_a_release_that_is_only_taken_up_is_taken_back_and_never_leaves(
    post: Post, clock: Clock
) -> None:
    ready(post, clock)
    replan_job(post.book, post.context, "elm-road", now=clock.at)
    rows = claim(post.book, limit=10, owner="other", lease_s=60.0, now=clock.at).rows
    taken_up = [row for row in rows if row.kind == "released"]
    assert taken_up
    post.note(fault(clock.at))
    replan_job(post.book, post.context, "elm-road", now=clock.at)
    with pytest.raises(BookError), post.book.writing() as connection:
        sending(connection, taken_up[0])
    assert {row.state for row in post.messages("released")} == {MessageState.SUPERSEDED}
    # Nobody heard that they may: nobody needs to hear that they may not.
    assert not post.messages("no-longer")


def test_a_release_on_the_wire_is_corrected_by_the_plans_own_transaction(
    post: Post, clock: Clock
) -> None:
    ready(post, clock)
    replan_job(post.book, post.context, "elm-road", now=clock.at)
    rows = claim(post.book, limit=10, owner="other", lease_s=60.0, now=clock.at).rows
    with post.book.writing() as connection:
        for row in rows:
            sending(connection, row)
    post.note(fault(clock.at))
    with post.book.writing() as connection:
        replan(connection, post.context, "elm-road", now=clock.at)
    found = post.messages("no-longer", "stopped")
    assert {row.recipient for row in found} >= {"ida@home.example", "sam@sparks.example"}
    assert {row.state for row in found} == {MessageState.DUE}


def test_a_fact_that_comes_between_settling_and_sending_holds_the_message_back(
    post: Post, clock: Clock
) -> None:
    ready(post, clock)
    replan_job(post.book, post.context, "elm-road", now=clock.at)
    post.note(fault(clock.at))
    assert post.sender.begin(limit=50) == 0
    assert not [data for _, data in post.mail.sent if b"released" in data.lower()]
    assert MessageState.SENDING not in {row.state for row in post.messages()}


def test_asleep_for_two_days_it_sends_late_and_says_so(post: Post, clock: Clock) -> None:
    clock.go(-3 * HOUR)
    post.cycle.start()
    post.cycle.run()
    with post.book.reading() as connection:
        due = {each.fire_at for each in wanted_of(connection, "elm-road")}
    # Half past three on site: the crew lead's message goes at five.
    assert datetime(2026, 11, 9, 21, tzinfo=UTC) in due
    post.mail.sent.clear()
    clock.go(2 * DAY + 3 * HOUR)
    done = post.cycle.run()
    assert not done.held
    late = [data for to, data in post.mail.sent if to == "robin@crew.example"]
    assert len(late) == 1
    assert "This message comes late" in plain(late[0])


@pytest.mark.parametrize(
    ("step", "reason"),
    [
        (timedelta(hours=1, seconds=30), "clock-jumped"),
        (timedelta(days=365), "clock-jumped"),
        (timedelta(hours=-2), "clock-behind"),
        (datetime(1970, 1, 2, tzinfo=UTC) - MONDAY, "clock-behind"),
    ],
)
def test_a_wall_that_jumps_holds_everything(
    post: Post, clock: Clock, step: timedelta, reason: str
) -> None:
    post.cycle.start()
    post.cycle.run()
    sent = len(post.mail.sent)
    put_rows(post.book, 3, min(clock.at, clock.at + step))
    clock.at += step
    clock.since_boot_s += 20.0
    done = post.cycle.run()
    assert done.held == reason
    assert done.taken == 0
    clock.go(timedelta(seconds=20))
    assert post.cycle.run().held == reason
    assert len(post.mail.sent) == sent
    # A person looked, and put the clock right: it goes on as if nothing had been.
    clock.at = MONDAY + timedelta(minutes=1)
    resume(post.book, now=clock.at)
    post.cycle.start()
    post.cycle.run()
    assert len(post.mail.sent) == sent + 3


@pytest.mark.parametrize("hours", [-2, 3])
def test_who_was_busy_while_a_clock_was_set_does_not_hold_again_what_a_person_let_go(
    post: Post, clock: Clock, tmp_path: Path, hours: int
) -> None:
    busy = Post(url_of(tmp_path), clock, name="busy", synchronized=False)
    for one in (post, busy):
        one.cycle.start()
        one.cycle.run()
    clock.at += hours * HOUR
    clock.since_boot_s += 20.0
    assert post.cycle.run().held
    resume(post.book, now=clock.at, clock=clock.boot())
    clock.go(timedelta(seconds=20))
    assert busy.cycle.run().held == ""
    assert post.cycle.run().held == ""
    # What is set after that, nobody has looked at.
    clock.at -= 2 * HOUR
    clock.since_boot_s += 20.0
    assert busy.cycle.run().held == "clock-behind"
    busy.close()


def test_a_start_long_after_the_last_sign_of_life_is_on_hold(
    post: Post, clock: Clock, tmp_path: Path
) -> None:
    post.cycle.start()
    post.cycle.run()
    clock.at += 8 * DAY
    clock.boot_id = "boot-2"
    again = Post(url_of(tmp_path), clock, name="again", synchronized=False)
    assert again.cycle.start() == "clock-ahead"
    assert again.cycle.run().taken == 0
    resume(again.book, now=clock.at)
    assert again.cycle.start() == ""
    assert again.cycle.run().taken > 0
    again.close()


def test_a_job_restored_from_a_backup_waits_and_shows_what_would_go(
    post: Post, clock: Clock
) -> None:
    with post.book.writing() as connection:
        hold(connection, "restored", now=clock.at, job_id="elm-road")
    assert post.cycle.run().taken == 0
    with post.book.reading() as connection:
        due = [each for each in wanted_of(connection, "elm-road") if each.fire_at <= clock.at]
    assert due
    resume(post.book, now=clock.at, job_id="elm-road")
    clock.go(timedelta(seconds=20))
    assert post.cycle.run().taken == len({each.recipient for each in due}) < len(due)


def test_all_on_hold_nothing_is_even_made(post: Post, clock: Clock) -> None:
    with post.book.writing() as connection:
        hold(connection, "person", now=clock.at)
    assert post.cycle.run().held == "person"
    assert post.messages() == []
    resume(post.book, now=clock.at)
    with post.book.reading() as connection:
        assert hold_of(connection) is None


def test_what_came_too_late_is_told_to_somebody(post: Post, clock: Clock) -> None:
    post.cycle.run()
    # The morning before the day, and the machine sleeps through it.
    for at in (datetime(2026, 12, 6, 14, tzinfo=UTC), datetime(2026, 12, 7, 11, 30, tzinfo=UTC)):
        clock.go(at - clock.at)
        post.cycle.run()
    clock.go(timedelta(hours=26))
    post.cycle.run()
    found = [plain(notice.body) for notice in post.messages("missed")]
    assert {notice.recipient for notice in post.messages("missed")} == {"robin@crew.example"}
    assert len([text for text in found if "tomorrow is the day we named" in text]) == 1
