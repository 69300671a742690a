"""Laws of the calendar folder: killed anywhere, written by two at once, the same everywhere."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path

import pytest
from calendar_samples import AS_OF, JOB, RULES
from test_ics_folder import (
    HOUR,
    MOVED,
    NAMES,
    PLAN,
    contents,
    ledger_of,
    named,
    numbers,
    put,
    unmarked,
)

from curecal.calendars import Audience, RevisionChange, build, faults, feeds, goes, issue
from curecal.calendars.revision import History, Revision
from curecal.calendars.revisions.outputs import ShownCalendar
from curecal.calendars.revisions.revise import Revised
from curecal.delivery.ics_folder import LOCK_NAME, CalendarFolder
from curecal.errors import StoreMoved

TESTS = Path(__file__).parents[1]
PATHS = [str(TESTS.parent), str(TESTS / "samples"), str(TESTS / "unit" / "delivery")]


def run(script: str, *arguments: str, **environment: str) -> subprocess.Popen[str]:
    found = "import sys\nsys.path[:0] = sys.argv[1:4]\n" + script
    return subprocess.Popen(
        [sys.executable, "-c", found, *PATHS, *arguments],
        env={**os.environ, **environment},
        stdout=subprocess.PIPE,
        text=True,
    )


def answer(started: subprocess.Popen[str]) -> str:
    said, _ = started.communicate(timeout=120)
    assert started.returncode == 0
    return said


# Each case lives in a process of its own that kills itself; one start of Python serves them all.
KILLED = """
import os, signal, tempfile
from pathlib import Path
from test_ics_folder import MOVED, put

def killing(module, name, left):
    really = getattr(module, name)
    def step(*args, **named):
        nonlocal left
        left -= 1
        if left < 0:
            os.kill(os.getpid(), signal.SIGKILL)
        return really(*args, **named)
    setattr(module, name, step)

root = Path(sys.argv[4])
name = sys.argv[5]
module = {"replace": os, "fsync": os, "mkstemp": tempfile}.get(name, Path)
for folder in sorted(path for path in root.iterdir() if path.name.isdigit()):
    child = os.fork()
    if not child:
        killing(module, name, int(folder.name))
        put(folder, MOVED, 1)
        os._exit(0)
    print(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]))
"""
# How often each step is taken: the ledger and three calendars and, for the disk, their two folders
# and the file kept.
STEPS = {"replace": 4, "mkstemp": 4, "chmod": 4, "fsync": 7, "unlink": 4}


@pytest.mark.slow
@pytest.mark.parametrize("step", STEPS)
def test_killed_at_any_step_every_file_is_whole_and_the_next_run_completes(
    tmp_path: Path, step: str
) -> None:
    cases = tmp_path / "cases"
    old: dict[str, dict[str, bytes]] = {}
    for count in range(STEPS[step] + 1):
        folder = cases / str(count)
        put(folder)
        (folder / "crew.ics").write_bytes(b"somebody's own")
        old[folder.name] = contents(folder)
    ends = answer(run(KILLED, str(cases), step)).split()
    # Killed at each step but the last, which is one more than there are.
    assert ends == ["-9"] * STEPS[step] + ["0"]
    for folder in sorted(path for path in cases.iterdir() if path.name.isdigit()):
        left = {name: (folder / name).read_bytes() for name in NAMES}
        history = ledger_of(folder).history(JOB.id)
        counts = {one.sequence for one in history.revisions.values()}
        assert counts in ({0}, {1})
        if counts == {0}:
            # No output is ahead of the ledger.
            assert left == old[folder.name]
        made, _ = put(folder, MOVED, 2)
        assert {one.sequence for one in made.revisions} == {1}
        found = contents(folder)
        for name in NAMES:
            # Each file was whole, old or new.
            assert left[name] in {old[folder.name][name], found[name]}
            assert faults(found[name]) == ()
        assert {name for name in found if not name.startswith("crew.ics.kept")} == set(NAMES)
        assert found["crew.ics.kept"] in {b"somebody's own", b""}
        titles = {one.summary for one in made.revisions}
        assert not [title for title in titles if "hall bath" in title]
        assert len(made.revisions) == sum(data.count(b"BEGIN:VEVENT") for data in found.values())
        assert put(folder, MOVED, 3)[1].written == ()


ROUNDS = 20
TWO = f"""
import collections, json, time
from pathlib import Path
from test_ics_folder import named, put
from curecal.errors import StoreMoved

