"""Calendars in a folder: whole files, a history that goes on, and nobody else's file touched."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from calendar_samples import AS_OF, HALL, HALL_PLAN, JOB, RULES, plan

from curecal.calendars import Audience, Change, Revised, build, feeds, first_of, goes, issue
from curecal.calendars import read_history as read
from curecal.delivery import ics_folder as directory
from curecal.delivery.ics_folder import CalendarFolder
from curecal.errors import SourceError, StoreMoved
from curecal.planning.plan import Plan

NAMES = ["crew.ics", "electrician.ics", "owner.ics"]
ROOT = Path(__file__).parents[3]
HOUR = timedelta(hours=1)


def named(name: str, as_of: datetime = AS_OF) -> Plan:
    """The plan with its zone's name, which stands in every title, changed."""
    return plan(replace(HALL_PLAN, zone=replace(HALL, name=name)), as_of=as_of)


PLAN, MOVED = named("hall bath"), named("bath upstairs")


def put(folder: Path, made: Plan = PLAN, hours: int = 0) -> tuple[Revised, CalendarFolder]:
    found = feeds(made, rules=RULES)
    store = CalendarFolder(folder, found)
    how = goes(made, rules=RULES)
    return issue(found, store, now=AS_OF + hours * HOUR, goes=how), store


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
    found = read((folder / f"{audience.value}.ics").read_bytes(), audience)
    assert found is not None
    return {each.sequence for each in found}


def test_the_first_publishing_writes_the_files_as_built(tmp_path: Path) -> None:
    folder = tmp_path / "new" / "folder"
    _, store = put(folder)
    assert contents(folder) == build(PLAN, rules=RULES)
    assert [path.name for path in store.written] == NAMES
    assert {path.stat().st_mode & 0o777 for path in store.written} == {0o644}
    assert store.kept == {}


def test_what_has_not_changed_is_not_even_written(tmp_path: Path) -> None:
    put(tmp_path)
    before = {path: path.stat() for path in tmp_path.glob("*.ics")}
    again, store = put(tmp_path, hours=5)
    assert set(again.changes.values()) == {Change.UNCHANGED}
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
    put(tmp_path, plan(job=replace(JOB, id="elder")))
    (tmp_path / "crew.ics").unlink()
    before = contents(tmp_path)
    error = refused("calendar-other-job", tmp_path)
    assert error.params["other"] == "elder"
    assert contents(tmp_path) == before


@pytest.mark.parametrize("data", [b"mine", b"\xff", b"", b"BEGIN:VCALENDAR\r\nEND:VCALENDAR\r\n"])
def test_a_file_that_is_not_ours_is_kept_beside(tmp_path: Path, data: bytes) -> None:
    (tmp_path / "crew.ics").write_bytes(data)
    made, store = put(tmp_path)
    assert store.kept == {"crew.ics": tmp_path / "crew.ics.kept"}
    assert (tmp_path / "crew.ics.kept").read_bytes() == data
    assert {each.sequence for each in made.revisions} == {1000}
    # The next publishing finds a history and keeps nothing more.
    _, store = put(tmp_path, hours=1)
    assert (store.kept, store.written) == ({}, ())


def test_every_kept_file_has_a_name_of_its_own(tmp_path: Path) -> None:
    for count, name in enumerate(["crew.ics.kept", "crew.ics.kept-2", "crew.ics.kept-3"]):
        (tmp_path / "crew.ics").write_bytes(b"mine %d" % count)
        assert put(tmp_path)[1].kept == {"crew.ics": tmp_path / name}
    (tmp_path / "crew.ics").write_bytes(b"mine 1")
    assert put(tmp_path)[1].kept == {"crew.ics": tmp_path / "crew.ics.kept-2"}
    for count in range(3):
        number = f"-{count + 1}" if count else ""
        assert (tmp_path / f"crew.ics.kept{number}").read_bytes() == b"mine %d" % count


def test_what_was_cut_off_goes_on_above_and_is_kept(tmp_path: Path) -> None:
    for count in range(3):
        put(tmp_path, named(f"bath {count}"))
    whole = (tmp_path / "crew.ics").read_bytes()
    (tmp_path / "crew.ics").write_bytes(whole[:3000])
    made, store = put(tmp_path, named("bath 2"), 1)
    assert store.kept["crew.ics"].read_bytes() == whole[:3000]
    crew = {each.sequence for each in made.revisions if each.audience is Audience.CREW}
    assert crew == {102}
    owner = {made.changes[each.uid] for each in made.revisions if each.audience is Audience.OWNER}
    assert owner == {Change.UNCHANGED}


