"""Slips of the pen made one by one in the text of a job: figures, units, dates, choices, blocks."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date, timedelta

from curecal.records import Record, record

_QUANTITY = re.compile(r'"(> |)(-?\d+(?:\.\d+)?)((?:-\d+)?) ([A-Za-zΩ°µ%²-]+)((?:/day)?)"')
_INSTANT = re.compile(r"(\d{4})-(\d\d)-(\d\d)(?:T(\d\d)(:\d\d:\d\d))?")
_PAIR = re.compile(r'(\w+) = "([^"]*)"')
_UNITS = (
    ("mm", "cm", "m", "in"),
    ("h", "d", "min", "weeks"),
    ("°C", "°F", "K"),
    ("Ω", "kΩ", "MΩ"),
    ("m²", "ft²", "in²", "cm²"),
    ("V", "kV"),
    ("W", "kW"),
    ("A", "mA"),
    ("ms", "s"),
    ("%", "CM-%"),
)
_MILESTONES = ("walk", "grout", "cover", "seal", "wet", "load", "heat")
_CHOICES = {
    "stage": ("delivery", "laid", "embedded", "connection", "in service"),
    "below": ("heated room", "ground", "unheated", "outdoors"),
    "room": ("living space", "bathroom", "perimeter strip"),
    "code": ("NEC", "CEC", "BS 7671", "other"),
    "result": ("passed", "sound", "replace", "failed", "not required"),
    "method": ("carbide", "humidity"),
    "heated_by": ("house system", "temporary", "nothing"),
    "energized_by": ("electrician", "owner"),
    "hardens_by": ("cement", "drying", "reaction", "at once"),
    "covering": ("ceramic tile", "porcelain tile", "stone", "wood", "vinyl", "cork", "carpet"),
    "timezone": ("UTC", "Europe/Berlin", "Pacific/Auckland", "America/Los_Angeles", "EST"),
    "device": ("GFCI", "RCD"),
    "mode": ("floor", "air"),
    "days": ("Mon-Sun", "Sat-Sun", "Mon/Fri"),
    "material": (
        *("concrete", "screed", "calcium-sulfate screed", "mortar bed", "leveler", "sealer"),
        *("rapid leveler", "gypsum leveler", "thinset", "unmodified thinset", "rapid thinset"),
        *("cement grout", "epoxy grout", "membrane", "primer", "epoxy barrier", "plywood"),
        *("uncoupling sheet", "backer board", "adhesive", "beg"),
    ),
}
_KINDS = (
    *("concrete", "screed", "mortar bed", "leveler", "gypsum leveler", "thinset", "grout"),
    *("membrane", "primer", "sealer", "adhesive", "backer board", "plywood"),
)
_COVERINGS = (*_CHOICES["covering"], "glass tile", "laminate", "linoleum")
_PLACES = ("air", "surface", "floor")


@record
class Slip(Record):
    """One slip: what kind it is, the key it happened at, the line before and after, the job."""

    what: str
    key: str
    line: str
    instead: str
    text: str

    def __str__(self) -> str:
        return f"{self.what} at {self.key}: {self.line} -> {self.instead}"


def slips(text: str) -> Iterator[Slip]:
    """Give every slip of this table that can be made in a job."""
    yield from _slips_in_lines(text)
    yield from _slips_of_blocks(text)


def _slips_in_lines(text: str) -> Iterator[Slip]:
    lines = text.split("\n")
    names = _Names(text)
    table = ""
    for index, line in enumerate(lines):
        table = line if line.startswith("[") else table
        if " = " not in line:
            continue
        key = line.partition(" = ")[0]
        for what, instead in _edits(line, key, table, names):
            if instead != line:
                made = "\n".join([*lines[:index], instead, *lines[index + 1 :]])
                yield Slip(what, key, line, instead, made)


class _Names:
    """The names a slip can mix up: people, zones, layers and materials of one job."""

    def __init__(self, text: str) -> None:
        self.of = {
            "by": [*re.findall(r'(?m)^\[people.*\nname = "(.*)"', text), "Max Stranger"],
            "zone": re.findall(r'(?m)^\[\[zone\]\]\nname = "(.*)"', text),
            "layer": re.findall(r'(?m)^\[\[zone.layer\]\]\nname = "(.*)"', text),
            "material": re.findall(r'(?m)^\[material\."(.*)"\]', text),
            "cable": re.findall(r'(?m)^\[\[zone.heating.cable\]\]\nname = "(.*)"', text),
            "part": ["north", *re.findall(r'(?m)^part = "(.*)"', text)],
        }


def _edits(line: str, key: str, table: str, names: _Names) -> Iterator[tuple[str, str]]:
    yield "left out", ""
    yield from _figures(line)
    yield from _dates(line)
    yield from _waits(line, key)
    value = line.partition(" = ")[2].strip('"')
    for other in names.of.get(key, ()) if table == "[[log]]" or key != "zone" else ():
        yield f"another {key}", f'{key} = "{other}"'
    for other in _CHOICES.get(key, ()):
        yield "another choice", f'{key} = "{other}"'
    if key == "kind":
        kinds = next((kinds for kinds in (_COVERINGS, _KINDS, _PLACES) if value in kinds), ())
        for other in kinds:
            yield "another choice", f'kind = "{other}"'
    if value in {"true", "false"}:
        yield "turned", f"{key} = {'false' if value == 'true' else 'true'}"
    if table == "[[zone.layer]]" and key == "material":
        for word in ("existing", "repair", "over_cable", "heat_before_covering"):
            yield f"{word} added", f"{line}\n{word} = true"
    if table.startswith("[material") and key == "kind":
        yield "rapid added", f"{line}\nrapid = true"
        yield "unmodified added", f"{line}\nmodified = false"
    if key in {"planned_finish", "done"}:
        other = "done" if key == "planned_finish" else "planned_finish"
        yield f"{other} for {key}", line.replace(key, other)


def _figures(line: str) -> Iterator[tuple[str, str]]:
    for match in _QUANTITY.finditer(line):
        sign, figure, span, unit, rate = match.groups()

        def put(
            made: str,
            unit: str = unit,
            match: re.Match[str] = match,
            tail: tuple[str, str] = ("", rate),
            sign: str = sign,
        ) -> str:
            before, after = line[: match.start()], line[match.end() :]
            return f'{before}"{sign}{made}{tail[0]} {unit}{tail[1]}"{after}'

        number = float(figure)
        for scale in (0.01, 0.1, 10.0, 100.0):
            yield "decimal point", put(f"{number * scale:g}")
        for alike in _UNITS:
            for other in alike if unit in alike else ():
                yield "another unit", put(figure, other, tail=(span, rate))
        yield "minus", put(figure.removeprefix("-") if number < 0 else f"-{figure}")
        if unit == "%":
            yield "fraction", put(f"{number / 100:g}")
        if figure.isdigit():
            yield "digits turned", put(figure[::-1])
            yield "digit lost", put(figure[:-1] or "0")
            yield "digit doubled", put(figure + figure[-1])


def _dates(line: str) -> Iterator[tuple[str, str]]:
    for match in _INSTANT.finditer(line):
        year, month, day = (int(part) for part in match.groups()[:3])
        hour, rest = match[4], match[5]
        before, after = line[: match.start()], line[match.end() :]
        clock = match[0][10:]
        for what, found in _days(year, month, day):
            yield what, f"{before}{found}{clock}{after}"
        if hour:
            other = f"T{(int(hour) + 12) % 24:02}{rest}"
            yield "twelve hours", f"{before}{match[0][:10]}{other}{after}"
            yield "hour left out", f"{before}{match[0][:10]}{after}"
            yield "another offset", f"{before}{match[0]}+08:00{after}"
            yield "in UTC", f"{before}{match[0]}Z{after}"


def _days(year: int, month: int, day: int) -> Iterator[tuple[str, date]]:
    wanted = [
        ("year", year - 1, month, day),
        ("year", year + 1, month, day),
        ("year", year, 1 if month == 12 else 12, day),
        ("month", year - (month == 1), month - 1 or 12, day),
        ("month", year + (month == 12), month % 12 + 1, day),
        ("day and month", year, day, month),
        ("day's digits", year, month, int(f"{day:02}"[::-1])),
    ]
    for what, *parts in wanted:
        try:
            yield what, date(*parts)
        except ValueError:
            continue
    for days in (-10, -1, 1, 10):
        yield "day", date(year, month, day) + timedelta(days)


def _waits(line: str, key: str) -> Iterator[tuple[str, str]]:
    """Give a sheet's waits under each other's names, and with one of them left out."""
    if key != "wait" or "{" not in line:
        return
    pairs = [pair for pair in _PAIR.findall(line) if pair[0] in _MILESTONES]
    stated = [name for name, _ in pairs]
    for name, value in pairs:
        for other in _MILESTONES:
            if other not in stated:
                yield "another milestone", line.replace(f"{name} =", f"{other} =")
        for other, its_value in pairs:
            swapped = line.replace(f'{name} = "{value}"', f'{name} = "{its_value}"')
            if name < other:
                yield (
                    "waits swapped",
                    swapped.replace(f'{other} = "{its_value}"', f'{other} = "{value}"'),
                )
        if len(pairs) > 1:
            yield "wait left out", re.sub(rf'{name} = "[^"]*",? ?', "", line).replace(", }", " }")


def _slips_of_blocks(text: str) -> Iterator[Slip]:
    """Give layers and log entries removed, doubled, and layers swapped with their neighbors."""
    blocks = [f"{block.rstrip()}\n\n" for block in re.split(r"(?m)^(?=\[)", text)]
    for index, block in enumerate(blocks):
        head = block.partition("\n")[0]
        if head not in {"[[zone.layer]]", "[[log]]"}:
            continue
        before, after = blocks[:index], blocks[index + 1 :]
        name = block.split("\n")[1]
        shown = " ".join(block.split("\n")[1:4])
        for what, made in (
            ("removed", []),
            ("doubled", [block, block]),
            ("doubled by another name", [block, block.replace('name = "', 'name = "second ', 1)]),
            ("swapped", [*after[:1], block]),
        ):
            rest = after[1:] if what == "swapped" else after
            is_pair = bool(after) and after[0].startswith(head)
            if what == "swapped" and not (is_pair and head == "[[zone.layer]]"):
                continue
            yield Slip(f"{what} {head}", name, shown, "", "".join([*before, *made, *rest]))
