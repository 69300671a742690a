"""Adding to a log while others add, while the machine fails: the old file or the new one."""

from __future__ import annotations

from pathlib import Path

import pytest
from append_samples import JOB, entries, job_file, open_folder, program, result, strays

# Every line of ours that runs is a place to die at, and so is every step inside the system's
# calls that Python reports; n counts them. What the folder holds then is judged by the driver.
KILLED = """
import threading

path, text = Path(sys.argv[1]), Path(sys.argv[1]).read_bytes()

def die_at(n):
    count = 0
    def step(*_):
        nonlocal count
        count += 1
        if count == n:
            os.kill(os.getpid(), signal.SIGKILL)
    def trace(frame, event, _arg):
        if not frame.f_code.co_filename.endswith(("atomic_write.py", "append.py", "entry_toml.py")):
            return None
        step()
        return trace
    for name in ("fsync", "replace", "chmod", "open", "close", "unlink"):
        real = getattr(os, name)
        def around(*a, real=real, **k):
            step()
            try:
                return real(*a, **k)
            finally:
                step()
        setattr(os, name, around)
    real_open = os.fdopen
    class Halves:
        # A write that dies leaves the first half on the disk.
        def __init__(self, file): self.file = file
        def __enter__(self): return self
        def __exit__(self, *_): self.file.close()
        def __getattr__(self, name): return getattr(self.file, name)
        def write(self, data):
            self.file.write(data[: len(data) // 2]); self.file.flush(); step()
            self.file.write(data[len(data) // 2 :]); step()
    os.fdopen = lambda *a, **k: Halves(real_open(*a, **k))
    sys.settrace(trace)

n, old, new = 0, 0, 0
while True:
    n += 1
    path.write_bytes(text)
    child = os.fork()
    if child == 0:
        die_at(n)
        add(path, "e-killed")
        os._exit(0)
    _, status = os.waitpid(child, 0)
    found = path.read_bytes()
    lived = os.WIFEXITED(status) and os.WEXITSTATUS(status) == 0
    died = os.WIFSIGNALED(status) and os.WTERMSIG(status) == signal.SIGKILL
    assert lived or died, status
    whole = found.startswith(text) and found.endswith(b"recorded = 2026-11-30T20:00:00+00:00\\n")
    assert found == text or (whole and found.count(b"[[log]]") == 1), (n, found)
    assert whole or not lived, n
    old, new = old + (found == text), new + whole
    # The lock of the dead is free at once, and the next entry is written behind what is there.
    add(path, "e-next")
    again = path.read_bytes()
    assert again.startswith(found) and again.count(b"e-next") == 1, (n, again)
    left = {each.name for each in path.parent.iterdir()} - {path.name, f".{path.name}.lock"}
    assert not left, (n, left)
    if lived:
        break
print(n, old, new)
"""
MANY = """
sys.stdin.readline()
for number in range(int(sys.argv[3])):
    add(sys.argv[1], f"{sys.argv[2]}-{number}")
print("done")
"""
# As root nothing is refused, so the program becomes nobody, with everything imported before: where
# Python itself lies, nobody may not be let in.
NOBODY = """
import tempfile
with tempfile.TemporaryDirectory() as folder:
    first = Path(folder) / "job.toml"
    first.write_text("# first", encoding="utf-8")
    add(first)
if os.geteuid() == 0:
    os.setgroups([]); os.setgid(65534); os.setuid(65534)
try:
    add(sys.argv[1])
except CurecalError as error:
    print(type(error).__name__, error.code)
"""
FULL = """
import resource
path = Path(sys.argv[1])
room = path.stat().st_size + 30
resource.setrlimit(resource.RLIMIT_FSIZE, (room, room))
try:
    add(path)
except CurecalError as error:
    print(type(error).__name__, error.code, "|", error.params["reason"])
"""


@pytest.mark.slow
def test_killed_at_every_step_leaves_the_old_file_or_the_new(tmp_path: Path) -> None:
    path = job_file(tmp_path)
    steps, old, new = (
        int(figure) for figure in result(program(KILLED, path, measured=False)).split()
    )
    assert steps == old + new
    assert old > 100
    # After the file has its name there is the folder to put on the disk, and the lock to let go.
    assert new > 5


