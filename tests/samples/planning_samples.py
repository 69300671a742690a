"""Jobs by hand for tests of the planning floor: short to write, complete like those read."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, tzinfo
from itertools import count

from curecal.material_classes.rules import load_rules
from curecal.planning.make_plan import make_plan
from curecal.planning.plan import LayerPlan, Plan
from curecal.trade.data_sheets import DataSheet, FixedWait, Milestone, Wait
from curecal.trade.job import (
    Cable,
    Covering,
    Expected,
    Heating,
    HeatUpWish,
    Job,
    Layer,
    Person,
    Role,
    Zone,
)
from curecal.trade.site_log import Entry, Inspection, Place, Reading, Result
from curecal.trade.sources import Basis, Source

RULES = load_rules()
START = datetime(2027, 3, 1, 12, tzinfo=UTC)
DAY = timedelta(days=1)
SHEET = Source(Basis.DATA_SHEET, "invented sheet, p. 1")
ADA = Person(Role.CREW_LEAD, "Ada", roles=tuple(Role), license="L 1")
"""One person who may sign everything, for tests that are about something else."""
_ids = count(1)


def every_day(day: date) -> str | None:
    """Return nothing: every day is a working day."""
    del day
    return None


def weekdays(day: date) -> str | None:
    """Return why a Saturday or a Sunday is no working day."""
    return "weekend" if day.weekday() >= 5 else None


def wait(days: float, sheet: DataSheet, rated_c: float = 20.0) -> Wait:
    """Return a sheet's own wait."""
    return Wait(FixedWait(days * 86400.0), SHEET, rated_c, 0.5, sheet.hardens_by, f"{days} d")


def sheet(name: str, heat_d: float | None = None, **changes: object) -> DataSheet:
    """Return a shipped class, with a heat wait of its own where one is given."""
    made = RULES.classes[name]
    if heat_d is not None:
        made = replace(made, waits={**made.waits, Milestone.HEAT: wait(heat_d, made)})
    return replace(made, **changes)  # type: ignore[arg-type]


def layer(
    material: str | DataSheet, done: datetime | None = None, name: str = "", **more: object
) -> Layer:
    """Return a layer of a class or a sheet."""
    made = RULES.classes[material] if isinstance(material, str) else material
    name = name or made.name
    base = Layer(name.replace(" ", "-"), name, made, f"zone.0.layer.{name}", done_at=done)
    return replace(base, **more)  # type: ignore[arg-type]


def zone(*layers: Layer, **more: object) -> Zone:
    """Return a zone of layers with one cable."""
    base = Zone(
        "hall",
        "hall",
        "zone.0",
        layers,
        heating=Heating(cables=(Cable("mat", 240.0, 640.0, 90.0),)),
        heat_up=HeatUpWish(target_c=29.0),
        covering=Covering(),
    )
    return replace(base, **more)  # type: ignore[arg-type]


def expected(air_c: float = 20.0, **more: object) -> Expected:
    """Return a steady climate: nothing colder or damper than expected."""
    base = Expected(air_c, 0.5, air_c, 0.5)
    return replace(base, **more)  # type: ignore[arg-type]


def job(*zones: Zone, climate: Expected | None = None, tz: tzinfo = UTC, **more: object) -> Job:
    """Return a job of zones."""
    base = Job("job", "job", "UTC", tz, climate or expected(), zones, people=(ADA,))
    return replace(base, **more)  # type: ignore[arg-type]


def plan(
    made: Job, log: Iterable[Entry] = (), as_of: datetime = START + DAY, day_off: object = every_day
) -> Plan:
    """Return the plan of a job."""
    return make_plan(made, log, as_of, rules=RULES, day_off=day_off)  # type: ignore[arg-type]


def reading(
    at: datetime,
    value_c: float | None = None,
    place: Place = Place.SURFACE,
    humidity: float | None = None,
    low_c: float | None = None,
    *,
    heating_off: bool = True,
    heating_on: bool = False,
    by: str | None = "Ada",
) -> Reading:
    """Return one look at a thermometer."""
    return Reading(
        id=f"r{next(_ids)}",
        at=at,
        recorded=at,
        by=by,
        place=place,
        temperature_c=value_c,
        humidity=humidity,
        low_c=low_c,
        heating_off=heating_off,
        heating_on=heating_on,
    )


def daily(first: datetime, days: int, value_c: float, **more: object) -> list[Reading]:
    """Return a look a day, close enough together to cover the span."""
    return [reading(first + DAY * index, value_c, **more) for index in range(days + 1)]  # type: ignore[arg-type]


def looked(
    at: datetime, result: Result, about: str | None = None, by: str | None = "Ada"
) -> Inspection:
    """Return an inspection."""
    return Inspection(id=f"i{next(_ids)}", at=at, recorded=at, layer=about, result=result, by=by)


def item(made: Plan, name: str) -> LayerPlan:
    """Return a layer's plan by its name, from the first zone."""
    return next(found for found in made.zones[0].layers if found.layer.name == name)


def earliest(made: Plan, name: str, milestone: Milestone) -> datetime | None:
    """Return when a layer's milestone is reached at the earliest; None without a date."""
    window = item(made, name).milestones[milestone].window
    return None if window is None else window.earliest


def codes(made: Plan) -> list[str]:
    """Return the codes of all findings."""
    return [finding.code for finding in made.findings]
