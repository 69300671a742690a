"""The ledger beside a lone job file: whole, one writer at a time, and never another job's.

Source of the rule after a loss: RFC 5546, 2.1.4, receivers go by SEQUENCE; the hundred and the
thousand are ours.
"""

from __future__ import annotations

import hashlib
import json
import multiprocessing
import shutil
from concurrent.futures import Future, ThreadPoolExecutor, wait
from dataclasses import replace
from pathlib import Path

import pytest
from calendar_samples import AS_OF, JOB
from filelock import FileLock
from test_ics_folder import MOVED, contents, ledger_of, numbers, put

from curecal.calendars import Audience, History, LogMark, Mailed, RevisionChange
from curecal.delivery import whole_files
from curecal.delivery.ledger_file import LedgerFile
from curecal.errors import SourceError, StoreMoved, UsageError

MAIL = Mailed("u-1", 2, "ida@home.example", "robin@tilecrew.example")


def refused(code: str, folder: Path) -> SourceError:
    """Publish again, and see that nothing at all was written."""
    ledger = ledger_of(folder).path
    folder.mkdir(exist_ok=True)
    before = contents(folder), ledger.read_bytes() if ledger.exists() else None
    with pytest.raises(SourceError) as caught:
        put(folder, MOVED, 1)
    assert caught.value.code == code
    assert (contents(folder), ledger.read_bytes() if ledger.exists() else None) == before
    return caught.value


def test_the_ledger_is_written_before_any_output(tmp_path: Path) -> None:
    # Where the folder should be stands a file.
    (tmp_path / "out").write_bytes(b"")
    with pytest.raises(SourceError) as caught:
        put(tmp_path / "out")
    assert caught.value.code == "calendar-not-shown"
    assert len(ledger_of(tmp_path / "out").history(JOB.id).revisions) > 3


def test_all_of_it_comes_back(tmp_path: Path) -> None:
    put(tmp_path / "out")
    ledger = ledger_of(tmp_path / "out")
    before = ledger.history(JOB.id)
    marks = {"air": LogMark("a" * 24, "reading", AS_OF)}
    some = frozenset(list(before.revisions)[:2])
    made = replace(before, first=7, suspect=some, rests_on=marks)
    kept = ledger.put(JOB.id, made, expected=before.generation)
    ledger.add_mailed(JOB.id, [MAIL])
    found = ledger.history(JOB.id)
    assert (found.first, found.suspect, found.rests_on) == (7, some, marks)
    assert (found.revisions, found.ledger_id) == (before.revisions, before.ledger_id)
    assert found.mailed == {MAIL}
    assert found.newest_at == max(one.changed_at for one in before.revisions.values())
    assert kept.generation != before.generation
    with pytest.raises(StoreMoved):
        ledger.put(JOB.id, made, expected=before.generation)


def test_what_is_the_same_is_not_even_written(tmp_path: Path) -> None:
    put(tmp_path / "out")
    path = ledger_of(tmp_path / "out").path
    before = path.stat()
    put(tmp_path / "out", hours=1)
    assert (path.stat().st_mtime_ns, path.stat().st_ino) == (before.st_mtime_ns, before.st_ino)


def test_a_deleted_ledger_is_named_and_gone_above_by_a_person(tmp_path: Path) -> None:
    folder = tmp_path / "out"
    put(folder)
    put(folder, MOVED, 1)
    ledger_of(folder).path.unlink()
    assert refused("ledger-missing", folder).params["place"] == str(folder / "crew.ics")
    made, _ = put(folder, MOVED, 2, anyway=True)
    # The highest that the folder shows is 1.
    assert {one.sequence for one in made.revisions} == {101}
    assert numbers(folder, Audience.OWNER) == {101}
    assert set(put(folder, MOVED, 3)[0].changes.values()) == {RevisionChange.UNCHANGED}


def test_a_copy_without_the_newest_is_refused(tmp_path: Path) -> None:
    folder = tmp_path / "out"
    put(folder)
    path = ledger_of(folder).path
    old = path.read_bytes()
    put(folder, MOVED, 1)
    path.write_bytes(old)
    refused("ledger-behind", folder)
    made, _ = put(folder, MOVED, 2, anyway=True)
    assert {one.sequence for one in made.revisions} == {101}


def test_another_copy_with_a_ledger_of_its_own_is_refused(tmp_path: Path) -> None:
    folder, other = tmp_path / "out", tmp_path / "other"
    put(folder)
    put(other)
    shutil.copy(ledger_of(other).path, ledger_of(folder).path)
    refused("ledger-other", folder)
    put(folder, MOVED, 2, anyway=True)
    assert numbers(folder, Audience.CREW) == {100}


def test_a_fork_of_one_ledger_is_refused(tmp_path: Path) -> None:
    """Two copies of job and ledger publish apart; the one that counted less is refused."""
    folder, fork = tmp_path / "out", tmp_path / "fork"
    put(folder)
    ledger_of(fork)
    shutil.copy(ledger_of(folder).path, ledger_of(fork).path)
    put(fork, MOVED, 1)
    shutil.copytree(fork, folder, dirs_exist_ok=True)
    refused("ledger-behind", folder)


