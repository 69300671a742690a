"""A machine that was started anew, and whose clock nothing has confirmed: what goes out by it."""

from __future__ import annotations

import time
from datetime import UTC, datetime, timedelta
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any

import pytest
from reminder_samples import DAY, HOUR, Clock, Post, evidence, job_text, plain, released, url_of

from curecal.book.message_states import MessageState
from curecal.cli.main import code_of_run
from curecal.delivery.mail_greeting import ServerDate
from curecal.reminders.sending.send_holds import resume

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from curecal.book.outbox.outbox_rows import OutboxRow

pytestmark = pytest.mark.slow

# The day of the release, and the first morning with the floor on: 08:30 on site.
CLEAR = datetime(2026, 12, 8, 12, 30, tzinfo=UTC)
OWNER, LEAD, SPARKS = "ida@home.example", "robin@crew.example", "sam@sparks.example"


def fact(kind: str, at: datetime, **more: object) -> dict[str, Any]:
    return {"id": kind, "at": at, "kind": kind, "zone": "hall", "by": "Sam Okoro-Lind", **more}


def stop(at: datetime) -> dict[str, Any]:
    more = {"cause": "crack or loose tile", "reason": "a crack", "by": "Robin Mistral"}
    return fact("stopped", at, **more)


@pytest.fixture
def clock() -> Clock:
    return Clock(CLEAR - 29 * DAY)


@pytest.fixture
def post(tmp_path: Path, clock: Clock) -> Iterator[Post]:
    """A floor that is released and on, everybody told, by a clock that is right."""
    found = Post(url_of(tmp_path), clock)
    found.add(job_text(), tmp_path)
    found.cycle.start()
    found.cycle.run()
    clock.go(CLEAR - clock.at)
    found.note(*evidence(CLEAR - HOUR / 2))
    found.cycle.run()
    clock.go(timedelta(minutes=1))
    found.note(released(clock.at))
    found.cycle.run()
    clock.go(DAY)
    found.note(fact("energized", clock.at))
    clock.go(timedelta(minutes=1))
    found.cycle.run()
    found.mail.sent.clear()
    yield found
    found.close()


def started_anew(
    post: Post, tmp_path: Path, ahead: timedelta, *, synchronized: bool = False
) -> Post:
    """Start the machine anew an hour later, with a clock that is ahead by some time."""
    post.clock.at += ahead + HOUR
    post.clock.since_boot_s = 30.0
    post.clock.boot_id = "boot-2"
    again = Post(url_of(tmp_path), post.clock, name="again", synchronized=synchronized)
    again.cycle.start()
    return again


def to(post: Post, address: str) -> list[str]:
    return [plain(data) for reader, data in post.mail.sent if reader == address]


def rows(post: Post, kind: str, state: MessageState) -> list[OutboxRow]:
    return [row for row in post.messages(kind) if row.state is state]


@pytest.mark.parametrize("days", [0, 3, 6])
def test_no_number_goes_to_an_owner_by_a_clock_that_nothing_confirms(
    post: Post, tmp_path: Path, days: int
) -> None:
    again = started_anew(post, tmp_path, days * DAY)
    for _ in range(30):
        assert not again.cycle.run().held
        again.clock.go(HOUR)
    told = to(again, OWNER)
    assert not [text for text in told if "set the floor to" in text]
    if days:
        # Nobody logged the steps since: no number is due.
        again.close()
        return
    asked = [text for text in told if "I do not know today's number" in text]
    assert len(asked) in {1, 2}
    assert "its clock is not confirmed" in asked[0]
    # Who can look at the machine hears why, and what to do.
    lead = [text for text in to(again, LEAD) if "curecal remind resume" in text]
    assert len(lead) in {1, 2}
    again.close()


