"""A cement screed under wood, and moisture tests of it."""

from __future__ import annotations

from datetime import timedelta

from planning_log import a_job, fact
from planning_samples import START, layer, plan, sheet, zone

from curecal.instants import Window
from curecal.planning.plan import Plan
from curecal.trade.data_sheets import Milestone
from curecal.trade.job import Covering, CoveringKind, Zone
from curecal.trade.site_log import Method, MoistureTest

WOOD = Covering(CoveringKind.WOOD)
GLUE = sheet("adhesive", 3.0)


def screed(**more: object) -> Zone:
    base = layer("sand-cement screed", START, "screed", thickness_m=0.065, **more)
    return zone(base, layer("adhesive", None, "glue"), covering=WOOD)


def probe(day: float, value: float = 0.017, **more: object) -> MoistureTest:
    made: dict[str, object] = {
        "layer": "screed",
        "method": Method.CARBIDE,
        "value_fraction": value,
        "points": 3,
        "depth_m": 0.03,
        "air_c": 20.0,
        "humidity": 0.55,
        **more,
    }
    return fact(MoistureTest, START + timedelta(days=day), **made)


def seen(*log: MoistureTest, day: float = 90.0, floor: Zone | None = None) -> Plan:
    return plan(a_job(floor or screed()), log, START + timedelta(days=day))


def cover(made: Plan) -> Window | None:
    return made.zones[0].layers[0].milestones[Milestone.COVER].window
