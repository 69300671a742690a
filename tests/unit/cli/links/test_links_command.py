"""`curecal links`: who gets a link to what, what is shown of it afterwards, and how it ends."""

from __future__ import annotations

import json
import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
import pytest
import segno

from curecal.cli.book.book import command as book_command
from curecal.cli.links.links import command
from curecal.cli.links.links_shown import show_qr
from curecal.errors import BookError, CurecalError, UsageError

if TYPE_CHECKING:
    from collections.abc import Callable

EXAMPLE = Path(__file__).parents[4] / "examples" / "bathroom" / "job.toml"
JOB = "alder-lane-hall-bath"
SECRET = re.compile(r"[A-Za-z0-9_-]{43}")


@pytest.fixture
def run(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Callable[..., str]:
    monkeypatch.setenv("CURECAL_BOOK", str(tmp_path / "book.sqlite3"))
    monkeypatch.delenv("CURECAL_COMPANY", raising=False)
    monkeypatch.delenv("CURECAL_ADDRESS", raising=False)
    book_command.main(["add", str(EXAMPLE)], "book", standalone_mode=False)
    capsys.readouterr()

    def running(*words: str) -> str:
        command.main(list(words), "links", standalone_mode=False)
        return capsys.readouterr().out

    return running


def listed(run: Callable[..., str]) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = json.loads(run("list", "--json"))["links"]
    return found


@pytest.mark.parametrize(
    ("person", "page", "has_feed"),
    [
        ("Ida Fennell", "owner", True),
        ("sam  okoro-lind", "electrician", True),
        ("Robin Mistral", "crew", True),
        ("Nan Averill, town hall", "crew", False),
    ],
)
def test_each_person_gets_the_page_of_their_role(
    run: Callable[..., str], person: str, page: str, *, has_feed: bool
) -> None:
    made = json.loads(run("add", JOB, person, "--address", "https://pages.example", "--json"))
    (link,) = made["links"]
    assert (link["for"], link["works"], link["feed"] is not None) == (page, True, has_feed)
    assert re.fullmatch(r"https://pages\.example/p/[A-Za-z0-9_-]{43}/", link["address"])
    if has_feed:
        assert re.fullmatch(
            r"https://pages\.example/f/[A-Za-z0-9_-]{43}/curecal\.ics", link["feed"]["address"]
        )


def test_a_secret_is_told_once(run: Callable[..., str], tmp_path: Path) -> None:
    said = run("add", JOB, "Ida Fennell")
    secrets = set(SECRET.findall(said))
    assert len(secrets) == 2
    assert said.count("shown only now") == 1
    later = run("list") + run("list", JOB, "--json")
    octets = (tmp_path / "book.sqlite3").read_bytes()
    for secret in secrets:
        assert secret not in later
        assert secret.encode() not in octets


def test_a_terminal_gets_a_code_to_scan_and_a_pipe_gets_none(
    run: Callable[..., str], monkeypatch: pytest.MonkeyPatch
) -> None:
    address = "http://127.0.0.1:8080/p/" + "A" * 43 + "/"
    show_qr(address)
    assert "\u2588" not in run("list")
    monkeypatch.setattr("sys.stdout.isatty", lambda: True)
    show_qr(address)
    drawn = run("list").split("There are")[0]
    # Two rows of squares a line: read back, it is the very code of that address.
    rows = [click.unstyle(line) for line in drawn.splitlines() if line]
    light = {"\u2588": "00", "\u2580": "01", "\u2584": "10", " ": "11"}
    upper = ["".join(light[sign][0] for sign in row) for row in rows]
    wanted = segno.make(address, error="l", micro=False)
    first = ["".join("1" if dark else "0" for dark in row) for row in wanted.matrix_iter()]
    assert upper == first[::2]
    monkeypatch.setitem(sys.modules, "segno", None)
    show_qr(address)
    assert "\u2588" not in run("list")


def test_the_list_shows_note_end_and_use(run: Callable[..., str]) -> None:
    run("add", JOB, "Ida Fennell", "--days", "30", "--note", "phone in the hall")
    run("add", "--office", "Una Birch")
    found = {link["for"]: link for link in listed(run)}
    assert found["owner"]["note"] == "phone in the hall"
    assert found["owner"]["expires_at"] == found["feed"]["expires_at"]
    assert found["owner"]["last_used_at"] is None
    assert (found["office"]["person"], found["office"]["job_id"]) == ("Una Birch", None)
    text = run("list")
    for said in ("phone in the hall", "works until", "never used", "All jobs", "Alder Lane"):
        assert said in " ".join(text.split())
    assert "Una Birch" not in run("list", JOB)


def test_each_link_is_taken_back_alone(run: Callable[..., str]) -> None:
    run("add", JOB, "Ida Fennell")
    page = next(link["id"] for link in listed(run) if link["for"] == "owner")
    assert f"{page} no longer works" in " ".join(run("revoke", page).split())
    assert {link["for"]: link["works"] for link in listed(run)} == {"owner": False, "feed": True}
    first = next(link["revoked_at"] for link in listed(run) if link["id"] == page)
    run("revoke", page)
    assert next(link["revoked_at"] for link in listed(run) if link["id"] == page) == first
    assert "ENDED" in run("list")
    with pytest.raises(BookError, match="book-link-unknown"):
        run("revoke", "l-00000000")


def test_a_feed_over_all_jobs_wants_a_mail_address(run: Callable[..., str]) -> None:
    made = json.loads(run("add", JOB, "Ida Fennell", "--all-jobs", "--json"))
    (link,) = made["links"]
    assert (link["for"], link["job_id"], link["person"]) == ("feed", None, "ida@home.example")
    with pytest.raises(UsageError, match="links-no-mail"):
        run("add", JOB, "Nan Averill, town hall", "--all-jobs")


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("add",), "links-for-whom"),
        (("add", JOB), "links-for-whom"),
        (("add", JOB, "Nobody"), "links-nobody"),
        (("add", "no-such-job", "Ida Fennell"), "book-job-unknown"),
        (("list", "no-such-job"), "book-job-unknown"),
        (("add", JOB, "Ida Fennell", "--for", "crew"), "links-other-role"),
        (("add", JOB, "Ida Fennell", "--for", "owner", "--all-jobs"), "links-one-kind"),
        (("add", JOB, "Ida Fennell", "--office", "Una"), "links-office-alone"),
        (("add", "--office", "Una", "--for", "owner"), "links-office-alone"),
        (("add", "--office", " "), "links-for-whom"),
        (("add", JOB, "Ida Fennell", "--address", "pages.example"), "serve-address"),
        (("add", JOB, "Ida Fennell", "--address", "https://pages.example/x"), "serve-address"),
        (("add", JOB, "Ida Fennell", "--address", "ftp://pages.example"), "serve-address"),
        (("add", JOB, "Ida Fennell", "--address", "https://u@pages.example"), "serve-address"),
        (("add", JOB, "Ida Fennell", "--address", "https://pages.example:x"), "serve-address"),
    ],
)
def test_what_cannot_be_is_refused_and_makes_no_link(
    run: Callable[..., str], words: tuple[str, ...], code: str
) -> None:
    with pytest.raises(CurecalError) as refused:
        run(*words)
    assert refused.value.code == code
    assert listed(run) == []


def test_a_name_typed_almost_right_is_offered(run: Callable[..., str]) -> None:
    with pytest.raises(UsageError) as refused:
        run("add", JOB, "Ida Fenell")
    assert refused.value.params["near"] == "Ida Fennell"
