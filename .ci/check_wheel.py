"""Build sdist and wheel, and try them where the tree cannot be seen, in every Python found here.

    python .ci/check_wheel.py [--all] [PYTHON …]

The first Python installs the wheel by its own pip; all else is installed by uv, which is quicker.
Wants `build`, `hatchling` and `uv` beside it (extra `dev`). Which versions are installed is up to
the environment: `.ci/run` names constraints.txt, `.ci/long` takes the newest. A Python that the
package names and this machine lacks is said; with `--all` it is a failure, and the oldest Python
tries the oldest versions that pyproject.toml lets in as well.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import re
import shutil
import signal
import subprocess
import sys
import tarfile
import tempfile
import time
import tomllib
import urllib.request
import zipfile
from concurrent.futures import ThreadPoolExecutor
from http import HTTPStatus
from pathlib import Path
from typing import NoReturn

TREE = Path(__file__).parents[1]
OLDEST = (3, 11)
CLASSIFIER = re.compile(r"Programming Language :: Python :: (3\.\d+)")
UV = (sys.executable, "-m", "uv")
EXTRAS = "paper,postgresql,web,xlsx"
JOB, JOB_ID = "examples/bathroom/job.toml", "alder-lane-hall-bath"
AS_OF = ("--as-of", "2027-02-15T12:00:00Z")  # after every layer of the example is done
# Exit code, command, and words of what it says.
BARE = (
    (0, ("--help",), "Usage"),
    (0, ("--version",), "curecal"),
    (0, ("plan", JOB, *AS_OF), "every layer is cured"),
    (0, ("explain", JOB), "grout"),
    (0, ("verify",), "curecal"),
    (0, ("guide",), "manual"),
    (0, ("guide", "rules"), "rules"),
    (0, ("picture", JOB, *AS_OF), "Alder Lane"),
    (0, ("picture", JOB, "--svg", "floor.svg"), "floor.svg"),
    (0, ("book", "add", JOB), JOB_ID),
    (0, ("book", "list"), JOB_ID),
    (0, ("note", JOB_ID, "air", "air=64 °F"), "64 °F"),
    (0, ("calendars", "write", JOB_ID, "calendars"), "new"),
    (0, ("remind", "list"), "Alder Lane"),
    (0, ("remind", "send", "--instead", "console"), "sent"),
    (3, ("paper", JOB, "papers"), 'extra "paper"'),
    (3, ("serve", JOB), 'extra "web"'),
    (2, ("no-such-command",), "no-such-command"),
    (3, ("plan", "no-such-job.toml"), "no-such-job.toml"),
)
WHOLE = (
    (0, ("paper", JOB, "papers", *AS_OF), "papers"),
    (0, ("links", "add", JOB_ID, "Ida Fennell"), "/p/"),
)


def fail(told: str) -> NoReturn:
    """End with what is wrong."""
    sys.exit(f"check_wheel.py: {told}")


def tell(line: str) -> None:
    """Say what was found, at once."""
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


def run(*words: str | Path, **how: object) -> str:
    """Run a program; return what it says."""
    ended = subprocess.run(words, capture_output=True, text=True, check=False, **how)  # type: ignore[call-overload]
    if ended.returncode != 0:
        fail(f"{' '.join(map(str, words))}: {ended.stdout}{ended.stderr}")
    return str(ended.stdout)


def build(scratch: Path) -> tuple[Path, Path]:
    """Build both from the tree, and the wheel again from the sdist: to the byte the same one."""
    how = (sys.executable, "-m", "build", "--no-isolation", "--outdir")
    run(*how, scratch / "dist", "--sdist", TREE)
    run(*how, scratch / "dist", "--wheel", TREE)
    (sdist,) = (scratch / "dist").glob("*.tar.gz")
    (wheel,) = (scratch / "dist").glob("*.whl")
    with tarfile.open(sdist) as packed:
        packed.extractall(scratch / "unpacked", filter="data")
    (source,) = (scratch / "unpacked").iterdir()
    run(*how, scratch / "again", "--wheel", source)
    if (scratch / "again" / wheel.name).read_bytes() != wheel.read_bytes():
        fail("the sdist builds another wheel than the tree")
    return wheel, sdist


def hold_contents(wheel: Path, sdist: Path) -> None:
    """Hold both to what git knows: the wheel has the package and the examples, and no test."""
    known = run("git", "ls-files", cwd=TREE).splitlines()
    wanted = {name for name in known if name.startswith("curecal/")}
    wanted |= {f"curecal/data/{name}" for name in known if name.startswith("examples/")}
    with zipfile.ZipFile(wheel) as packed:
        names = set(packed.namelist())
    found = {name for name in names if ".dist-info/" not in name}
    if found != wanted:
        fail(f"the wheel differs from the tree in {sorted(found ^ wanted)[:9]}")
    if not any(name.endswith(".dist-info/licenses/LICENSE") for name in names):
        fail("the wheel lacks LICENSE")
    with tarfile.open(sdist) as packed:
        found = {name.partition("/")[2] for name in packed.getnames()}
    if missing := {name for name in known if not name.startswith(".")} - found:
        fail(f"the sdist lacks {sorted(missing)[:9]}")
    tell(f"{wheel.name}: {len(names)} files; {sdist.name}: {len(found)} files")


def version_of(python: str) -> str:
    """Return the version of a Python that can make an environment."""
    asked = "import sys, ensurepip, venv; print('%d.%d.%d' % sys.version_info[:3])"
    return run(python, "-c", asked).strip()


def pythons() -> dict[str, str]:
    """Return the Pythons of this machine that can make an environment, by their versions."""
    pyenv = Path(os.environ.get("PYENV_ROOT", Path.home() / ".pyenv")) / "versions"
    of_uv = Path(run(*UV, "python", "dir").strip())
    candidates = ["python3", *(f"python3.{minor}" for minor in range(OLDEST[1], 30))]
    found: dict[str, str] = {}
    for name in [
        *filter(None, map(shutil.which, candidates)),
        *(str(path) for kept in (pyenv, of_uv) for path in kept.glob("*/bin/python3")),
    ]:
        with contextlib.suppress(SystemExit, OSError):
            version = version_of(name)
            if minor_of(version) >= OLDEST and minor_of(version) not in map(minor_of, found):
                found[version] = name
    return found


def minor_of(version: str) -> tuple[int, ...]:
    """Return 3 and 11 of `3.11.7`."""
    return tuple(map(int, version.split(".")[:2]))


def hold_pythons(found: dict[str, str], *, all_wanted: bool) -> None:
    """Say which Pythons the package is said to run on and are not here; fail if all are wanted."""
    project = tomllib.loads((TREE / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    named = [match[1] for match in map(CLASSIFIER.fullmatch, project["classifiers"]) if match]
    here = {minor_of(version) for version in found}
    missing = [version for version in named if minor_of(version) not in here]
    if not missing:
        return
    told = f"not tried: Python {', '.join(missing)}"
    if all_wanted:
        fail(f"{told}; to get them: uv python install {' '.join(missing)}")
    tell(told)


class Environment:
    """One environment of a Python, with a folder in which the tree cannot be seen."""

    def __init__(self, python: str, folder: Path, *, by_pip: bool, oldest: bool = False) -> None:
        self.folder = folder
        self.by_pip = by_pip
        self.resolution = "lowest-direct" if oldest else "highest"
        made = (python, "-m", "venv") if by_pip else (*UV, "venv", "-q", "--python", python)
        run(*made, folder / "venv")
        self.programs = folder / "venv" / ("Scripts" if os.name == "nt" else "bin")
        shutil.copytree(TREE / "examples", folder / "examples")
        kept = {
            name: value
            for name, value in os.environ.items()
            if not name.startswith(("CURECAL_", "PYTHON", "VIRTUAL_ENV", "XDG_"))
        }
        self.environment = {
            **kept,
            "HOME": str(folder),
            "PYTHONUTF8": "1",
            "CURECAL_BOOK": str(folder / "book.sqlite3"),
        }

    def install(self, what: str | Path) -> None:
        """Install from the wheel or sdist, with whatever it asks for."""
        python = self.programs / "python"
        if self.by_pip:
            run(python, "-m", "pip", "install", "-q", what)
        else:
            by_uv = (*UV, "pip", "install", "-q", "--resolution", self.resolution)
            run(*by_uv, "--python", python, what)

    def expect(self, code: int, words: tuple[str, ...], says: str) -> None:
        """Run the installed command, and hold it to its exit code and its words."""
        ended = subprocess.run(
            [self.programs / "curecal", *words],
            cwd=self.folder,
            env=self.environment,
            capture_output=True,
            text=True,
            check=False,
            stdin=subprocess.DEVNULL,
        )
        said = ended.stdout + ended.stderr
        if ended.returncode != code or says not in said or "Traceback" in said:
            told = f"exit {ended.returncode}, wanted {code} and {says!r}"
            fail(f"curecal {' '.join(words)}: {told}\n{said}")

    def hold_place(self) -> None:
        """Hold the command to being the installed one."""
        asked = "import curecal; print(curecal.__file__)"
        found = run(self.programs / "python", "-c", asked, cwd=self.folder, env=self.environment)
        if not Path(found.strip()).is_relative_to(self.folder):
            fail(f"the environment imports curecal from {found}")

    def open_demo(self) -> None:
        """Serve the demo, open one page of it, and stop it."""
        serve = subprocess.Popen(
            [self.programs / "curecal", "serve", "--demo", "--port", "0"],
            cwd=self.folder,
            env={**self.environment, "PYTHONUNBUFFERED": "1", "CURECAL_BOOK": ""},
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        try:
            said = ""
            for line in serve.stdout or ():
                said += line
                if "Pages are served at" in line:
                    break
            links = re.findall(r"http://\S+/p/\S+", said)
            if not links:
                fail(f"curecal serve --demo: no link\n{said}")
            with urllib.request.urlopen(links[0], timeout=30) as page:  # noqa: S310 - its own server's
                if page.status != HTTPStatus.OK or b"<h1" not in page.read():
                    fail(f"curecal serve --demo: {page.status} at {links[0]}")
            serve.send_signal(signal.SIGINT)
            if serve.wait(30) != 0:
                fail(f"curecal serve --demo: ended with {serve.returncode}")
        finally:
            serve.kill()


def try_wheel(
    version: str, python: str, what: Path, folder: Path, *, by_pip: bool, oldest: bool = False
) -> None:
    """Install into an environment of one Python, first without and then with the extras."""
    began = time.monotonic()
    found = Environment(python, folder, by_pip=by_pip, oldest=oldest)
    found.install(what)
    found.hold_place()
    for case in BARE:
        found.expect(*case)
    found.install(f"{what}[{EXTRAS}]")
    for case in WHOLE:
        found.expect(*case)
    found.open_demo()
    took = time.monotonic() - began
    what_with = ", oldest versions" if oldest else ""
    tell(f"Python {version}{what_with}: {len(BARE + WHOLE)} commands and a page, {took:.0f} s")


def try_sdist(python: str, what: Path, folder: Path) -> None:
    """Install the sdist; it builds the wheel that is tried, so that one command is enough."""
    found = Environment(python, folder, by_pip=False)
    found.install(what)
    found.hold_place()
    found.expect(0, ("plan", JOB, *AS_OF), "every layer is cured")


def main() -> None:
    """Build, look inside, and try the wheel in each Python and the sdist in the first."""
    parser = argparse.ArgumentParser()
    parser.add_argument("pythons", nargs="*")
    parser.add_argument("--all", action="store_true")
    words = parser.parse_args()
    asked = {version_of(name): name for name in words.pythons} or pythons()
    hold_pythons(asked, all_wanted=words.all)
    with tempfile.TemporaryDirectory(prefix="curecal-wheel-") as name:
        scratch = Path(name)
        wheel, sdist = build(scratch)
        hold_contents(wheel, sdist)
        first = next(iter(asked))
        with ThreadPoolExecutor(max_workers=2) as pool:
            ends = [
                pool.submit(
                    try_wheel, version, python, wheel, scratch / version, by_pip=version == first
                )
                for version, python in asked.items()
            ]
            ends.append(pool.submit(try_sdist, asked[first], sdist, scratch / "sdist"))
            if words.all:
                least = min(asked, key=minor_of)
                folder, python = scratch / "oldest", asked[least]
                ends.append(
                    pool.submit(try_wheel, least, python, wheel, folder, by_pip=False, oldest=True)
                )
        for end in ends:
            end.result()


if __name__ == "__main__":
    main()
