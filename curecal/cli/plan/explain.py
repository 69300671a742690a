"""`curecal explain`: the steps each milestone carries, checkable by hand, with sources."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from curecal.cli.shared.common import (
    PROBLEM,
    exit_code_of,
    job_options,
    json_option,
    planned_or_told,
    print_json,
    print_lines,
    width_of,
)

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from curecal.planning.comparison.what_if import Gain


@click.command("explain")
@job_options
@click.argument("layer", required=False)
@json_option
def command(*, job: Path, layer: str | None, as_json: bool, width: int | None, **asked: Any) -> int:
    """Show every step of every date, with its source.

    LAYER is the id or the name of one layer; without it, all are shown.
    """
    made = planned_or_told(job, as_json=as_json, width=width, **asked)
    if made is None:
        return PROBLEM
    gains: Sequence[Gain] | None = None
    if layer is None:
        from curecal.planning.comparison.what_if import what_helps

        gains = what_helps(
            made.job, made.log, made.plan.as_of, rules=made.rules, day_off=made.day_off
        )
    if as_json:
        from curecal.words.json.steps_json import explain_json

        print_json(
            explain_json(made.plan, made.findings, words=made.words, layer=layer, gains=gains or ())
        )
    else:
        from curecal.words.report.explain import explain

        columns = width_of(width)
        lines = explain(
            made.plan,
            words=made.words,
            width=columns,
            layer=layer,
            gains=gains,
            findings=made.findings,
        )
        print_lines(lines)
    return exit_code_of(made)
