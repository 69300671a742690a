"""The sites of the soak: their job files, their people, and the links that these hold."""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from curecal.book.jobs.import_job import add_job
from curecal.book.link_purpose import LinkPurpose
from curecal.book.links.links import WantedLink
from curecal.book.links.person_links import create_page_link
from curecal.trade.job import Role

if TYPE_CHECKING:
    from pathlib import Path

    from curecal.book.connection.open_book import Book

BEGINS = datetime(2026, 10, 5, 10, tzinfo=UTC)
"""Monday, seven in the morning on most sites."""
DAY = timedelta(days=1)
LEADS, ELECTRICIANS = 8, 6
ZONES = ("America/Halifax", "America/Halifax", "America/Halifax", "Europe/Berlin")

_HEAD = """
[job]
id = "{id}"
name = "{name}"
timezone = "{zone}"
code = "other"
units = "metric"

[people.crew_lead]
name = "{lead}"
email = "{lead_email}"

[people.electrician]
name = "{electrician}"
license = "E {number}"
email = "{electrician_email}"

[people.owner]
name = "{owner}"
email = "{owner_email}"

[expected]
below = "heated room"
air = "20 °C"
humidity = "50 %"
coldest = "18 °C"
dampest = "60 %"

[work]
days = "Mon-Fri"
hours = "08:00-16:00"

[[zone]]
id = "hall"
name = "hall"
energized_by = "electrician"

[zone.heating]
voltage = "240 V"
power = "640 W"
resistance = "90 Ω"
"""
_LAYERS = (
    ("leveler", "leveler", 'thickness = "6 mm"\nduration = "3 h"', 11),
    ("mortar", "thinset", "", 7),
    ("grout", "cement grout", "", 0),
)
"""Each with how many days it lies before the grout."""
_TEST = """
[[log]]
id = "file-{stage}"
at = {at}
kind = "resistance"
zone = "hall"
stage = "{stage}"
conductor = "90 Ω"
to_earth = "open"
insulation = "500 MΩ"
insulation_at = "500 V"
by = "{electrician}"
"""
_CONNECTED = """
[[log]]
id = "file-protection"
at = {at}
kind = "protection"
zone = "hall"
device = "RCD"
trips_at = "30 mA"
trip_test = "tripped"
by = "{electrician}"

[[log]]
id = "file-thermostat"
at = {at}
kind = "thermostat"
zone = "hall"
mode = "floor"
limit = "27 °C"
by = "{electrician}"

[[log]]
id = "file-connected"
at = {at}
kind = "connected"
zone = "hall"
locked = true
tagged = true
leads = "off the thermostat"
by = "{electrician}"

[[log]]
id = "file-kept"
at = {now}
kind = "kept"
zone = "hall"
above = "20 °C"
from = {begun}
to = {now}
by = "{lead}"
"""


@dataclass
class Site:
    """One job with its three people, each with their links. `grouted_at` may lie ahead."""

    number: int
    zone: str
    grouted_at: datetime
    pages: dict[Role, str] = field(default_factory=dict)
    """The secret of each one's pages."""
    feeds: dict[Role, str] = field(default_factory=dict)

    @property
    def id(self) -> str:
        """The job's id."""
        return f"site-{self.number}"

    @property
    def name(self) -> str:
        """The job's name, which stands in mails."""
        return f"Reed Street {self.number}"

    @property
    def tz(self) -> ZoneInfo:
        """The site's time."""
        return ZoneInfo(self.zone)

    @property
    def people(self) -> dict[Role, tuple[str, str]]:
        """Name and address of each; crews and electricians have many sites, an owner one."""
        lead, electrician = self.number % LEADS, self.number % ELECTRICIANS
        return {
            Role.CREW_LEAD: (f"Lead {lead}", f"lead{lead}@crew.example"),
            Role.ELECTRICIAN: (f"Sparks {electrician}", f"sparks{electrician}@wires.example"),
            Role.OWNER: (f"Owner {self.number}", f"owner{self.number}@home.example"),
        }

    @property
    def laid(self) -> tuple[str, ...]:
        """The layers that lie when the story begins."""
        return tuple(
            name for name, _, _, before in _LAYERS if self.grouted_at - before * DAY < BEGINS - DAY
        )

    @property
    def is_connected(self) -> bool:
        """Whether the electrician has nothing left to do before the floor is switched on."""
        return self.grouted_at < BEGINS - 25 * DAY

    def text(self) -> str:
        """Return the job file."""
        lead, electrician, owner = (
            self.people[role] for role in (Role.CREW_LEAD, Role.ELECTRICIAN, Role.OWNER)
        )
        parts = [
            _HEAD.format(
                id=self.id,
                name=self.name,
                zone=self.zone,
                number=self.number,
                lead=lead[0],
                lead_email=lead[1],
                electrician=electrician[0],
                electrician_email=electrician[1],
                owner=owner[0],
                owner_email=owner[1],
            )
        ]
        for name, material, more, before in _LAYERS:
            done = f"done = {self._local(before)}\n" if name in self.laid else ""
            parts.append(
                f'\n[[zone.layer]]\nid = "{name}"\nname = "{name}"\n'
                f'material = "{material}"\n{more}\n{done}'
            )
        tested = [("delivery", 20), ("laid", 13)] if self.laid else []
        if self.is_connected:
            tested += [("embedded", 9), ("connection", -2)]
        parts += [
            _TEST.format(stage=stage, at=self._local(before, hour=8), electrician=electrician[0])
            for stage, before in tested
        ]
        if self.is_connected:
            parts.append(
                _CONNECTED.format(
                    at=self._local(-2),
                    begun=self._local(12),
                    now=(BEGINS - DAY / 12).astimezone(self.tz).isoformat(timespec="seconds"),
                    lead=lead[0],
                    electrician=electrician[0],
                )
            )
        return "".join(parts)

    def _local(self, days_before: float, hour: int = 15) -> str:
        day = (self.grouted_at - days_before * DAY).astimezone(self.tz)
        return day.replace(hour=hour, minute=0, second=0).isoformat(timespec="seconds")


def sites_of(count: int, seed: int) -> list[Site]:
    """Return the sites of a seed: some still laid, most curing, some about to be ready."""
    chance = random.Random(seed)  # noqa: S311 - a test's own
    return [
        Site(number, chance.choice(ZONES), BEGINS - chance.uniform(-8, 36) * DAY)
        for number in range(count)
    ]


def fill(book: Book, sites: list[Site], folder: Path) -> None:
    """Put the sites into a book, and make everybody's links."""
    purposes = {
        Role.CREW_LEAD: LinkPurpose.CREW,
        Role.ELECTRICIAN: LinkPurpose.ELECTRICIAN,
        Role.OWNER: LinkPurpose.OWNER,
    }
    file = folder / "job.toml"
    for site in sites:
        file.write_text(site.text(), encoding="utf-8")
        added = add_job(book, file, now=BEGINS - DAY / 24)
        assert added.read.job is not None, added.read.findings
        for role, (person, _) in site.people.items():
            wanted = WantedLink(job_id=site.id, purpose=purposes[role], person=person)
            with book.writing() as connection:
                made = create_page_link(connection, wanted, {role}, now=BEGINS - DAY / 24)
            site.pages[role], site.feeds[role] = made.secret, made.feed_secret
