"""What people of a site do, by its seed: forms sent with their links, and notes typed as commands.

Everything that is sent is kept with what was answered, so that the book can be held to it.
"""

from __future__ import annotations

import json
import random
import re
import subprocess
from dataclasses import dataclass, field
from datetime import timedelta
from enum import Enum
from html import unescape
from typing import TYPE_CHECKING

import httpx

from curecal.trade.job import Role

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from datetime import datetime

    from soak_sites import Site

_ENTRY_ID = re.compile(r'name="entry_id" value="(?P<id>[^"]+)"')
_HIDDEN = re.compile(r'<input type="hidden" name="(?P<name>[^"]+)" value="(?P<value>[^"]*)">')
_CHANGE = re.compile(r"/noted/(?P<id>[a-z]-[0-9a-f]{32})")
_VISIT = re.compile(r'/note/(?P<form>visit-(?:confirm|move|done|decline))\?(?P<asked>[^"]+)"')
_TRIES = 60
_BUSY = frozenset({500, 502, 503})


class Told(Enum):
    """What whoever sent an entry was told in the end."""

    TAKEN = "taken"
    REFUSED = "refused"
    NOTHING = "nothing"


@dataclass
class SentEntry:
    """An entry that somebody sent: under which id, as what, when, and what was answered."""

    site: Site
    entry_id: str
    form: str
    at: datetime
    told: Told = Told.NOTHING
    answers: list[str] = field(default_factory=list)
    of: str = ""
    """The entry that it puts right."""


@dataclass
class Office:
    """Where the pages are, how a command runs, and what the clock says."""

    address: str
    now: Callable[[], datetime]
    command: tuple[str, ...]
    environment: Mapping[str, str]
    is_over: Callable[[], bool]
    pause: Callable[[float], object]
    pause_between: timedelta
    """Of what one site writes, on average, by day."""
    outputs: list[str] = field(default_factory=list)
    """What commands printed."""