def test_an_identity_that_broke_is_damage(tmp_path: Path) -> None:
    put(tmp_path)
    data = (tmp_path / "owner.ics").read_bytes()
    uid = data.partition(b"\r\nUID:")[2][:36]
    broken = bytes([uid[0] ^ 1]) + uid[1:]
    (tmp_path / "owner.ics").write_bytes(data.replace(uid, broken, 1))
    made, store = put(tmp_path, hours=1)
    assert store.kept
    known = {each.uid: each for each in made.revisions}
    assert broken.decode() not in known
    assert known[uid.decode()].sequence == 100


def test_a_calendar_that_is_missing_is_taken_for_lost(tmp_path: Path) -> None:
    put(tmp_path)
    (tmp_path / "owner.ics").unlink()
    before = (tmp_path / "crew.ics").read_bytes()
    _, store = put(tmp_path, hours=1)
    assert numbers(tmp_path, Audience.OWNER) == {1000}
    assert numbers(tmp_path, Audience.CREW) == {0}
    assert store.kept == {}
    # Every file says from where unknown events count, and nothing else of it changed.
    data = (tmp_path / "crew.ics").read_bytes()
    assert data.replace(b"X-CURECAL-FIRST:1000\r\n", b"") == before
    assert put(tmp_path, hours=2)[1].written == ()


def test_what_was_lost_unseen_comes_back_above_what_people_hold(tmp_path: Path) -> None:
    """An entry that was off while its file was lost starts at a number nobody has seen."""
    two = plan(HALL_PLAN, replace(HALL_PLAN, zone=replace(HALL, id="up", path="zone.1")))
    put(tmp_path, two)
    (tmp_path / "crew.ics").unlink()
    put(tmp_path, PLAN, 1)
    back, _ = put(tmp_path, two, 2)
    new = [each for each in back.revisions if back.changes[each.uid] is Change.NEW]
    assert new
    assert {each.sequence for each in new} == {1000}


def test_lost_twice_it_starts_above_the_first_loss(tmp_path: Path) -> None:
    last = -1
    for count in range(4):
        put(tmp_path, named(f"bath {count}"), count)
        low = min(numbers(tmp_path, Audience.OWNER))
        assert low > last
        put(tmp_path, named(f"hall {count}"), count)
        last = max(numbers(tmp_path, Audience.OWNER))
        (tmp_path / "owner.ics").unlink()
    assert first_of((tmp_path / "crew.ics").read_bytes()) == 1200


def test_whoever_comes_second_has_to_look_again(tmp_path: Path) -> None:
    found = feeds(PLAN, rules=RULES)
    store = CalendarFolder(tmp_path, found)
    before = store.history(JOB.id)
    put(tmp_path, MOVED)
    files = contents(tmp_path)
    with pytest.raises(StoreMoved):
        store.put(JOB.id, (), expected=before.generation)
    assert contents(tmp_path) == files


def test_a_file_in_place_of_the_folder(tmp_path: Path) -> None:
    place = tmp_path / "calendars"
    place.write_bytes(b"")
    assert refused("calendar-unwritable", place).params["reason"]


@pytest.mark.parametrize("renamed", [0, 1, 2])
def test_a_disk_that_fails_leaves_every_file_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, renamed: int
) -> None:
    put(tmp_path)
    old = contents(tmp_path)
    really, count = os.replace, iter(range(3))

    def fail(made: Path, path: Path) -> None:
        if next(count) == renamed:
            raise OSError(5, "Input/output error")
        really(made, path)

    with monkeypatch.context() as patched:
        patched.setattr(os, "replace", fail)
        error = refused("calendar-unwritable", tmp_path)
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
    ("how", "said"), [("full", "File too large"), ("read-only", "Permission denied")]
)
def test_a_folder_that_takes_nothing_is_left_as_it_was(tmp_path: Path, how: str, said: str) -> None:
    folder = tmp_path / "out"
    put(folder)
    (folder / "crew.ics").write_bytes(b"mine" * 100)
    before = contents(folder)
    tmp_path.chmod(0o755)
    folder.chmod(0o555 if how == "read-only" else 0o755)
    samples = ROOT / "tests" / "samples"
    paths = [str(ROOT), str(samples), str(Path(__file__).parent)]
    ended = subprocess.run(
        [sys.executable, "-c", LIMITED, str(tmp_path), how, *paths],
        capture_output=True,
        text=True,
        check=True,
    )
    folder.chmod(0o755)
    assert ended.stdout == f"calendar-unwritable {said}\n"
    assert contents(folder) == before
