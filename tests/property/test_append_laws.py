"""Laws of a log in a file: its order has no effect, and a correction withdrawn never was."""

from __future__ import annotations

import functools
import tempfile
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from curecal.job_files import ReadJob, load_rules, parse_job, read_job
from curecal.job_files.days_off import day_off_for
from curecal.planning.make_plan import make_plan
from curecal.planning.plan import Plan
from curecal.site_log_files.append import append_entry
from curecal.site_log_files.entry_toml import block

JOB = """\
[job]
id = "j"
name = "Two floors"
timezone = "Europe/Berlin"
[expected]
below = "heated room"
air = "18 °C"
[people.crew_lead]
name = "Lee"
roles = ["electrician", "inspector", "tester"]
license = "E 1"
[[zone]]
name = "hall"
[zone.heating]
voltage = "230 V"
power = "600 W"
resistance = "88 Ω"
[[zone.layer]]
name = "leveler"
material = "cement leveler"
thickness = "8 mm"
[[zone.layer]]
name = "mortar"
material = "thinset"
[[zone]]
name = "loft"
[zone.heating]
voltage = "230 V"
power = "300 W"
resistance = "176 Ω"
[[zone.layer]]
name = "bed"
material = "thinset"
"""
START = datetime(2026, 10, 1, 8, tzinfo=UTC)
AS_OF = START + timedelta(days=60)

# What people write, each with what may be corrected of it. Hours make ties likely.
FACTS: tuple[tuple[str, dict[str, object], dict[str, object]], ...] = (
    ("done", {"layer": "leveler"}, {"layer": "mortar"}),
    ("done", {"layer": "mortar"}, {"lot": "L 1"}),
    ("done", {"layer": "bed"}, {"layer": "leveler"}),
    ("air", {"air": "12 °C", "zone": "hall"}, {"air": "21 °C"}),
    ("air", {"air": "1 °C", "humidity": "70 %"}, {"zone": "loft"}),
    ("floor", {"floor": "19 °C", "zone": "loft"}, {"floor": "9 °C", "humidity": "50 %"}),
    ("inspection", {"result": "sound", "layer": "leveler"}, {"result": "replace"}),
    ("inspection", {"result": "passed", "zone": "hall"}, {"zone": "loft"}),
    (
        "resistance",
        {"stage": "laid", "conductor": "88 Ω", "to_earth": "open", "zone": "hall"},
        {"conductor": "20 Ω"},
    ),
    ("release", {"zone": "loft"}, {"zone": "hall"}),
    ("energized", {"zone": "hall"}, {"zone": "loft"}),
    ("stopped", {"cause": "smell or heat", "zone": "loft"}, {"cause": "other"}),
    ("resumed", {"found": "a loose wire", "zone": "loft"}, {"zone": "hall"}),
    ("continuity", {"state": "sounded", "zone": "hall"}, {"state": "connected"}),
    (
        "visit",
        {"visit": "v1", "for": "test and connect", "start": "2026-12-01 09:00", "state": "booked"},
        {"state": "called off"},
    ),
    (
        "protection",
        {"device": "RCD", "trips_at": "30 mA", "zone": "hall"},
        {"trip_test": "did not trip"},
    ),
    ("note", {"text": "x"}, {"text": "y"}),
)


class Told:
    """Entries written at times of one's choice, with identities of one's choice."""

    def __init__(self) -> None:
        self.entries: list[dict[str, Any]] = []

    def write(self, kind: str, values: dict[str, object], *, hour: int, late: int) -> str:
        name = f"e-{len(self.entries)}"
        at = START + timedelta(hours=hour)
        recorded = at + timedelta(hours=late)
        self.entries.append(
            {"at": at, "kind": kind, "id": name, **values, "by": "Lee", "recorded": recorded}
        )
        return name


@functools.cache
def rules() -> Any:
    return load_rules()


