"""Calendars in a folder: whole files, shown from the ledger, and nobody else's file touched."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from calendar_samples import AS_OF, HALL, HALL_PLAN, JOB, RULES, plan

from curecal.calendars import Audience, Revised, RevisionChange, build, feeds, goes, issue
from curecal.delivery import ics_folder as directory
from curecal.delivery.ics_folder import CalendarFolder
from curecal.delivery.ledger_file import LedgerFile
from curecal.errors import SourceError, StoreMoved
from curecal.planning.plan import Plan

NAMES = ["crew.ics", "electrician.ics", "owner.ics"]
ROOT = Path(__file__).parents[3]
HOUR = timedelta(hours=1)


def named(name: str, as_of: datetime = AS_OF) -> Plan:
    """The plan with its zone's name, which stands in every title, changed."""
    return plan(replace(HALL_PLAN, zone=replace(HALL, name=name)), as_of=as_of)


PLAN, MOVED = named("hall bath"), named("bath upstairs")


def ledger_of(folder: Path) -> LedgerFile:
    """The ledger of the job that a folder shows, in a folder of its own beside it."""
    beside = folder.parent / f"{folder.name}-job"
    beside.mkdir(parents=True, exist_ok=True)
    return LedgerFile(beside / "job.toml")


def put(
    folder: Path, made: Plan = PLAN, hours: int = 0, *, anyway: bool = False
) -> tuple[Revised, CalendarFolder]:
    found = feeds(made, rules=RULES)
    shown = CalendarFolder(folder, found)
    ledger = ledger_of(folder)
    ledger.anyway = anyway
    how = goes(made, rules=RULES)
    now = AS_OF + hours * HOUR
    return issue(found, ledger, now=now, goes=how, outputs=[shown], anyway=anyway), shown


def unmarked(data: bytes) -> bytes:
    """A calendar without the mark of its ledger, whose id is drawn at random."""
    return re.sub(rb"X-CURECAL-LEDGER:[^\r]*\r\n", b"", data)


def contents(folder: Path) -> dict[str, bytes]:
    """All files of a folder but the lock."""
    found = (path for path in folder.iterdir() if path.name != directory.LOCK_NAME)
    return {path.name: path.read_bytes() for path in found}


def refused(code: str, folder: Path, made: Plan = MOVED) -> SourceError:
    with pytest.raises(SourceError) as caught:
        put(folder, made, 1)
    assert caught.value.code == code
    assert caught.value.exit_code == 3
    return caught.value


def numbers(folder: Path, audience: Audience) -> set[int]:
    data = (folder / f"{audience.value}.ics").read_bytes()
    return {int(found) for found in re.findall(rb"\r\nSEQUENCE:([0-9]+)", data)}


def test_the_first_publishing_writes_the_files_as_built(tmp_path: Path) -> None:
    folder = tmp_path / "new" / "folder"
    _, store = put(folder)
    found = {name: unmarked(data) for name, data in contents(folder).items()}
    assert found == build(PLAN, rules=RULES)
    assert [path.name for path in store.written] == NAMES
    assert {path.stat().st_mode & 0o777 for path in store.written} == {0o644}
    assert store.kept == {}


def test_what_has_not_changed_is_not_even_written(tmp_path: Path) -> None:
    put(tmp_path)
    before = {path: path.stat() for path in tmp_path.glob("*.ics")}
    again, store = put(tmp_path, hours=5)
    assert set(again.changes.values()) == {RevisionChange.UNCHANGED}
    assert store.written == ()
    for path, stat in before.items():
        found = path.stat()
        assert (found.st_mtime_ns, found.st_ino) == (stat.st_mtime_ns, stat.st_ino)


def test_only_the_file_that_changes_is_written(tmp_path: Path) -> None:
    put(tmp_path)
    grout = replace(HALL_PLAN.layers[2], milestones={})
    made = replace(HALL_PLAN, layers=(*HALL_PLAN.layers[:2], grout))
    before = contents(tmp_path)
    revised, store = put(tmp_path, plan(made), 1)
    # Without these the owner's days of use go, and nobody else hears of it.
    assert {each.audience for each in revised.told} == {Audience.OWNER}
    assert [path.name for path in store.written] == ["owner.ics"]
    assert {name for name, data in contents(tmp_path).items() if data != before[name]} == {
        "owner.ics"
    }


