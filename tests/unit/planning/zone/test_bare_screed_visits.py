"""The electrician's visit to a screed that is heated before it is covered."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

from planning_log import fact, hold, measured
from planning_samples import DAY, START, job, layer, plan, sheet, weekdays, zone

from curecal.instants import Window
from curecal.planning.plan import HoldState, Plan, VisitKind
from curecal.trade.data_sheets import Milestone
from curecal.trade.site_log import Energized, Entry, Method, MoistureTest, Stage


def bare(done: datetime | None = START) -> Plan:
    screed = layer(
        sheet("sand-cement screed", 28.0),
        done,
        "screed",
        thickness_m=0.050,
        heat_before_covering=True,
    )
    made = job(zone(screed, layer(sheet("thinset", 10.0), None, "mortar")))
    return plan(made, as_of=START + DAY, day_off=weekdays)


def test_a_screed_heated_bare_is_connected_before_that() -> None:
    # Laid on Monday 1 March at noon; it may be heated from Monday 22 March at noon, so the
    # first morning is Tuesday the 23rd.
    visit = next(found for found in bare().visits if found.kind == VisitKind.CONNECTION)
    assert visit.window == Window(START + DAY, datetime(2027, 3, 23, 8, tzinfo=UTC))
    # A test before the tiling is right for such a floor.
    made = job(
        zone(
            layer("sand-cement screed", START, "screed", thickness_m=0.050),
            layer("thinset", None, "mortar"),
        )
    )
    heated = replace(made.zones[0].layers[0], heat_before_covering=True)
    first = replace(
        made, zones=(replace(made.zones[0], layers=(heated, *made.zones[0].layers[1:])),)
    )
    log = [measured(START + DAY * 3, Stage.CONNECTION)]
    assert hold(plan(first, log, START + DAY * 4), "test-before-connection").state is HoldState.MET
    assert hold(plan(made, log, START + DAY * 4), "test-before-connection").state is HoldState.UNMET


def test_a_screed_still_to_be_laid_is_connected_after_it() -> None:
    made = bare(None)
    finish = made.zones[0].layers[0].finish
    assert finish is not None
    visit = next(found for found in made.visits if found.kind == VisitKind.CONNECTION)
    assert visit.window is not None
    # It is laid until the end of a working day: the next morning is the first.
    assert visit.window.earliest == finish.earliest.replace(hour=8) + timedelta(days=1)
    heat_up = made.zones[0].heat_ups[0]
    assert visit.window.latest == datetime.combine(
        heat_up.steps[0].on, visit.window.earliest.timetz()
    )


def test_once_the_bare_heat_up_is_over_a_late_connection_waits_for_the_date() -> None:
    screed = layer(
        sheet("sand-cement screed", 28.0),
        START,
        "screed",
        thickness_m=0.050,
        heat_before_covering=True,
    )
    made = job(zone(screed, layer(sheet("thinset", 10.0), START + DAY * 40, "mortar")))
    log: list[Entry] = [
        fact(Energized, START + DAY * 22),
        fact(
            MoistureTest,
            START + DAY * 39,
            layer="screed",
            method=Method.CARBIDE,
            value_fraction=0.012,
            depth_m=0.03,
            points=3,
            air_c=20.0,
            humidity=0.55,
        ),
    ]
    found = plan(made, log, START + DAY * 41)
    visit = next(each for each in found.visits if each.kind == VisitKind.CONNECTION)
    assert visit.window == Window(START + DAY * 41, START + DAY * 50)


def test_a_bare_screed_with_nothing_to_say_of_covering_is_covered_once_it_is_cold() -> None:
    screed = layer(
        sheet("sand-cement screed", 28.0, covers={}), START, "screed", heat_before_covering=True
    )
    item = plan(job(zone(screed)), as_of=START + DAY).zones[0].layers[0]
    cover = item.milestones[Milestone.COVER].window
    heat_up = plan(job(zone(screed)), as_of=START + DAY).zones[0].heat_ups[0]
    assert cover is not None
    assert cover.earliest.date() == heat_up.ends_on
