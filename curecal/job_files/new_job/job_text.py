"""A job's tables as the text of a file that people go on with.

The order is that of the reference. What is left out and may be wanted stands as a comment, with an
example and its meaning.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from types import MappingProxyType

from curecal.records import PlainView
from curecal.site_log_files.entry_toml import toml_key, toml_value
from curecal.toml_files.schema import TABLES, Key

# What the author of a file is told beside a key that is there.
_BESIDE: Mapping[tuple[str, str], str] = MappingProxyType(
    {
        ("job", "id"): "leave it: calendars know the job by it",
        ("zone", "room"): "decides how warm the floor may get",
        ("layer", "thickness"): "the deepest point governs",
        ("layer", "existing"): "was there before",
        ("layer", "repair"): "a repair in a finished floor",
        ("layer", "over_cable"): "covers the cable",
        ("layer", "heat_before_covering"): "heated bare, before it is covered",
    }
)
# Keys that a new file shows although nobody answered them.
_SHOWN: Mapping[str, frozenset[str]] = MappingProxyType(
    {
        "job": frozenset({"address"}),
        "expected": frozenset({"humidity", "coldest", "dampest", "heated_by"}),
        "work": frozenset({"days", "hours", "holidays", "days_off"}),
        "person": frozenset({"email", "phone"}),
        "zone": frozenset({"floor_area", "energized_by"}),
        "heating": frozenset(
            {"voltage", "power", "resistance", "insulation", "sensor", "breaker", "protection"}
            | {"wait", "floor_limit", "data_sheet"}
        ),
        "heat_up": frozenset({"target"}),
        "layer": frozenset({"done"}),
    }
)
_HEADS: Mapping[str, str] = MappingProxyType(
    {
        "expected": "the room until readings come in; this floor must not warm it",
        "work": "when work is done; these are the defaults",
        "zone": "what one thermostat heats",
        "heating": "from the label and the guide of the mat or cable",
        "heat_up": "wishes for the first heat-up; limits cut them",
    }
)
_TABLES_INSIDE = frozenset({"table", "tables", "named", "people"})


def job_text(job: PlainView) -> str:
    """Return the text of a job file.

    Args:
        job: The job's tables, as a file holds them. Facts from the site are no part of a new job.

    Returns:
        TOML with comments, lines ended by a line feed.

    Raises:
        ValueRefused: A value that TOML cannot hold, or a character that nobody sees.
    """
    lines = [
        "# Every quantity has its unit. Every key and its meaning: curecal new --keys",
        *_table("job", "job", job.get("job", {})),
        *_table("expected", "expected", job.get("expected", {})),
        *_table("work", "work", job.get("work", {})),
        *_people(job.get("people", {})),
    ]
    for zone in job.get("zone", ()):
        lines += _zone(zone)
    for name, material in job.get("material", {}).items():
        lines += _table("material", f"material.{toml_key(name)}", material)
    for name, sensor in job.get("sensor", {}).items():
        lines += _table("sensor", f"sensor.{toml_key(name)}", sensor)
    if not job.get("material"):
        lines += _MATERIAL
    lines += ["", "# What happens on site is added below, by: curecal note", ""]
    return "\n".join(lines)


_MATERIAL = (
    "",
    "# A product by its own data sheet, named by a layer's material, comes before a class:",
    '# [material."mortar on site"]',
    '# kind = "thinset"',
    '# data_sheet = "rev. 2026-02, p. 2"',
    '# rated = { temperature = "70 °F", humidity = "50 %" }',
    '# wait = { grout = "24 h", heat = "21 d" }',
)


def _zone(zone: PlainView) -> Iterator[str]:
    covering = zone.get("covering")
    plain = {
        key: value
        for key, value in zone.items()
        if key != "covering" or not isinstance(value, Mapping)
    }
    yield from _table("zone", "zone", plain, listed=True)
    if isinstance(covering, Mapping):
        yield from _table("covering", "zone.covering", covering)
    heating = zone.get("heating", {})
    yield from _table("heating", "zone.heating", heating)
    for cable in heating.get("cable", ()):
        yield from _table("cable", "zone.heating.cable", cable, listed=True)
    yield from _table("heat_up", "zone.heat_up", zone.get("heat_up", {}))
    yield ""
    yield "# The layers, from the bottom up. A layer that is laid gets: done = DATE AND TIME"
    for layer in zone.get("layer", ()):
        yield from _table("layer", "zone.layer", layer, listed=True)


def _people(people: PlainView) -> Iterator[str]:
    for key in TABLES["people"]:
        found = people.get(key.name)
        if found is None:
            continue
        rows: list[PlainView] = found if isinstance(found, list) else [found]
        for row in rows:
            head = f"people.{key.name}"
            yield from _table("person", head, row, listed=isinstance(found, list))
            if key.name == "electrician" and "license" not in row:
                yield '# license = "E 1234"  # no connection counts without it'


def _table(kind: str, head: str, table: PlainView, *, listed: bool = False) -> Iterator[str]:
    """Yield one table: what it holds, and as comments what it may hold too."""
    told = _HEADS.get(kind)
    heading = f"[[{head}]]" if listed else f"[{head}]"
    yield ""
    yield f"{heading}  # {told}" if told else heading
    for key in TABLES[kind]:
        if key.name in table and not _is_nested(key, table[key.name]):
            yield _line(kind, key, table[key.name])
        elif key.name not in table and _is_shown(kind, key.name, table):
            yield f"# {key.name} = {key.example}  # {key.means}"


def _is_nested(key: Key, value: object) -> bool:
    """Return whether a value stands in a table with a heading of its own."""
    inline = isinstance(value, Mapping) and key.name in {"rated", "wait", "no_later"}
    return key.reads in _TABLES_INSIDE and not inline


def _is_shown(kind: str, name: str, table: PlainView) -> bool:
    if kind == "layer" and (table.get("existing") or "planned_start" in table):
        return False
    # A floor of several cables has the figures of each in a table of its own.
    if kind == "heating" and "cable" in table:
        return False
    return name in _SHOWN.get(kind, ())


def _line(kind: str, key: Key, value: object) -> str:
    beside = _BESIDE.get((kind, key.name))
    line = f"{key.name} = {_inline(value)}"
    return f"{line}  # {beside}" if beside else line


def _inline(value: object) -> str:
    if isinstance(value, Mapping):
        pairs = (f"{toml_key(name)} = {_inline(inner)}" for name, inner in value.items())
        return f"{{ {', '.join(pairs)} }}"
    return toml_value(value)
