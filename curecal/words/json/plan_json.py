"""A plan as machine output, in the form every release keeps: keys are added, never renamed.

The facts are a snapshot of the plan, encoded; the sentences are put beside them here.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from curecal.errors import SourceError
from curecal.planning.comparison.plan_snapshot import (
    HeatUpSnapshot,
    HoldSnapshot,
    MilestoneSnapshot,
    PlanSnapshot,
    StepSnapshot,
    VisitSnapshot,
    ZoneSnapshot,
    snapshot,
)
from curecal.planning.comparison.visits_of_jobs import VisitRow
from curecal.planning.comparison.what_if import Gain
from curecal.planning.plan import Plan, VisitKind
from curecal.records import PlainTable, Record, names_of
from curecal.trade.findings import Finding, Message
from curecal.words.job_places import names_of as job_names
from curecal.words.job_places import place
from curecal.words.json.record_json import Beside, decode, encode
from curecal.words.report.cautions import caution_texts
from curecal.words.report.headline import headline
from curecal.words.sentences import Words, whole

SCHEMA = 1

_NO_NAMES: Mapping[str, object] = {}
_FACTS = "_facts"


def plan_json(
    plan: Plan,
    findings: Sequence[Finding],
    *,
    words: Words,
    version: str,
    tzdata: str,
    gains: Sequence[Gain] = (),
    names: Mapping[str, object] = _NO_NAMES,
) -> PlainTable:
    """Return a plan in the form of `plan --json`.

    Args:
        plan: the plan.
        findings: what reading the job found; the plan's own follow.
        words: the language of the sentences in it.
        version: curecal's version.
        tzdata: the version of the time zone data.
        gains: what would bring a date forward.
        names: the files as read: the names behind a finding's place that no plan holds.

    Returns:
        What `json.dumps` takes.
    """
    facts = snapshot(plan, findings, gains)
    return {
        "schema": SCHEMA,
        "curecal": version,
        "tzdata": tzdata,
        "answer": headline(plan, words),
        "cautions": caution_texts(plan, words),
        **encode(facts, sentences(words, {**names, **job_names(plan.job)})),
    }


def read_plan(document: object, path: str) -> PlanSnapshot:
    """Return a plan read back from its own machine output; keys added since do no harm.

    Args:
        document: what `json.loads` gave.
        path: the file, for the error.

    Returns:
        The plan's facts.

    Raises:
        SourceError: it is no such output, of another schema, or something in it is not as it was
            written.
    """
    if not isinstance(document, dict) or "schema" not in document:
        raise SourceError("moved-unreadable", path=path, what="schema")
    if document["schema"] != SCHEMA:
        raise SourceError("moved-schema", path=path, found=document["schema"], wanted=SCHEMA)
    found = decode(PlanSnapshot, document, path)
    if len({zone.id for zone in found.zones}) < len(found.zones):
        raise SourceError("moved-unreadable", path=path, what="zones")
    return found


def findings_json(
    findings: Sequence[Finding], names: Mapping[str, object], words: Words
) -> list[PlainTable]:
    """Return findings with their place, sentence and remedy."""
    listed: list[PlainTable] = encode(list(findings), sentences(words, names))
    return listed


def sentences(words: Words, names: Mapping[str, object] = _NO_NAMES) -> Beside:
    """Return what people read of a record, for `encode` to put beside its facts.

    Args:
        words: language and units.
        names: the job in the shape of its file, for the places of findings.

    Returns:
        A function from a record to the texts beside its fields.
    """

    def beside(facts: Record) -> PlainTable:
        texts: PlainTable = {}
        for name in names_of(type(facts)):
            if name.endswith(_FACTS):
                message: Message | None = getattr(facts, name)
                texts[name.removesuffix(_FACTS)] = words.sentence(message) if message else None
        if hasattr(facts, "rule_id"):
            texts["rule"] = words.rule(facts.rule_id)
        return texts | _own(facts, words, names)

    return beside


def _own(facts: Record, words: Words, names: Mapping[str, object]) -> PlainTable:
    """Return the texts that one kind of record has beside those of its messages and its rule."""
    texts: PlainTable = {}
    match facts:
        case ZoneSnapshot(why_facts=Message() as why):
            texts["do"] = words.remedy(why)
        case MilestoneSnapshot(blocked_facts=blocked):
            texts["do"] = (words.remedy(blocked) or None) if blocked else None
        case HoldSnapshot():
            texts["what"] = words.hold(facts)
        case HeatUpSnapshot(steps=steps):
            pairs = zip(steps, words.settings(facts), strict=True)
            texts["steps"] = [{**encode(step), "setting": setting} for step, setting in pairs]
        case StepSnapshot(code=code, inputs=inputs):
            texts["says"] = words.text(f"step.{code}", inputs)
        case VisitRow(kind=kind) if kind in set(VisitKind):
            texts["purpose"] = words.name("visit", kind)
        case VisitSnapshot(kind=kind):
            texts["purpose"] = words.name("visit", kind)
        case Gain(what=what):
            texts["what"] = words.sentence(what)
        case Finding():
            message, do = words.finding(facts)
            texts |= {"where": place(facts.path, names, words), "message": whole(message), "do": do}
    return texts
