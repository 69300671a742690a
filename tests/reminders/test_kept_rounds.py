"""A round plans what moved since the last one, and says the same as one that plans everything."""

from __future__ import annotations

import email
from datetime import UTC, datetime, timedelta
from email.policy import SMTP
from typing import TYPE_CHECKING, Any

import pytest
from reminder_samples import DAY, HOUR, Clock, Post, evening, evidence, job_text, released, url_of
from sqlalchemy import select

from curecal.book.schema.tables import job as job_table
from curecal.errors import CurecalError
from curecal.reminders.messages.send_context import KnownJob, PlannedNow, SendContext
from curecal.reminders.reminder_rules import company_rules
from curecal.reminders.sending import plan_all, scheduler_cycle

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from sqlalchemy.engine import Connection

BEGINS = datetime(2026, 11, 10, 11, tzinfo=UTC)
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


def every_job(connection: Connection, _context: object, **_named: object) -> tuple[str, ...]:
    return tuple(connection.execute(select(job_table.c.id)).scalars())


@pytest.mark.slow
def test_a_round_that_plans_what_moved_says_what_one_says_that_plans_everything(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept, kept_planned = live(tmp_path / "kept")
    monkeypatch.setattr(scheduler_cycle, "jobs_to_replan", every_job)
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
            "curecal.reminders.sending.replan_notes.basis_of_answers", lambda: "another"
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
