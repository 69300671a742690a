"""How long `curecal readings` takes over a large file, against a script that only reads it.

The other side is a script of three lines around `pandas.read_csv`, which gives the columns and
says nothing of unit, order, gaps or bad lines. Whole processes, interleaved, the median of each;
peak memory is the child's own.

    python tests/bench/readings.py [rounds]
"""

from __future__ import annotations

import os
import statistics
import sys
import tempfile
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import NamedTuple

ROUNDS = 3
SIZES = {100_000: 1.0, 1_000_000: 1.0}

SCRIPTS = {
    "curecal": (
        "from curecal.cli import main\n\n"
        'main.COMMANDS.setdefault("readings", ("curecal.cli.readings.readings", ""))\nmain.run()\n'
    ),
    "pandas": (
        "import sys\n\nimport pandas\n\n"
        "frame = pandas.read_csv(\n    sys.argv[1], skiprows=1, parse_dates=[1], "
        'date_format="%m/%d/%y %I:%M:%S %p"\n)\nprint(len(frame), frame.dtypes.iloc[1])\n'
    ),
}
HEADER = (
    '\ufeff"Plot: hall bath"\n"#","Date Time, GMT-05:00","Temp, °F (SN: 9900417)",'
    '"RH, % (SN: 9900417)","Plugged In","Host Seen","End"\n'
)


class Run(NamedTuple):
    """One process: seconds on the wall, and its largest memory [MiB]."""

    wall_s: float
    peak_mib: float


def lay_out(folder: Path, rows: int) -> Path:
    """Write a file of readings a minute apart, the times as a logger for one market writes them."""
    path = folder / f"{rows}.csv"
    at = datetime(2024, 1, 1, tzinfo=UTC)
    with path.open("w", encoding="utf-8", newline="\n") as file:
        file.write(HEADER)
        for number in range(rows):
            warm, damp = 66 + number % 53 / 17, 48 + number % 71 / 9
            file.write(f"{number + 1},{at:%m/%d/%y %I:%M:%S %p},{warm:.3f},{damp:.3f},,,\n")
            at += timedelta(minutes=1)
    return path


def run(script: Path, *arguments: str) -> Run:
    """Run one process to its good end."""
    # Warm byte code on both sides: what pip installs is compiled, and so must the tree be.
    left_out = ("COV", "PYTHONDONTWRITEBYTECODE")
    environment = {key: value for key, value in os.environ.items() if not key.startswith(left_out)}
    silent = os.open(os.devnull, os.O_WRONLY)
    start_s = time.perf_counter()
    child = os.posix_spawn(
        sys.executable,
        [sys.executable, str(script), *arguments],
        environment,
        file_actions=[(os.POSIX_SPAWN_DUP2, silent, 1)],
    )
    _, status, usage = os.wait4(child, 0)
    wall_s = time.perf_counter() - start_s
    os.close(silent)
    if status:
        sys.exit(f"{script.name} {' '.join(arguments)} ended with {status}")
    return Run(wall_s, usage.ru_maxrss / 1024)


def main() -> None:
    """Measure and print."""
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else ROUNDS
    lines = [f"a logger's file, median of {rounds} whole processes"]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for script, text in SCRIPTS.items():
            (folder / f"bench_{script}.py").write_text(text, encoding="utf-8")
        for rows, wanted in SIZES.items():
            path = str(lay_out(folder, rows))
            sides = {
                "curecal": (folder / "bench_curecal.py", "readings", path),
                "pandas": (folder / "bench_pandas.py", path),
            }
            if rows == min(SIZES):
                for side in sides.values():
                    run(*side)  # compiles what is not compiled yet
            runs: dict[str, list[Run]] = {side: [] for side in sides}
            for _ in range(rounds):
                for side, arguments in sides.items():
                    runs[side].append(run(*arguments))
            wall_s = {
                side: statistics.median(each.wall_s for each in found)
                for side, found in runs.items()
            }
            peak_mib = {
                side: statistics.median(each.peak_mib for each in found)
                for side, found in runs.items()
            }
            lines += [
                f"  {rows:>9,} rows  {side:<8}{wall_s[side]:8.2f} s{peak_mib[side]:8.0f} MiB"
                for side in sides
            ]
            ratio = wall_s["curecal"] / wall_s["pandas"]
            met = "met" if ratio <= wanted else "NOT met"
            less = "met" if peak_mib["curecal"] < peak_mib["pandas"] else "NOT met"
            lines.append(
                f"  {rows:>9,} rows  time {ratio:.2f} (wanted at most {wanted}: {met}), "
                f"memory {peak_mib['curecal'] / peak_mib['pandas']:.2f} (wanted below 1: {less})"
            )
    sys.stdout.write("\n".join(lines) + "\n")


if __name__ == "__main__":
    main()