class People:
    """The three people of a site; `act` does the next thing."""

    def __init__(self, site: Site, office: Office, seed: int) -> None:
        self.site = site
        self.office = office
        self.chance = random.Random(f"{seed} {site.number}")  # noqa: S311 - a test's own
        self.sent: list[SentEntry] = []
        self.to_lay = [name for name in ("leveler", "mortar", "grout") if name not in site.laid]
        self.owed = [] if site.is_connected else list(_OWED)
        self.is_stopped = self.is_on = self.is_released = False
        self.set_to_c = 19
        self.visits = 0
        self.next_at = self._at_work(office.now())

    def act(self) -> None:
        """Do the next thing, and say when the one after it is."""
        doings = [
            (4.0, self._read_air),
            (3.0 if self.to_lay else 0.0, self._lay),
            (4.0 if self.owed and not self.to_lay else 0.0, self._electrical),
            (1.0, self._visit),
            (2.5 if not self.owed and not self.is_released else 0.3, self._release),
            (3.0 if self.is_released and not self.is_stopped else 0.0, self._heat),
            (0.0 if self.is_stopped else 0.7, self._stop),
            (4.0 if self.is_stopped else 0.0, self._lift),
            (0.8, self._correct),
            (0.6, self._send_nonsense),
            (0.5, self._type_a_command),
            (1.5, self._look),
        ]
        weights = [weight for weight, _ in doings]
        self.chance.choices([doing for _, doing in doings], weights)[0]()
        pause = self.office.pause_between * self.chance.expovariate(1.0)
        self.next_at = self._at_work(self.office.now() + pause)

    def _at_work(self, at: datetime) -> datetime:
        """Return an instant at which somebody is there: not at night."""
        local = at.astimezone(self.site.tz)
        if local.hour < _FROM_HOUR:
            local = local.replace(hour=_FROM_HOUR, minute=self.chance.randrange(60))
        elif local.hour >= _UNTIL_HOUR:
            local = local.replace(hour=_FROM_HOUR, minute=self.chance.randrange(60))
            local += timedelta(days=1)
        return local.astimezone(at.tzinfo)

    # ---- what they do

    def _read_air(self) -> None:
        air = self.chance.uniform(18.5, 22.0)
        self._send(Role.CREW_LEAD, "air", {"air": f"{air:.1f}", "humidity": "52"})

    def _lay(self) -> None:
        layer = self.to_lay[0]
        values = {"layer": f"hall/{layer}"}
        if self._send(Role.CREW_LEAD, "done", values) is Told.TAKEN:
            del self.to_lay[0]

    def _electrical(self) -> None:
        role, form, values = self.owed[0]
        if self._send(role, form, values) is Told.TAKEN:
            del self.owed[0]

    def _release(self) -> None:
        name = self.site.people[Role.CREW_LEAD][0]
        if self._send(Role.CREW_LEAD, "release", {"name": name}) is Told.TAKEN:
            self.is_released = True

    def _heat(self) -> None:
        if not self.is_on:
            self.is_on = self._send(Role.ELECTRICIAN, "switched-on", {}) is Told.TAKEN
            return
        self.set_to_c = min(self.set_to_c + 2, 27)
        self._send(Role.ELECTRICIAN, "step", {"to": str(self.set_to_c)})

    def _stop(self) -> None:
        values = {"cause": "crack or loose tile", "reason": "a hairline at the door"}
        if self.chance.random() < 0.5:
            told = self._post(Role.OWNER, "/wrong", "stop", values)
        else:
            told = self._send(Role.CREW_LEAD, "stop", values)
        self.is_stopped = told is Told.TAKEN

    def _lift(self) -> None:
        values = {"found": "only the joint had shrunk, filled anew"}
        if self._send(Role.CREW_LEAD, "lift", values) is Told.TAKEN:
            self.is_stopped = False

    def _visit(self) -> None:
        page = self._get(Role.ELECTRICIAN, "/")
        found = _VISIT.search(page)
        if found is None or self.chance.random() < 0.3:
            start = self.office.now().astimezone(self.site.tz) + timedelta(
                days=self.chance.randint(1, 4)
            )
            values = {"for": self.chance.choice(("test and connect", "switch on", "other"))}
            values["start"] = f"{start:%Y-%m-%d}T{self.chance.randint(8, 14):02d}:00"
            self._send(Role.ELECTRICIAN, "visit", values)
            return
        start = self.office.now().astimezone(self.site.tz) + timedelta(days=2)
        values = {"start": f"{start:%Y-%m-%d}T10:00"} if found["form"] == "visit-move" else {}
        address = f"/note/{found['form']}"
        asked = unescape(found["asked"])
        self._post(Role.ELECTRICIAN, address, found["form"], values, asked=asked)

    def _correct(self) -> None:
        """Put an entry of today right, or take it back."""
        found = _CHANGE.findall(self._get(Role.CREW_LEAD, "/"))
        if not found:
            return
        values = {"air": "20.5"} if self.chance.random() < 0.6 else {"withdrawn": "yes"}
        of = self.chance.choice(found)
        self._post(Role.CREW_LEAD, f"/change/{of}", "change", values, of=of)

    def _send_nonsense(self) -> None:
        """Send what has to be refused."""
        values = {"air": self.chance.choice(("hot", "2 000", "", "-80"))}
        told = self._send(Role.CREW_LEAD, "air", values)
        assert told is not Told.TAKEN, values

    def _type_a_command(self) -> None:
        """Note a fact by a command, as somebody at a desk does."""
        sent = SentEntry(self.site, "", "command", self.office.now())
        words = ["note", self.site.id, "air", f"air={self.chance.uniform(18.5, 22):.1f} °C"]
        lead = self.site.people[Role.CREW_LEAD][0]
        done = subprocess.run(
            [*self.office.command, *words, "--zone", "hall", "--by", lead, "--json"],
            env=dict(self.office.environment),
            capture_output=True,
            text=True,
            check=False,
            timeout=120,
        )
        self.office.outputs.append(done.stdout + done.stderr)
        sent.answers.append(f"exit {done.returncode}")
        if done.returncode == 0:
            sent.entry_id = json.loads(done.stdout)["entry"]["id"]
            sent.told = Told.TAKEN
            self.sent.append(sent)

    def write_a_note(self) -> None:
        """Note something that moves no date."""
        self._send(Role.CREW_LEAD, "note", {"text": "still here"})

    def _look(self) -> None:
        """Open the pages and the calendars, as people and programs do."""
        for role in self.site.people:
            self._get(role, "/")
            self._ask(f"/f/{self.site.feeds[role]}/curecal.ics")

    # ---- how it is sent

    def _send(self, role: Role, form: str, values: Mapping[str, str]) -> Told:
        return self._post(role, f"/note/{form}", form, values)

    def _get(self, role: Role, path: str) -> str:
        answer = self._ask(f"/p/{self.site.pages[role]}{path}")
        return answer.text if answer is not None and answer.status_code == 200 else ""

    def _ask(self, path: str) -> httpx.Response | None:
        try:
            return httpx.get(
                self.office.address + path, headers={"Accept-Language": "en"}, timeout=30
            )
        except httpx.HTTPError:
            return None

    def _post(
        self,
        role: Role,
        path: str,
        form: str,
        values: Mapping[str, str],
        *,
        asked: str = "",
        of: str = "",
    ) -> Told:
        """Fill in a form and send it until something definite is answered."""
        shown = self._get(role, path + (f"?{asked}" if asked else ""))
        hidden = {found["name"]: unescape(found["value"]) for found in _HIDDEN.finditer(shown)}
        if "entry_id" not in hidden:
            # The pages are away, or the form is not for whoever asks now.
            return Told.NOTHING
        sent = SentEntry(self.site, hidden["entry_id"], form, self.office.now(), of=of)
        self.sent.append(sent)
        address = f"{self.office.address}/p/{self.site.pages[role]}{path}"
        for _ in range(_TRIES):
            try:
                answer = httpx.post(
                    address,
                    # As a browser sends a form that may hold a file.
                    files={name: (None, value) for name, value in {**hidden, **values}.items()},
                    headers={"Origin": self.office.address, "Accept-Language": "en"},
                    timeout=30,
                )
            except httpx.HTTPError as error:
                sent.answers.append(type(error).__name__)
            else:
                sent.answers.append(str(answer.status_code))
                if answer.status_code not in _BUSY:
                    is_taken = answer.status_code == (200 if path == "/wrong" else 303)
                    sent.told = Told.TAKEN if is_taken else Told.REFUSED
                    return sent.told
            if self.office.is_over():
                break
            self.office.pause(0.5)
        return sent.told


_TEST = {
    "cable": "hall/",
    "conductor": "90",
    "to_earth.open": "yes",
    "insulation": "500",
    "insulation_at": "500",
}
_OWED = (
    (Role.ELECTRICIAN, "test", {**_TEST, "stage": "embedded"}),
    (Role.ELECTRICIAN, "test", {**_TEST, "stage": "connection"}),
    (Role.ELECTRICIAN, "protection", {"device": "RCD", "trips_at": "30", "trip_test": "tripped"}),
    (Role.ELECTRICIAN, "thermostat", {"mode": "floor", "limit": "27"}),
    (
        Role.ELECTRICIAN,
        "connected",
        {"leads": "off the thermostat", "locked": "yes", "tagged": "yes"},
    ),
)
_FROM_HOUR, _UNTIL_HOUR = 7, 18
