"""Job files with something changed in them: refused, or read as a person reads them."""

from __future__ import annotations

import contextlib
import random
import tomllib
import zoneinfo
from collections import Counter
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
import tomli
from file_mutations import count_of, drawn, spoil_toml
from job_by_hand import company_differences, differences, log_differences

from curecal.errors import SourceError
from curecal.job_files import parse_job, read_job

ROOT = Path(__file__).parents[2]
# One of the golden jobs is refused as it stands: there is nothing to compare.
EXAMPLES = [
    path
    for folder in (ROOT / "examples", ROOT / "tests" / "golden")
    for path in sorted(folder.glob("*/job.toml"))
    if path.parent.name != "13-flow-protocol"
]
CLOCK = datetime(2028, 1, 1, tzinfo=UTC)


def tables(data: bytes) -> dict[str, Any] | None:
    """Return the tables of a file's octets; None where they are no text or no TOML.

    The standard library knows TOML 1.0 only: what it reads, the other one reads alike.
    """
    try:
        text = data.decode("utf-8-sig")
        tree = tomli.loads(text)
    except (ValueError, RecursionError):
        return None
    with contextlib.suppress(tomllib.TOMLDecodeError):
        assert tomllib.loads(text) == tree or "nan" in text.lower()
    return tree


def outcome(data: bytes) -> tuple[str, list[str]]:
    """Return what became of a file's octets, and where it was read as what does not stand there."""
    tree = tables(data)
    try:
        found = parse_job(data, clock=CLOCK)
    except SourceError:
        return "refused", []
    if found.job is None:
        return "refused", [] if found.findings else ["refused without a finding"]
    if tree is None:
        return "read", ["read what is no TOML"]
    return "read", differences(tree, found)


def hold(count: int, draw: random.Random) -> Counter[str]:
    """Mutate job files, and hold what is read of them to what stands there."""
    ends: Counter[str] = Counter()
    originals = [path.read_bytes() for path in EXAMPLES]
    for number in range(count):
        data = spoil_toml(originals[number % len(originals)], draw)
        end, wrong = outcome(data)
        assert not wrong, (number, wrong, data.decode("utf-8", "replace"))
        ends[end] += 1
    return ends


def test_a_whole_job_file_is_read_as_by_hand() -> None:
    for path in EXAMPLES:
        assert outcome(path.read_bytes()) == ("read", []), path


def test_a_mutated_job_file_is_refused_or_read_as_it_stands() -> None:
    count = count_of("job file")
    ends = hold(count, drawn("job file"))
    assert ends["read"] > count // 10
    assert ends["refused"] > count // 10


# One entry of every kind, beside the example's own.
LOG = b"""\
[[log]]
id = "a1"
at = 2026-11-07T08:15:00-04:00
kind = "air"
air = "64.5 \xc2\xb0F"
humidity = "58 %"
low = "61 \xc2\xb0F"
by = "Robin Mistral"
note = "by the window"
[[log]]
id = "f1"
at = "2026-11-07 09:00"
recorded = 2026-11-07T14:00:00Z
kind = "floor"
floor = "17.5 \xc2\xb0C"
heating = "off"
by = "Robin Mistral"
[[log]]
id = "k1"
at = 2026-11-09T12:00:00-04:00
kind = "kept"
above = "63 \xc2\xb0F"
from = 2026-11-07T08:30:00-04:00
to = 2026-11-09T11:00:00-04:00
by = "Robin Mistral"
[[log]]
id = "r1"
at = 2026-11-08T10:00:00-04:00
kind = "resistance"
stage = "connection"
conductor = "90.2 \xce\xa9"
to_earth = "> 2 G\xce\xa9"
insulation = "550 M\xce\xa9 at 500 V"
sensor = "12.1 k\xce\xa9"
floor = "66 \xc2\xb0F"
meter = "M 3"
by = "Sam Okoro-Lind"
[[log]]
id = "m1"
at = 2026-11-08T10:30:00-04:00
kind = "moisture"
layer = "leveler"
method = "carbide"
value = "1.6 CM-%"
depth = "3/8 in"
points = 3
heating_off_for = "24 h"
air = "66 \xc2\xb0F"
humidity = "55 %"
[[log]]
id = "p1"
at = 2026-11-08T11:00:00-04:00
kind = "protection"
device = "GFCI"
trips_at = "5 mA"
trip_test = "tripped"
trip_time = "18 ms"
by = "Sam Okoro-Lind"
[[log]]
id = "c1"
at = 2026-11-08T11:05:00-04:00
kind = "connected"
locked = true
tagged = true
leads = "off the thermostat"
by = "Sam Okoro-Lind"
[[log]]
id = "t1"
at = 2026-11-08T11:10:00-04:00
kind = "thermostat"
mode = "floor"
limit = "81 \xc2\xb0F"
schedule = "off"
by = "Sam Okoro-Lind"
[[log]]
id = "v1"
at = 2026-11-08T12:00:00-04:00
kind = "visit"
visit = "connect"
for = "test and connect"
start = 2026-12-08T09:00:00-04:00
end = 2026-12-08T11:30:00-04:00
state = "booked"
by = "Robin Mistral"
[[log]]
id = "s1"
at = 2026-11-08T13:00:00-04:00
kind = "stopped"
cause = "other"
reason = "a leak above"
by = "Ida Fennell"
[[log]]
id = "h1"
at = 2026-11-08T14:00:00-04:00
kind = "heat_step"
to = "75 \xc2\xb0F"
by = "Robin Mistral"
[[log]]
id = "n1"
at = 2026-11-08T15:00:00-04:00
kind = "note"
text = "dust sheet down"
by = "Robin Mistral"
"""


