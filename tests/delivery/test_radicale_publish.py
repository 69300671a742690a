"""The public command against a real server: publish, again, move, one person's own calendar."""

from __future__ import annotations

import json
import stat
from pathlib import Path

import httpx
import pytest
from dav_samples import Example
from dav_server import PASSWORD, USER, Server

from curecal.calendars.ical.loose_reader import loose_lines

CREW = "alder-lane-hall-bath-crew"
OWNER = "alder-lane-hall-bath-owner"
ELECTRICIAN = "alder-lane-hall-bath-electrician"
pytestmark = pytest.mark.usefixtures("known")


def sequences(server: Server, name: str) -> dict[str, int]:
    """The SEQUENCE that is stored of each resource, by its name."""
    return {
        path: int(text.partition("\nSEQUENCE:")[2].split("\n", 1)[0])
        for path, text in server.resources(name).items()
    }


def test_three_calendars_are_made_and_filled(
    radicale: Server, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = Example.copied(tmp_path)
    assert job.run(radicale.home) == 0
    said = capsys.readouterr().out
    assert said.startswith("No: not before ")
    assert f"{radicale.home}{CREW}/: 3 new" in said
    assert f"{radicale.home}{ELECTRICIAN}/: 2 new" in said
    assert f"{radicale.home}{OWNER}/: 4 new" in said
    for name in (CREW, ELECTRICIAN, OWNER):
        for path, text in radicale.resources(name).items():
            # RFC 4791, 4.1: no METHOD; and of ours, one resource for each UID, named after it.
            assert "METHOD" not in text
            assert f"UID:{path.removesuffix('.ics')}\n" in text.replace("\r\n", "\n")
            assert text.count("BEGIN:VEVENT") == 1
        assert set(sequences(radicale, name).values()) == {0}


def test_every_event_says_what_it_is_about(radicale: Server, tmp_path: Path) -> None:
    job = Example.copied(tmp_path)
    assert job.run(radicale.home) == 0
    for name in (CREW, ELECTRICIAN, OWNER):
        for text in radicale.resources(name).values():
            assert "X-CURECAL-JOB:alder-lane-hall-bath" in loose_lines(text)
            event = loose_lines(text.partition("BEGIN:VEVENT")[2])
            marks = [line for line in event if line.startswith("X-CURECAL-EVENT:")]
            assert len(marks) == 1
            assert marks[0].startswith(f"X-CURECAL-EVENT:{name.rpartition('-')[2]}\\n")


def test_again_sends_nothing(
    radicale: Server, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = Example.copied(tmp_path)
    assert job.run(radicale.home) == 0
    before = {name: radicale.resources(name) for name in (CREW, ELECTRICIAN, OWNER)}
    log = (tmp_path / "server.log").read_text(encoding="utf-8")
    capsys.readouterr()
    assert job.run(radicale.home, as_of="2026-12-02 21:00") == 0
    assert f"{CREW}/: 3 as before" in capsys.readouterr().out
    assert {name: radicale.resources(name) for name in before} == before
    added = (tmp_path / "server.log").read_text(encoding="utf-8")[len(log) :]
    assert "PROPFIND request" in added
    assert "PUT request" not in added
    assert "MKCALENDAR request" not in added


def test_a_move_updates_the_same_resources(
    radicale: Server, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = Example.copied(tmp_path)
    assert job.run(radicale.home) == 0
    names = set(radicale.resources(CREW))
    capsys.readouterr()
    job.colder()
    assert job.run(radicale.home, "--json", as_of="2026-12-02 21:00") == 0
    told = json.loads(capsys.readouterr().out)
    assert told["complete"] is True
    assert set(radicale.resources(CREW)) == names
    for calendar, collection in zip(told["calendars"], told["collections"], strict=True):
        stored = sequences(radicale, collection["url"].rstrip("/").rpartition("/")[2])
        assert calendar["changes"]
        for change in calendar["changes"]:
            assert change["change"] == "changed"
            assert stored[f"{change['uid']}.ics"] == change["sequence"] == 1


def test_one_persons_own_calendar_keeps_what_else_is_in_it(
    radicale: Server, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    place = f"{radicale.home}robins-own/"
    theirs = (
        "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//x//x//EN\r\nBEGIN:VEVENT\r\nUID:dentist\r\n"
        "DTSTAMP:20261101T000000Z\r\nDTSTART:20261205T090000Z\r\nSUMMARY:Dentist\r\n"
        "END:VEVENT\r\nEND:VCALENDAR\r\n"
    )
    with httpx.Client(auth=(USER, PASSWORD), trust_env=False) as client:
        assert client.request("MKCALENDAR", place).status_code == 201
        sent = client.put(
            f"{place}dentist.ics", content=theirs, headers={"Content-Type": "text/calendar"}
        )
        assert sent.status_code == 201
    job = Example.copied(tmp_path)
    assert job.run(place, "--for", "crew") == 0
    assert job.run(place, "--for", "owner") == 0
    said = capsys.readouterr().out
    # Two people in one calendar: neither takes the other's entries for entries that are gone.
    assert "cancelled" not in said
    assert len(radicale.resources("robins-own")) == 1 + 4 + 3
    assert "Dentist" in radicale.resources("robins-own")["dentist.ics"]
    assert job.run(place, "--for", "crew", as_of="2026-12-02 21:00") == 0
    assert "3 as before" in capsys.readouterr().out


def test_a_wrong_password_is_said(
    radicale: Server,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setenv("CURECAL_CALDAV_PASSWORD", "not-the-password")
    assert Example.copied(tmp_path).run(radicale.home) == 7
    ended = capsys.readouterr()
    assert ended.out == ""
    assert "does not accept the name and password" in ended.err
    assert "not-the-password" not in ended.err


def test_a_netrc_file_serves_as_well(
    radicale: Server, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("CURECAL_CALDAV_USER")
    monkeypatch.delenv("CURECAL_CALDAV_PASSWORD")
    found = tmp_path / ".netrc"
    found.write_text(f'machine 127.0.0.1 login {USER} password "{PASSWORD}"\n', encoding="utf-8")
    found.chmod(stat.S_IRUSR | stat.S_IWUSR)
    job = Example.copied(tmp_path)
    assert job.run(radicale.home) == 0
    assert len(radicale.resources(CREW)) == 3
    found.chmod(0o644)
    assert job.run(radicale.home) == 3


def test_another_users_place_is_refused(
    radicale: Server, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert Example.copied(tmp_path).run(f"{radicale.url}/sam/") == 7
    assert "does not let this user" in capsys.readouterr().err
    assert not (radicale.folder / "collection-root" / "sam").exists()


def test_what_is_no_calendar_is_refused(
    radicale: Server, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = Example.copied(tmp_path)
    assert job.run(radicale.home, "--for", "crew") == 7
    assert "is not a calendar" in capsys.readouterr().err
    assert job.run(f"{radicale.home}nowhere/", "--for", "crew") == 7
    assert "There is no calendar at" in capsys.readouterr().err


def test_an_instant_before_the_last_publishing_is_refused(
    radicale: Server, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = Example.copied(tmp_path)
    assert job.run(radicale.home) == 0
    before = radicale.resources(CREW)
    assert job.run(radicale.home, as_of="2026-12-01 20:00") == 2
    assert "published as of" in capsys.readouterr().err
    assert radicale.resources(CREW) == before
