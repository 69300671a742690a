"""`curecal compare`: what if the room were warmer, the mortar rapid, the work begun earlier?"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from curecal.cli.shared.common import (
    PROBLEM,
    company_named,
    job_options,
    json_option,
    planned_or_told,
    print_json,
    print_lines,
    width_of,
)
from curecal.cli.shared.job_source import site

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from datetime import datetime
    from pathlib import Path

    from curecal.cli.shared.common import PlannedJob
    from curecal.job_files import ReadJob
    from curecal.job_files.what_if.changes import Change
    from curecal.planning.comparison.alternatives import Alternative
    from curecal.records import PlainTable


@click.command("compare")
@job_options
@click.option(
    "--with",
    "changes",
    multiple=True,
    metavar="WHAT=VALUE",
    help='A change to try, such as "air=70 °F" or "thinset=rapid thinset"; may be repeated.',
)
@json_option
def command(
    *, job: Path, changes: Sequence[str], as_json: bool, width: int | None, **asked: Any
) -> int:
    """Compare what a warmer room, another product or another day would change.

    WHAT is air, humidity, coldest or dampest from now on; the name of a layer, for another
    product; "NAME start", for the day it is begun ("earliest": as soon as it may); days or hours
    of work; "order", for the layers still to be laid, bottom to top. Each change is planned alone,
    then all together. Without --with what usually helps is tried. Nothing is written.
    """
    made = planned_or_told(job, as_json=as_json, width=width, **asked)
    if made is None:
        return PROBLEM
    from curecal.planning.comparison.alternatives import what_if

    tried = _changes(made, changes)
    alternatives, together = _alternatives(made, tried, asked)
    found = what_if(
        made.job,
        made.log,
        made.plan.as_of,
        alternatives,
        together,
        rules=made.rules,
        day_off=made.day_off,
    )
    if as_json:
        from curecal.words.json.alternatives_json import what_if_json

        print_json(what_if_json(found, made.plan, words=made.words))
    else:
        from curecal.job_files.what_if.changed_jobs import notes_of
        from curecal.words.comparison.alternatives import what_if_lines

        lines = what_if_lines(
            found,
            made.plan,
            words=made.words,
            width=width_of(width),
            notes=notes_of(tried, is_together=together is not None),
        )
        print_lines(lines)
    return 0


def _changes(made: PlannedJob, asked: Sequence[str]) -> list[Change]:
    """Return the changes asked for, or those that usually help."""
    from curecal.cli.shared.common import instant_asked
    from curecal.instants import Toward
    from curecal.job_files.what_if.changes import change_of
    from curecal.job_files.what_if.usual_changes import usual_changes

    # The plan's own job: what the log says is laid, is laid.
    job, as_of = made.plan.job, made.plan.as_of
    if asked:

        def typed(text: str) -> datetime:
            return instant_asked(text, job.tz, Toward.AHEAD)

        return [change_of(text, job, as_of, typed) for text in asked]
    return usual_changes(job, made.names, as_of, rules=made.rules, words=made.words)


def _alternatives(
    made: PlannedJob, changes: Sequence[Change], asked: Mapping[str, Any]
) -> tuple[list[Alternative], Alternative | None]:
    """Return the job after each change, and after all of them where they go together."""
    with site(made.job_file, made.place) as found:
        from curecal.job_files import read_job
        from curecal.job_files.what_if.changed_jobs import changed_jobs

        shared = asked["company"] or found.company or company_named()
        further = (*found.logs, *asked["logs"])

        def read(edit: Callable[[PlainTable], PlainTable]) -> ReadJob:
            return read_job(found.job, company=shared, extra_log=further, edit=edit)

        return changed_jobs(made.job, changes, read, made.words)