folder, me = Path(sys.argv[4]), sys.argv[5]
told, behind = collections.Counter(), 0
(folder / f"ready-{{me}}").touch()
until = time.monotonic() + 60
while len(list(folder.glob("ready-*"))) < 2 and time.monotonic() < until:
    time.sleep(0.001)
for count in range({ROUNDS}):
    try:
        made, _ = put(folder / "out", named(f"bath {{me}} {{count}}"), count)
    except StoreMoved:
        behind += 1
        continue
    told.update(each.uid for each in made.told)
print(json.dumps([told, behind]))
"""


@pytest.mark.slow
def test_two_that_write_at_once_lose_no_revision(tmp_path: Path) -> None:
    found = [json.loads(answer(each)) for each in [run(TWO, str(tmp_path), me) for me in "ab"]]
    told = {uid: sum(each.get(uid, 0) for each, _ in found) for uid in found[0][0]}
    # Both name the zone otherwise each time: every publishing is one revision of every entry.
    assert set(told.values()) == {2 * ROUNDS - sum(behind for _, behind in found)}
    folder = tmp_path / "out"
    for audience in Audience:
        assert numbers(folder, audience) == {next(iter(told.values())) - 1}
    assert sorted(path.name for path in folder.iterdir()) == [LOCK_NAME, *NAMES]


@pytest.mark.parametrize("anyway", [False, True])
def test_who_publishes_between_two_looks_makes_no_lost_ledger(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, *, anyway: bool
) -> None:
    folder, third = tmp_path / "out", named("bath of the third")
    put(folder)
    found = feeds(third, rules=RULES)
    shown = CalendarFolder(folder, found)
    really, others = shown.look, []

    def look(job_id: str, known: Mapping[str, Revision]) -> tuple[ShownCalendar, ...]:
        if not others:
            others.append(put(folder, MOVED, 1))
        return really(job_id, known)

    monkeypatch.setattr(shown, "look", look)
    how = goes(third, rules=RULES)
    ledger = ledger_of(folder)
    issue(found, ledger, now=AS_OF + 2 * HOUR, goes=how, outputs=[shown], anyway=anyway)
    assert len(others) == 1
    for audience in Audience:
        assert numbers(folder, audience) == {2}


@pytest.mark.parametrize("meanwhile", [False, True])
def test_who_publishes_between_two_tries_is_not_overwritten(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, *, meanwhile: bool
) -> None:
    folder, third = tmp_path / "out", named("bath of the third")
    put(folder)
    found = feeds(third, rules=RULES)
    shown = CalendarFolder(folder, found)
    look, show, tries = shown.look, shown.show, []

    def moved(job_id: str, revised: Revised, history: History) -> None:
        tries.append("show")
        if len(tries) == 1:
            # A file was just being written by somebody else.
            raise StoreMoved("calendar-moved", path=str(folder))
        show(job_id, revised, history)

    def looked(job_id: str, known: Mapping[str, Revision]) -> tuple[ShownCalendar, ...]:
        found = look(job_id, known) if meanwhile else None
        if tries == ["show"]:
            tries.append("somebody else")
            put(folder, MOVED, 1)
        return look(job_id, known) if found is None else found

    monkeypatch.setattr(shown, "look", looked)
    monkeypatch.setattr(shown, "show", moved)
    ledger, how = ledger_of(folder), goes(third, rules=RULES)
    made = issue(found, ledger, now=AS_OF + 2 * HOUR, goes=how, outputs=[shown])
    assert tries == ["show", "somebody else"]
    assert {one.sequence for one in made.told} == {1}
    for audience in Audience:
        assert numbers(folder, audience) == {2}
    assert b"bath upstairs" in (folder / "owner.ics").read_bytes()


SAME = """
import hashlib, time
from pathlib import Path
from test_ics_folder import MOVED, PLAN, put, unmarked
time.tzset()
folder = Path(sys.argv[4])
_, store = put(folder, hours=int(sys.argv[5]))
print(len(store.written))
fresh = folder.parent / f"fresh-{sys.argv[5]}"
for made in (PLAN, MOVED, PLAN):
    put(fresh, made)
