"""What moved as machine output, and plans read back from their own."""

from __future__ import annotations

import json
from collections.abc import Callable
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from planning_log import HOUR, READY, a_job, evidence, fact
from planning_samples import DAY, RULES, START, every_day, job, layer, looked, plan, reading, zone

from curecal.errors import SourceError
from curecal.planning.comparison.plan_comparison import compare_since, compare_snapshots
from curecal.planning.comparison.plan_snapshot import snapshot
from curecal.planning.plan import Plan
from curecal.trade.site_log import Release, Result
from curecal.words.comparison.plan_changes import moved_lines
from curecal.words.json.changes_json import comparison_json
from curecal.words.json.plan_json import plan_json, read_plan
from curecal.words.json.record_json import encode
from curecal.words.sentences import words_for

GOLDEN = sorted((Path(__file__).parents[3] / "golden").glob("*/expected.json"))
FROZEN = [reading(START + HOUR * 3, -2.0), reading(START + HOUR * 9, 18.0)]


def printed(made: Plan) -> Any:
    words = words_for(made.job, RULES)
    return json.loads(json.dumps(plan_json(made, (), words=words, version="1", tzdata="x")))


@pytest.mark.parametrize(
    "made",
    [
        plan(a_job(), evidence(), READY),
        plan(a_job(), [*evidence(), fact(Release, READY + HOUR)], READY + DAY),
        plan(job(zone(layer("thinset", START, "bed", part="window"))), FROZEN, START + DAY),
        plan(job(zone(layer("thinset", None, "bed"), layer("cement grout", None, "grout")))),
        plan(job(zone())),
        plan(job()),
    ],
)
def test_a_plan_and_its_machine_output_tell_the_same(made: Plan) -> None:
    assert encode(read_plan(printed(made), "x")) == encode(snapshot(made))


def test_keys_added_since_do_no_harm_and_those_missing_are_named() -> None:
    document = printed(plan(a_job(), evidence(), READY))
    document["zones"][0]["energize"]["added"] = {"later": True}
    document["added"] = [1]
    assert read_plan(document, "x").job_id == "job"


def _set(place: str, value: object) -> Callable[[Any], None]:
    def change(document: Any) -> None:
        *path, last = (int(key) if key.isdigit() else key for key in place.split("."))
        for key in path:
            document = document[key]
        document[last] = value

    return change


@pytest.mark.parametrize(
    ("place", "value", "named"),
    [
        ("job_id", 7, "job_id"),
        ("as_of", None, "as_of"),
        ("as_of", "yesterday", "as_of"),
        ("as_of", "2027-03-01T12:00:00", "as_of"),
        ("zones", {}, "zones"),
        ("zones", ["hall"], "zones.0"),
        ("zones.0.id", None, "zones.0.id"),
        ("zones.0.may_energize", "yes", "zones.0.may_energize"),
        ("zones.0.layers", [1], "zones.0.layers.0"),
        ("zones.0.may_energize", 0, "zones.0.may_energize"),
        ("zones.0.energize", [], "zones.0.energize"),
        ("zones.0.energize.earliest", None, "zones.0.energize.latest"),
        ("zones.0.energize.latest", "2001-01-01T00:00:00Z", "zones.0.energize.latest"),
        ("zones.0.energize.owner_date", "soon", "zones.0.energize.owner_date"),
        ("zones.0.energize.governed_by", 1, "zones.0.energize.governed_by"),
        ("zones.0.energize.governed_by.layer", 1, "zones.0.energize.governed_by.layer"),
        ("zones.0.holds.0.state", True, "zones.0.holds.0.state"),
        ("zones.0.layers.1.planned", "no", "zones.0.layers.1.planned"),
        ("zones.0.layers.1.finish", "x", "zones.0.layers.1.finish"),
        ("zones.0.layers.1.milestones.heat", "x", "zones.0.layers.1.milestones.heat"),
        ("visits.0.zones", [1], "visits.0.zones.0"),
        ("visits.0.kind", None, "visits.0.kind"),
        ("zones.0.energize.measured_share", float("nan"), "zones.0.energize.measured_share"),
        ("zones.0.energize.measured_share", 10**400, "zones.0.energize.measured_share"),
        ("zones.0.layers.1.milestones", [], "zones.0.layers.1.milestones"),
        ("findings", [{"severity": "loud", "code": "x"}], "findings.0.severity"),
    ],
)
def test_what_is_not_as_it_was_written_is_refused_with_its_place(
    place: str, value: object, named: str
) -> None:
    document = printed(plan(a_job(), evidence(), READY))
    _set(place, value)(document)
    with pytest.raises(SourceError, match="moved-unreadable") as refused:
        read_plan(document, "old.json")
    assert refused.value.params == {"path": "old.json", "what": named}