def test_a_link_stays_a_link_and_its_file_is_written(tmp_path: Path) -> None:
    shown, shared = tmp_path / "shown", tmp_path / "shared"
    put(shown)
    shared.mkdir()
    (shown / "crew.ics").rename(shared / "robin.ics")
    (shown / "crew.ics").symlink_to("../shared/robin.ics")
    (shared / ".robin.ics.x.curecal-part").touch()
    (shared / ".robin.ics.swp").touch()
    put(shown, MOVED, 1)
    assert (shown / "crew.ics").is_symlink()
    assert b"bath upstairs" in (shared / "robin.ics").read_bytes()
    # What a killed writer left is gone, what an editor keeps there is not.
    assert sorted(path.name for path in shared.iterdir()) == [".robin.ics.swp", "robin.ics"]


def link_to_nowhere(folder: Path) -> None:
    (folder / "crew.ics").symlink_to("nowhere")


def link_to_itself(folder: Path) -> None:
    (folder / "crew.ics").symlink_to("crew.ics")


def a_folder(folder: Path) -> None:
    (folder / "crew.ics").mkdir()


def a_pipe(folder: Path) -> None:
    os.mkfifo(folder / "crew.ics")


@pytest.mark.parametrize("stand", [link_to_nowhere, link_to_itself, a_folder, a_pipe])
def test_what_is_no_file_stops_all(tmp_path: Path, stand: Callable[[Path], None]) -> None:
    put(tmp_path)
    (tmp_path / "crew.ics").unlink()
    stand(tmp_path)
    owner = (tmp_path / "owner.ics").read_bytes()
    error = refused("calendar-not-a-file", tmp_path)
    assert str(error.params["path"]).endswith("crew.ics")
    assert (tmp_path / "owner.ics").read_bytes() == owner
    assert sorted(path.name for path in tmp_path.iterdir()) == [directory.LOCK_NAME, *NAMES]


def test_two_names_of_one_file_are_refused(tmp_path: Path) -> None:
    put(tmp_path)
    (tmp_path / "owner.ics").unlink()
    (tmp_path / "owner.ics").symlink_to("crew.ics")
    before = (tmp_path / "crew.ics").read_bytes()
    refused("calendar-one-file", tmp_path)
    assert (tmp_path / "crew.ics").read_bytes() == before


def test_another_job_s_calendars_are_left_alone(tmp_path: Path) -> None:
    put(tmp_path / "other", plan(job=replace(JOB, id="elder")))
    put(tmp_path / "out")
    shutil.copy(tmp_path / "other" / "owner.ics", tmp_path / "out")
    before = contents(tmp_path / "out")
    error = refused("calendar-other-job", tmp_path / "out")
    assert error.params["other"] == "elder"
    assert contents(tmp_path / "out") == before


@pytest.mark.parametrize("data", [b"mine", b"\xff", b"X", b"BEGIN:VCALENDAR\r\nEND:VCALENDAR\r\n"])
def test_a_file_that_is_not_ours_is_left_until_a_person_says_so(
    tmp_path: Path, data: bytes
) -> None:
    (tmp_path / "crew.ics").write_bytes(data)
    error = refused("ledger-missing", tmp_path, PLAN)
    assert error.params["place"] == str(tmp_path / "crew.ics")
    assert contents(tmp_path) == {"crew.ics": data}
    made, shown = put(tmp_path, anyway=True)
    assert shown.kept == {"crew.ics": tmp_path / "crew.ics.kept"}
    assert (tmp_path / "crew.ics.kept").read_bytes() == data
    assert {one.sequence for one in made.revisions} == {1000}
    # From then on there is a ledger, and nothing more is kept.
    _, shown = put(tmp_path, hours=1)
    assert (shown.kept, shown.written) == ({}, ())