for path in sorted(fresh.glob("*.ics")):
    print(path.name, hashlib.sha256(unmarked(path.read_bytes())).hexdigest())
"""


@pytest.mark.slow
def test_no_machine_and_no_run_writes_anything_else(tmp_path: Path) -> None:
    folder = tmp_path / "out"
    put(folder)
    before = {path.name: path.stat().st_mtime_ns for path in folder.glob("*.ics")}
    machines = (("UTC", "0", "C"), ("Pacific/Apia", "1", "C.UTF-8"), ("America/St_Johns", "7", "C"))
    said = set()
    for count, (zone, seed, language) in enumerate(machines):
        where = {"TZ": zone, "PYTHONHASHSEED": seed, "LC_ALL": language}
        said.add(answer(run(SAME, str(folder), str(count), **where)))
    assert len(said) == 1
    assert said.pop().splitlines()[0] == "0"
    found = {name: unmarked(data) for name, data in contents(folder).items()}
    assert found == build(PLAN, rules=RULES)
    assert {path.name: path.stat().st_mtime_ns for path in folder.glob("*.ics")} == before
    assert set(put(folder)[0].changes.values()) == {RevisionChange.UNCHANGED}


STRICT = """
from dataclasses import replace
from calendar_samples import GROUT, HALL, HALL_PLAN, JOB, RULES, plan
from curecal.calendars import build
from curecal.errors import ValueRefused
from curecal.trade.job import Person, Role
assert False, "assertions are on: this proves nothing"
for sign in ("\\r\\nATTENDEE:mailto:someone", "\\x00", "\\n", "\\u2028", "\\x7f", "\\ud800"):
    bad = "hall" + sign
    lead = Person(Role.CREW_LEAD, "Robin", phone="1")
    layered = replace(HALL_PLAN.layers[2], layer=replace(GROUT, name=bad))
    named = replace(HALL, layers=(*HALL.layers[:2], layered.layer))
    for made in (
        plan(job=replace(JOB, id=bad)),
        plan(job=replace(JOB, address=bad)),
        plan(job=replace(JOB, people=(replace(lead, name=bad),))),
        plan(job=replace(JOB, people=(replace(lead, phone=bad),))),
        plan(replace(HALL_PLAN, zone=replace(HALL, id=bad))),
        plan(replace(HALL_PLAN, zone=named, layers=(*HALL_PLAN.layers[:2], layered))),
    ):
        try:
            build(made, rules=RULES)
        except ValueRefused as error:
            print(error.code, error.params["field"])
"""
FIELDS = (
    "job.id",
    "job.address",
    "people.crew_lead.name",
    "people.crew_lead.phone",
    "zone.0.id",
    "zone.0.layer.2.name",
)


def test_every_field_is_named_that_holds_a_control_character() -> None:
    ended = subprocess.run(
        [sys.executable, "-O", "-c", "import sys\nsys.path[:0] = sys.argv[1:]\n" + STRICT, *PATHS],
        capture_output=True,
        text=True,
        check=True,
    )
    assert ended.stdout.splitlines() == [f"control-character {field}" for field in FIELDS] * 6
