"""`curecal calendars mail --send`: the messages go out by a real mail server, each told once."""

from __future__ import annotations

import json
from email import message_from_bytes
from email.policy import SMTP
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from freezegun import freeze_time

from curecal.cli.main import code_of_run

# Before the clock is held: its deadlines run by the real one.
from curecal.delivery import mail as _  # noqa: F401

if TYPE_CHECKING:
    from mail_server import MailServer

EXAMPLE = Path(__file__).parents[2] / "examples" / "bathroom" / "job.toml"
NOW = "2026-11-10T12:00:00Z"


@pytest.fixture
def folder(tmp_path: Path, mail_server: MailServer, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a job, and a mail server that is set up."""
    monkeypatch.setenv("CURECAL_MAIL_SERVER", f"127.0.0.1:{mail_server.port}")
    monkeypatch.setenv("CURECAL_MAIL_FROM", "office@tilecrew.example")
    monkeypatch.setenv("CURECAL_MAIL_FROM_NAME", "Tile office")
    monkeypatch.setenv("CURECAL_MAIL_SECURITY", "none")
    monkeypatch.delenv("CURECAL_SECRETS", raising=False)
    (tmp_path / "job.toml").write_text(EXAMPLE.read_text("utf-8"), "utf-8")
    return tmp_path


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
