"""A round plans what moved since the last one, and says the same as one that plans everything."""

from __future__ import annotations

import email
import sqlite3
import threading
import time
from contextlib import closing
from datetime import UTC, datetime, timedelta
from email.policy import SMTP
from typing import TYPE_CHECKING, Any

import pytest
from reminder_samples import DAY, HOUR, Clock, Post, evening, evidence, job_text, released, url_of

from curecal.book.meta import keep_value, value_of
from curecal.delivery.channels import Answer, Outcome
from curecal.errors import CurecalError
from curecal.reminders.messages.send_context import KnownJob, PlannedNow, SendContext
from curecal.reminders.reminder_rules import company_rules
from curecal.reminders.replanning import plan_all, replan_notes
from curecal.reminders.replanning.replan_notes import replan_key
from curecal.reminders.sending.send_holds import resume

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from sqlalchemy.engine import Connection

BEGINS = datetime(2026, 11, 10, 11, tzinfo=UTC)
MINUTE = timedelta(minutes=1)
OWNER = """
[people.owner]
name = "Ida Fennell"
email = "ida@home.example"
"""
GROUT_DONE = "done = 2026-11-06T12:00:00"


def texts() -> dict[str, str]:
    """Return jobs of which one cures, one waits for work, and one is released and heated."""
    work = job_text("birch-road", name="Birch Road")
    assert GROUT_DONE in work
    late = job_text("cedar-road", name="Cedar Road")
    return {
        "alder-road": job_text("alder-road", name="Alder Road"),
        "birch-road": work.replace(GROUT_DONE, "planned_start = 2026-11-12T08:00:00"),
        "cedar-road": late.replace("2026-10-", "2026-09-").replace("2026-11-06", "2026-10-05"),
    }


def facts() -> Iterator[tuple[datetime, str, dict[str, Any]]]:
    """Give what is logged, when and of which job."""
    connected = datetime(2026, 11, 10, 15, tzinfo=UTC)
    for table in evidence(connected):
        early = table["at"] < connected
        shifted = {"at": table["at"] - 32 * DAY} if early else {}
        kept = {"from": datetime(2026, 9, 26, 12, tzinfo=UTC)} if table["kind"] == "kept" else {}
        yield connected, "cedar-road", {**table, **shifted, **kept}
    release = datetime(2026, 11, 11, 13, tzinfo=UTC)
    yield release, "cedar-road", released(release)
    on = {"id": "on", "kind": "energized", "zone": "hall", "by": "Sam Okoro-Lind"}
    yield release + DAY, "cedar-road", {**on, "at": release + DAY}
    halt = {"id": "halt", "kind": "stopped", "cause": "crack or loose tile", "zone": "hall"}
    at = datetime(2026, 11, 13, 15, tzinfo=UTC)
    yield at, "alder-road", {**halt, "at": at, "reason": "a crack", "by": "Robin Mistral"}


def live(folder: Path, *, days: int = 9) -> tuple[list[tuple[str, str, str]], int]:
    """Live through some days; return each mail (time, reader, text), and how often was planned."""
    folder.mkdir()
    post = Post(url_of(folder), Clock(BEGINS))
    for text in texts().values():
        post.add(text, folder)
    coming = sorted(facts(), key=lambda fact: fact[0])
    planned = 0
    for count in range(days * 24):
        post.clock.go(BEGINS + count * HOUR - post.clock.at)
        while coming and coming[0][0] <= post.clock.at:
            _, job_id, table = coming.pop(0)
            post.note(table, job_id=job_id)
        planned += post.cycle.run().replanned
    mails = []
    for to, data in post.mail.sent:
        read = email.message_from_bytes(data, policy=SMTP)
        body = read.get_body(("plain",))
        assert body is not None
        mails.append((str(read["Date"]), to, str(read["Subject"]) + body.get_content()))
    post.close()
    return mails, planned


