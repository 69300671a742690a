"""Why an entry that is understood is refused all the same: by all that is on record.

A finish over a layer that nobody noted is a question: the command asks at a terminal, the page on
its form; both write the answers with the finish.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING, cast

from curecal.material_classes.rules import load_rules
from curecal.planning.curing.moisture_not_required import (
    doubt_about_waiver,
    says_not_required,
)
from curecal.planning.schedule.covering_order import find_later_below, find_undone_below
from curecal.planning.site_log.authority import persons_named
from curecal.planning.site_log.corrections import correction_findings
from curecal.planning.site_log.doubtful_finish import doubt_about_finish
from curecal.planning.site_log.entry_kinds import kind_of
from curecal.planning.site_log.log_at_instant import Facts, facts_at, fold_done
from curecal.records import Record, record
from curecal.toml_files.shown import nearest
from curecal.trade.findings import Finding, FindingCode, Severity
from curecal.trade.site_log import Correction, Done, Entry, Inspection

if TYPE_CHECKING:
    from curecal.job_files.job_reader import ReadJob
    from curecal.trade.job import Job


def refusals(read: ReadJob, place: str) -> list[Finding]:
    """Return why the entry at a place of a job cannot be, or does not count.

    Args:
        read: The job with the entry.
        place: Where the entry stands.

    Returns:
        Errors; none for an entry that is as good as it says.
    """
    entry = next((told for told in read.log if told.path == place), None)
    if read.job is None or entry is None:
        return []
    strangers = _strangers(read.job, entry)
    if strangers:
        return strangers
    facts = facts_at(read.log, max(entry.at, entry.recorded), read.job.people)
    if isinstance(entry, Correction):
        refused = [
            changed
            for changed in facts.corrected
            if changed.correction is entry and not changed.counts
        ]
        return [
            replace(finding, severity=Severity.ERROR) for finding in correction_findings(refused)
        ]
    job, _ = fold_done(read.job, facts)
    if isinstance(entry, Inspection) and says_not_required(entry):
        return _still_required(job, entry)
    if not isinstance(entry, Done):
        return []
    return _out_of_order(job, entry) or _doubtful(job, entry, facts)


def _still_required(job: Job, entry: Inspection) -> list[Finding]:
    """Return why a layer needs its moisture test, whoever says that it does not."""
    found = []
    for zone in job.zones:
        for layer in zone.layers:
            if layer.id != entry.layer or entry.zone not in {None, zone.id}:
                continue
            doubt = doubt_about_waiver(zone, layer, entry, job.expected, load_rules())
            if doubt is not None:
                path = f"{entry.path}.result"
                found.append(Finding(Severity.ERROR, doubt.code, path, doubt.params, zone.id))
    return found


def _doubtful(job: Job, entry: Done, facts: Facts) -> list[Finding]:
    """Return the question whether the finish an entry tells of is right."""
    found = []
    for zone in job.zones:
        for layer in zone.layers:
            ours = layer.id == entry.layer and entry.zone in {None, zone.id}
            doubt = doubt_about_finish(job, zone, layer, facts) if ours else None
            if doubt is not None and layer.done_at == entry.at:
                path = f"{entry.path}.at"
                found.append(Finding(Severity.ERROR, doubt.code, path, doubt.params, zone.id))
    return found


def _strangers(job: Job, entry: Entry) -> list[Finding]:
    """Return that an entry names somebody who is not in the job, with the nearest who is."""
    found = []
    names = [person.name for person in job.people]
    for key, name in (("by", entry.by), ("entered_by", entry.entered_by)):
        if name is not None and not persons_named(job.people, name):
            params = {"entry": kind_of(entry), "by": name, "nearest": nearest(name, names)}
            path = f"{entry.path}.{key}"
            found.append(Finding(Severity.ERROR, "signer-not-in-job", path, params, entry.zone))
    return found


def _out_of_order(job: Job, entry: Done) -> list[Finding]:
    """Return that the layer an entry says is done cannot have been, by all that is on record."""
    found = []
    for zone in job.zones:
        for layer in zone.layers:
            ours = layer.id == entry.layer and entry.zone in {None, zone.id}
            if not ours or layer.done_at != entry.at:
                continue
            under, untold = find_later_below(zone, layer), find_undone_below(zone, layer)
            told = {"layer": layer.name, "done_at": layer.done_at}
            if under is not None:
                params = {**told, "under": under.name, "under_at": under.done_at}
                path = f"{entry.path}.at"
                found.append(
                    Finding(Severity.ERROR, FindingCode.LAID_BEFORE, path, params, zone.id)
                )
            elif untold is not None:
                params = {**told, "under": untold.name}
                path = f"{entry.path}.layer"
                found.append(
                    Finding(
                        Severity.ERROR,
                        FindingCode.WHEN_BELOW_FINISHED,
                        path,
                        params,
                        zone.id,
                        untold.id,
                    )
                )
    return found


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