def plan(data: bytes) -> Plan:
    """Return the plan of a file; where an entry stands in it is no part of the plan."""
    return plan_of(parse_job(data))


def plan_of(read: ReadJob) -> Plan:
    assert read.job is not None, read.findings
    log = [replace(entry, path="") for entry in read.log]
    return make_plan(read.job, log, AS_OF, rules=rules(), day_off=day_off_for(read.job))


def untold(made: Plan) -> Plan:
    """Return a plan without what it says of corrections: that stays, whatever becomes of them."""
    findings = [each for each in made.findings if "told_at" not in each.params]
    return replace(made, findings=tuple(findings))


def text(entries: Sequence[dict[str, Any]]) -> bytes:
    return (JOB + "".join(block(entry, "\n") for entry in entries)).encode()


@st.composite
def logs(draw: st.DrawFn) -> Told:
    """Return facts with corrections of some, corrections of these, and many at one time."""
    told = Told()
    hours = st.sampled_from([0, 1, 200, 201, 400, 1000])
    chosen = draw(st.lists(st.sampled_from(FACTS), min_size=1, max_size=6))
    for kind, values, changes in chosen:
        hour = draw(hours)
        of = told.write(kind, values, hour=hour, late=draw(st.sampled_from([0, 1, 24])))
        for _ in range(draw(st.integers(0, 2))):
            withdraw = draw(st.booleans())
            keys: dict[str, object] = {"withdrawn": True} if withdraw else changes
            late = draw(st.sampled_from([0, 1, 24]))
            made = told.write("correction", {"of": of, **keys}, hour=hour + 30, late=late)
            if draw(st.booleans()):
                told.write("correction", {"of": made, "withdrawn": True}, hour=hour + 60, late=late)
    return told


@given(told=logs(), data=st.data())
def test_the_order_of_entries_in_the_file_has_no_effect(told: Told, data: st.DataObject) -> None:
    shuffled = data.draw(st.permutations(told.entries))
    assert plan(text(shuffled)) == plan(text(told.entries))


@given(told=logs(), data=st.data())
def test_a_correction_withdrawn_restores_the_earlier_plan(told: Told, data: st.DataObject) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "job.toml"
        path.write_bytes(text(told.entries))
        before = untold(plan(path.read_bytes()))
        facts = [each for each in told.entries if each["kind"] != "correction"]
        target = data.draw(st.sampled_from(facts))
        changes = next(more for kind, _, more in FACTS if kind == target["kind"])
        keys = data.draw(st.sampled_from([{"withdrawn": True}, changes]))
        at = START + timedelta(hours=1200)
        values = {"of": target["id"], **keys}
        made = append_entry(path, "correction", values, at=at, recorded=at, by="Lee")
        read = read_job(path)
        assert read.job is not None
        at += timedelta(seconds=data.draw(st.integers(1, 3)))
        taken = {"of": made.id, "withdrawn": True}
        append_entry(path, "correction", taken, at=at, recorded=at, by="Lee")
        assert untold(plan(path.read_bytes())) == before


@given(told=logs(), data=st.data())
def test_in_which_file_an_entry_stands_has_no_effect(told: Told, data: st.DataObject) -> None:
    apart = [each for each in told.entries if data.draw(st.booleans())]
    with tempfile.TemporaryDirectory() as folder:
        path, further = Path(folder) / "job.toml", Path(folder) / "further.toml"
        path.write_bytes(text([each for each in told.entries if each not in apart]))
        further.write_bytes(b"# further\n" + text(apart).removeprefix(JOB.encode()))
        read = read_job(path, extra_log=[further])
        assert plan_of(read) == plan(text(told.entries))


def test_a_correction_that_stands_does_change_the_plan() -> None:
    told = Told()
    of = told.write("done", {"layer": "bed"}, hour=0, late=0)
    before = plan(text(told.entries))
    told.write("correction", {"of": of, "withdrawn": True}, hour=1, late=0)
    assert plan(text(told.entries)) != before
