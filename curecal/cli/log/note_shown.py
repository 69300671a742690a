"""What `curecal note` says: the entry as the log shows it, and what the floor may do now."""

from __future__ import annotations

import re
import shlex
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from curecal.cli.log.log import entry_json, row_lines
from curecal.cli.shared.common import PROBLEM, print_json, print_lines
from curecal.job_files.entry_lines import EntryRow, rows
from curecal.records import PlainTable
from curecal.science.age import KeptAges
from curecal.words.comparison.entry_effect import effect_lines, left_open
from curecal.words.json.plan_json import SCHEMA, findings_json
from curecal.words.layout import TextRun, paragraph
from curecal.words.report.headline import headline
from curecal.words.report.report import finding_lines, hold_text, refused_lines

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from curecal.job_files import ReadJob
    from curecal.planning.plan import Plan
    from curecal.site_log_files.append import Appended
    from curecal.trade.findings import Finding
    from curecal.words.layout import Line
    from curecal.words.sentences import Words


# A key of the file in a sentence: zone = "kitchen", withdrawn = true.
_PAIR = re.compile(r'\b(?P<key>[a-z_]+) = (?:"(?P<text>[^"]+)"|(?P<word>\w+))')
_OPTIONS = frozenset({"zone", "by", "at", "note"})


class Shown:
    """Says what became of an entry, to a person or a program."""

    def __init__(self, words: Words, columns: int, *, as_json: bool) -> None:
        self.words = words
        self.columns = columns
        self.as_json = as_json

    def refused(self, findings: Sequence[Finding], names: Mapping[str, object]) -> int:
        """Say why nothing was written, and return how the command ends."""
        if self.as_json:
            told = findings_json(findings, names, self.words)
            print_json({"schema": SCHEMA, "written": False, "findings": told})
        else:
            title = self.words.text("note.not-written")
            print_lines(
                [
                    *paragraph(title, self.columns, style="bad"),
                    *finding_lines(
                        findings,
                        names,
                        self.words,
                        self.columns,
                        titled=False,
                        remedy=lambda _finding, do: as_typed(do),
                    ),
                ]
            )
        return PROBLEM

    def written(self, written: Sequence[Appended], before: ReadJob, after: ReadJob) -> int:
        """Say what was written and what it means, and return how the command ends.

        The last is what was noted; those before it were told with it.
        """
        *below, made = written
        row = _row_of(made, after)
        if not self.as_json:
            # Said before anything is computed: whatever comes then, it is in the file.
            for one in below:
                print_lines([*self._entry(one, _row_of(one, after), after), ()])
            print_lines(self._entry(made, row, after))
        now = datetime.now(UTC)
        kept = KeptAges()
        was, plan = _plan(before, now, kept), _plan(after, now, kept)
        told = [finding for finding in _all(after, plan) if finding not in _all(before, was)]
        if self.as_json:
            document = self._document(made, row, after, plan, told)
            document["below"] = [
                entry_json(_row_of(one, after), after.job, self.words) for one in below
            ]
            if plan is not None:
                document["outstanding"] = [
                    {
                        "code": hold.code,
                        "cable": hold.cable,
                        "layer_id": hold.layer_id,
                        "state": hold.state.value,
                        "what": hold_text(hold, self.words),
                    }
                    for hold in left_open(was, plan, _about(row))
                ]
            print_json(document)
        elif plan is None:
            lines = refused_lines(after.findings, after.raw, self.words, self.columns)
            print_lines([(), *lines])
        else:
            lines = effect_lines((was, plan), _about(row), told, self.words, self.columns)
            lines += finding_lines(
                told, after.raw, self.words, self.columns, titled=False, remedy=_as_typed_of_log
            )
            print_lines([*self._answer(plan, was), *lines])
        # The entry is in the file: what the floor may do is said, and is no failure of the command.
        return 0

    def _entry(self, made: Appended, row: EntryRow, after: ReadJob) -> list[Line]:
        """Return the entry as the log shows it, below its day."""
        title = self.words.text("note.written", {"path": str(made.path), "id": made.id})
        lines = paragraph(title, self.columns)
        if row.entry is not None:
            day = row.entry.at.astimezone(self.words.reader.site_tz).date()
            lines.append((TextRun(self.words.day(day), "head"),))
        return lines + row_lines(row, after.job, self.words, self.columns)

    def _answer(self, plan: Plan, was: Plan | None) -> list[Line]:
        """Return what the floor may do now, and the answer before where it was another."""
        answer = headline(plan, self.words)
        style = "good" if plan.may_energize else "bad"
        lines: list[Line] = [(), *paragraph(answer, self.columns, style=style)]
        earlier = None if was is None else headline(was, self.words)
        if earlier not in {None, answer}:
            text = self.words.text("note.before", {"answer": earlier})
            lines += paragraph(text, self.columns, style="dim")
        return lines

    def _document(
        self,
        made: Appended,
        row: EntryRow,
        after: ReadJob,
        plan: Plan | None,
        told: Sequence[Finding],
    ) -> PlainTable:
        findings = told if plan is not None else after.findings
        return {
            "schema": SCHEMA,
            "written": True,
            "file": str(made.path),
            "id": made.id,
            "entry": entry_json(row, after.job, self.words),
            "may_energize": plan is not None and plan.may_energize,
            "answer": None if plan is None else headline(plan, self.words),
            "findings": findings_json(findings, after.raw, self.words),
        }


def as_typed(remedy: str) -> str:
    """Return a remedy with its keys as they are typed behind `curecal note`."""

    def pair(match: re.Match[str]) -> str:
        key, value = match["key"], match["text"] or match["word"]
        if key in _OPTIONS:
            return f"--{key} {shlex.quote(value)}"
        return shlex.quote(f"{key}={value}")

    return _PAIR.sub(pair, remedy)


def _as_typed_of_log(finding: Finding, remedy: str) -> str:
    """Return a remedy as it is typed where it is about the log; the job file's stays as written."""
    return as_typed(remedy) if finding.path.partition(".")[0] == "log" else remedy


def _row_of(made: Appended, after: ReadJob) -> EntryRow:
    """Return the row of the log that an entry stands in, as it was read back."""
    return next((row for row in rows(after) if _is_about(row, made.id)), _bare(made))


def _is_about(row: EntryRow, own: str) -> bool:
    """Return whether a row is an entry, or was corrected by it, or by what it corrects."""
    return own == row.id or any(
        own in {correction.id, row.taken_back.get(correction.id)} for correction in row.corrections
    )


def _bare(made: Appended) -> EntryRow:
    """Return an entry as it was written: where a correction names what is not understood."""
    return EntryRow(made.id, str(made.entry.get("kind")), made.entry, None)


def _about(row: EntryRow) -> dict[str, object]:
    """Return what an entry is about, for what it was to do."""
    stage = getattr(row.entry, "stage", None)
    return {
        "kind": row.kind,
        "zone": None if row.entry is None else row.entry.zone,
        "stage": None if stage is None else stage.value,
        "cable": getattr(row.entry, "cable", None),
    }


def _plan(read: ReadJob, now: datetime, kept: KeptAges) -> Plan | None:
    """Return the plan of a job, None where it is not understood."""
    if read.job is None:
        return None
    from curecal.job_files import load_rules
    from curecal.job_files.days_off import day_off_for
    from curecal.planning.make_plan import make_plan

    day_off = day_off_for(read.job)
    return make_plan(read.job, read.log, now, rules=load_rules(), day_off=day_off, kept=kept)


def _all(read: ReadJob, plan: Plan | None) -> tuple[Finding, ...]:
    return (*read.findings, *(() if plan is None else plan.findings))
