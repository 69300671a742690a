"""How fast long series are planned and added, against another tree of this project.

    python tests/bench/series.py [TREE] [rounds]

Without TREE one round of this tree stands alone. TREE is a checkout of the commit to compare with
(`git worktree add --detach TREE COMMIT`). Both sides run alternately, so that a busy moment of the
machine hits both; processor time, the median of each, and the largest memory. Figures to look at,
no test: what is wanted stands beside each.
"""

from __future__ import annotations

import math
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).resolve().parents[2]
ROUNDS = 5
DAYS, ROWS = 90, 1_000_000
AS_OF = "2027-02-15T12:00:00Z"
NOTED = ("--at", "2026-11-20T10:00:00-04:00", "--by", "Robin Mistral")
PLACES = {"9900417": [], "9900418": ["--surface"], "9900419": ["--floor"]}
PLANS = """
import sys, time
from dataclasses import replace
from datetime import timedelta

sys.path[:0] = [f"{sys.argv[1]}/tests/bench", f"{sys.argv[1]}/tests/samples"]
import planning as heavy
from planning_samples import RULES, every_day
from curecal.planning.make_plan import make_plan

try:
    from curecal.science.age import KeptAges
except ImportError:
    KeptAges = None
job = heavy.whole_job()
log = [heavy.readings(zone.id, index * 0.5) for index, zone in enumerate(job.zones)]
now = heavy.START + timedelta(hours=heavy.HOURS)


def took(log, now, **kept):
    begun_s = time.process_time()
    make_plan(job, log, now, rules=RULES, day_off=every_day, **kept)
    return time.process_time() - begun_s


def known(hours):
    return [replace(one, points=one.points[: heavy.HOURS - hours]) for one in log]


kept = {} if KeptAges is None else {"kept": KeptAges()}
further = [(known(hours), now - timedelta(hours=hours)) for hours in reversed(range(12))]
took(*further[0], **kept)
print(min(took(log, now) for _ in range(9)))
print(min(took(*one, **kept) for one in further[1:]))
print(min(took([], now) for _ in range(20)))
"""


class Run(NamedTuple):
    """One process: processor time [s], and its largest memory [MiB]."""

    cpu_s: float
    peak_mib: float


def run(tree: Path, script: Path, *arguments: object) -> Run:
    """Run one `curecal` command of a tree to its good end."""
    # A script in a folder of its own: else the tree this runs in would come first.
    environment = {
        key: value
        for key, value in os.environ.items()
        if not key.startswith(("COV", "PYTHONDONTWRITEBYTECODE"))
    }
    silent = os.open(os.devnull, os.O_WRONLY)
    child = os.posix_spawn(
        sys.executable,
        [sys.executable, str(script), *map(str, arguments)],
        {**environment, "PYTHONPATH": str(tree)},
        file_actions=[(os.POSIX_SPAWN_DUP2, silent, 1)],
    )
    _, status, usage = os.wait4(child, 0)
    os.close(silent)
    if status:
        sys.exit(f"{tree}: {' '.join(map(str, arguments))} ended with {status}")
    return Run(usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024)


def plans(tree: Path) -> tuple[float, ...]:
    """How long one plan takes from cold, after a further reading, and without loggers [s]."""
    told = subprocess.run(
        [sys.executable, "-c", PLANS, str(tree)],
        env={**os.environ, "PYTHONPATH": str(tree)},
        cwd=tree,
        capture_output=True,
        text=True,
        check=True,
    )
    return tuple(float(line) for line in told.stdout.split())


def export(path: Path, serial: str, rows: int) -> Path:
    """Write what a logger exports, a reading each minute."""
    head = f'"#","Date Time, GMT-05:00","Temp, °F (SN: {serial})","RH, % (SN: {serial})"\n'
    at = datetime(2026, 9, 1, tzinfo=UTC) - timedelta(minutes=max(0, rows - DAYS * 1440))
    with path.open("w", encoding="utf-8", newline="\n") as file:
        file.write(f'"Plot: hall bath"\n{head}')
        for number in range(rows):
            warm = 66.0 + 3.0 * math.sin(number / 1440 * 2.0 * math.pi) + number % 53 / 90
            damp = 48 + number % 71 / 9
            file.write(f"{number + 1},{at:%m/%d/%y %I:%M:%S %p},{warm:.3f},{damp:.3f}\n")
            at += timedelta(minutes=1)
    return path


