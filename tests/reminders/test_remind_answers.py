"""What `curecal remind` answers: what is on hold, who is not reached, whose rules hold."""

from __future__ import annotations

import json
from datetime import timedelta
from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner
from reminder_samples import HOUR, Caught, Clock, Post, evening, job_text, url_of

from curecal.book.jobs.import_job import add_job
from curecal.cli.remind import remind
from curecal.cli.remind.remind import command
from curecal.delivery.channels import Answer, Outcome
from curecal.errors import BookError
from curecal.reminders.reminder_rules import company_rules

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from curecal.book.outbox.outbox_rows import OutboxRow


@pytest.fixture
def post(tmp_path: Path) -> Iterator[Post]:
    found = Post(url_of(tmp_path), Clock(evening()))
    yield found
    found.close()


def said(tmp_path: Path, *arguments: str) -> str:
    """Return what a command prints."""
    book = ["--book", str(tmp_path / "book.sqlite3")]
    done = CliRunner().invoke(command, [*arguments, *book], catch_exceptions=False)
    assert done.exit_code == 0
    return " ".join(done.output.split())


def test_a_hold_of_a_job_names_it_and_the_command_that_ends_it(post: Post, tmp_path: Path) -> None:
    post.add(job_text(), tmp_path)
    held = said(tmp_path, "pause", "--job", "elm-road")
    assert "Elm Road is on hold" in held
    assert "not even a STOP" in held
    assert "`curecal remind resume --job elm-road`" in held
    assert "`curecal remind resume`." not in held
    # The whole is let go, and the job is not.
    whole = said(tmp_path, "resume")
    assert "Elm Road is on hold" in whole
    assert "`curecal remind resume --job elm-road`" in whole
    again = said(tmp_path, "resume", "--job", "elm-road")
    assert again == "Messages of Elm Road are being sent again."