def test_every_kept_file_has_a_name_of_its_own(tmp_path: Path) -> None:
    put(tmp_path)
    for count, name in enumerate(["crew.ics.kept", "crew.ics.kept-2", "crew.ics.kept-3"]):
        (tmp_path / "crew.ics").write_bytes(b"mine %d" % count)
        assert put(tmp_path)[1].kept == {"crew.ics": tmp_path / name}
    (tmp_path / "crew.ics").write_bytes(b"mine 1")
    assert put(tmp_path)[1].kept == {"crew.ics": tmp_path / "crew.ics.kept-2"}
    for count in range(3):
        number = f"-{count + 1}" if count else ""
        assert (tmp_path / f"crew.ics.kept{number}").read_bytes() == b"mine %d" % count


@pytest.mark.parametrize("how", ["cut", "gone", "edited", "identity"])
def test_a_damaged_file_is_put_back_as_it_was(tmp_path: Path, how: str) -> None:
    put(tmp_path)
    put(tmp_path, MOVED, 1)
    before = contents(tmp_path)
    path, whole = tmp_path / "owner.ics", before["owner.ics"]
    uid = whole.partition(b"\r\nUID:")[2][:36]
    damaged = {
        "cut": whole[:2000],
        "edited": whole.replace(b"SUMMARY:", b"SUMMARY:no ", 1),
        "identity": whole.replace(uid, bytes([uid[0] ^ 1]) + uid[1:], 1),
    }
    if how == "gone":
        path.unlink()
    else:
        path.write_bytes(damaged[how])
    made, shown = put(tmp_path, MOVED, 2)
    if how == "edited":
        # Above what somebody edited under our number, in whatever shows the calendar.
        assert sorted(one.sequence for one in made.revisions)[-2:] == [1, 2]
        assert shown.kept["owner.ics"].read_bytes() == damaged[how]
        assert b"SUMMARY:no " not in path.read_bytes()
        return
    assert set(made.changes.values()) == {RevisionChange.UNCHANGED}
    assert shown.written == (path,)
    after = contents(tmp_path)
    assert {name: after[name] for name in NAMES} == before
    if how == "gone":
        assert shown.kept == {}
    else:
        assert shown.kept["owner.ics"].read_bytes() == damaged[how]


def test_an_edit_that_raised_sequence_is_put_back_above_it(tmp_path: Path) -> None:
    put(tmp_path)
    path = tmp_path / "owner.ics"
    data = path.read_bytes()
    path.write_bytes(data.replace(b"SEQUENCE:0", b"SEQUENCE:6", 1).replace(b":0\r\nDTST", b":x", 0))
    (uid,) = re.findall(rb"UID:([-0-9a-f]{36})\r\n(?:[^S].*\r\n)*SEQUENCE:6", path.read_bytes())
    made, shown = put(tmp_path, hours=1)
    found = {one.uid: one.sequence for one in made.revisions}
    assert found[uid.decode()] == 7
    assert {found[other] for other in found if other != uid.decode()} == {0}
    assert shown.kept
    # Once is enough.
    assert put(tmp_path, hours=2)[1].written == ()


def test_a_number_that_nobody_counts_to_is_not_gone_above(tmp_path: Path) -> None:
    put(tmp_path)
    path = tmp_path / "owner.ics"
    path.write_bytes(path.read_bytes().replace(b"SEQUENCE:0", b"SEQUENCE:2147483647", 1))
    made, _ = put(tmp_path, hours=1)
    assert {one.sequence for one in made.revisions} == {0}


def test_a_program_that_only_spells_it_otherwise_has_changed_nothing(tmp_path: Path) -> None:
    put(tmp_path)
    before = contents(tmp_path)
    path = tmp_path / "crew.ics"
    path.write_bytes(before["crew.ics"].replace(b"\r\n ", b"").replace(b"\r\n", b"\n"))
    made, shown = put(tmp_path, hours=1)
    assert (shown.kept, shown.written) == ({}, (path,))
    assert set(made.changes.values()) == {RevisionChange.UNCHANGED}
    assert contents(tmp_path) == before


def test_another_folder_gets_the_same(tmp_path: Path) -> None:
    put(tmp_path / "one")
    put(tmp_path / "one", MOVED, 1)
    found = feeds(MOVED, rules=RULES)
    moved = CalendarFolder(tmp_path / "two", found)
    how = goes(MOVED, rules=RULES)
    issue(found, ledger_of(tmp_path / "one"), now=AS_OF + 2 * HOUR, goes=how, outputs=[moved])
    assert contents(tmp_path / "two") == contents(tmp_path / "one")