def read_with(folder: Path, data: bytes, *, as_company: bool) -> tuple[str, list[str]]:
    """Return what became of a company's file or a further log beside a whole job file."""
    tree = tables(data)
    file = folder / "further.toml"
    file.write_bytes(data)
    job = folder / "job.toml"
    try:
        if as_company:
            found = read_job(job, company=file, clock=CLOCK)
        else:
            found = read_job(job, extra_log=[file], clock=CLOCK)
    except SourceError:
        return "refused", []
    if found.job is None:
        return "refused", [] if found.findings else ["refused without a finding"]
    if tree is None:
        return "read", ["read what is no TOML"]
    if as_company:
        return "read", list(company_differences(tree, found.job))
    site = zoneinfo.ZoneInfo(found.job.timezone)
    return "read", list(log_differences(tree.get("log", []), found.log, site))


def hold_beside(original: bytes, folder: Path, kind: str) -> Counter[str]:
    """Mutate a file beside a job, and hold what is read of it to what stands there."""
    draw, ends = drawn(kind), Counter[str]()
    assert read_with(folder, original, as_company=kind == "company file") == ("read", [])
    for number in range(count_of(kind)):
        data = spoil_toml(original, draw)
        end, wrong = read_with(folder, data, as_company=kind == "company file")
        assert not wrong, (number, wrong, data.decode("utf-8", "replace"))
        ends[end] += 1
    return ends


def test_a_mutated_further_log_is_refused_or_read_as_it_stands(tmp_path: Path) -> None:
    (tmp_path / "job.toml").write_bytes((ROOT / "examples/bathroom/job.toml").read_bytes())
    ends = hold_beside(LOG, tmp_path, "further log")
    assert ends["read"] > count_of("further log") // 10
    assert ends["refused"] > count_of("further log") // 10


# A job that leaves to its company what a company can say.
SILENT = """\
[job]
id = "silent"
name = "Silent Lane"
timezone = "America/Halifax"
[expected]
air = "20 °C"
below = "heated room"
[[zone]]
name = "hall"
[zone.heating]
voltage = "240 V"
power = "640 W"
[[zone.layer]]
material = "site leveler"
thickness = "8 mm"
duration = "1 d"
[[zone.layer]]
material = "site thinset"
[[zone.layer]]
material = "site grout"
"""
COMPANY = """\
language = "en"
[work]
days = "Mon-Thu, Sat"
hours = "07:30-16:00"
[people.crew_lead]
name = "Robin Mistral"
email = "robin@tilecrew.example"
phone = "+1 902 555 0100"
language = "en"
[people.electrician]
name = "Sam Okoro-Lind"
license = "E 2214"
email = "sam@sparks.example"
[material."site leveler"]
kind = "leveler"
data_sheet = "invented sheet, p. 1"
rated = { temperature = "21-24 °C", humidity = "50 %" }
minimum = "10 °C"
wait.walk = "4 h"
wait.cover = { tile = "24-48 h", vinyl = "drying" }
wait.heat = { "10 °C" = "28 d", "20 °C" = "21 d" }
drying = "2 mm/day to 5 mm, then 0.5 mm/day"
[material."site thinset"]
kind = "thinset"
modified = true
data_sheet = "invented sheet, p. 2"
rated = { temperature = "70 °F ± 5 °F", humidity = "50 %" }
wait = { grout = "24-48 h", heat = "28 d", load = "7 d" }
no_later = { cover = "24 h" }
[material."site grout"]
kind = "grout"
hardens_by = "cement"
data_sheet = "invented sheet, p. 3"
doubling = "10 °C"
wait = { walk = "24 h", seal = "72 h", wet = "7 d", heat = "3 weeks", cure = "28 d" }
"""


def test_a_mutated_company_file_is_refused_or_read_as_it_stands(tmp_path: Path) -> None:
    (tmp_path / "job.toml").write_text(SILENT, encoding="utf-8")
    ends = hold_beside(COMPANY.encode(), tmp_path, "company file")
    assert ends["read"] > count_of("company file") // 10
    assert ends["refused"] > count_of("company file") // 10


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (b'air = "66', b'air = "67'),
        (b'humidity = "55', b'humidity = "56'),
        (b"2026-10-30T16:00", b"2026-10-30T16:01"),
        (b'thickness = "1/4 to 3/8', b'thickness = "1/4 to 1/2'),
        (b'heat = "28 d"', b'heat = "27 d"'),
        (b'conductor = "90.4', b'conductor = "90.5'),
    ],
)
def test_a_wrong_reading_is_seen(old: bytes, new: bytes) -> None:
    """What holds the mutations to the truth can fail."""
    data = (ROOT / "examples/bathroom/job.toml").read_bytes()
    assert old in data
    found = parse_job(data.replace(old, new, 1), clock=CLOCK)
    tree = tables(data)
    assert found.job is not None
    assert tree is not None
    assert len(differences(tree, found)) == 1
