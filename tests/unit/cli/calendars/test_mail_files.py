"""`curecal calendars mail` and `check`: messages once each, and faults by line."""

from __future__ import annotations

import json
import stat
from email import message_from_bytes
from email.policy import default
from pathlib import Path

import pytest

from curecal.calendars import faults
from curecal.cli.main import code_of_run
from curecal.words.catalogue import catalogue

EXAMPLE = Path(__file__).parents[4] / "examples" / "bathroom" / "job.toml"
EARLY, LATER = "2026-11-10T08:00", "2026-11-11T08:00"


def job(folder: Path, **swaps: str) -> Path:
    text = EXAMPLE.read_text(encoding="utf-8")
    for old, new in swaps.items():
        wanted = {"sender": 'email = "robin@tilecrew.example"', "air": 'air = "66 °F"'}[old]
        assert wanted in text
        text = text.replace(wanted, new)
    path = folder / "job.toml"
    path.write_text(text, encoding="utf-8")
    return path


def mail(path: Path, folder: Path, *more: str, as_of: str = EARLY) -> dict[str, object]:
    arguments = ["calendars", "mail", str(path), str(folder), "--as-of", as_of, "--json", *more]
    assert code_of_run(arguments) == 0, arguments
    return {}


def messages(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.glob("*.eml")}