def test_whoever_comes_second_has_to_look_again(tmp_path: Path) -> None:
    found = feeds(PLAN, rules=RULES)
    revised, _ = put(tmp_path)
    late = CalendarFolder(tmp_path, found)
    history = ledger_of(tmp_path).history(JOB.id)
    late.look(JOB.id, history.revisions)
    put(tmp_path, MOVED, 1)
    files = contents(tmp_path)
    with pytest.raises(StoreMoved):
        late.show(JOB.id, revised, history)
    assert contents(tmp_path) == files


def test_a_file_in_place_of_the_folder(tmp_path: Path) -> None:
    place = tmp_path / "calendars"
    place.write_bytes(b"")
    assert refused("calendar-not-shown", place).params["reason"]


@pytest.mark.parametrize("renamed", [0, 1, 2])
def test_a_disk_that_fails_leaves_every_file_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, renamed: int
) -> None:
    put(tmp_path)
    old = contents(tmp_path)
    really, count = os.replace, iter(range(4))

    def fail(made: Path, path: Path) -> None:
        # The first is that of the ledger.
        if next(count) == renamed + 1:
            raise OSError(5, "Input/output error")
        really(made, path)

    with monkeypatch.context() as patched:
        patched.setattr(os, "replace", fail)
        error = refused("calendar-not-shown", tmp_path)
    assert error.params["reason"] == "Input/output error"
    found = contents(tmp_path)
    assert [found[name] == old[name] for name in NAMES] == [n >= renamed for n in range(3)]
    put(tmp_path, MOVED, 2)
    assert b"hall bath" not in b"".join(contents(tmp_path).values())
    assert sorted(contents(tmp_path)) == NAMES


LIMITED = """
import os, resource, sys
sys.path[:0] = sys.argv[3:]
from pathlib import Path
from test_ics_folder import MOVED, SourceError, put
os.chdir(sys.argv[1])
# All that is imported late is read before the limits hold.
put(Path("warm"))
if sys.argv[2] == "full":
    resource.setrlimit(resource.RLIMIT_FSIZE, (100, 100))
elif os.geteuid() == 0:
    os.setuid(65534)
try:
    put(Path("out"), MOVED, 1)
except SourceError as error:
    print(error.code, error.params["reason"])
"""


@pytest.mark.parametrize(
    ("how", "said"),
    [
        ("full", "ledger-unwritable File too large"),
        ("read-only", "ledger-unwritable Permission denied"),
        ("read-only folder", "calendar-not-shown Permission denied"),
    ],
)
def test_a_place_that_takes_nothing_is_left_as_it_was(how: str, said: str) -> None:
    # Where anybody may look: a path to the folders of the tests is closed to others.
    with tempfile.TemporaryDirectory() as open_to_all:
        _assert_left_as_it_was(Path(open_to_all), how, said)


def _assert_left_as_it_was(root: Path, how: str, said: str) -> None:
    folder, beside = root / "out", root / "out-job"
    put(folder)
    before = contents(folder), ledger_of(folder).history(JOB.id)
    root.chmod(0o755)
    folder.chmod(0o755 if how == "full" else 0o555)
    (folder / directory.LOCK_NAME).chmod(0o666)
    beside.chmod(0o777 if how == "read-only folder" else 0o755)
    for path in beside.iterdir():
        path.chmod(0o666)
    samples = ROOT / "tests" / "samples"
    paths = [str(ROOT), str(samples), str(Path(__file__).parent)]
    ended = subprocess.run(
        [sys.executable, "-c", LIMITED, str(root), how, *paths],
        capture_output=True,
        text=True,
        check=True,
    )
    folder.chmod(0o755)
    beside.chmod(0o777)
    assert ended.stdout == f"{said}\n"
    assert contents(folder) == before[0]
    after = ledger_of(folder).history(JOB.id)
    if how == "read-only folder":
        # What is published waits in the ledger, and is shown as soon as it can be.
        assert after != before[1]
        made, _ = put(folder, MOVED, 2)
        assert set(made.changes.values()) == {RevisionChange.UNCHANGED}
        assert b"hall bath" not in b"".join(contents(folder).values())
    else:
        assert after == before[1]