def test_a_number_goes_out_once_a_person_has_looked_at_the_clock(
    post: Post, tmp_path: Path, clock: Clock
) -> None:
    again = started_anew(post, tmp_path, timedelta())
    clock.go(24 * HOUR)
    again.cycle.run()
    assert not [text for text in to(again, OWNER) if "set the floor to" in text]
    resume(again.book, now=clock.at, clock=clock.boot())
    clock.go(timedelta(seconds=20))
    # The step of the day before is on record: there is a number to tell.
    again.note(fact("heat_step", clock.at - 10 * HOUR, to="22 °C"))
    again.cycle.run()
    assert [text for text in to(again, OWNER) if "set the floor to" in text]
    again.close()


def test_a_clock_that_the_system_keeps_by_the_network_is_believed(
    post: Post, tmp_path: Path, clock: Clock
) -> None:
    again = started_anew(post, tmp_path, timedelta(), synchronized=True)
    again.note(fact("heat_step", clock.at, to="22 °C"))
    clock.go(24 * HOUR)
    again.cycle.run()
    assert [text for text in to(again, OWNER) if "set the floor to" in text]
    again.close()


def test_switched_off_for_ten_days_a_clock_kept_by_the_network_needs_nobody(
    post: Post, tmp_path: Path
) -> None:
    again = started_anew(post, tmp_path, 10 * DAY, synchronized=True)
    assert not again.cycle.run().held
    again.close()


def test_a_release_that_was_written_before_does_not_leave_after(
    tmp_path: Path, clock: Clock
) -> None:
    post = Post(url_of(tmp_path), clock)
    post.add(job_text(), tmp_path)
    post.cycle.run()
    clock.go(CLEAR - clock.at)
    post.note(*evidence(CLEAR - HOUR / 2))
    post.cycle.run()
    clock.go(timedelta(minutes=1))
    post.note(released(clock.at))
    from curecal.reminders.replanning.planned_jobs import replan_job  # noqa: PLC0415 - one of many

    replan_job(post.book, post.context, "elm-road", now=clock.at)
    assert rows(post, "released", MessageState.DUE)
    again = started_anew(post, tmp_path, timedelta())
    again.cycle.run()
    assert not rows(again, "released", MessageState.SENT)
    # Confirmed, it goes out.
    resume(again.book, now=clock.at, clock=clock.boot())
    clock.go(HOUR)
    again.cycle.run()
    assert {row.recipient for row in rows(again, "released", MessageState.SENT)} == {SPARKS, OWNER}
    again.close()
    post.close()


def test_a_stop_goes_out_by_any_clock(post: Post, tmp_path: Path, clock: Clock) -> None:
    again = started_anew(post, tmp_path, 3 * DAY)
    again.note(stop(clock.at))
    again.cycle.run()
    stops = rows(again, "stopped", MessageState.SENT)
    assert {row.recipient for row in stops} == {OWNER, LEAD, SPARKS}
    again.close()


@pytest.mark.parametrize("step", [3 * DAY, -3 * DAY], ids=["ahead", "behind"])
def test_a_stop_goes_out_while_a_clock_that_jumped_holds_all_else(
    post: Post, clock: Clock, step: timedelta
) -> None:
    before = clock.at
    clock.at += step
    clock.since_boot_s += 60.0
    # `curecal note` dates an entry by the same clock.
    post.note(stop(clock.at))
    assert post.cycle.run().held in {"clock-jumped", "clock-behind"}
    stops = rows(post, "stopped", MessageState.SENT)
    assert {row.recipient for row in stops} == {OWNER, LEAD, SPARKS}
    sent = len(post.mail.sent)
    for _ in range(3):
        clock.go(HOUR)
        post.cycle.run()
    assert len(post.mail.sent) == sent
    # The clock is put right, and the stop ends: that is told once.
    clock.at = before + 4 * HOUR
    post.cycle.run()
    resume(post.book, now=clock.at, clock=clock.boot())
    # By the clock that is right the entry may stand days ahead: it counts all the same.
    post.cycle.run()
    assert not rows(post, "stop-over", MessageState.SENT)
    post.note(fact("resumed", clock.at, found="the joint had shrunk", by="Robin Mistral"))
    for _ in range(30):
        post.cycle.run()
        clock.go(HOUR)
    # Where its date was one that had not come, the STOP is another by its date: told once more.
    times = 2 if step > timedelta() else 1
    assert len(rows(post, "stopped", MessageState.SENT)) == times * len(stops)
    assert len(rows(post, "stop-over", MessageState.SENT)) == len(stops)