def test_a_plan_kept_without_starts_is_read_without_them() -> None:
    document = printed(plan(job(zone(layer("thinset", None, "bed")))))
    del document["zones"][0]["layers"][0]["start"]
    (bed,) = read_plan(document, "x").zones[0].layers
    assert "start" not in bed.dates
    assert bed.dates["finish"].earliest is not None


def test_two_zones_of_one_name_are_refused() -> None:
    document = printed(plan(a_job()))
    document["zones"] *= 2
    with pytest.raises(SourceError, match="moved-unreadable"):
        read_plan(document, "x")


@pytest.mark.parametrize("document", [[], None, "x", {}, {"findings": []}])
def test_what_is_no_plan_at_all_is_refused(document: object) -> None:
    with pytest.raises(SourceError, match="moved-unreadable"):
        read_plan(document, "x")


def test_another_schema_is_refused_by_name() -> None:
    with pytest.raises(SourceError, match="moved-schema"):
        read_plan({"schema": 2}, "x")


def test_a_refused_jobs_output_is_no_plan() -> None:
    with pytest.raises(SourceError, match="moved-unreadable") as refused:
        read_plan({"schema": 1, "findings": []}, "x")
    assert refused.value.params["what"] == "job_id"


LEAVES = st.none() | st.booleans() | st.integers(-3, 3) | st.text(max_size=4) | st.floats()


@given(data=st.data())
def test_a_damaged_plan_is_read_or_refused_never_more(data: st.DataObject) -> None:
    document = printed(plan(a_job(), evidence(), READY))
    here: Any = document
    while True:
        keys = list(here) if isinstance(here, dict) else list(range(len(here)))
        key = data.draw(st.sampled_from(keys))
        if isinstance(here[key], dict | list) and here[key] and data.draw(st.booleans()):
            here = here[key]
            continue
        here[key] = data.draw(LEAVES | st.just([]) | st.just({}))
        break
    # Whatever else is raised is a mistake of ours.
    with suppress(SourceError):
        found = read_plan(document, "x")
        now = printed(plan(a_job(), evidence(), READY))
        compared = compare_snapshots(found, read_plan(now, "x"))
        assert moved_lines(compared, words_for(a_job(), RULES), 80)
        assert json.dumps(comparison_json(compared, words_for(a_job(), RULES)), allow_nan=False)


@pytest.mark.parametrize("path", GOLDEN, ids=[path.parent.name for path in GOLDEN])
def test_every_golden_answer_reads_back(path: Path) -> None:
    document = json.loads(path.read_text(encoding="utf-8"))
    if "as_of" not in document:
        with pytest.raises(SourceError, match="moved-unreadable"):
            read_plan(document, str(path))
        return
    found = read_plan(document, str(path))
    assert [zone.id for zone in found.zones] == [zone["id"] for zone in document["zones"]]


def test_a_cause_is_told_by_code_entries_and_sentence() -> None:
    made = job(zone(layer("thinset", START, "bed")))
    look = looked(START + DAY, Result.SOUND, "bed")
    log = (*FROZEN, look)
    now = plan(made, log, START + DAY * 2)
    moved = compare_since(START + HOUR * 20, now, made, log, rules=RULES, day_off=every_day)
    document = comparison_json(moved, words_for(made, RULES))
    json.dumps(document, allow_nan=False)
    (zone_said,) = document["zones"]
    assert document["since"] == "2027-03-02T08:00:00Z"
    assert zone_said["moved"] is True
    assert zone_said["state"] == {"before": "no date", "after": "curing"}
    assert zone_said["energize"]["before"] == {"earliest": None, "latest": None}
    assert zone_said["energize"]["earliest_s"] is None
    assert zone_said["governed_by"] is None
    (cause,) = zone_said["causes"]
    assert cause["code"] == "moved-by-entry"
    assert cause["entries"] == [look.id]
    assert cause["what"].startswith("the inspection of the bed, Tue 2 Mar 2027, 12:00, by Ada")
    assert cause["state"] == {"before": "no date", "after": "curing"}
    assert cause["may"] == "Somebody inspected and decided."


def test_a_zone_that_nothing_decided_yet_says_so() -> None:
    bare, laid = plan(job(zone())), plan(job(zone(layer("thinset", START, "bed"))))
    moved = compare_snapshots(snapshot(bare), snapshot(laid))
    (zone_said,) = comparison_json(moved, words_for(laid.job, RULES))["zones"]
    assert zone_said["governed_by"]["before"] is None
    assert zone_said["governed_by"]["after"]["layer"] == "bed"


def test_instants_are_read_in_any_offset() -> None:
    document = printed(plan(a_job()))
    document["as_of"] = "2027-03-02T14:00:00+02:00"
    assert read_plan(document, "x").as_of == datetime(2027, 3, 2, 12, tzinfo=UTC)
