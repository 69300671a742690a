"""Plans per second: three zones, fifteen layers, sixty days of hourly readings.

    python tests/bench/planning.py [seconds]

A figure to look at, no test: what it takes depends on the machine.
"""

from __future__ import annotations

import math
import sys
import time
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "samples"))

from planning_samples import DAY, START, expected, job, layer, plan, sheet, zone

from curecal.planning.plan import Plan
from curecal.trade.job import Expected, Job
from curecal.trade.site_log import Place, Series

HOURS = 60 * 24


def readings(zone_id: str, offset_k: float) -> Series:
    """Sixty days of hourly readings that swing with the day."""
    points = tuple(
        (
            START + timedelta(hours=hour),
            17.0 + offset_k + 3.0 * math.sin(hour / 24.0 * 2.0 * math.pi),
            0.55 + 0.1 * math.sin(hour / 50.0),
        )
        for hour in range(HOURS)
    )
    return Series(
        id=f"log-{zone_id}",
        at=START,
        recorded=START,
        zone=zone_id,
        place=Place.SURFACE,
        device=zone_id,
        interval_s=3600.0,
        points=points,
    )


def whole_job() -> Job:
    """Three zones of five layers each, the last ones done on day 20."""
    zones = []
    for index in range(3):
        begun = START + DAY * index
        made = zone(
            layer("primer", begun, "primer"),
            layer("leveler", begun + DAY * 0.3, "leveler", thickness_m=0.01),
            layer(sheet("thinset", 21.0), begun + DAY * 5, "mortar"),
            layer("cement grout", begun + DAY * 9, "grout"),
            layer("sealer", begun + DAY * 20, "sealer"),
        )
        zones.append(replace(made, id=f"zone-{index}", name=f"zone {index}"))
    climate: Expected = expected(18.0, coldest_c=14.0)
    return job(*zones, climate=climate)


def main(seconds: float) -> None:
    """Plan again and again, and print how often."""
    made = whole_job()
    log = [readings(made_zone.id, index * 0.5) for index, made_zone in enumerate(made.zones)]
    as_of = START + timedelta(hours=HOURS)
    first: Plan = plan(made, log, as_of)
    count, start = 0, time.perf_counter()
    while time.perf_counter() - start < seconds:
        plan(made, log, as_of)
        count += 1
    rate = count / (time.perf_counter() - start)
    days = [made_zone.energize.start_on for made_zone in first.zones]
    sys.stdout.write(
        f"{rate:.2f} plans a second (3 zones, 15 layers, {3 * HOURS} hourly readings; {days[0]})\n"
    )


if __name__ == "__main__":
    main(float(sys.argv[1]) if len(sys.argv) > 1 else 3.0)
