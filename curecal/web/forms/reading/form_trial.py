"""A form that was read, tried on the job: what would be refused, and the plan as it would be.

Nothing is written here. What the log asks about (a layer below that nobody noted, an odd hour)
becomes a question of the form.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from curecal.job_files.entry_refusals import UntoldFinish, laid_before, untold_finish
from curecal.planning.site_log.authority import evidence_of, gap, gap_message, says_bad_news
from curecal.records import Record, record
from curecal.trade.findings import Finding, FindingCode, Severity
from curecal.trade.hold_codes import HoldCode
from curecal.trade.site_log import Release, Resumed
from curecal.web.entries import PageEntry, PageEntryRefusedError, try_entries
from curecal.web.forms.form_choices import YES
from curecal.web.forms.form_offers import evidences_of
from curecal.web.forms.reading.field_values import FormProblem
from curecal.web.forms.reading.form_reading import FilledForm
from curecal.web.forms.reading.typed_instants import typed_instant
from curecal.web.job_now import JobNow, plan_now
from curecal.words.sentences import whole
from curecal.words.values import clean

if TYPE_CHECKING:
    from datetime import datetime

    from curecal.job_files import ReadJob
    from curecal.trade.site_log import Entry
    from curecal.web.page_request import PageRequest

# Every layer of a floor may be missing; no floor has more.
_MOST_BELOW = 30
_ODD = frozenset(
    {FindingCode.FINISH_BY_NIGHT, FindingCode.FINISH_FAR_BEFORE, FindingCode.FINISH_TOLD_LATE}
)


@record
class BelowQuestion(Record):
    """A layer below that nobody noted: its field, its name, and by when it was finished."""

    key: str
    layer: str
    top: str
    done_at: datetime


@record(kw_only=True)
class TriedForm(Record):
    """A form as it would be written: its entries from the bottom up, and the job with them.

    `after` is None where something is wrong. `asks_sure` where an hour or a day looks odd.
    """

    filled: FilledForm
    entries: tuple[PageEntry, ...] = ()
    after: JobNow | None = None
    entry: Entry | None = None
    below: tuple[BelowQuestion, ...] = ()
    asks_sure: bool = False


def try_form(page: PageRequest, filled: FilledForm) -> TriedForm:
    """Return what would come of a form; nothing is written.

    Args:
        page: The request.
        filled: The form as it was read.
    """
    if filled.entry is None:
        return TriedForm(filled=filled)
    entries = [filled.entry]
    below: list[BelowQuestion] = []
    for _ in range(_MOST_BELOW):
        try:
            read = try_entries(page, entries)
        except PageEntryRefusedError as refused:
            impossible = laid_before(refused.findings)
            untold = None if impossible else untold_finish(refused.findings)
            if untold is None:
                found = impossible or refused.findings
                is_odd = any(one.code in _ODD for one in found)
                problems = _problems(page, filled, found)
                return _refused(filled, problems, below, asks_sure=is_odd)
            question = _question(untold)
            below.append(question)
            answer, problem = _answer(page, filled.typed, filled.entry, (untold, question))
            if answer is None:
                return _refused(filled, [problem], below)
            # As the floor was built; of one instant, what was asked for last lies lowest.
            entries = sorted([answer, *entries], key=lambda one: one.at or page.now)
        else:
            return _judged(page, filled, entries, read, below)
    return _refused(filled, [FormProblem("", page.text("forms.problem.choice"))], below)


def _judged(
    page: PageRequest,
    filled: FilledForm,
    entries: Sequence[PageEntry],
    read: ReadJob,
    below: Sequence[BelowQuestion],
) -> TriedForm:
    """Return a form that is understood, unless its entry would not count."""
    after = plan_now(read.job or page.job, read, page.now)
    own = entries[-1].entry_id
    entry = next((one for one in after.facts.entries if one.id == own), None)
    problems = [] if entry is None else _gaps(page, filled, after, entry)
    if problems:
        return _refused(filled, problems, below)
    return TriedForm(
        filled=filled, entries=tuple(entries), after=after, entry=entry, below=tuple(below)
    )


def _gaps(page: PageRequest, filled: FilledForm, after: JobNow, entry: Entry) -> list[FormProblem]:
    """Return why an entry would stand in the log and count for nothing."""
    if isinstance(entry, Release):
        return _unreleased(page, after, entry)
    evidence = evidence_of(entry)
    if isinstance(entry, Resumed):
        evidence = evidences_of(page, filled.form)[0]
    if evidence is None or says_bad_news(entry):
        return []
    lacking = gap(after.job.people, entry, evidence)
    if lacking is not None:
        message = gap_message(lacking, entry, evidence)
        said = f"{page.words.sentence(message)} {page.words.remedy(message)}"
        return [FormProblem("", said.strip())]
    if not isinstance(entry, Resumed):
        return []
    refused = [found for found in after.plan.findings if found.path == entry.path]
    stands = [found for found in after.plan.findings if _still_stops(found, entry)]
    return [
        FormProblem("", _said(page, found, with_remedy=found in refused))
        for found in (*refused, *stands)
    ]


def _still_stops(found: Finding, entry: Entry) -> bool:
    """Return whether a stop stands although an entry is to lift it."""
    is_stop = found.code in {FindingCode.STOPPED, FindingCode.EARLY_SWITCH_ON}
    return is_stop and entry.zone in {None, found.zone_id}


def _unreleased(page: PageRequest, after: JobNow, entry: Entry) -> list[FormProblem]:
    """Return what keeps a floor from being released, one thing a line."""
    if page.clock_doubt:
        # A clock ahead has let every layer cure; one behind does not see a stop.
        return [FormProblem("", page.clock_doubt)]
    found = []
    for zone in after.plan.zones:
        if entry.zone not in {None, zone.zone.id} or zone.is_released:
            continue
        waiting = [
            hold for hold in zone.holds if hold.is_outstanding and hold.code is not HoldCode.RELEASE
        ]
        release = next((hold for hold in zone.holds if hold.code is HoldCode.RELEASE), None)
        what = [page.words.hold(hold) for hold in waiting]
        if not what and release is not None and release.reason is not None:
            what = [page.words.message(release.reason)]
        found.append(
            FormProblem("", page.text("forms.problem.release", what="; ".join(what) or None))
        )
    return found


def _refused(
    filled: FilledForm,
    problems: Sequence[FormProblem],
    below: Sequence[BelowQuestion],
    *,
    asks_sure: bool = False,
) -> TriedForm:
    return TriedForm(filled=filled.with_problems(problems), below=tuple(below), asks_sure=asks_sure)


def _question(untold: UntoldFinish) -> BelowQuestion:
    zone = untold.finding.zone_id or ""
    return BelowQuestion(
        key=f"below.{zone}/{untold.layer_id}",
        layer=clean(untold.under),
        top=clean(str(untold.finding.params["layer"])),
        done_at=untold.done_at,
    )


def _answer(
    page: PageRequest,
    typed: Mapping[str, str],
    top: PageEntry,
    asked: tuple[UntoldFinish, BelowQuestion],
) -> tuple[PageEntry | None, FormProblem]:
    """Return the finish of a layer below as somebody typed it; else what to ask."""
    untold, question = asked
    ask = FormProblem(question.key, page.text("forms.problem.below", layer=question.layer))
    # The same form sent twice makes the same entries.
    derived = hashlib.sha256(f"{top.entry_id} {question.key}".encode()).hexdigest()[:32]
    values: dict[str, object] = {"layer": untold.layer_id, "zone": untold.finding.zone_id}
    lower = replace(top, entry_id=f"c-{derived}", values=values, pictures={})
    if "from" in top.values:
        values["from"] = top.values["from"]
    if typed.get(f"{question.key}.unknown") == YES:
        note = page.text("forms.finish-unknown", layer=question.top)
        values |= {"sure": True, "note": note}
        return replace(lower, at=untold.done_at), ask
    text = typed.get(question.key, "")
    if not text:
        return None, ask
    found = typed_instant(text, page.job.tz, which=typed.get(f"{question.key}.meant", ""))
    if found.at is None or found.gap is not None:
        gap_of = found.gap.value if found.gap else "unreadable"
        readings = tuple(
            (which, f"{at.astimezone(page.job.tz):%H:%M %Z}")
            for which, at in zip(("first", "second"), found.both, strict=False)
        )
        said = page.text(f"forms.problem.{gap_of}")
        return None, FormProblem(question.key, said, readings if len(readings) > 1 else ())
    if found.at > page.now:
        return None, FormProblem(question.key, page.text("forms.problem.ahead", now_at=page.now))
    if typed.get("sure") == YES:
        values["sure"] = True
    return replace(lower, at=found.at), ask


def _problems(
    page: PageRequest, filled: FilledForm, findings: Sequence[Finding]
) -> list[FormProblem]:
    """Return refusals beside the fields that they are about."""
    errors = [found for found in findings if found.severity is Severity.ERROR]
    own_keys = {own.key for own in filled.form.fields}
    keys = own_keys | {"at", "zone", "by", "photo"}
    problems = []
    for found in errors:
        key = found.path.split(".")[0] if found.code not in _ODD else "sure"
        # What to do about a value is typed on the form as it is in a file.
        said = _said(page, found, with_remedy=key in own_keys - {"layer"})
        problems.append(FormProblem(key if key in keys or key == "sure" else "", said))
    return problems


def _said(page: PageRequest, found: Finding, *, with_remedy: bool) -> str:
    said, do = page.words.finding(found)
    return f"{whole(said)} {do}".strip() if with_remedy else whole(said)
