"""Every kind of file that a command reads, broken in every way: an answer or a refusal, in time.

A command that meets a broken file ends with a code that the manual names, says why, and shows no
traceback; what was nobody's to write is as it was.
"""

from __future__ import annotations

import importlib
import json
import random
import shutil
import sqlite3
import time
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import pytest
from file_mutations import COUNTS, count_of

from curecal.book.connection.open_book import book_url, open_book
from curecal.cli.main import INTERNAL, code_of_run

if TYPE_CHECKING:
    from collections.abc import Callable

# The gateway's library still uses a module that Python 3.13 has not.
pytestmark = [
    pytest.mark.filterwarnings("ignore:'imghdr':DeprecationWarning"),
    pytest.mark.slow,
]

ROOT = Path(__file__).parents[2]
AS_OF = "2026-11-20T12:00"
LONGEST_S = 60.0

HOSTILE = [b"\x00", b"\xff\xfe", b"\xef\xbb\xbf", b"\r", b"\n\n", b'"', b"[[", b"]]", b"=", b"'''"]
HOSTILE += [b"9" * 400, b"\xe2\x80\xae", b"inf", b"nan", b"-0", b"2026-02-30", b"{", b"}", b"\x1b["]


def broken(data: bytes, rng: random.Random) -> bytes:
    """Return octets broken in one to three ways."""
    for _ in range(rng.randint(1, 3)):
        start = rng.randrange(len(data) + 1)
        end = min(len(data), start + rng.choice([1, 2, 8, 64, 512]))
        piece = data[start:end]
        match rng.randrange(7):
            case 0:
                data = data[:start]
            case 1:
                data = data[:start] + data[end:]
            case 2:
                data = data[:end] + piece + data[end:]
            case 3:
                data = data[:start] + rng.choice(HOSTILE) + data[start:]
            case 4:
                data = data[:start] + rng.randbytes(len(piece)) + data[end:]
            case 5:
                flipped = bytes(octet ^ (1 << rng.randrange(8)) for octet in piece)
                data = data[:start] + flipped + data[end:]
            case _:
                other = rng.randrange(len(data) + 1)
                data = data[:start] + data[end:other] + piece + data[max(end, other) :]
    return data


class Input(NamedTuple):
    """A kind of file: which one is broken, and the commands that read it."""

    file: str
    commands: tuple[tuple[str, ...], ...]


CALENDARS = ("calendars", "write", "job.toml", "calendars", "--as-of", AS_OF)
PLAN = ("plan", "job.toml", "--as-of", AS_OF)
INPUTS = {
    "job file": Input(
        "job.toml",
        (
            PLAN,
            (*PLAN, "--json"),
            ("explain", "job.toml", "--as-of", AS_OF),
            ("note", "job.toml", "air", "air=64 °F", "at=2026-11-20T08:00"),
            CALENDARS,
            ("book", "add", "job.toml", "--book", "new.sqlite3"),
            ("remind", "simulate", "job.toml", "--as-of", AS_OF),
        ),
    ),
    "company file": Input("company.toml", ((*PLAN, "--company", "company.toml"),)),
    "further log": Input("log.toml", ((*PLAN, "--log", "log.toml"),)),
    "ledger": Input(
        "job.toml.published.json",
        (CALENDARS,),
    ),
    "calendar": Input(
        "calendars/owner.ics",
        (
            ("calendars", "check", "calendars/owner.ics"),
            CALENDARS,
        ),
    ),
    "book": Input(
        "book.sqlite3",
        (
            ("book", "list", "--book", "book.sqlite3"),
            ("book", "check", "--book", "book.sqlite3"),
            ("plan", "alder-lane-hall-bath", "--as-of", AS_OF, "--book", "book.sqlite3"),
            ("remind", "status", "--book", "book.sqlite3"),
            ("remind", "send", "--instead", "file:mails", "--book", "book.sqlite3"),
        ),
    ),
    "manifest of an export": Input(
        "export/{manifest}", (("book", "restore", "export", "--book", "new.sqlite3"),)
    ),
    "logger file": Input(
        "export.csv",
        (("readings", "export.csv", "--timezone", "America/Halifax"),),
    ),
    "workbook": Input(
        "export.xlsx",
        (("readings", "export.xlsx", "--timezone", "America/Halifax"),),
    ),
    # The book has no message: a server whose name is broken is nobody's to send to.
    "secrets": Input("secrets.toml", (("remind", "send", "--book", "empty.sqlite3"),)),
}
DOCUMENTED = {0, 1, 2, 3, 4, 5, 6, 7}


