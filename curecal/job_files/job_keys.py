"""What a job says about itself: climate, working time, people, sensors, names made into ids."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping
from functools import cache
from itertools import pairwise

import tomli

from curecal import units
from curecal.errors import ValueRefused
from curecal.shipped import shipped_text
from curecal.toml_files.shown import digest, nearest, shorten
from curecal.toml_files.table_reader import Read, Table, TableReader, read_table
from curecal.trade.findings import Severity
from curecal.trade.job import Below, Expected, HeatedBy, Person, Role, Thermistor, Work
from curecal.trade.names import names_nothing

# Never planned with: a job without air is refused, and reading goes on to find what else is wrong.
_DEFAULT_AIR_C = 20.0


def expected_in(reader: TableReader, raw: Table) -> Expected:
    """Return the climate to plan with; a stand-in where it was not understood."""
    read = read_table(reader, raw, "expected", "expected")
    air_c, coldest_c = read.get("air"), read.get("coldest")
    humidity, dampest = read.get("humidity"), read.get("dampest")
    if air_c is not None and coldest_c is not None and not coldest_c <= air_c:
        params = {"coldest_c": coldest_c, "air_c": air_c}
        reader.find(Severity.ERROR, "coldest-above-expected", read.at("coldest"), params)
    if humidity is not None and dampest is not None and not dampest >= humidity:
        params = {"dampest_rh": dampest, "humidity_rh": humidity}
        reader.find(Severity.ERROR, "dampest-below-expected", read.at("dampest"), params)
    below = read.get("below")
    if below is None and air_c is not None:
        reader.find(Severity.WARNING, "below-not-given", read.at("below"), {})
    return Expected(
        air_c=_DEFAULT_AIR_C if air_c is None else air_c,
        humidity=humidity,
        coldest_c=coldest_c,
        dampest=dampest,
        below=None if below is None else Below(below),
        heated_by=HeatedBy(read.get("heated_by", HeatedBy.HOUSE_SYSTEM)),
    )


def work_in(reader: TableReader, raw: Table, path: str, default: Work) -> Work:
    """Return working time; what is silent is the default's."""
    read = read_table(reader, raw, "work", path)
    start, end = read.get("hours", (default.start, default.end))
    work = Work(
        days=read.get("days", default.days),
        start=start,
        end=end,
        holidays=read.get("holidays", default.holidays),
        days_off=read.get("days_off", default.days_off),
    )
    reader.day_s, reader.days_a_week = work.shift_s, len(work.days)
    return work


def people_in(
    reader: TableReader, raw: Table, path: str, default: tuple[Person, ...] = ()
) -> tuple[Person, ...]:
    """Return who is told; for a role the file does not name, the default's."""
    read = read_table(reader, raw, "people", path)
    people: list[Person] = []
    for role in Role:
        if role.value not in raw:
            people += [person for person in default if person.role is role]
            continue
        for index, row in enumerate(read.get(role.value, ())):
            place = f"{read.at(role.value)}.{index}"
            person = read_table(reader, row, "person", place)
            people.append(
                Person(
                    role=role,
                    name=person.get("name", ""),
                    email=person.get("email"),
                    phone=person.get("phone"),
                    language=person.get("language"),
                    reach_by=person.get("reach_by", ()),
                    roles=person.get("roles", ()),
                    license=_license(reader, person),
                    until_at=person.get("until"),
                )
            )
    return tuple(people)


def _license(reader: TableReader, person: Read) -> str | None:
    """Return a license number; a word that says there is none is no number.

    Rule: R24c.
    """
    text: str | None = person.get("license")
    if text is not None and names_nothing(text):
        params = {"text": shorten(text)}
        reader.find(Severity.ERROR, "license-names-none", person.at("license"), params)
    return text


@cache
def known_sensors() -> Mapping[str, Thermistor]:
    """Return the sensors the package knows, by every name they go by."""
    text = shipped_text("thermistors.toml")
    found = {}
    for name, entry in tomli.loads(text)["thermistor"].items():
        a, b, c = entry["coefficients"]
        for alias in (name, *entry["aliases"]):
            found[alias] = Thermistor(name, (a, b, c))
    return found


def sensors_in(reader: TableReader, tables: Table, path: str) -> dict[str, Thermistor | None]:
    """Return the sensors a file describes; None for one that could not be read."""
    return {name: _sensor(reader, name, raw, f"{path}.{name}") for name, raw in tables.items()}


def _sensor(reader: TableReader, name: str, raw: Table, path: str) -> Thermistor | None:
    read = read_table(reader, raw, "sensor", path)
    if ("table" in raw) == ("coefficients" in raw):
        reader.find(Severity.ERROR, "sensor-needs-one", path, {"name": shorten(name)})
        return None
    if "table" not in raw:
        found = read.get("coefficients")
        return None if found is None else Thermistor(name, found)
    try:
        return Thermistor(name, None, _rows(read.get("table")))
    except ValueRefused as error:
        reader.refused(error, read.at("table"))
        return None


def _rows(table: object) -> tuple[tuple[float, float], ...]:
    """Return a sensor's table, coldest first: warmer is always less resistance."""
    pairs = table.items() if isinstance(table, dict) else ()
    rows = sorted((units.temperature(at), units.resistance(ohm)) for at, ohm in pairs)
    falls = all(one[0] < two[0] and one[1] > two[1] > 0 for one, two in pairwise(rows))
    if not len(rows) > 1 or not falls:
        raise ValueRefused("sensor-table-wrong", example='{ "0 °C" = "32.65 kΩ", … }')
    return tuple(rows)


def find_sensor(
    reader: TableReader, read: Read, known: Mapping[str, Thermistor | None]
) -> Thermistor | None:
    """Return the sensor a cable names; an unknown one is found."""
    name = read.get("sensor")
    if name is None:
        return None
    if name in known:
        return known[name]
    shipped = known_sensors()
    folded = {name.casefold(): sensor for name, sensor in shipped.items()}
    if name.casefold() in folded:
        return folded[name.casefold()]
    names = [*known, *shipped]
    params = {"text": shorten(name), "nearest": nearest(name, names), "known": ", ".join(names)}
    reader.find(Severity.ERROR, "sensor-unknown", read.at("sensor"), params)
    return None


def slug(name: str, kind: str) -> str:
    """Return an id made of a name; of one without Latin letters, its hash."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    made = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:60]
    if made:
        return made
    return f"{kind}-{digest(name, 8)}"


def fresh_id(wanted: str, taken: Iterable[str]) -> str:
    """Return an id nobody has: the wanted one, or it with a number."""
    used = set(taken)
    made, number = wanted, 1
    while made in used:
        number += 1
        made = f"{wanted}-{number}"
    return made
