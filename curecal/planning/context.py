"""What every part of one zone's planning looks at."""

from __future__ import annotations

from dataclasses import dataclass, field

from curecal.planning.clocks import Clocks
from curecal.planning.facts import Facts
from curecal.planning.plan import Hold
from curecal.planning.stack import Stack
from curecal.planning.waits import Waits
from curecal.planning.workdays import Calendar
from curecal.trade.buildup import Job, Zone
from curecal.trade.findings import Finding, Params, Severity
from curecal.trade.rules import Rules


@dataclass(slots=True)
class Desk:
    """One zone on the desk: its facts, clocks and calendar, and what has been found so far."""

    job: Job
    zone: Zone
    facts: Facts
    rules: Rules
    calendar: Calendar
    clocks: Clocks
    stack: Stack
    waits: Waits
    findings: list[Finding] = field(default_factory=list)
    holds: list[Hold] = field(default_factory=list)

    def find(
        self, severity: Severity, code: str, path: str, params: Params, layer_id: str | None = None
    ) -> None:
        """Note a finding about this zone."""
        self.findings.append(Finding(severity, code, path, params, self.zone.id, layer_id))
