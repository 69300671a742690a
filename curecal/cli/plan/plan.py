"""`curecal plan`: the timeline. Its first line says whether the floor may be switched on."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from curecal.cli.plan.earlier_plan import comparison_of
from curecal.cli.shared.common import (
    PROBLEM,
    exit_code_of,
    job_options,
    json_option,
    planned_or_told,
    print_json,
    print_lines,
    tzdata_version,
    width_of,
)
from curecal.errors import CurecalError, NoDate, NotClear, UsageError

if TYPE_CHECKING:
    from curecal.cli.shared.common import PlannedJob
    from curecal.planning.comparison.plan_comparison import PlanComparison
    from curecal.planning.plan import Plan


@click.command("plan")
@job_options
@click.option(
    "--full",
    is_flag=True,
    help="Show everything: cautions, sources, first heat, visits, details.",
)
@json_option
@click.option(
    "--calendars",
    metavar="DIR",
    help="Write or update the calendars of crew, electrician and owner in this folder.",
)
@click.option(
    "--since", metavar="INSTANT", help="Say what moved since this date and time, and why."
)
@click.option(
    "--against",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Say what moved since an earlier plan, kept with --json, and why.",
)
@click.option(
    "--require",
    type=click.Choice(["date", "clear"]),
    help="Exit with 4 or 5 unless every zone has a date, or is ready for release.",
)
def command(
    *,
    job: Path,
    full: bool,
    as_json: bool,
    calendars: str | None,
    since: str | None,
    against: Path | None,
    require: str | None,
    width: int | None,
    **asked: Any,
) -> int:
    """Say when the floor may be switched on, and why.

    The first line is the answer for now. If it is no: why, and when at the earliest.
    """
    if calendars is not None and not calendars.strip():
        # An unset variable in somebody's script must not write into the folder they stand in.
        raise UsageError("folder-unnamed")

    made = planned_or_told(job, as_json=as_json, width=width, **asked)
    if made is None:
        return PROBLEM
    # Refused before anything is written.
    moved = comparison_of(made, since, against)
    # Written before anything is said; what was written is said after the answer.
    written = None
    if calendars is not None:
        from curecal.cli.calendars.calendar_files import Asked, write_directory

        as_asked = asked.get("as_of") is not None
        written = write_directory(made, Path(calendars), asked=Asked(as_asked))
    if as_json:
        _print_json(made, moved)
    else:
        _print_text(made, moved, width_of(width), full=full)
    if written is not None:
        from curecal.words.report.published_calendars import issued_lines

        # In machine output the document stands alone on stdout.
        told = issued_lines(written.told(), words=made.words, width=width_of(width))
        print_lines([(), *told], err=as_json)
    code = exit_code_of(made)
    if code == 0 and require is not None:
        _require(require, made.plan)
    return code


def _print_text(
    made: PlannedJob, moved: PlanComparison | None, columns: int, *, full: bool
) -> None:
    from curecal.words.report.report import report

    lines = report(
        made.plan,
        made.findings,
        words=made.words,
        width=columns,
        names=made.names,
        full=full,
    )
    if moved is not None:
        from curecal.words.comparison.plan_changes import with_moved

        lines = with_moved(lines, moved, made.words, columns)
    print_lines(lines)


def _print_json(made: PlannedJob, moved: PlanComparison | None) -> None:
    from curecal.planning.comparison.what_if import what_helps
    from curecal.version import __version__
    from curecal.words.json.plan_json import plan_json

    gains = what_helps(made.job, made.log, made.plan.as_of, rules=made.rules, day_off=made.day_off)
    document = plan_json(
        made.plan,
        made.findings,
        words=made.words,
        version=__version__,
        tzdata=tzdata_version(),
        gains=gains,
        names=made.names,
    )
    if moved is not None:
        from curecal.words.json.changes_json import comparison_json

        document["moved"] = comparison_json(moved, made.words)
    print_json(document)


def _require(require: str, plan: Plan) -> None:
    """Raise unless every zone has what was asked for."""
    clear = {"clear", "released", "heating up", "in service"}
    for zone in plan.zones:
        params = {"zone": zone.zone.name, "state": zone.state}
        if require == "clear" and zone.state.value not in clear:
            raise NotClear("not-clear", **params)
        if require == "date" and not (zone.is_released or zone.energize.window is not None):
            raise NoDate("no-date", **params)
    if not plan.zones:
        error: type[CurecalError] = NotClear if require == "clear" else NoDate
        raise error("no-zones")