def bathroom(folder: Path) -> Path:
    """Lay out the example's job anew."""
    shutil.rmtree(folder, ignore_errors=True)
    shutil.copytree(ROOT / "examples" / "bathroom", folder)
    return folder / "job.toml"


def added(job: Path, *arguments: object) -> tuple[object, ...]:
    """The command that adds a file of readings to a job."""
    return ("readings", *arguments, "--into", job, "--zone", "hall", "--by", "Robin Mistral")


def main(other: Path | None, rounds: int) -> None:
    """Measure and print."""
    trees = {"now": ROOT} if other is None else {"before": other, "now": ROOT}
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "config").symlink_to(ROOT / "config")
        script = folder / "bench_curecal.py"
        script.write_text("from curecal.cli.main import run\n\nrun()\n", encoding="utf-8")
        large = export(folder / "large.csv", "9900417", ROWS)
        logged = bathroom(folder / "logged")
        for serial, flags in PLACES.items():
            file = export(folder / f"{serial}.csv", serial, DAYS * 1440)
            run(ROOT, script, *added(logged, file, *flags))
        bare = bathroom(folder / "bare")
        found: dict[tuple[str, str], list[Run]] = {}
        made: dict[str, list[tuple[float, ...]]] = {side: [] for side in trees}
        for _ in range(rounds):
            for side, tree in trees.items():
                noted = folder / f"noted-{side}"
                shutil.rmtree(noted, ignore_errors=True)
                shutil.copytree(logged.parent, noted)
                commands: dict[str, tuple[object, ...]] = {
                    "bare plan": ("plan", bare, "--as-of", AS_OF),
                    "logged plan": ("plan", logged, "--as-of", AS_OF),
                    "logged note": ("note", noted / "job.toml", "air", "air=64 °F", *NOTED),
                    "read": ("readings", large),
                    "added": added(bathroom(folder / "into"), large),
                }
                for what, arguments in commands.items():
                    found.setdefault((what, side), []).append(run(tree, script, *arguments))
                made[side].append(plans(tree))
    cpu_s = {key: statistics.median(one.cpu_s for one in runs) for key, runs in found.items()}
    mib = {key: statistics.median(one.peak_mib for one in runs) for key, runs in found.items()}
    plan_s = {
        side: [statistics.median(kind) for kind in zip(*runs, strict=True)]
        for side, runs in made.items()
    }
    lines = [f"processor time, medians of {rounds} rounds"]
    kinds = (("from cold", 15), ("after a further reading", 45), ("without loggers", 1.5))
    before = plan_s.get("before", plan_s["now"])
    for (what, wanted), before_s, now_s in zip(kinds, before, plan_s["now"], strict=True):
        ratio = f"{before_s / now_s:.1f} times (wanted {wanted})" if other else ""
        lines.append(
            f"  three zones, 4,320 readings, {what}: {before_s * 1e3:.1f} ms, {now_s * 1e3:.1f} ms"
            f" {ratio}"
        )
    for what, least, wanted in (
        ("logged plan", "bare plan", 6),
        ("logged note", "bare plan", 6),
        ("added", "read", 3),
    ):
        for side in trees:
            much_s, least_s = cpu_s[what, side], cpu_s[least, side]
            times = f"{much_s:.2f} s / {least_s:.2f} s = {much_s / least_s:.1f}"
            least_mib = " (at most 190)" if least == "bare plan" else ""
            judged = f"(wanted at most {wanted}), {mib[what, side]:.0f} MiB{least_mib}"
            lines += [f"  {what} / {least}, {side}: {times} {judged}"]
    sys.stdout.write("\n".join(lines) + "\n")


if __name__ == "__main__":
    asked = [Path(given).resolve() for given in sys.argv[1:2]]
    rounds = int(sys.argv[2]) if len(sys.argv) > 2 else ROUNDS
    main(asked[0] if asked else None, rounds if asked else 1)