@pytest.mark.slow
def test_a_round_that_plans_what_moved_says_what_one_says_that_plans_everything(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept, kept_planned = live(tmp_path / "kept")
    monkeypatch.setattr(replan_notes, "_holds", lambda *_: False)
    anew, anew_planned = live(tmp_path / "anew")
    assert len(kept) > 20
    assert sorted(kept) == sorted(anew)
    assert kept_planned * 4 < anew_planned


@pytest.fixture
def post(tmp_path: Path) -> Iterator[Post]:
    found = Post(url_of(tmp_path), Clock(evening()))
    found.add(texts()["alder-road"], tmp_path)
    found.cycle.run()
    found.cycle.run()
    yield found
    found.close()


def test_nothing_is_planned_where_nothing_moved(post: Post) -> None:
    post.clock.go(timedelta(seconds=20))
    assert post.cycle.run().replanned == 0


@pytest.mark.parametrize("moved", ["log", "day", "rules", "program"])
def test_what_moved_is_planned_anew(
    post: Post, moved: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    post.clock.go(timedelta(seconds=20))
    if moved == "log":
        look = {"kind": "air", "air": "19 °C", "zone": "hall", "by": "Robin Mistral"}
        post.note({"id": "look", "at": post.clock.at, **look}, job_id="alder-road")
    elif moved == "day":
        post.clock.go(6 * HOUR)
    elif moved == "rules":
        post.context.reminder_rules = company_rules({"keep-room": {"off": True}})
    else:
        monkeypatch.setattr(
            "curecal.reminders.replanning.replan_notes.basis_of_answers", lambda: "another"
        )
    assert post.cycle.run().replanned == 1
    assert post.cycle.run().replanned == 0


def test_a_job_that_cannot_be_planned_ahead_is_told_now_and_looked_at_again_soon(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    post = Post(url_of(tmp_path), Clock(evening()))
    post.add(texts()["alder-road"], tmp_path)
    real = SendContext.plan

    def only_now(context: SendContext, known: KnownJob, now: datetime) -> PlannedNow | None:
        if now > post.clock.at:
            raise CurecalError("simulation-endless")
        return real(context, known, now)

    monkeypatch.setattr(SendContext, "plan", only_now)
    assert post.cycle.run().taken == 3
    # What arrived is planned with once.
    assert post.cycle.run().replanned == 1
    post.clock.go(timedelta(minutes=14))
    assert post.cycle.run().replanned == 0
    post.clock.go(timedelta(minutes=2))
    assert post.cycle.run().replanned == 1
    post.close()


def test_whoever_asks_what_is_due_plans_what_moved_only(
    post: Post, monkeypatch: pytest.MonkeyPatch
) -> None:
    planned: list[str] = []
    real = plan_all.replan

    def counted(connection: Connection, context: Any, job_id: str, **how: Any) -> object:
        planned.append(job_id)
        return real(connection, context, job_id, **how)

    monkeypatch.setattr(plan_all, "replan", counted)
    plan_all.plan_all(post.book, post.context, now=post.clock.at)
    assert planned == []
    plan_all.plan_all(post.book, post.context, now=post.clock.at + DAY)
    assert planned == ["alder-road"]


def run_until(post: Post, kind: str, wanted: set[str]) -> None:
    """Run rounds until the messages of a kind stand so: a busy machine may need more than one."""
    until_s = time.monotonic() + 60.0
    states: set[str] = set()
    while states != wanted:
        assert time.monotonic() < until_s, states
        post.cycle.run(for_s=0.5)
        states = {row.state for row in post.messages(kind)}


class Busy:
    """A server that does not answer a release until it is let, and then takes it later."""

    def __init__(self) -> None:
        self.is_let = threading.Event()
        self.taken: list[tuple[str, str]] = []

    def send(self, address: str, data: bytes, *, deadline_s: float) -> Answer:
        subject = str(email.message_from_bytes(data, policy=SMTP)["Subject"])
        if "switch the floor on" in subject and not self.is_let.is_set():
            self.is_let.wait(deadline_s)
            return Answer(Outcome.LATER, "451 busy")
        self.taken.append((address, subject))
        return Answer(Outcome.TAKEN)


@pytest.mark.slow
def test_a_permission_that_came_back_is_not_tried_again_after_a_stop(tmp_path: Path) -> None:
    wire = Busy()
    post = Post(
        url_of(tmp_path), Clock(datetime(2026, 12, 10, 15, tzinfo=UTC)), wires={"email": wire}
    )
    post.add(texts()["alder-road"], tmp_path)
    post.note(*evidence(post.clock.at), job_id="alder-road")
    for _ in range(3):
        post.cycle.run()
        post.clock.go(20 * MINUTE)
    post.note(released(post.clock.at), job_id="alder-road")
    run_until(post, "released", {"sent", "sending"})
    assert [row.state for row in post.messages("released")] == ["sent", "sending"]
    halt = {"id": "halt", "kind": "stopped", "cause": "crack or loose tile", "zone": "hall"}
    at = post.clock.at
    post.note({**halt, "at": at, "reason": "a crack", "by": "Robin Mistral"}, job_id="alder-road")
    # While the permission is on the wire the stop overtakes it, and the job is planned.
    run_until(post, "stopped", {"sent"})
    wire.is_let.set()
    post.sender.drain(until_s=10.0)
    assert [row.state for row in post.messages("released")] == ["sent", "backoff"]
    for _ in range(6):
        post.clock.go(MINUTE / 3)
        post.cycle.run()
    assert [row.state for row in post.messages("released")] == ["sent", "superseded"]
    assert [subject for to, subject in wire.taken if "sam@" in to][-1:] == [
        "Alder Road, hall: STOP. The floor must stay off"
    ]
    post.close()


def test_a_company_that_lets_changes_settle_for_long_hears_of_work_that_slides_as_soon(
    tmp_path: Path,
) -> None:
    # The work planned for eight o'clock on site, noon here, is not begun: the visit moves with it.
    slides_at = datetime(2026, 11, 12, 12, tzinfo=UTC)
    post = Post(url_of(tmp_path), Clock(BEGINS))
    post.context.reminder_rules = company_rules({"settle": "8 h"})
    post.add(texts()["birch-road"], tmp_path)
    while post.clock.at <= slides_at:
        post.cycle.run()
        post.clock.go(HOUR)
    assert post.messages("visit-moved") == []
    post.clock.go(slides_at + 20 * MINUTE - post.clock.at)
    post.cycle.run()
    assert [row.recipient for row in post.messages("visit-moved")] == ["sam@sparks.example"]
    post.close()


def test_whoever_asks_what_is_due_takes_no_word_from_the_office(tmp_path: Path) -> None:
    # Nobody but the office is there to hear of what may not have arrived, and who asks is not it.
    post = Post(url_of(tmp_path), Clock(evening()))
    post.add(job_text("elm-road", people=OWNER), tmp_path)
    post.mail.answers = [Answer(Outcome.UNSURE), Answer(Outcome.UNSURE)]
    for _ in range(3):
        post.cycle.run()
        post.clock.go(MINUTE / 2)
    assert not post.mail.answers
    assert [row.state for row in post.messages()] == ["uncertain"]
    plan_all.plan_all(post.book, SendContext(), now=post.clock.at)
    for _ in range(2):
        post.cycle.run()
        post.clock.go(MINUTE)
    assert [row.recipient for row in post.messages("unsure")] == ["office@tile.example"]
    post.close()


def test_a_note_without_its_offsets_is_none_and_keeps_no_other_job_waiting(post: Post) -> None:
    key = replan_key("alder-road")
    with post.book.writing() as connection:
        note = value_of(connection, key)
        assert note is not None
        local = {name: note[name].removesuffix("+00:00") for name in ("since", "until")}
        keep_value(connection, key, {**note, **local})
    assert post.cycle.run().replanned == 1


def test_a_stop_in_a_book_copied_back_under_a_running_process_is_told(
    post: Post, tmp_path: Path
) -> None:
    by = {"zone": "hall", "by": "Robin Mistral", "at": post.clock.at}
    with closing(sqlite3.connect(tmp_path / "book.sqlite3")) as book:
        kept = sqlite3.connect(":memory:")
        book.backup(kept)
        post.note({"id": "look", "kind": "air", "air": "19 °C", **by}, job_id="alder-road")
        post.cycle.run()
        kept.backup(book)
        kept.close()
    # It is as often changed as before the copy came back, by another fact.
    halt = {"id": "halt", "kind": "stopped", "cause": "crack or loose tile", "reason": "a crack"}
    post.note({**halt, **by}, job_id="alder-road")
    # Nothing goes out of a copy until a person says so; then what stands in it, and not in memory.
    assert post.cycle.run().held == "older-copy"
    assert not post.messages("stopped")
    resume(post.book, now=post.clock.at, clock=post.clock.boot())
    post.cycle.run()
    assert {row.recipient for row in post.messages("stopped")} >= {"robin@crew.example"}
