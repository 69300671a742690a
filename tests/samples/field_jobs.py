"""A finished floor in the field, as a job's text, and what is said when one thing is otherwise."""

from __future__ import annotations

from datetime import UTC, datetime

from curecal.job_files import load_rules
from curecal.job_files.days_off import day_off_for
from curecal.job_files.job_reader import parse_job
from curecal.planning.make_plan import make_plan
from curecal.planning.plan import Plan, ZonePlan
from curecal.records import Record, record
from curecal.trade.findings import Finding

CREW_LEAD, TESTER, OWNER = "Robin Example", "Tess Example", "Kim Owner"
INSPECTOR, ELECTRICIAN, STRANGER = "Nan Example", "Lee Example", "Max Stranger"
SEEN = datetime(2026, 3, 14, 9, tzinfo=UTC)
# Mortar 3 March, grout 5 March at noon, 7 days each by their sheets at 20 °C.
CURED = datetime(2026, 3, 12, 12, tzinfo=UTC)
MORTAR = """\
[material."mortar"]
kind = "thinset"
data_sheet = "mortar sheet, p. 2"
rated = { temperature = "20 °C", humidity = "50 %" }
wait = { grout = "24 h", heat = "7 d" }
"""
GROUT = """\
[material."joint"]
kind = "grout"
hardens_by = "cement"
data_sheet = "grout sheet, p. 1"
rated = { temperature = "20 °C", humidity = "50 %" }
wait = { walk = "24 h", heat = "7 d" }
"""
BED_LAYER = """\
[[zone.layer]]
name = "mortar"
material = "mortar"
done = 2026-03-03T12:00:00
"""
GROUT_LAYER = """\
[[zone.layer]]
name = "grout"
material = "joint"
done = 2026-03-05T12:00:00
"""
JOB = f"""\
[job]
id = "base"
name = "Base"
timezone = "UTC"
units = "metric"
code = "BS 7671"
[expected]
air = "20 °C"
humidity = "50 %"
coldest = "20 °C"
dampest = "50 %"
below = "heated room"
[people.crew_lead]
name = "Robin Example"
[people.electrician]
name = "Lee Example"
license = "E 1"
[people.inspector]
name = "Nan Example"
[people.tester]
name = "Tess Example"
[people.owner]
name = "Kim Owner"
{MORTAR}{GROUT}[[zone]]
name = "bath"
covering = "ceramic tile"
[zone.heating]
voltage = "230 V"
power = "1000 W"
resistance = "52.9 Ω"
[zone.heat_up]
target = "29 °C"
{BED_LAYER}{GROUT_LAYER}"""


def entry(kind: str, at: str, *lines: str, by: str = "Lee Example") -> str:
    """Return a log entry's text; `by` may be empty."""
    signed = [f'by = "{by}"'] if by else []
    return "\n".join(["[[log]]", f"at = {at}Z", f'kind = "{kind}"', *lines, *signed, ""])


def cable_test(stage: str, at: str, *lines: str, by: str = "Lee Example") -> str:
    """Return a whole cable test without a fault; `lines` come beside it."""
    whole = ('conductor = "52.9 Ω"', 'to_earth = "open"')
    more = ('insulation = "500 MΩ"', 'insulation_at = "500 V"')
    return entry("resistance", at, f'stage = "{stage}"', *whole, *more, *lines, by=by)


EVIDENCE = "".join(
    [
        cable_test("delivery", "2026-03-02T08:00:00"),
        cable_test("laid", "2026-03-02T15:00:00"),
        entry("continuity", "2026-03-02T15:05:00", 'state = "connected"'),
        cable_test("embedded", "2026-03-04T08:00:00"),
        cable_test("connection", "2026-03-09T08:00:00"),
        entry(
            "protection",
            "2026-03-09T08:30:00",
            'device = "RCD"',
            'trips_at = "30 mA"',
            'trip_test = "tripped"',
        ),
        entry("thermostat", "2026-03-09T09:00:00", 'mode = "floor"', 'limit = "29 °C"'),
        entry(
            "connected",
            "2026-03-09T09:30:00",
            "locked = true",
            "tagged = true",
            'leads = "off the thermostat"',
        ),
        entry(
            "kept",
            "2026-03-12T12:00:00",
            'above = "20 °C"',
            "from = 2026-03-03T12:00:00Z",
            "to = 2026-03-12T12:00:00Z",
            by="Robin Example",
        ),
    ]
)
FLOOR = JOB + EVIDENCE

KEPT = EVIDENCE[EVIDENCE.index('[[log]]\nat = 2026-03-12T12:00:00Z\nkind = "kept"') :]
RELEASED = entry("release", "2026-03-14T08:00:00", by=CREW_LEAD)
GLUE = """\
[material."glue"]
kind = "adhesive"
hardens_by = "reaction"
data_sheet = "glue sheet, p. 1"
rated = { temperature = "20 °C" }
wait = { heat = "7 d" }
"""


@record
class Seen(Record):
    """What is said of a job: of its file, and of its plan."""

    findings: tuple[Finding, ...]
    plan: Plan | None

    @property
    def codes(self) -> set[str]:
        """The codes of all findings."""
        return {finding.code for finding in self.findings}

    @property
    def zone(self) -> ZonePlan:
        """The first zone."""
        assert self.plan is not None, self.findings
        return self.plan.zones[0]

    @property
    def earliest(self) -> datetime | None:
        """The first zone's date."""
        window = self.zone.energize.window
        return None if window is None else window.earliest

    @property
    def outstanding(self) -> set[str]:
        """What the first zone still wants."""
        return {hold.code.value for hold in self.zone.holds if hold.is_outstanding}


def see(text: str, at: datetime = SEEN) -> Seen:
    """Return what is said of a job's text at an instant."""
    read = parse_job(text.encode(), clock=at)
    if read.job is None or any(finding.severity == "error" for finding in read.findings):
        return Seen(tuple(read.findings), None)
    plan = make_plan(read.job, read.log, at, rules=load_rules(), day_off=day_off_for(read.job))
    return Seen((*read.findings, *plan.findings), plan)


def without(text: str, part: str) -> str:
    """Return a text without one of its parts, which must be there."""
    assert part in text, part
    return text.replace(part, "", 1)


def put(text: str, *changes: tuple[str, str]) -> str:
    """Return a text with parts of it replaced, each of which must be there."""
    for right, wrong in changes:
        assert right in text, right
        text = text.replace(right, wrong, 1)
    return text


def layer(name: str, material: str, done: str, *lines: str) -> str:
    """Return a layer's text."""
    own = [f'name = "{name}"', f'material = "{material}"', f"done = {done}Z", *lines]
    return "\n".join(["[[zone.layer]]", *own, ""])


def covering(kind: str, *more: str) -> tuple[str, str]:
    """Return the change of the floor's covering to another."""
    table = ", ".join([f'kind = "{kind}"', *more])
    return 'covering = "ceramic tile"', f"covering = {{ {table} }}"


def floor_reading(at: str, value_c: float, heating: str = "off", by: str = ELECTRICIAN) -> str:
    """Return a reading of the floor's sensor; `heating` may be empty."""
    said = [f'heating = "{heating}"'] if heating else []
    return entry("floor", at, f'floor = "{value_c} °C"', *said, by=by)