@pytest.mark.parametrize(
    "damage",
    [
        lambda data: data[:500],
        lambda data: data.replace(b'"sequence": 0', b'"sequence": 3', 1),
        lambda _: b"[1]",
        lambda _: b"\xff",
        lambda _: b"",
    ],
)
def test_a_damaged_ledger_is_named_and_kept_aside(tmp_path: Path, damage: object) -> None:
    folder = tmp_path / "out"
    put(folder)
    path = ledger_of(folder).path
    broken = damage(path.read_bytes())  # type: ignore[operator]
    path.write_bytes(broken)
    assert refused("ledger-damaged", folder).params["path"] == str(path)
    made, _ = put(folder, MOVED, 2, anyway=True)
    assert {one.sequence for one in made.revisions} == {100}
    assert path.with_name(f"{path.name}.kept").read_bytes() == broken


def test_a_damaged_ledger_without_any_output_starts_at_a_thousand(tmp_path: Path) -> None:
    ledger_of(tmp_path / "out").path.write_bytes(b"")
    made, _ = put(tmp_path / "out", anyway=True)
    assert {one.sequence for one in made.revisions} == {1000}


def test_another_jobs_ledger_is_refused(tmp_path: Path) -> None:
    ledger_of(tmp_path / "out").put("elder", History(""), expected="")
    assert refused("ledger-foreign", tmp_path / "out").params["other"] == "elder"


def test_a_newer_programs_ledger_is_refused(tmp_path: Path) -> None:
    path = ledger_of(tmp_path / "out").path
    put(tmp_path / "out")
    document = json.loads(path.read_bytes())
    del document["digest"]
    document["schema"] = 2
    digest = whole_digest(document)
    path.write_text(json.dumps({**document, "digest": digest}), "utf-8")
    refused("ledger-newer", tmp_path / "out")


def whole_digest(document: dict[str, object]) -> str:
    return hashlib.sha256(json.dumps(document, sort_keys=True).encode()).hexdigest()


def test_a_renamed_job_file_is_told_how_to_go_on(tmp_path: Path) -> None:
    folder = tmp_path / "out"
    put(folder)
    ledger = ledger_of(folder)
    with pytest.raises(SourceError) as caught:
        LedgerFile(ledger.path.with_name("bath.toml")).history(JOB.id)
    assert caught.value.code == "ledger-renamed"
    found = {"found": str(ledger.path), "wanted": "bath.toml.published.json", "job_id": JOB.id}
    assert caught.value.params == found
    # Another job in the same folder is none of its business, nor is a file that is none.
    ledger.path.with_name("x.published.json").write_bytes(b"x")
    assert LedgerFile(ledger.path.with_name("bath.toml")).history("elder") == History("")
    ledger.path.rename(ledger.path.with_name("bath.toml.published.json"))
    assert LedgerFile(ledger.path.with_name("bath.toml")).history(JOB.id).revisions


def test_the_whole_folder_of_a_job_may_move(tmp_path: Path) -> None:
    put(tmp_path / "out")
    shutil.move(tmp_path / "out-job", tmp_path / "far-job")
    shutil.move(tmp_path / "out", tmp_path / "far")
    made, shown = put(tmp_path / "far", hours=1)
    assert set(made.changes.values()) == {RevisionChange.UNCHANGED}
    assert shown.written == ()


def hold(lock: str, held: object, done: object) -> None:
    with FileLock(lock):
        held.set()  # type: ignore[attr-defined]
        done.wait(60)  # type: ignore[attr-defined]


def test_two_machines_on_one_share_wait_for_each_other(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "out"
    put(folder)
    path = ledger_of(folder).path
    monkeypatch.setattr(whole_files, "_LOCK_S", 0.2)
    context = multiprocessing.get_context("spawn")
    held, done = context.Event(), context.Event()
    lock = str(path.with_name(f".{path.name}.lock"))
    other = context.Process(target=hold, args=(lock, held, done))
    other.start()
    try:
        assert held.wait(60)
        refused("ledger-locked", folder)
    finally:
        done.set()
        other.join(60)
    put(folder, MOVED, 1)


def test_a_mail_that_left_is_kept_whoever_publishes_meanwhile(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "out"
    put(folder)
    ledger = ledger_of(folder)
    look, others = ledger.history, ThreadPoolExecutor(1)
    published: list[Future[object]] = []

    def looked(job_id: str) -> History:
        found = look(job_id)
        published.append(others.submit(put, folder, MOVED, 1))
        # Somebody else has all the time it takes, if nothing keeps them waiting.
        wait(published, timeout=0.5)
        return found

    monkeypatch.setattr(ledger, "history", looked)
    ledger.add_mailed(JOB.id, [MAIL])
    assert [one.exception(60) for one in published] == [None]
    others.shutdown()
    found = ledger_of(folder).history(JOB.id)
    assert found.mailed == {MAIL}
    assert {one.sequence for one in found.revisions.values()} == {1}


def test_a_job_that_a_book_took_over_is_published_from_there(tmp_path: Path) -> None:
    folder = tmp_path / "out"
    put(folder)
    ledger = ledger_of(folder)
    kept: list[History] = []
    ledger.hand_over(JOB.id, kept.append)
    assert {one.sequence for one in kept[0].revisions.values()} == {0}
    with pytest.raises(UsageError) as caught:
        put(folder, MOVED, 1)
    assert caught.value.code == "calendar-of-book"
    # The book is gone for good, and it may have published since.
    made, _ = put(folder, MOVED, 2, anyway=True)
    assert {one.sequence for one in made.revisions} == {100}
    assert set(put(folder, MOVED, 3)[0].changes.values()) == {RevisionChange.UNCHANGED}
