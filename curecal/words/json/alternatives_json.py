"""What if, as machine output: the days as they are, and after each change."""

from __future__ import annotations

from curecal.planning.comparison.alternatives import AlternativeOutcome, WhatIf, ZoneDays
from curecal.planning.plan import Plan
from curecal.records import PlainTable
from curecal.words.job_places import names_of
from curecal.words.json.plan_json import SCHEMA, findings_json
from curecal.words.json.record_json import encode
from curecal.words.sentences import Words


def what_if_json(found: WhatIf, plan: Plan, *, words: Words) -> PlainTable:
    """Return what each change does, the one that gains most first, as `json.dumps` takes it.

    Args:
        found: the comparison.
        plan: the plan as it is.
        words: language and units.
    """
    document: PlainTable = encode(
        {
            "schema": SCHEMA,
            "job_id": plan.job.id,
            "job": plan.job.name,
            "as_of": plan.as_of,
            "now": [_zone(zone) for zone in found.now],
            "changes": [_outcome(outcome, plan, words) for outcome in found.outcomes],
            "together": found.together and _outcome(found.together, plan, words),
        }
    )
    return document


def _outcome(outcome: AlternativeOutcome, plan: Plan, words: Words) -> PlainTable:
    return {
        "change": outcome.said,
        "helps": outcome.helps,
        "zones": [
            {
                **_zone(zone),
                "days_earlier": zone.start_gain,
                "owner_days_earlier": zone.owner_gain,
            }
            for zone in outcome.zones
        ],
        "findings": findings_json(outcome.findings, names_of(plan.job), words),
    }


def _zone(zone: ZoneDays) -> PlainTable:
    return {
        "id": zone.zone,
        "name": zone.name,
        "state": zone.state,
        "start_on": zone.start_on,
        "owner_date": zone.owner_on,
    }
