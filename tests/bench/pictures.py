"""What a timeline of fifteen layers costs as SVG, against the plan it shows.

    python tests/bench/pictures.py [rounds]

Both in one run, turn by turn; the median of each. A figure to look at, no test.
"""

from __future__ import annotations

import statistics
import sys
import time
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory

from curecal.job_files import load_rules, read_job
from curecal.job_files.days_off import day_off_for
from curecal.pictures.timeline import make_timeline
from curecal.pictures.timeline_svg import timeline_svg
from curecal.planning.make_plan import make_plan
from curecal.words.sentences import words_for

AS_OF = datetime(2026, 11, 29, 12, tzinfo=UTC)
HEAD = """
[job]
id = "bench"
name = "Bench"
timezone = "America/Halifax"
[expected]
air = "20 °C"
below = "heated room"
[[zone]]
name = "hall"
"""
LAYER = """
[[zone.layer]]
name = "coat {at}"
material = "cement leveler"
thickness = "5 mm"
done = 2026-11-{day:02d}T12:00:00
"""
WANTED_MS = 0.5


def main(rounds: int) -> None:
    rules = load_rules()
    with TemporaryDirectory() as folder:
        path = Path(folder, "job.toml")
        layers = "".join(LAYER.format(at=at, day=at + 1) for at in range(15))
        path.write_text(HEAD + layers, encoding="utf-8")
        read = read_job(path)
    if read.job is None:
        sys.exit(str(read.findings))
    day_off = day_off_for(read.job)
    words = words_for(read.job, rules, as_of=AS_OF)
    took: dict[str, list[float]] = {"plan": [], "model": [], "svg": []}
    for _ in range(rounds):
        began = time.perf_counter()
        plan = make_plan(read.job, read.log, AS_OF, rules=rules, day_off=day_off)
        planned = time.perf_counter()
        timeline = make_timeline(plan, plan.zones[0], read.log, words)
        modeled = time.perf_counter()
        timeline_svg(timeline)
        drawn = time.perf_counter()
        for name, seconds in zip(
            took, (planned - began, modeled - planned, drawn - modeled), strict=True
        ):
            took[name].append(seconds)
    shown = {name: 1000.0 * statistics.median(seconds) for name, seconds in took.items()}
    share = shown["svg"] / shown["plan"]
    sys.stdout.write(
        f"15 layers: plan {shown['plan']:.2f} ms, model {shown['model']:.2f} ms, SVG "
        f"{shown['svg']:.2f} ms (wanted {WANTED_MS}): {share:.3f} of the plan\n"
    )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 30)
