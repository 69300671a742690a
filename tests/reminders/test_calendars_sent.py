"""`curecal calendars mail --send`: the messages go out by a real mail server, each told once."""

from __future__ import annotations

import json
from email import message_from_bytes
from email.policy import SMTP
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from freezegun import freeze_time

from curecal.calendars.ical.loose_reader import blocks, first_value, loose_lines
from curecal.cli.main import code_of_run
from curecal.delivery.ledger_file import LedgerFile

# Before the clock is held: its deadlines run by the real one.
from curecal.delivery.mail import MailWire

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from mail_server import MailServer

    from curecal.calendars import Mailed
    from curecal.delivery.channels import Answer

EXAMPLE = Path(__file__).parents[2] / "examples" / "bathroom" / "job.toml"
NOW = "2026-11-10T12:00:00Z"


@pytest.fixture
def folder(tmp_path: Path, mail_server: MailServer, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a job, and a mail server that is set up."""
    set_up(monkeypatch, mail_server)
    (tmp_path / "job.toml").write_text(EXAMPLE.read_text("utf-8"), "utf-8")
    return tmp_path


def set_up(monkeypatch: pytest.MonkeyPatch, mail_server: MailServer) -> None:
    monkeypatch.setenv("CURECAL_MAIL_SERVER", f"127.0.0.1:{mail_server.port}")
    monkeypatch.setenv("CURECAL_MAIL_FROM", "office@tilecrew.example")
    monkeypatch.setenv("CURECAL_MAIL_FROM_NAME", "Tile office")
    monkeypatch.setenv("CURECAL_MAIL_SECURITY", "none")
    monkeypatch.delenv("CURECAL_SECRETS", raising=False)


def subject_and_reader(data: str) -> tuple[str, str]:
    read = message_from_bytes(data.encode("latin-1"), policy=SMTP)
    return str(read["Subject"]), str(read["To"])


def run(folder: Path, *more: str) -> int:
    job, out = str(folder / "job.toml"), str(folder / "mail")
    with freeze_time(NOW, ignore=["curecal.delivery", "smtplib"]):
        return code_of_run(["calendars", "mail", job, out, *more])


def told(capsys: pytest.CaptureFixture[str]) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(capsys.readouterr().out)["messages"]
    return found


def test_the_whole_calendar_reaches_each_person_as_one_mail_once(
    folder: Path, mail_server: MailServer, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(folder, "--whole", "--send", "--json") == 0
    assert told(capsys)["sent"] == 3
    mails = mail_server.taken()
    assert sorted(mail["to"][0] for mail in mails) == [
        "ida@home.example",
        "robin@tilecrew.example",
        "sam@sparks.example",
    ]
    for mail in mails:
        read = message_from_bytes(mail["data"].encode("latin-1"), policy=SMTP)
        assert read["From"].addresses[0].addr_spec == "office@tilecrew.example"
        (part,) = [one for one in read.walk() if one.get_content_type() == "text/calendar"]
        assert part.get_payload(decode=True).count(b"BEGIN:VEVENT") > 1
    assert run(folder, "--whole", "--send", "--json") == 0
    assert told(capsys)["sent"] == 0
    assert len(mail_server.taken()) == 3


def after_the_first(monkeypatch: pytest.MonkeyPatch, act: Callable[[], None]) -> None:
    """Let somebody act once the first mail has left."""
    add, turns = LedgerFile.add_mailed, []

    def added(ledger: LedgerFile, job_id: str, mails: Iterable[Mailed]) -> None:
        add(ledger, job_id, mails)
        turns.append(job_id)
        if len(turns) == 1:
            act()

    monkeypatch.setattr(LedgerFile, "add_mailed", added)


def make_colder(folder: Path) -> None:
    text = EXAMPLE.read_text("utf-8").replace('air = "66 °F"', 'air = "63 °F"')
    (folder / "job.toml").write_text(text, "utf-8")


@pytest.mark.parametrize("is_moved", [False, True])
def test_who_sends_at_the_same_time_tells_nothing_twice_and_nothing_old(
    folder: Path,
    mail_server: MailServer,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    *,
    is_moved: bool,
) -> None:
    def send() -> None:
        if is_moved:
            make_colder(folder)
        assert run(folder, "--send", "--json") == 0
        capsys.readouterr()

    after_the_first(monkeypatch, send)
    assert run(folder, "--send", "--json") == 0
    assert told(capsys)["sent"] == 1
    told_of: dict[tuple[str, str], list[int]] = {}
    for mail in mail_server.taken():
        read = message_from_bytes(mail["data"].encode("latin-1"), policy=SMTP)
        (part,) = [one for one in read.walk() if one.get_content_type() == "text/calendar"]
        (lines,) = blocks(loose_lines(part.get_payload(decode=True).decode()), "VEVENT")
        about = mail["to"][0], first_value(lines, "UID")
        told_of.setdefault(about, []).append(int(first_value(lines, "SEQUENCE")))
    assert len(told_of) > 3
    assert all(numbers == sorted(set(numbers)) for numbers in told_of.values()), told_of
    history = LedgerFile(folder / "job.toml").history("alder-lane-hall-bath")
    assert {mail.sequence for mail in history.mailed} == ({0, 1} if is_moved else {0})


@pytest.mark.parametrize("as_json", [False, True])
def test_who_is_published_over_while_sending_learns_what_nobody_was_told(
    folder: Path,
    mail_server: MailServer,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    *,
    as_json: bool,
) -> None:
    def publish() -> None:
        # Somebody else only publishes, and mails nobody.
        make_colder(folder)
        with freeze_time(NOW):
            own = [str(folder / "job.toml"), str(folder / "own")]
            assert code_of_run(["calendars", "write", *own]) == 0
        capsys.readouterr()

    after_the_first(monkeypatch, publish)
    how = ["--send", "--whole", *(["--json"] if as_json else [])]
    assert run(folder, *how) == 0
    # The owner's calendar did not move.
    said = capsys.readouterr().out
    if as_json:
        found = json.loads(said)["messages"]
        assert (found["sent"], found["overtaken"]) == (2, ["sam@sparks.example"])
    else:
        assert "the message to Sam Okoro-Lind was left out: run the command" in " ".join(
            said.split()
        )
        assert "nothing new for Sam" not in said
    assert "sam@sparks.example" not in {mail["to"][0] for mail in mail_server.taken()}
    assert run(folder, "--send", "--whole", "--json") == 0
    assert told(capsys)["overtaken"] == []
    assert "sam@sparks.example" in {mail["to"][0] for mail in mail_server.taken()}


def test_what_the_server_refuses_is_named_and_goes_the_next_time(
    folder: Path, mail_server: MailServer, capsys: pytest.CaptureFixture[str]
) -> None:
    mail_server.behave("later")
    assert run(folder, "--whole", "--send") == 7
    said = capsys.readouterr()
    assert "0 messages sent." in said.out
    assert " ".join(said.out.split()).count("Not sent to") == 3
    assert "3 messages were not sent." in said.err
    mail_server.behave("")
    assert run(folder, "--whole", "--send", "--json") == 0
    found = told(capsys)
    assert (found["sent"], found["not_sent"], found["there_already"]) == (3, [], 0)


def test_what_was_sent_before_a_crash_is_not_sent_again(
    folder: Path,
    mail_server: MailServer,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    send, left = MailWire.send, 4

    def interrupted(self: MailWire, *message: Any, **how: Any) -> Answer:
        nonlocal left
        left -= 1
        if left < 0:
            raise KeyboardInterrupt
        return send(self, *message, **how)

    monkeypatch.setattr(MailWire, "send", interrupted)
    assert run(folder, "--send") == 130
    monkeypatch.setattr(MailWire, "send", send)
    first = [one["data"] for one in mail_server.taken()]
    assert len(first) == 4
    capsys.readouterr()
    assert run(folder, "--send", "--json") == 0
    assert told(capsys)["there_already"] == 4
    titles = [subject_and_reader(one["data"]) for one in mail_server.taken()]
    assert len(titles) == len(set(titles)) > 4


def test_who_wrote_the_files_before_hears_why_nothing_is_sent(
    folder: Path, mail_server: MailServer, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(folder) == 0
    assert "only written into a folder" not in " ".join(capsys.readouterr().out.split())
    assert run(folder, "--send") == 0
    assert "only written into a folder" in " ".join(capsys.readouterr().out.split())
    assert mail_server.taken() == []


def test_a_mail_of_unsure_fate_is_asked_about(
    folder: Path, mail_server: MailServer, capsys: pytest.CaptureFixture[str]
) -> None:
    mail_server.behave("drop")
    assert run(folder, "--whole", "--send") == 7
    assert "It is not known whether the message to Ida Fennell arrived" in " ".join(
        capsys.readouterr().out.split()
    )


def test_without_a_mail_server_nothing_is_written(
    folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.delenv("CURECAL_MAIL_SERVER")
    assert run(folder, "--send") == 2
    assert "No mail server is set up." in capsys.readouterr().err
    assert not (folder / "mail").exists()


def test_what_is_sent_holds_for_now(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(folder, "--send", "--as-of", "2026-12-24 08:00") == 2
    assert "do not go together" in " ".join(capsys.readouterr().err.split())
    assert not (folder / "mail").exists()