def test_the_long_run_mutates_a_hundred_thousand_inputs() -> None:
    """Each test draws its own share; all kinds are named in one table."""
    assert sum(COUNTS.values()) >= 100_000
    tests = Path(__file__).parent.glob("test_*.py")
    texts = "".join(path.read_text(encoding="utf-8") for path in tests)
    assert [kind for kind in COUNTS if f'"{kind}"' not in texts] == []


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory, needs: Callable[[str], str]) -> Path:
    """Give a folder with one of each kind of file, all whole."""
    needs("openpyxl")
    folder = tmp_path_factory.mktemp("whole")
    shutil.copytree(ROOT / "examples" / "bathroom", folder, dirs_exist_ok=True)
    (folder / "company.toml").write_text(
        '[reminders]\nquiet_from = "21:00"\n[reminders.heat-day]\nat = "09:00"\n', encoding="utf-8"
    )
    (folder / "log.toml").write_text(
        '[[log]]\nid = "more"\nat = 2026-11-18T08:00:00\nkind = "air"\nair = "64 °F"\n'
        'by = "Robin Mistral"\n',
        encoding="utf-8",
    )
    shutil.copy(ROOT / "tests" / "files_of_loggers" / "shape_1.csv", folder / "export.csv")
    book = importlib.import_module("openpyxl").Workbook()
    book.active.append(["Time (UTC)", "Temp °C", "RH %"])
    for hour in range(24):
        book.active.append([f"2026-11-0{1 + hour // 12} {hour % 12:02}:00:00", 18 + hour / 10, 55])
    book.save(folder / "export.xlsx")
    (folder / "secrets.toml").write_text(
        '[mail]\nserver = "127.0.0.1:9"\nfrom = "office@tile.example"\nsecurity = "none"\n'
        '[text]\ngateway = "json://127.0.0.1:9/{phone}"\n',
        encoding="utf-8",
    )
    (folder / "secrets.toml").chmod(0o600)
    ledger = folder / INPUTS["ledger"].file
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        assert code_of_run(list(CALENDARS)) == 0
        before_the_book = ledger.read_bytes()
        for command in (
            ("book", "add", "job.toml", "--book", "book.sqlite3"),
            ("book", "export", "alder-lane-hall-bath", "export", "--book", "book.sqlite3"),
        ):
            assert code_of_run(list(command)) == 0, command
    # Handed to a book, the record beside the job would be refused whole, and never looked into.
    ledger.write_bytes(before_the_book)
    open_book(book_url(str(folder / "empty.sqlite3"))).close()
    for name in ("book.sqlite3", "empty.sqlite3"):
        with closing(sqlite3.connect(folder / name)) as plain:
            plain.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            plain.execute("PRAGMA journal_mode = DELETE")
    return folder


def copied(whole: Path, folder: Path, kind: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Copy everything into a folder and go there, as onto a machine that remembers nothing."""
    shutil.copytree(whole, folder)
    monkeypatch.chdir(folder)
    # Else every book here would be an older copy of one, and on hold.
    monkeypatch.setenv("XDG_STATE_HOME", str(folder / "state"))
    if kind == "secrets":
        monkeypatch.setenv("CURECAL_SECRETS", str(folder / INPUTS[kind].file))


@pytest.mark.parametrize("kind", INPUTS)
def test_a_whole_file_is_read(
    kind: str,
    whole: Path,
    tmp_path: Path,
    capfd: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """What refuses a whole file too would refuse a broken one for another reason, and read none."""
    for number in range(2):
        copied(whole, tmp_path / str(number), kind, monkeypatch)
        for command in INPUTS[kind].commands:
            code = code_of_run(list(command))
            said = capfd.readouterr()
            assert code == 0, (command, said.err)
            assert "On hold" not in said.out


@pytest.mark.parametrize("kind", INPUTS)
def test_a_broken_file_is_answered_or_refused(
    kind: str,
    whole: Path,
    tmp_path: Path,
    capfd: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    rng = random.Random(kind)  # noqa: S311 - files are drawn, no secrets
    file, commands = INPUTS[kind]
    [manifest] = [path.name for path in (whole / "export").glob("*.json")]
    name = file.format(manifest=manifest)
    data = (whole / name).read_bytes()
    codes = set()
    for number in range(max(6, count_of("every command") // len(INPUTS))):
        folder = tmp_path / str(number)
        copied(whole, folder, kind, monkeypatch)
        spoiled = broken(data, rng)
        (folder / name).write_bytes(spoiled)
        for command in commands:
            begun_s = time.monotonic()
            code = code_of_run(list(command))
            said = capfd.readouterr()
            about = (kind, number, command, said.err[-400:])
            assert code != INTERNAL, about
            assert code in DOCUMENTED, about
            assert "Traceback" not in said.out + said.err, about
            assert time.monotonic() - begun_s < LONGEST_S, about
            # Whoever gets no answer reads why; what is shown as data is data.
            assert (said.out + said.err).strip(), about
            if "--json" in command and said.out:
                json.loads(said.out)
            codes.add(code)
        shutil.rmtree(folder)
    # Some of it was refused: what breaks nothing tests nothing.
    assert codes - {0}, kind
