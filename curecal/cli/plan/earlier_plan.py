"""The comparison of `plan --since` and `plan --against`."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curecal.errors import SourceError, UsageError

if TYPE_CHECKING:
    from pathlib import Path

    from curecal.cli.shared.common import PlannedJob
    from curecal.planning.comparison.plan_comparison import PlanComparison
    from curecal.planning.comparison.plan_snapshot import PlanSnapshot

# A plan of a large house is some hundred kilobytes.
_LARGEST_BYTES = 16 << 20


def comparison_of(
    made: PlannedJob, since: str | None, against: Path | None
) -> PlanComparison | None:
    """Return the differences since an instant or against a plan kept before, or None.

    Args:
        made: the plan with what it came from.
        since: an instant as typed, or None.
        against: a file with an earlier plan's machine output, or None.

    Returns:
        The differences, or None.

    Raises:
        UsageError: both are asked for, the instant is none, or the plans are not of one job.
        SourceError: the file is no plan kept as machine output.
    """
    if since is not None and against is not None:
        raise UsageError("moved-both")
    if since is None and against is None:
        return None
    from curecal.cli.shared.common import instant_asked
    from curecal.instants import Toward
    from curecal.planning.comparison.plan_comparison import compare_since, compare_with_kept

    if against is not None:
        earlier = _kept(against)
        return compare_with_kept(
            earlier, made.plan, made.job, made.log, rules=made.rules, day_off=made.day_off
        )
    at = instant_asked(since or "", made.job.tz, Toward.PAST)
    return compare_since(at, made.plan, made.job, made.log, rules=made.rules, day_off=made.day_off)


def _kept(path: Path) -> PlanSnapshot:
    """Return the plan kept in a file."""
    import json

    from curecal.words.json.plan_json import read_plan

    name = str(path)
    try:
        with path.open("rb") as file:
            data = file.read(_LARGEST_BYTES + 1)
    except FileNotFoundError:
        raise SourceError("file-missing", path=name) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or type(error).__name__
        raise SourceError("file-unreadable", path=name, reason=reason) from None
    if len(data) > _LARGEST_BYTES:
        raise SourceError("file-too-large", path=name, limit="16 MiB")
    try:
        document = json.loads(data.decode("utf-8-sig"))
    except (ValueError, RecursionError):
        raise SourceError("moved-unreadable", path=name, what="JSON") from None
    return read_plan(document, name)
