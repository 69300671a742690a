"""How long a person waits for a command, against the least that such a command could cost.

Whole processes, interleaved so that a busy moment of the machine hits all of them alike, and
the median of each. Both sides are script files run by this interpreter, with warm byte code.

    python tests/bench/cold_start.py [rounds]
"""

from __future__ import annotations

import os
import re
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).parents[2]
JOB = Path("examples", "bathroom", "job.toml")
AS_OF = "2027-02-15T12:00:00Z"  # after every layer of the example is done
ROUNDS = 7
HELP_WANTED = 1.1
PLAN_WANTED = 2.5

SCRIPTS = {
    "bare": "",
    "curecal": "from curecal.cli.main import run\n\nrun()\n",
    "least_help": (
        "import click\n\n\n@click.group()\ndef main():\n"
        '    """The least that a command with help can be."""\n\n\nmain(["--help"])\n'
    ),
    "least_plan": (
        "import sys\n\nimport arrow\nimport click\nimport tomli\n\n"
        'with open(sys.argv[1], "rb") as file:\n    job = tomli.load(file)\n'
        "click.echo(arrow.get(sys.argv[2]).isoformat())\nclick.echo(len(job))\n"
    ),
    "loads_holidays": (
        "import sys\n\nfrom curecal.cli.main import run\n\ntry:\n    run()\nfinally:\n"
        '    print("holidays" in sys.modules, file=sys.stderr)\n'
    ),
}
HOLIDAYS = re.compile(r"^holidays\s*=.*\n", re.MULTILINE)
WORK = re.compile(r"^\[work\].*\n", re.MULTILINE)


def without_holidays(job: str) -> str:
    """The job file with no public holidays asked for."""
    return HOLIDAYS.sub("", job)


def with_holidays(job: str) -> str:
    """The same job file with the holidays of one country."""
    plain = without_holidays(job)
    line = 'holidays = "US"\n'
    if WORK.search(plain):
        return WORK.sub(lambda found: found[0] + line, plain, count=1)
    return f"{plain}\n[work]\n{line}"


def lay_out(folder: Path) -> dict[str, Path]:
    """Lay scripts and both job files in `folder`, with examples/ and config/ as they stand."""
    for name in ("examples", "config"):
        shutil.copytree(ROOT / name, folder / name)
    job = (ROOT / JOB).read_text(encoding="utf-8-sig")
    places = {
        "plain": (folder / JOB).with_name("plain.toml"),
        "holidays": (folder / JOB).with_name("holidays.toml"),
    }
    places["plain"].write_text(without_holidays(job), encoding="utf-8")
    places["holidays"].write_text(with_holidays(job), encoding="utf-8")
    for name, text in SCRIPTS.items():
        # A script named like a package would hide it.
        places[name] = folder / f"bench_{name}.py"
        places[name].write_text(text, encoding="utf-8")
    return places


def run(*arguments: object) -> tuple[float, str]:
    """Run one process to its good end; seconds on the wall, and what it said on stderr."""
    # Warm byte code on both sides: what pip installs is compiled, and so must the tree be.
    left_out = ("COV", "PYTHONDONTWRITEBYTECODE")
    environment = {key: value for key, value in os.environ.items() if not key.startswith(left_out)}
    start_s = time.perf_counter()
    ended = subprocess.run(
        [sys.executable, *map(str, arguments)],
        env=environment,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
        check=False,
    )
    wall_s = time.perf_counter() - start_s
    if ended.returncode != 0:
        shown = " ".join(map(str, arguments))
        sys.exit(f"{shown} ended with {ended.returncode}:\n{ended.stderr}")
    return wall_s, ended.stderr


def measure(processes: dict[str, tuple[object, ...]], rounds: int) -> dict[str, float]:
    """The median wall time of each process over interleaved rounds [s]."""
    walls: dict[str, list[float]] = {name: [] for name in processes}
    for arguments in processes.values():
        run(*arguments)  # compiles what is not compiled yet
    for _ in range(rounds):
        for name, arguments in processes.items():
            walls[name].append(run(*arguments)[0])
    return {name: statistics.median(each) for name, each in walls.items()}


def main() -> None:
    """Measure and print."""
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else ROUNDS
    with tempfile.TemporaryDirectory() as folder:
        places = lay_out(Path(folder))
        plan = ("plan", places["plain"], "--as-of", AS_OF)
        plan_holidays = ("plan", places["holidays"], "--as-of", AS_OF)
        median_s = measure(
            {
                "bare interpreter": (places["bare"],),
                "least --help": (places["least_help"], "--help"),
                "curecal --help": (places["curecal"], "--help"),
                "least plan": (places["least_plan"], places["plain"], AS_OF),
                "curecal plan": (places["curecal"], *plan),
                "curecal plan, holidays named": (places["curecal"], *plan_holidays),
            },
            rounds,
        )
        loads = run(places["loads_holidays"], *plan_holidays)[1].splitlines()[-1] == "True"
    lines = [f"cold start, median of {rounds} whole processes"]
    lines += [f"  {name:<30}{wall_s * 1000:8.1f} ms" for name, wall_s in median_s.items()]
    for name, least, wanted in (
        ("curecal --help", "least --help", HELP_WANTED),
        ("curecal plan", "least plan", PLAN_WANTED),
        ("curecal plan, holidays named", "least plan", None),
    ):
        ratio = median_s[name] / median_s[least]
        judged = ""
        if wanted is not None:
            judged = f" (wanted at most {wanted}: {'met' if ratio <= wanted else 'NOT met'})"
        lines.append(f"  {name} / {least}: {ratio:.2f}{judged}")
    lines.append(f"  naming holidays loads the library: {'yes' if loads else 'no'}")
    sys.stdout.write("\n".join(lines) + "\n")


if __name__ == "__main__":
    main()
