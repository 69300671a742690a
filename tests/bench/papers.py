"""What each paper of an example costs, as data and as PDF, after the first.

    python tests/bench/papers.py [rounds]

The median of each in processor time; the first PDF, which loads the faces, is shown apart. A figure
to look at, no test. Without the extra `paper` it says so.
"""

from __future__ import annotations

import importlib.util
import statistics
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

from curecal.job_files import load_rules, read_job
from curecal.job_files.days_off import day_off_for
from curecal.papers.blocks import Paper, PaperContext
from curecal.papers.commissioning_record import commissioning_record
from curecal.papers.hold_card import hold_card
from curecal.papers.owner_sheet import owner_sheet
from curecal.papers.typeset import typeset
from curecal.planning.make_plan import make_plan
from curecal.planning.site_log.log_at_instant import facts_at
from curecal.planning.working_time.working_calendar import Calendar
from curecal.words.sentences import words_for

JOB = Path(__file__).parents[2] / "examples" / "bathroom" / "job.toml"
AS_OF = datetime(2026, 11, 30, 12, tzinfo=UTC)
WANTED_MS = 50.0
PAPERS: tuple[Callable[[PaperContext], Paper | None], ...] = (
    hold_card,
    owner_sheet,
    commissioning_record,
)


def main(rounds: int) -> None:
    if importlib.util.find_spec("typst") is None:
        sys.stdout.write("papers: the extra paper is not installed\n")
        return
    read = read_job(JOB)
    if read.job is None:
        sys.exit(str(read.findings))
    job, rules, day_off = read.job, load_rules(), day_off_for(read.job)
    ctx = PaperContext(
        make_plan(job, read.log, AS_OF, rules=rules, day_off=day_off),
        read.log,
        facts_at(read.log, AS_OF, job.people),
        words_for(job, rules),
        Calendar(job.work, job.tz, day_off),
    )
    for make in PAPERS:
        data, pdf, first = _timed(ctx, make, rounds)
        sys.stdout.write(
            f"{make.__name__:21} data {data:5.2f} ms, PDF {pdf:6.2f} ms (wanted {WANTED_MS:g}); "
            f"the first {first:6.2f} ms\n"
        )


def _timed(
    ctx: PaperContext, make: Callable[[PaperContext], Paper | None], rounds: int
) -> tuple[float, float, float]:
    """Return the medians of making the data and of setting them, and the first setting [ms]."""
    data, pdf = [], []
    for turn in range(rounds):
        began = time.process_time()
        paper = make(ctx)
        made = time.process_time()
        if paper is None:
            sys.exit("the example has no such paper")
        # Another job each time: typst keeps what it has set before.
        typeset(replace(paper, subtitle=f"job {turn}", foot=f"job {turn}"))
        data.append(1000.0 * (made - began))
        pdf.append(1000.0 * (time.process_time() - made))
    return statistics.median(data), statistics.median(pdf[1:] or pdf), pdf[0]


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 20)