@pytest.mark.parametrize("writers", [2, 4])
def test_programs_that_add_at_once_lose_no_entry(tmp_path: Path, writers: int) -> None:
    path, each = job_file(tmp_path), 40 // writers
    started = [program(MANY, path, f"e-{name}", each) for name in range(writers)]
    for one in started:
        assert one.stdin is not None
        one.stdin.write("go\n")
        one.stdin.flush()
    assert [result(one) for one in started] == ["done\n"] * writers
    assert path.read_bytes().startswith(JOB.encode())
    wanted = {f"e-{name}-{number}" for name in range(writers) for number in range(each)}
    assert sorted(entry["id"] for entry in entries(path)) == sorted(wanted)
    assert strays(path) == []


@pytest.mark.slow
def test_programs_add_at_once_through_many_rounds(tmp_path: Path) -> None:
    for number in range(25):
        folder = tmp_path / str(number)
        folder.mkdir()
        test_programs_that_add_at_once_lose_no_entry(folder, 2)


def test_a_program_killed_while_it_holds_the_lock_holds_up_nobody(tmp_path: Path) -> None:
    path = job_file(tmp_path)
    holder = program(
        "from curecal.toml_files.atomic_write import locked\n"
        "with locked(Path(sys.argv[1])):\n"
        "    print('held', flush=True)\n"
        "    sys.stdin.readline()\n",
        path,
    )
    assert holder.stdout is not None
    assert holder.stdout.readline() == "held\n"
    waiting = program("add(sys.argv[1], 'e-1')", path)
    holder.kill()
    holder.communicate(timeout=60)
    assert result(waiting) == ""
    assert [entry["id"] for entry in entries(path)] == ["e-1"]


def test_a_folder_that_cannot_be_written_is_refused() -> None:
    with open_folder() as folder:
        path = job_file(folder)
        path.chmod(0o666)
        folder.chmod(0o555)
        assert result(program(NOBODY, path, measured=False)) == "SourceError file-not-written\n"
        assert path.read_bytes() == JOB.encode()
        assert [each.name for each in folder.iterdir()] == ["job.toml"]


def test_a_file_protected_against_writing_is_refused() -> None:
    with open_folder() as folder:
        path = job_file(folder)
        path.chmod(0o444)
        folder.chmod(0o777)
        assert result(program(NOBODY, path, measured=False)) == "SourceError file-protected\n"
        assert path.read_bytes() == JOB.encode()
        assert strays(path) == []


def test_a_file_that_cannot_be_read_is_refused() -> None:
    with open_folder() as folder:
        path = job_file(folder)
        path.chmod(0o200)
        folder.chmod(0o777)
        assert result(program(NOBODY, path, measured=False)) == "SourceError file-unreadable\n"
        assert path.read_bytes() == JOB.encode()


def test_a_colleague_adds_to_a_file_of_a_shared_folder() -> None:
    with open_folder() as folder:
        path = job_file(folder)
        path.chmod(0o666)
        folder.chmod(0o777)
        # The first leaves a lock file of its own; the second is somebody else.
        assert result(program("add(sys.argv[1], 'e-1')", path)) == ""
        assert result(program(NOBODY, path, measured=False)) == ""
        assert path.stat().st_mode & 0o777 == 0o666
        assert len(entries(path)) == 2


def test_a_disk_without_room_leaves_the_old_file(tmp_path: Path) -> None:
    path = job_file(tmp_path)
    said = result(program(FULL, path, measured=False))
    assert said.startswith("SourceError file-not-written | ")
    assert path.read_bytes() == JOB.encode()
    assert strays(path) == []


def test_what_a_dead_program_left_is_taken_away_and_nothing_else(tmp_path: Path) -> None:
    path = job_file(tmp_path)
    left = tmp_path / ".job.toml.0123abcd.curecal-new"
    left.write_text("half", encoding="utf-8")
    kept = [
        ".job.toml.0123abcd",
        ".job.toml.backup.curecal-new",
        ".other.toml.0123abcd.curecal-new",
        "job.toml.0123abcd.curecal-new",
        ".xjob.toml.0123abcd.curecal-new",
    ]
    for name in kept:
        (tmp_path / name).write_text("somebody's", encoding="utf-8")
    assert result(program("add(sys.argv[1])", path)) == ""
    assert strays(path) == sorted(kept)
