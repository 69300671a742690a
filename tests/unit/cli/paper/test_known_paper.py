"""`curecal book paper`: what the book says of a paper that `curecal paper` wrote."""

from __future__ import annotations

import json
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from freezegun import freeze_time

from curecal.book.connection.open_book import Book, book_url
from curecal.cli.book import book as cli_book
from curecal.cli.main import code_of_run

ROOT = Path(__file__).parents[4]
BATH = ROOT / "examples" / "bathroom" / "job.toml"
JOB = "alder-lane-hall-bath"
AS_OF = ("--as-of", "2026-11-30T12:00:00Z")


@pytest.fixture(autouse=True)
def _typst(needs: Callable[[str], str]) -> None:
    needs("typst")


@pytest.fixture
def run(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Callable[..., tuple[int, str]]:
    """A book with the example in it."""
    monkeypatch.setenv("CURECAL_BOOK", str(tmp_path / "book.sqlite3"))
    monkeypatch.delenv("CURECAL_COMPANY", raising=False)

    def running(*words: object) -> tuple[int, str]:
        with freeze_time("2026-11-30T12:30:00Z"):
            code = code_of_run([str(word) for word in words])
        return code, " ".join(capsys.readouterr().out.split())

    assert running("book", "add", BATH)[0] == 0
    return running


def written(run: Callable[..., tuple[int, str]], folder: Path, *more: str) -> dict[str, Any]:
    """Write the papers; give what is said of them."""
    code, said = run("paper", JOB, folder, "--json", *AS_OF, *more)
    assert code == 0
    found: dict[str, Any] = json.loads(said)
    return found


def known(run: Callable[..., tuple[int, str]], paper: object) -> list[dict[str, Any]]:
    code, said = run("book", "paper", paper, "--json")
    found: list[dict[str, Any]] = json.loads(said)["papers"]
    assert code == (0 if found else 1)
    return found


def test_each_paper_is_known_again(run: Callable[..., tuple[int, str]], tmp_path: Path) -> None:
    made = written(run, tmp_path / "papers", "--draft")
    assert made["kept_in_book"] is True
    drafts = {"card": False, "owner": True, "record": True}
    for paper in made["papers"]:
        (found,) = known(run, paper["file"])
        assert found.pop("record_sha256") is None or paper["paper"] == "record"
        assert found == {
            "job_id": JOB,
            "job": "Alder Lane, hall bath",
            "paper": paper["paper"],
            "language": "en",
            "draft": drafts[paper["paper"]],
            "sha256": paper["sha256"],
            "recorded_at": "2026-11-30T12:30:00Z",
            "as_of": "2026-11-30T12:00:00Z",
            "revision": 1,
            "entries": 7,
            "newer_revisions": 0,
            "newer_entries": 0,
        }


def test_writing_again_adds_nothing(run: Callable[..., tuple[int, str]], tmp_path: Path) -> None:
    for folder in ("one", "two"):
        written(run, tmp_path / folder)
    code, said = run("book", "show", JOB)
    assert code == 0
    assert "3 papers written, the last on Mon 30 Nov 2026, 08:30" in said
    shown = json.loads(run("book", "show", JOB, "--json")[1])["papers"]
    assert sorted(paper["paper"] for paper in shown) == ["card", "owner", "record"]


def test_what_is_said_of_a_paper(run: Callable[..., tuple[int, str]], tmp_path: Path) -> None:
    code, said = run("paper", JOB, tmp_path, "--only", "owner", "--draft", *AS_OF)
    assert (code, "The book keeps these hashes." in said) == (0, True)
    (file,) = tmp_path.glob("*.pdf")
    code, said = run("book", "paper", file)
    assert code == 0
    assert said == (
        "Unchanged: owner's sheet (en, a draft) for Alder Lane, hall bath (alder-lane-hall-bath), "
        "written from this book on Mon 30 Nov 2026, 08:30. It shows the job as of Mon 30 Nov 2026, "
        "08:00, revision 1. The book has no newer entry or revision of this job."
    )


def test_a_changed_file_is_not_known(run: Callable[..., tuple[int, str]], tmp_path: Path) -> None:
    made = written(run, tmp_path, "--only", "card")
    file = Path(made["papers"][0]["file"])
    file.write_bytes(file.read_bytes() + b"\n")
    assert known(run, file) == []
    code, said = run("book", "paper", file)
    assert (code, said.startswith("Not known here: ")) == (1, True)


def test_a_paper_from_before_an_entry_is_of_an_earlier_state(
    run: Callable[..., tuple[int, str]], tmp_path: Path
) -> None:
    made = written(run, tmp_path, "--only", "card")
    note = ("note", JOB, "note", "text=seen", "--at", "2026-11-30T12:10:00Z", "--by", "Ida Fennell")
    assert run(*note)[0] == 0
    code, said = run("book", "paper", made["papers"][0]["file"])
    assert code == 0
    assert said.startswith("Unchanged: hold card")
    assert "It shows an earlier state of the job" in said
    assert "1 newer log entry" in said
    assert "newer revision" not in said


def test_the_hash_at_the_foot_is_known_and_proves_no_page(
    run: Callable[..., tuple[int, str]], tmp_path: Path
) -> None:
    made = written(run, tmp_path, "--only", "record")
    (found,) = known(run, made["papers"][0]["file"])
    code, said = run("book", "paper", found["record_sha256"][:16].upper())
    assert code == 0
    assert said.startswith("Known: commissioning record")
    assert "does not show that the page in your hand is unchanged" in said
    code, said = run("book", "paper", "f" * 16)
    assert (code, said) == (1, "Not known here: no paper from this book has this hash.")


def test_the_hash_that_is_kept_is_the_one_on_the_pages(
    run: Callable[..., tuple[int, str]], tmp_path: Path, needs: Callable[[str], str]
) -> None:
    program = needs("pdftotext")
    made = written(run, tmp_path, "--only", "record")
    (found,) = known(run, made["papers"][0]["file"])
    asked = [program, made["papers"][0]["file"], "-"]
    said = subprocess.run(asked, capture_output=True, text=True, check=True).stdout
    pages = said.split("\f")[:-1]
    assert len(pages) > 1
    assert all(found["record_sha256"][:16] in page for page in pages)


def test_papers_that_rest_on_another_file_are_not_kept(
    run: Callable[..., tuple[int, str]], tmp_path: Path
) -> None:
    log = tmp_path / "more.toml"
    log.write_text(
        '[[log]]\nat = 2026-11-29T12:00:00Z\nkind = "note"\ntext = "x"\n', encoding="utf-8"
    )
    asked = ("paper", JOB, tmp_path, "--only", "card", "--log", log, *AS_OF)
    code, said = run(*asked)
    assert (code, "The book did not keep these hashes" in said) == (0, True)
    (file,) = tmp_path.glob("*.pdf")
    assert known(run, file) == []


def test_a_book_that_is_read_only_still_gives_papers(
    run: Callable[..., tuple[int, str]], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    url = book_url(str(tmp_path / "book.sqlite3"))
    monkeypatch.setattr(cli_book, "book_named", lambda _place: Book(url, looks=True))
    code, said = run("paper", JOB, tmp_path / "papers", "--only", "card", *AS_OF)
    assert (code, "The book did not keep these hashes" in said) == (0, True)


def test_a_job_file_is_not_kept_and_nothing_is_said_of_a_book(
    run: Callable[..., tuple[int, str]], tmp_path: Path
) -> None:
    code, said = run("paper", BATH, tmp_path, *AS_OF)
    assert (code, "The book" in said) == (0, False)
    assert known(run, next(tmp_path.glob("*.pdf"))) == []


def test_a_file_that_is_not_there_is_named(
    run: Callable[..., tuple[int, str]], tmp_path: Path
) -> None:
    assert run("book", "paper", tmp_path / "none.pdf")[0] == 3
    assert run("book", "paper", "f" * 15)[0] == 3
