"""A folder with a job, its company, its materials and its readings, as a crew might keep them."""

from __future__ import annotations

import hashlib
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

from book_samples import later

from curecal.book.jobs.jobs import read_job_of_book
from curecal.book.ledger.ledger import BookLedger
from curecal.calendars import feeds, goes, issue
from curecal.job_files import load_rules
from curecal.job_files.days_off import day_off_for
from curecal.planning.make_plan import make_plan
from curecal.words.json.plan_json import plan_json
from curecal.words.sentences import words_for

if TYPE_CHECKING:
    from pathlib import Path

    from curecal.book.connection.open_book import Book
    from curecal.calendars import Revised
    from curecal.job_files import ReadJob
    from curecal.planning.plan import Plan

AS_OF = datetime(2026, 12, 2, 20, tzinfo=UTC)
JOB_ID = "alder-lane"

JOB_FILE = """
[job]
id = "alder-lane"
name = "Alder Lane – \\"upstairs\\""
timezone = "America/Halifax"
company = "../config/company.toml"

[expected]
air = "20 °C"
humidity = "55 %"

[[zone]]
id = "hall"
name = "hall bath"
floor_area = "5 m²"

[zone.heating]
voltage = "240 V"
power = "640 W"
resistance = "90 Ω"
insulation = "20 MΩ at 500 V"
floor_limit = "29 °C"
data_sheet = "invented guide, p. 3"

[[zone.layer]]
id = "thinset"
name = "thinset"
material = "house thinset"
done = 2026-11-20T16:00:00

[[log]]
at = 2026-11-20T18:00:00
kind = "air"
zone = "hall"
air = "19 °C"
humidity = "60 %"

[[log]]
id = "cable-laid"
at = 2026-11-19T10:00:00-04:00
recorded = 2026-11-19T10:20:30.25-04:00
kind = "resistance"
zone = "hall"
stage = "laid"
conductor = "90.4 Ω"
to_earth = "open"
by = "R. Example"
"""
COMPANY = """
materials = "../shared/materials.toml"

[people.crew_lead]
name = "Robin Example"
email = "robin@example.org"
"""
MATERIALS = """
[material."house thinset"]
kind = "thinset"
modified = true
data_sheet = "invented sheet, p. 2"
rated = { temperature = "70 °F", humidity = "50 %" }
minimum = "50 °F"
wait = { grout = "24-48 h", heat = "28 d" }
"""
READINGS = b"at,temperature_c,humidity\n" + b"".join(
    b"2026-11-2%dT%02d:00:00Z,19.%d,0.55\n" % (day, hour, hour % 10)
    for day in (1, 2)
    for hour in range(24)
)
AIR_LATER = """
[[log]]
id = "air-2"
at = 2026-11-25T09:00:00-04:00
kind = "air"
zone = "hall"
air = "18 °C"
"""


def folder_of(tmp_path: Path, *, more: str = "", company: str = COMPANY) -> Path:
    """Write the files, and give the job file's place."""
    for name, text in (
        ("jobs/job.toml", JOB_FILE + more),
        ("config/company.toml", company),
        ("shared/materials.toml", MATERIALS),
    ):
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return tmp_path / "jobs" / "job.toml"


def readings_entry(data: bytes = READINGS, name: str = "job.readings/hall.csv") -> str:
    return (
        '[[log]]\nid = "logger-1"\nat = 2026-11-23T00:00:00Z\nkind = "readings"\nzone = "hall"\n'
        f'file = "{name}"\nsha256 = "{hashlib.sha256(data).hexdigest()}"\nrows = 48\n'
        "first = 2026-11-21T00:00:00Z\nlast = 2026-11-22T23:00:00Z\n"
    )


def plan_of(read: ReadJob, as_of: datetime = AS_OF) -> dict[str, Any]:
    """The plan as machine output: what two readings of one job have to agree in."""
    assert read.job is not None, read.findings
    rules = load_rules()
    plan = make_plan(read.job, read.log, as_of, rules=rules, day_off=day_off_for(read.job))
    words = words_for(read.job, rules)
    return plan_json(plan, (), words=words, version="0", tzdata="0")


def planned(book: Book, hours: float = 0) -> Plan:
    """The plan of the job as the book has it."""
    read = read_job_of_book(book, JOB_ID)
    assert read.job is not None
    day_off = day_off_for(read.job)
    at = AS_OF + timedelta(hours=hours)
    return make_plan(read.job, read.log, at, rules=load_rules(), day_off=day_off)


def publish(book: Book, plan: Plan, minutes: float = 0) -> Revised:
    """Publish the calendars of a plan, a little later each time."""
    rules = load_rules()
    made = feeds(plan, rules=rules)
    now = later(minutes=minutes)
    return issue(made, BookLedger(book), now=now, goes=goes(plan, rules=rules))
