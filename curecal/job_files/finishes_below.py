"""Layers under a finished one that nobody noted: which one a refusal asks about.

The command asks at a terminal, the page on its form; both write the answers with the finish.
"""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, cast

from curecal.records import Record, record
from curecal.trade.findings import FindingCode, Severity

if TYPE_CHECKING:
    from collections.abc import Sequence

    from curecal.trade.findings import Finding


@record
class UntoldFinish(Record):
    """A layer that must have been finished by an instant, and nobody noted it.

    `is_all` where nothing else speaks against the entry that brought it up: nobody is asked for
    one that is refused all the same.
    """

    finding: Finding
    done_at: datetime
    is_all: bool

    @property
    def under(self) -> str:
        """The layer's name."""
        return str(self.finding.params["under"])

    @property
    def layer_id(self) -> str:
        """The layer's identity."""
        return self.finding.layer_id or ""


def untold_finish(findings: Sequence[Finding]) -> UntoldFinish | None:
    """Return the topmost layer that a refusal asks about; None where it asks about none.

    The topmost one first, so that what lies deeper is held against all that lies on it.

    Args:
        findings: Why an entry is refused.
    """
    errors = [finding for finding in findings if finding.severity is Severity.ERROR]
    asked = [finding for finding in errors if finding.code == FindingCode.WHEN_BELOW_FINISHED]
    if not asked:
        return None
    # Several layers on top of it may be done: it was finished before the first of them.
    own = [finding for finding in asked if finding.layer_id == asked[-1].layer_id]
    first = min(own, key=_done_at)
    return UntoldFinish(first, _done_at(first), len(asked) == len(errors))


def laid_before(findings: Sequence[Finding]) -> list[Finding]:
    """Return the refusals of finishes before the layer below was: no answer mends those.

    Args:
        findings: Why an entry is refused.
    """
    return [finding for finding in findings if finding.code == FindingCode.LAID_BEFORE]


def _done_at(finding: Finding) -> datetime:
    return cast("datetime", finding.params["done_at"])