@pytest.mark.parametrize("named", ["elm-road", "Elm Road", "elm road", "job.toml"])
def test_a_job_is_named_by_id_by_name_or_by_its_file(
    post: Post, tmp_path: Path, named: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    post.add(job_text(), tmp_path)
    (tmp_path / "other").mkdir()
    post.add(job_text("birch-road", name="Birch Road"), tmp_path / "other")
    monkeypatch.chdir(tmp_path)
    assert "Elm Road is on hold" in said(tmp_path, "pause", named)
    assert said(tmp_path, "resume", named) == "Messages of Elm Road are being sent again."
    for command_name in ("list", "due"):
        rows = json.loads(said(tmp_path, command_name, named, "--json"))["reminders"]
        assert {row["job_id"] for row in rows} <= {"elm-road"}
    assert "Elm Road" in said(tmp_path, "list", "--job", named)


def test_a_job_that_is_not_in_the_book_is_named_as_it_was_typed(post: Post, tmp_path: Path) -> None:
    post.add(job_text(), tmp_path)
    for command_name in ("list", "due", "pause", "resume"):
        arguments = [command_name, "Oak Road", "--book", str(tmp_path / "book.sqlite3")]
        done = CliRunner().invoke(command, arguments)
        assert isinstance(done.exception, BookError)
        assert done.exception.params["job_id"] == "Oak Road"


def test_what_is_to_be_sent_is_listed_by_the_clock_of_the_site(
    post: Post, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Half past six in the evening there, half past ten by UTC.
    monkeypatch.setattr(remind, "_now", lambda: post.clock.at)
    post.add(job_text(), tmp_path)
    shown = said(tmp_path, "list")
    assert "due Elm Road: leave the floor heating off, to ida@home.example (email)" in shown
    assert "Thu 3 Dec, 17:00 Elm Road: a test is due" in shown
    assert "2026" not in shown
    assert "due Elm Road" in said(tmp_path, "due")
    assert "On hold since" not in said(tmp_path, "pause")
    assert "On hold since Mon 9 Nov, 18:30: " in said(tmp_path, "status")


def test_a_job_resume_while_everything_is_on_hold(post: Post, tmp_path: Path) -> None:
    post.add(job_text(), tmp_path)
    said(tmp_path, "pause")
    said(tmp_path, "pause", "--job", "elm-road")
    answer = said(tmp_path, "resume", "--job", "elm-road")
    assert "go out again" not in answer
    assert "On hold since" in answer
    assert said(tmp_path, "resume") == "Messages are being sent again."


NOBODY_REACHED = """
[people.crew_lead]
name = "Robin Mistral"
email = "robin@crew.example"

[people.owner]
name = "Ida Fennell"
"""


def test_status_and_simulation_name_who_is_not_reached(post: Post, tmp_path: Path) -> None:
    post.add(job_text(people=NOBODY_REACHED), tmp_path)
    post.cycle.run()
    status = said(tmp_path, "status")
    assert "Elm Road: Ida Fennell gets no messages: please call them." in status
    assert json.loads(said(tmp_path, "status", "--json"))["unreached"] == {
        "elm-road": ["Ida Fennell"]
    }
    job = str(tmp_path / "job.toml")
    done = CliRunner().invoke(command, ["simulate", job, "--as-of", "2026-11-07"])
    assert "Ida Fennell gets no messages" in " ".join(done.output.split())


def test_status_says_which_channel_does_not_work(tmp_path: Path) -> None:
    refusing = Caught([Answer(Outcome.LATER, "530 Authentication required", is_down=True)] * 9)
    post = Post(url_of(tmp_path), Clock(evening()), wires={"email": refusing})
    post.add(job_text(), tmp_path)
    post.cycle.run()
    post.close()
    status = said(tmp_path, "status")
    assert "Nothing can be sent by email now: 530 Authentication required." in status
    # Who lets messages go again leaves a sign of life of its own, and knows of no channel.
    said(tmp_path, "resume")
    assert "Nothing can be sent by email" in said(tmp_path, "status")


def with_company(tmp_path: Path, reminders: str) -> Path:
    """Write a job that names its company's file; return the job's."""
    folder = tmp_path / "files"
    folder.mkdir()
    (folder / "own.toml").write_text(reminders, encoding="utf-8")
    text = job_text().replace("[job]\n", '[job]\ncompany = "own.toml"\n')
    (folder / "job.toml").write_text(text, encoding="utf-8")
    return folder / "job.toml"


# At 18:30 on a Monday the usual rules tell the owner; these tell no owner before 19:00.
TIMES = {"crew_lead": "17:00", "electrician": "16:00", "owner": "19:00"}
LATER = "[reminders.message_at]\n" + "".join(f'{who} = "{at}"\n' for who, at in TIMES.items())


def to_owner(post: Post) -> list[OutboxRow]:
    return [row for row in post.messages("digest") if row.recipient == "ida@home.example"]


@pytest.mark.parametrize(("reminders", "told_at"), [(LATER, "19:00"), ("[reminders]\n", "18:30")])
def test_a_jobs_own_company_says_when(
    post: Post, tmp_path: Path, reminders: str, told_at: str
) -> None:
    add_job(post.book, with_company(tmp_path, reminders), now=post.clock.at - 3 * HOUR)
    end = post.clock.at + 3 * HOUR
    while post.clock.at < end and not to_owner(post):
        post.cycle.run()
        post.clock.go(timedelta(minutes=5))
    [row] = to_owner(post)
    local = row.created_at - 4 * HOUR
    assert f"{local:%H:%M}" == told_at


def test_a_file_named_for_all_comes_before_a_jobs_own(post: Post, tmp_path: Path) -> None:
    post.context.reminder_rules = company_rules({"message_at": {**TIMES, "owner": "08:00"}})
    post.context.by_company = False
    add_job(post.book, with_company(tmp_path, LATER), now=post.clock.at - 3 * HOUR)
    post.cycle.run()
    assert len(to_owner(post)) == 1


def test_a_slip_in_a_jobs_own_rules_keeps_nothing_back_and_is_shown(
    post: Post, tmp_path: Path
) -> None:
    path = with_company(tmp_path, '[reminders.still-curing]\nat = "soon"\n')
    add_job(post.book, path, now=post.clock.at - 3 * HOUR)
    post.cycle.run()
    assert len(to_owner(post)) == 1
    status = said(tmp_path, "status")
    assert "Elm Road: [reminders] in its company's file cannot be used" in status


@pytest.mark.slow
@pytest.mark.parametrize("reminders", ["[reminders]\n", "[reminders.still-curing]\noff = true\n"])
def test_a_simulation_plays_by_the_jobs_own_company(tmp_path: Path, reminders: str) -> None:
    job = with_company(tmp_path, reminders)
    done = CliRunner().invoke(command, ["simulate", str(job), "--as-of", "2026-11-09", "--json"])
    kinds = {each["kind"] for each in json.loads(done.output)["messages"]}
    assert ("still-curing" in kinds) is ("off" not in reminders)
