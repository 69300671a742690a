"""Plans made by hand, for what is made of plans: an invented job, complete enough to show all."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from curecal.calendars import Alarm, Audience, Days, Event, EventKey, Feed, Stamp, feeds, render
from curecal.calendars.content_lines import unfold
from curecal.instants import Window
from curecal.material_classes.rules import load_rules
from curecal.planning.plan import (
    Energize,
    Governing,
    HeatUp,
    Hold,
    HoldState,
    LayerPlan,
    MilestonePlan,
    Plan,
    RampStep,
    RoomOrder,
    State,
    Visit,
    ZonePlan,
)
from curecal.trade.data_sheets import DataSheet, FixedWait, Hardening, Kind, Milestone, Wait
from curecal.trade.findings import Message
from curecal.trade.hold_codes import Gate, HoldCode
from curecal.trade.job import (
    Cable,
    Code,
    Expected,
    Heating,
    Job,
    Layer,
    Person,
    Role,
    Room,
    Units,
    Zone,
)
from curecal.trade.rules import Rule
from curecal.trade.sources import Basis, Source

SOURCE = Source(Basis.DATA_SHEET, "rev. 3, p. 2")
RULES = replace(
    load_rules(),
    by_id={"R10": Rule("R10", "The heat wait", SOURCE)},
    classes={},
    holds=(),
    cautions=(),
)
TZ = ZoneInfo("America/Halifax")
AS_OF = datetime(2026, 12, 2, 20, tzinfo=UTC)


def at(day: int, hour: int = 12, minute: int = 0, *, month: int = 12) -> datetime:
    return datetime(2026, month, day, hour, minute, tzinfo=UTC)


def window(earliest: datetime, hours: float = 0) -> Window:
    return Window(earliest, earliest + timedelta(hours=hours))


def sheet(kind: Kind, *gates: Milestone) -> DataSheet:
    wait = Wait(FixedWait(86400.0), SOURCE, 23.0, 0.5, Hardening.CEMENT)
    cover = {"any": wait} if Milestone.COVER in gates else {}
    return DataSheet(
        name=kind.value,
        kind=kind,
        hardens_by=Hardening.CEMENT,
        source=SOURCE,
        rated_c=23.0,
        rated_rh=0.5,
        minimum_c=10.0,
        minimum_source=SOURCE,
        waits=dict.fromkeys(gates, wait),
        covers=cover,
    )


def milestones(**windows: Window | None) -> dict[Milestone, MilestonePlan]:
    return {
        Milestone(name): MilestonePlan(Milestone(name), found, "R10", SOURCE)
        for name, found in windows.items()
    }


LEVELER = Layer(
    "leveler",
    "leveler over cable",
    sheet(Kind.LEVELER, Milestone.COVER),
    "zone.0.layer.0",
    done_at=at(1),
    over_cable=True,
)
THINSET = Layer("thinset", "thinset", sheet(Kind.THINSET, Milestone.GROUT), "zone.0.layer.1")
GROUT = Layer("grout", "grout", sheet(Kind.GROUT, Milestone.SEAL), "zone.0.layer.2")

LEVELER_DONE = LayerPlan(
    LEVELER,
    planned=False,
    start=None,
    finish=window(at(1)),
    milestones=milestones(cover=window(at(3, 15, 10), 20), heat=window(at(29), 48)),
)
LEVELER_PLANNED = LayerPlan(
    replace(LEVELER, done_at=None),
    planned=True,
    start=window(at(7, 13, 20), 24),
    finish=window(at(7, 16), 24),
    milestones=milestones(cover=window(at(9, 15, 10), 20)),
)
THINSET_PLANNED = LayerPlan(
    THINSET,
    planned=True,
    start=window(at(4, 19, 10), 24),
    finish=window(at(7, 12, 10), 24),
    milestones=milestones(grout=window(at(9, 12, 10), 30), heat=window(at(29), 72)),
    latest_start_at=at(8, 12),
)
GROUT_PLANNED = LayerPlan(
    GROUT,
    planned=True,
    start=window(at(9, 12, 10), 30),
    finish=window(at(9, 20), 30),
    milestones=milestones(walk=window(at(12), 30), wet=window(at(16), 30), load=window(at(18), 30)),
)

FIRST_HEAT = HeatUp(
    "first heat",
    "floor",
    20.0,
    start_measured=False,
    target_c=29.0,
    limit_c=29.0,
    limit_from=Message("limit-living"),
    steps=(
        RampStep(date(2027, 1, 4), 20.0, 1),
        RampStep(date(2027, 1, 5), 25.0, 1),
        RampStep(date(2027, 1, 6), 29.0, 3),
    ),
    ends_on=date(2027, 1, 9),
    step_k=5.0,
    provisional=True,
    rule="R10",
    source=SOURCE,
)
HEATING = Heating(
    cables=(Cable("mat", 240.0, 640.0, 90.0), Cable("spare")),
    supply_v=240.0,
    breaker_a=15.0,
    protection="GFCI 5 mA",
)
HALL = Zone(
    "hall",
    "hall bath",
    "zone.0",
    (LEVELER, THINSET, GROUT),
    room=Room.BATHROOM,
    heating=HEATING,
)
HOLDS = (
    Hold(HoldCode.INSPECTION_BEFORE_CONCEALMENT, Gate.EMBEDDING, Role.CREW_LEAD, HoldState.UNMET),
    Hold(HoldCode.TEST_AFTER_LAYING, Gate.EMBEDDING, Role.CREW_LEAD, HoldState.UNMET, cable="mat"),
    Hold(
        HoldCode.TEST_AFTER_LAYING, Gate.EMBEDDING, Role.CREW_LEAD, HoldState.FAILED, cable="spare"
    ),
    Hold(HoldCode.TEST_AFTER_EMBEDDING, Gate.COVER, Role.CREW_LEAD, HoldState.UNMET, cable="mat"),
    Hold(
        HoldCode.TEST_BEFORE_CONNECTION,
        Gate.CONNECTION,
        Role.ELECTRICIAN,
        HoldState.UNMET,
        cable="mat",
    ),
    Hold(HoldCode.MOISTURE_TEST, Gate.COVER, Role.CREW_LEAD, HoldState.UNMET, layer_id="leveler"),
    Hold(
        HoldCode.TEST_ON_DELIVERY,
        Gate.EMBEDDING,
        Role.CREW_LEAD,
        HoldState.MET,
        cable="mat",
        evidence="e-1",
        evidence_at=at(1, 11),
    ),
    Hold(HoldCode.CONNECTION, Gate.ENERGIZE, Role.ELECTRICIAN, HoldState.UNMET),
    Hold(HoldCode.CURE, Gate.ENERGIZE, Role.CREW_LEAD, HoldState.UNMET),
)
ENERGIZE = Energize(
    window(at(29, 12, 10), 90),
    date(2027, 1, 4),
    date(2027, 1, 8),
    Governing("thinset", "thinset", Milestone.HEAT, "R10"),
    SOURCE,
    provisional=True,
    measured_share=0.4,
)
HALL_PLAN = ZonePlan(
    HALL,
    State.CURING,
    may_energize=False,
    why=Message("curing"),
    energize=ENERGIZE,
    holds=HOLDS,
    layers=(LEVELER_DONE, THINSET_PLANNED, GROUT_PLANNED),
    heat_ups=(FIRST_HEAT,),
    room_order=RoomOrder(18.0, at(29, 12, 10), "house system"),
)
VISITS = (
    Visit("test-and-connect", ("hall",), window(at(14, 12, 30), 30)),
    Visit("energize", ("hall",), Window(at(4, 12, month=12), None)),
    Visit("rough-in-and-first-test", ("hall",), None),
)
JOB = Job(
    "alder-lane-7",
    "Alder Lane 7",
    "America/Halifax",
    TZ,
    Expected(19.0),
    (HALL,),
    Units.IMPERIAL,
    code=Code.NEC,
    address="7 Alder Lane; back door, left",
    people=(Person(Role.CREW_LEAD, "Robin Sample", phone="+1 555 0100"),),
)


def plan(*zones: ZonePlan, job: Job = JOB, as_of: datetime = AS_OF) -> Plan:
    found = zones or (HALL_PLAN,)
    held = replace(job, zones=tuple(zone.zone for zone in found))
    return Plan(held, as_of, found, VISITS, (), ())


def released(zone: ZonePlan = HALL_PLAN, state: State = State.RELEASED) -> ZonePlan:
    return replace(zone, state=state, may_energize=True)


def events(made: Plan, audience: Audience) -> dict[tuple[str, str], Event]:
    """One person's events by layer and purpose."""
    feed = next(feed for feed in feeds(made, rules=RULES) if feed.audience is audience)
    return {(event.key.layer_id, event.key.purpose): event for event in feed.events}


def crew(made: Plan) -> dict[tuple[str, str], Event]:
    return events(made, Audience.CREW)


def owner(made: Plan) -> dict[str, Event]:
    return {purpose: event for (_, purpose), event in events(made, Audience.OWNER).items()}


def electrician(made: Plan) -> dict[str, Event]:
    found = events(made, Audience.ELECTRICIAN)
    return {purpose: event for (_, purpose), event in found.items()}


KEY = EventKey(Audience.OWNER, "hall", "", "walk")
DAY = Days(date(2026, 12, 4), date(2026, 12, 5))
EVENT = Event(KEY, "Walk; now, please", "Line one\nback\\slash", DAY, alarms=(Alarm(at(3), "eve"),))
FEED = Feed(Audience.OWNER, "alder;7", "Alder, 7", (EVENT,))


def stamped(feed: Feed, stamp: Stamp | None = None) -> bytes:
    """A feed's file, every event with one stamp."""
    used = stamp or Stamp(0, AS_OF)
    return render(feed, {feed.uid(event.key): used for event in feed.events})


def lines(data: bytes) -> list[str]:
    """A file's lines, unfolded."""
    return unfold(data)
