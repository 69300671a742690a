"""What only some systems have is asked for in one module, and nowhere else."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[2] / "curecal"
OF_ONE_SYSTEM = {
    *("chown", "lchown", "fchown", "fchmod", "getuid", "geteuid", "getgid", "getegid", "umask"),
    *("O_NOFOLLOW", "O_DIRECTORY", "O_BINARY", "O_CLOEXEC", "fork", "mkfifo", "sysconf", "uname"),
    *("forkpty", "setsid", "killpg", "getpgid", "setuid", "statvfs", "sync", "sched_getaffinity"),
    *("CLOCK_BOOTTIME", "clock_gettime", "SIGKILL", "SIGHUP", "SIGALRM", "ntp_adjtime", "CDLL"),
    *("SIGUSR1", "SIGUSR2", "SIGCHLD", "SIGPIPE", "SIGQUIT", "SIGBREAK", "alarm", "setitimer"),
    *("pthread_sigmask", "sigwait", "poll", "epoll", "kqueue", "AF_UNIX", "SO_REUSEPORT", "tzset"),
    *("preexec_fn", "pass_fds", "start_new_session", "set_start_method", "forkserver"),
    *("st_uid", "st_gid"),
}
MODULES = {
    *("fcntl", "grp", "msvcrt", "pwd", "resource", "termios", "winreg", "ctypes", "tty", "pty"),
    *("syslog", "readline", "curses", "posix", "nt"),
}
FOLDERS = {"/proc", "/dev", "/etc", "/tmp", "/usr", "/var"}  # noqa: S108 - looked for
WHICH = {"sys.platform", "os.name"}
# A file is known again by its owner too, and given back to them.
SEEN = {("toml_files/atomic_write.py", name) for name in ("st_uid", "st_gid")}


def names_of_one_system(source: str) -> set[str]:
    """Return what of one system a module names: attributes, names in texts, imports."""
    found = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Attribute):
            found |= {node.attr, ast.unparse(node)} & (OF_ONE_SYSTEM | WHICH)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            found |= {node.value} & OF_ONE_SYSTEM
            found |= {folder for folder in FOLDERS if f"{node.value}/".startswith(f"{folder}/")}
        elif isinstance(node, ast.Import | ast.ImportFrom):
            modules = [alias.name for alias in node.names]
            found |= {*modules, getattr(node, "module", None) or ""} & MODULES
    return found


@pytest.mark.parametrize(
    "name", sorted(path.relative_to(PACKAGE).as_posix() for path in PACKAGE.rglob("*.py"))
)
def test_no_module_asks_for_what_only_one_system_has(name: str) -> None:
    found = names_of_one_system((PACKAGE / name).read_text(encoding="utf-8"))
    allowed = {seen for place, seen in SEEN if place == name}
    assert name == "machine.py" or found <= allowed


def paths_as_this_system_writes_them(source: str) -> set[str]:
    """Return each `relative_to` whose path is not at once written with `/`."""
    tree = ast.parse(source)
    written = {
        id(node.value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Attribute) and node.attr == "as_posix"
    }
    return {
        ast.unparse(node)
        for node in ast.walk(tree)
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Attribute)
        and node.func.attr == "relative_to"
        and id(node) not in written
    }


@pytest.mark.parametrize(
    "name", sorted(path.relative_to(PACKAGE).as_posix() for path in PACKAGE.rglob("*.py"))
)
def test_a_path_inside_a_folder_is_named_the_same_on_every_system(name: str) -> None:
    source = (PACKAGE / name).read_text(encoding="utf-8")
    assert paths_as_this_system_writes_them(source) == set()


def test_the_check_sees_what_it_looks_for() -> None:
    seen = paths_as_this_system_writes_them("str(a.relative_to(b)) + c.relative_to(d).as_posix()")
    assert seen == {"a.relative_to(b)"}
    asked = names_of_one_system(
        'import pwd\nos.getuid()\nx = getattr(os, "chown")\np = "/proc/x", os.name'
    )
    assert asked == {"pwd", "getuid", "chown", "/proc", "os.name"}