def test_each_entry_goes_once_to_its_reader(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    mail(job(tmp_path), out)
    told = json.loads(capsys.readouterr().out)
    first = messages(out)
    assert sorted(Path(each).name for each in told["messages"]["written"]) == sorted(first)
    # Each names a person with an address: it is its owner's to read; the calendars are everybody's.
    rights = {path.suffix: stat.S_IMODE(path.stat().st_mode) for path in out.glob("[a-z]*.*")}
    assert (rights[".eml"], rights[".ics"]) == (0o600, 0o644)
    to = {
        name.partition("-")[0]: message_from_bytes(data, policy=default)["To"]
        for name, data in first.items()
    }
    assert {name: who.addresses[0].addr_spec for name, who in to.items()} == {
        "crew": "robin@tilecrew.example",
        "electrician": "sam@sparks.example",
        "owner": "ida@home.example",
    }
    mail(job(tmp_path), out, as_of=LATER)
    again = json.loads(capsys.readouterr().out)
    assert again["messages"] == {
        "written": [],
        "there_already": len(first),
        "without_address": [],
        "told_before": [],
        "sent_before": [],
        "overtaken": [],
        "sent": None,
        "not_sent": [],
    }
    assert messages(out) == first


def test_a_moved_date_sends_the_changed_entries_and_no_other(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    mail(job(tmp_path), out)
    first = messages(out)
    capsys.readouterr()
    mail(job(tmp_path, air='air = "63 °F"'), out, as_of=LATER)
    told = json.loads(capsys.readouterr().out)
    changed = {
        change["uid"]
        for calendar in told["calendars"]
        for change in calendar["changes"]
        if change["change"] == "changed"
    }
    written = {Path(each).name for each in told["messages"]["written"]}
    assert changed
    assert all(name.endswith("-1.eml") for name in written)
    told_uids = set()
    for name in written:
        one = message_from_bytes((out / name).read_bytes(), policy=default)
        (part,) = [each for each in one.walk() if each.get_content_type() == "text/calendar"]
        data = part.get_payload(decode=True)
        assert isinstance(data, bytes)
        assert b"\r\nSEQUENCE:1\r\n" in data
        told_uids.add(data.partition(b"BEGIN:VEVENT\r\nUID:")[2][:36].decode())
    assert told_uids == changed
    assert first.items() <= messages(out).items()


def test_what_is_over_is_told_to_nobody_who_never_heard_of_it(tmp_path: Path) -> None:
    (tmp_path / "other").mkdir()
    mail(job(tmp_path), tmp_path / "early")
    mail(job(tmp_path / "other"), tmp_path / "late", as_of="2026-12-20T08:00")
    early, late = messages(tmp_path / "early"), messages(tmp_path / "late")
    # "Do not switch on", "ask us before you touch it" on the day that ends, and that morning.
    assert sum(name.startswith("owner") for name in early) == 3
    told = [{name for name in found if name.startswith("owner")} for found in (late, early)]
    # That morning is over: only the first of the two is still news.
    assert len(told[0]) == 1
    assert told[0] < told[1]
    owner = (tmp_path / "early" / "owner.ics").read_bytes()
    assert owner.count(b"BEGIN:VEVENT") == 4


def test_the_first_time_the_whole_calendar_goes_in_one_message(tmp_path: Path) -> None:
    out = tmp_path / "out"
    mail(job(tmp_path), out, "--whole")
    first = messages(out)
    assert sorted(name.partition("-")[0] for name in first) == ["crew", "electrician", "owner"]
    for name, data in first.items():
        one = message_from_bytes(data, policy=default)
        assert one["Subject"] == "Alder Lane, hall bath: the whole calendar"
        (part,) = [part for part in one.walk() if part.get_content_type() == "text/calendar"]
        assert part.get_param("method") == "PUBLISH"
        found = part.get_payload(decode=True)
        assert isinstance(found, bytes)
        there = (out / f"{name.partition('-')[0]}.ics").read_bytes()
        # All of it but what is over already: nobody needs an entry of last week.
        assert 1 < found.count(b"BEGIN:VEVENT") <= there.count(b"BEGIN:VEVENT")
        assert faults(found) == ()
    # Told once; what moves then goes entry by entry.
    mail(job(tmp_path), out, "--whole")
    assert messages(out) == first
    mail(job(tmp_path, air='air = "63 °F"'), out, "--whole", as_of=LATER)
    later = [name for name in messages(out) if name not in first]
    assert later
    assert all(name.endswith("-1.eml") for name in later)


def test_who_sends_may_be_named_and_the_crew_lead_is_then_invited_too(tmp_path: Path) -> None:
    out = tmp_path / "out"
    mail(job(tmp_path), out, "--sender", "Office <office@tilecrew.example>")
    for name, data in messages(out).items():
        one = message_from_bytes(data, policy=default)
        assert one["From"].addresses[0].addr_spec == "office@tilecrew.example", name
        (part,) = [each for each in one.walk() if each.get_content_type() == "text/calendar"]
        assert part.get_param("method") == "REQUEST"


def test_without_a_sender_nothing_is_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    path = job(tmp_path, sender="")
    assert code_of_run(["calendars", "mail", str(path), str(out), "--as-of", EARLY]) == 2
    assert "--sender" in capsys.readouterr().err
    assert not out.exists()
    bad = ["calendars", "mail", str(path), str(out), "--sender", "office", "--as-of", EARLY]
    assert code_of_run(bad) == 3
    assert "not a mail address" in capsys.readouterr().err
    assert not out.exists()


def test_who_has_no_address_is_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = job(tmp_path, sender="")
    more = ["--sender", "office@tilecrew.example", "--as-of", EARLY]
    assert code_of_run(["calendars", "mail", str(path), str(tmp_path / "out"), *more]) == 0
    out = capsys.readouterr().out
    assert "no mail address for crew lead" in out
    assert "messages to Sam Okoro-Lind" in out
    # A path is not broken.
    assert [line for line in out.splitlines() if len(line) > 80 and "/" not in line] == []


def test_check_finds_nothing_in_what_was_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    mail(job(tmp_path), out)
    capsys.readouterr()
    files = [str(path) for path in sorted(out.iterdir()) if path.suffix in {".ics", ".eml"}]
    assert len(files) > 6
    assert code_of_run(["calendars", "check", *files]) == 0
    assert capsys.readouterr().out.count("no faults") == len(files)


def test_check_names_the_line_of_a_fault(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    mail(job(tmp_path), out)
    capsys.readouterr()
    path = out / "owner.ics"
    path.write_bytes(path.read_bytes().replace(b"SEQUENCE:0", b"SEQUENCE:-1", 1))
    assert code_of_run(["calendars", "check", str(path)]) == 1
    said = capsys.readouterr().out
    assert "line 15: SEQUENCE is not a number" in said
    assert "1 fault." in said
    assert code_of_run(["calendars", "check", "--json", str(path)]) == 1
    (file,) = json.loads(capsys.readouterr().out)["files"]
    assert file["faults"] == [{"code": "calendar-sequence", "line": 15, "detail": "SEQUENCE"}]


def test_check_of_what_is_no_calendar_is_refused_or_said(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert code_of_run(["calendars", "check", str(tmp_path / "none.ics")]) == 3
    letter = tmp_path / "letter.eml"
    letter.write_text("Subject: hello\n\nhello\n", encoding="utf-8")
    assert code_of_run(["calendars", "check", str(letter)]) == 3
    assert "no calendar in it" in capsys.readouterr().err
    noise = tmp_path / "noise.ics"
    noise.write_bytes(bytes(range(256)) * 4)
    assert code_of_run(["calendars", "check", str(noise)]) == 1


def test_published_files_name_who_publishes_and_keep_their_revision(tmp_path: Path) -> None:
    out, path = tmp_path / "out", job(tmp_path)
    write = ["calendars", "write", str(path), str(out), "--as-of", EARLY]
    assert code_of_run(write) == 0
    plain = (out / "crew.ics").read_bytes()
    assert b"METHOD" not in plain
    assert code_of_run([*write, "--sender", "robin@tilecrew.example"]) == 0
    named = (out / "crew.ics").read_bytes()
    assert named.count(b"METHOD:PUBLISH\r\n") == 1
    assert named.count(b"ORGANIZER:mailto:robin@tilecrew.example\r\n") == named.count(
        b"BEGIN:VEVENT"
    )
    assert b"ATTENDEE" not in named
    assert named.count(b"SEQUENCE:0\r\n") == named.count(b"BEGIN:VEVENT")
    assert code_of_run(write) == 0
    assert (out / "crew.ics").read_bytes() == plain
    assert code_of_run(["calendars", "check", str(out / "crew.ics")]) == 0


def test_messages_that_were_sent_and_taken_away_are_still_known(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    mail(job(tmp_path), out)
    for path in out.glob("*.eml"):
        path.unlink()
    capsys.readouterr()
    mail(job(tmp_path), out, as_of=LATER)
    assert json.loads(capsys.readouterr().out)["messages"]["written"] == []
    stopped = job(tmp_path)
    with stopped.open("a", encoding="utf-8") as file:
        file.write(
            '\n[[log]]\nat = 2026-11-11T12:00:00Z\nkind = "stopped"\ncause = "other"\n'
            'zone = "hall"\n'
        )
    arguments = ["calendars", "mail", str(stopped), str(out), "--as-of", "2026-11-11T09:00"]
    assert code_of_run(arguments) == 0
    subjects = [
        message_from_bytes(data, policy=default)["Subject"]
        for name, data in messages(out).items()
        if name.startswith("electrician")
    ]
    assert any(
        subject.strip().startswith("Canceled: Alder Lane, hall bath: ") for subject in subjects
    )


def test_who_was_told_before_and_who_sent_before_is_said(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    mail(job(tmp_path), out)
    path = job(tmp_path)
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("sam@sparks.example", "kim@sparks.example"), encoding="utf-8")
    capsys.readouterr()
    more = ["--sender", "office@tilecrew.example", "--as-of", LATER]
    assert code_of_run(["calendars", "mail", str(path), str(out), *more]) == 0
    said = capsys.readouterr().out
    assert "sam@sparks.example was told before" in said
    assert "Earlier messages came from robin@tilecrew.example." in said


def test_another_folder_gets_no_message_twice(tmp_path: Path) -> None:
    mail(job(tmp_path), tmp_path / "out")
    assert messages(tmp_path / "out")
    mail(job(tmp_path), tmp_path / "other", as_of=LATER)
    assert messages(tmp_path / "other") == {}


def test_a_file_that_is_no_calendar_is_one_line(capsys: pytest.CaptureFixture[str]) -> None:
    assert code_of_run(["calendars", "check", str(EXAMPLE)]) == 1
    assert capsys.readouterr().out == (f"{EXAMPLE} is not a calendar: it has no BEGIN:VCALENDAR.\n")


@pytest.mark.parametrize("more", [(), ("--whole",)])
def test_a_message_is_in_its_readers_language_else_in_the_jobs(
    tmp_path: Path, more: tuple[str, ...]
) -> None:
    path = job(tmp_path, sender='email = "robin@tilecrew.example"\nlanguage = "pl"')
    text = path.read_text(encoding="utf-8").replace("[job]\n", '[job]\nlanguage = "de"\n', 1)
    path.write_text(text.replace("hall bath", "1: hall bath"), encoding="utf-8")
    mail(path, tmp_path / "out", *more)
    told = [message_from_bytes(one, policy=default) for one in messages(tmp_path / "out").values()]
    for letter in told:
        words = catalogue("pl" if "robin@" in letter["To"] else "de")
        body = letter.get_body(("plain",))
        assert body is not None
        answer, _, _ = words.text("mail.answer").other.partition("{")
        assert answer.strip() in " ".join(body.get_content().split())
    wholes = {letter["Subject"] for letter in told if more}
    german, polish = "1: hall bath: der ganze Kalender", "1: hall bath: cały kalendarz"
    assert wholes == ({f"Alder Lane, {german}", f"Alder Lane, {polish}"} if more else set())
