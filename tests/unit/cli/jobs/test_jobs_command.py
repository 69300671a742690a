"""`curecal jobs`: the table, the board of days, the jobs at risk, and machine output."""

from __future__ import annotations

import json
import time
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from sqlalchemy import insert

from curecal.book.connection.open_book import book_url, open_book
from curecal.book.schema.tables import job
from curecal.cli.jobs.jobs_shown import jobs_lines
from curecal.cli.main import code_of_run
from curecal.overview.job_answer import JobAnswer, NextThing
from curecal.overview.kept_answers import Answered
from curecal.words.catalogue import catalogue
from curecal.words.layout import plain
from curecal.words.sentences import Words
from curecal.words.values import Reader

if TYPE_CHECKING:
    from collections.abc import Iterator

EXAMPLES = Path(__file__).parents[4] / "examples"
AS_OF = "2026-12-01 14:00"


@pytest.fixture(autouse=True)
def by_utc(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Let the machine's clock show UTC: an instant without a zone is meant by it."""
    monkeypatch.setenv("TZ", "UTC")
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


@pytest.fixture
def book(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Path:
    """A book of the examples, named by the environment."""
    place = tmp_path / "book.sqlite3"
    monkeypatch.setenv("CURECAL_BOOK", str(place))
    monkeypatch.delenv("CURECAL_COMPANY", raising=False)
    for name in ("bathroom", "porcelain-on-sheet"):
        assert code_of_run(["book", "add", str(EXAMPLES / name / "job.toml")]) == 0
    capsys.readouterr()
    return place


def said(capsys: pytest.CaptureFixture[str], *words: str, code: int = 0) -> str:
    assert code_of_run(["jobs", "--as-of", AS_OF, *words]) == code
    return capsys.readouterr().out


def answered(capsys: pytest.CaptureFixture[str], *words: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(said(capsys, "--json", *words))
    assert (found["schema"], found["as_of"]) == (1, "2026-12-01T14:00:00Z")
    return found


@pytest.mark.usefixtures("book")
@pytest.mark.parametrize(
    ("typed", "instant"),
    # The clocks of Halifax show UTC - 3 h in summer and UTC - 4 h in winter.
    [("2027-07-15 14:00", "2027-07-15T17:00:00Z"), ("2027-01-15 14:00", "2027-01-15T18:00:00Z")],
)
def test_an_instant_is_by_the_clock_that_holds_then(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], typed: str, instant: str
) -> None:
    monkeypatch.setenv("TZ", "America/Halifax")
    time.tzset()
    code_of_run(["jobs", "--json", "--as-of", typed])
    assert json.loads(capsys.readouterr().out)["as_of"] == instant


@pytest.mark.usefixtures("book")
def test_every_job_stands_in_a_line(capsys: pytest.CaptureFixture[str]) -> None:
    text = said(capsys)
    assert text.startswith("2 jobs, Tue 1 Dec\n")
    assert "Alder Lane, hall" in text
    assert "on?    owner   next" in text
    assert all(len(line) <= 80 for line in text.splitlines())
    # Wider terminals have room for longer names.
    assert "Alder Lane, hall bath " in said(capsys, "--width", "120")


@pytest.mark.usefixtures("book")
def test_a_narrow_screen_gets_a_list(capsys: pytest.CaptureFixture[str]) -> None:
    text = said(capsys, "--width", "44")
    assert all(len(line) <= 44 for line in text.splitlines())
    assert "on?: no; " in text


@pytest.mark.usefixtures("book")
def test_machine_output_says_the_same_as_the_plan(capsys: pytest.CaptureFixture[str]) -> None:
    found = answered(capsys)["jobs"]
    assert [one["job_id"] for one in found] == ["alder-lane-hall-bath", "saltmarsh-entry"]
    for listed in found:
        assert code_of_run(["plan", listed["job_id"], "--as-of", f"{AS_OF}Z", "--json"]) == 0
        plan = json.loads(capsys.readouterr().out)
        (zone,) = plan["zones"]
        assert listed["answer"].startswith("No: ")
        assert listed["start_on"] == zone["energize"]["start_on"]
        assert listed["owner_on"] == zone["energize"]["owner_date"]
        assert (listed["state"], listed["may_energize"]) == (zone["state"], plan["may_energize"])


@pytest.mark.usefixtures("book")
def test_at_risk_leaves_the_others_out(capsys: pytest.CaptureFixture[str]) -> None:
    text = said(capsys, "--at-risk")
    assert text.startswith("At risk: ")
    assert "At risk\n  - " in text
    risky = answered(capsys, "--at-risk")["jobs"]
    assert risky
    assert all(one["at_risk"] and one["risks"][0]["why"] for one in risky)


@pytest.mark.usefixtures("book")
def test_the_board_has_a_paragraph_a_day(capsys: pytest.CaptureFixture[str]) -> None:
    text = said(capsys, "--days", "60")
    assert text.startswith("60 days from Tue 1 Dec\n")
    assert "  - Alder Lane, hall bath: the owner's day\n" in text
    days = answered(capsys, "--days", "60")["days"]
    assert [day["on"] for day in days] == sorted(day["on"] for day in days)
    assert {"job_id", "job", "kind", "what"} == set(days[0]["events"][0])
    assert days[-1]["on"] <= "2027-01-29"
    few = answered(capsys, "--days", "1")["days"]
    assert [day["on"] for day in few] in ([], ["2026-12-01"])


@pytest.mark.usefixtures("book")
def test_a_day_with_nothing_says_so(capsys: pytest.CaptureFixture[str]) -> None:
    assert code_of_run(["jobs", "--as-of", "2026-09-05 14:00", "--days", "1"]) == 0
    assert "Nothing is planned for this day." in capsys.readouterr().out


def test_an_empty_book_says_how_to_begin(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    place = tmp_path / "book.sqlite3"
    open_book(book_url(str(place)), create=True).close()
    monkeypatch.setenv("CURECAL_BOOK", str(place))
    assert "curecal book add JOB" in said(capsys)
    assert answered(capsys)["jobs"] == []


def test_without_a_book_the_command_ends_as_the_book_does(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("CURECAL_BOOK", str(tmp_path / "none.sqlite3"))
    assert code_of_run(["jobs"]) == 6
    assert "none.sqlite3" in capsys.readouterr().err


def test_no_job_at_risk_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    place = tmp_path / "book.sqlite3"
    monkeypatch.setenv("CURECAL_BOOK", str(place))
    text = (EXAMPLES / "bathroom" / "job.toml").read_text(encoding="utf-8")
    file = tmp_path / "job.toml"
    file.write_text(text, encoding="utf-8")
    assert code_of_run(["book", "add", str(file)]) == 0
    capsys.readouterr()
    # On the day of the last reading nothing is late yet.
    assert code_of_run(["jobs", "--at-risk", "--as-of", "2026-11-07 14:00"]) == 0
    assert capsys.readouterr().out == "The only job in the book is not at risk.\n"


def test_a_job_of_no_known_zone_is_listed_all_the_same(
    book: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with open_book(book_url(str(book))) as opened, opened.writing() as connection:
        odd = {"id": "odd", "name": "Odd", "timezone": "Nowhere/At All"}
        connection.execute(insert(job).values(**odd))
        connection.execute(insert(job).values(id="bare", name="Bare", timezone="UTC"))
    text = said(capsys, code=1)
    assert "Odd" in text
    assert "no date" in text
    assert "this job cannot be read" not in text
    assert "Odd: " in text


def answer(**more: Any) -> Answered:
    made = JobAnswer(
        state="curing",
        may_energize=False,
        answer="No.",
        start_on=None,
        owner_on=None,
        next_step=None,
        next_visit=None,
        waiting_for=(),
        risks=(),
        has_problem=False,
    )
    return Answered("id", "Job", "UTC", replace(made, **more), (), is_kept=False)


@pytest.mark.parametrize(
    ("more", "shown"),
    [
        ({"may_energize": True}, "yes"),
        ({"state": "stopped"}, "STOP"),
        ({"state": "no date"}, "no date"),
        ({"start_on": date(2028, 3, 4)}, "4 Mar"),
        ({"next_step": NextThing("grout", None)}, "grout"),
    ],
)
def test_each_state_has_its_word(more: dict[str, Any], shown: str) -> None:
    words = Words(catalogue("en"), Reader(today=date(2026, 12, 1)))
    lines = plain(
        jobs_lines([answer(**more)], words=words, width=80, today=date(2026, 12, 1), title="")
    )
    text = "\n".join(lines)
    assert shown in text
    assert ("2028" in text) is ("start_on" in more)
    assert "At risk" not in text