def test_a_person_who_paused_all_keeps_stops_back_too(post: Post, clock: Clock) -> None:
    from curecal.book.meta import hold  # noqa: PLC0415 - one of many

    with post.book.writing() as connection:
        hold(connection, "person", now=clock.at)
    post.note(stop(clock.at))
    post.cycle.run()
    assert not post.mail.sent


def test_a_clock_that_the_network_put_right_while_it_ran_is_believed(
    post: Post, tmp_path: Path, clock: Clock
) -> None:
    # A machine without a clock of its own goes on from when it was switched off.
    again = started_anew(post, tmp_path, -HOUR + timedelta(minutes=1))
    again.cycle.run()
    clock.at += 2 * DAY
    clock.since_boot_s += 20.0
    again.cycle.is_synchronized = lambda: True
    assert not again.cycle.run().held
    again.close()


def test_the_date_of_a_mail_servers_greeting_confirms(
    post: Post, tmp_path: Path, clock: Clock
) -> None:
    again = started_anew(post, tmp_path, 3 * DAY)
    assert again.cycle.run().clock == ""
    again.mail.server_date = ServerDate(clock.at - 3 * DAY, time.monotonic())
    clock.go(timedelta(seconds=20))
    assert again.cycle.run().clock == ""
    # Heard before the machine slept, it says nothing.
    again.mail.server_date = ServerDate(clock.at, time.monotonic() - HOUR.total_seconds())
    assert again.cycle.run().clock == ""
    again.mail.server_date = ServerDate(clock.at, time.monotonic())
    assert again.cycle.run().clock == "mail server"
    # What it said stays said for as long as the machine runs.
    clock.go(HOUR)
    assert again.cycle.run().clock == "mail server"
    again.close()


def test_status_says_that_nothing_confirmed_the_clock_until_a_person_does(
    post: Post, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    again = started_anew(post, tmp_path, timedelta())
    again.cycle.run()
    book = ("--book", str(tmp_path / "book.sqlite3"))

    def status(command: str) -> str:
        assert code_of_run(["remind", command, *book]) == 0
        return " ".join(capsys.readouterr().out.split())

    assert "Nothing has confirmed the clock of this computer" in status("status")
    # What would be sent is what is sent: by this clock no number.
    assert "Nothing has confirmed the clock" in status("due")
    assert "Nothing has confirmed" not in status("resume")
    assert "Nothing has confirmed" not in status("status")
    again.close()


@pytest.mark.parametrize(("said", "confirmed"), [(0, True), (5, False)])
def test_whoever_sends_hears_that_nothing_confirmed_the_clock(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    said: int,
    *,
    confirmed: bool,
) -> None:
    """The system's answer is that of ntp_adjtime: 5 says that nobody keeps the clock."""
    library = SimpleNamespace(ntp_adjtime=lambda _: said)
    monkeypatch.setattr("ctypes.CDLL", lambda _: library)
    Post(url_of(tmp_path), Clock(CLEAR)).close()
    book = ("--book", str(tmp_path / "book.sqlite3"))
    assert code_of_run(["remind", "send", "--instead", f"file:{tmp_path / 'mails'}", *book]) == 0
    assert ("Nothing has confirmed" in capsys.readouterr().err) is not confirmed


def test_a_hold_by_the_clock_says_that_a_stop_is_sent(
    post: Post, tmp_path: Path, clock: Clock, capsys: pytest.CaptureFixture[str]
) -> None:
    clock.at += 3 * DAY
    assert post.cycle.run().held == "clock-jumped"
    assert code_of_run(["remind", "status", "--book", str(tmp_path / "book.sqlite3")]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "this computer's clock jumped. Only a STOP is being sent." in said
