"""`curecal explain`: the steps each milestone carries, checkable by hand, with sources."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from curecal.cli.common import PROBLEM, is_problem, job_options, planned, print_lines, width_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from curecal.trade.findings import Finding
    from curecal.words.sentences import Words


@click.command("explain")
@job_options
@click.argument("layer", required=False)
def command(*, job: Path, layer: str | None, width: int | None, **asked: Any) -> int:
    """Show every step of every date, with its source.

    LAYER is the id or the name of one layer; without it, all are shown.
    """
    columns = width_of(width)

    def refused(findings: Sequence[Finding], names: Mapping[str, object], words: Words) -> None:
        from curecal.words.report import refused_lines

        print_lines(refused_lines(findings, names, words, columns))

    made = planned(job, refused=refused, **asked)
    if made is None:
        return PROBLEM
    from curecal.words.explain import explain

    gains = None
    if layer is None:
        from curecal.planning.sooner import what_helps

        gains = what_helps(
            made.job, made.log, made.plan.as_of, rules=made.rules, day_off=made.day_off
        )
    print_lines(explain(made.plan, words=made.words, width=columns, layer=layer, gains=gains))
    return PROBLEM if is_problem((*made.findings, *made.plan.findings)) else 0
