"""What a new job is asked, step by step; each field is named by its place in the job file."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from curecal.job_files.new_job.answers import wants_thickness
from curecal.job_files.new_job.build_ups import BASE, BUILD_UPS
from curecal.material_classes.rules import load_rules
from curecal.records import PlainTable, Record, record
from curecal.trade.data_sheets import Kind
from curecal.trade.job import Below, Code, CoveringKind, HeatedBy, Room, Units

if TYPE_CHECKING:
    from curecal.web.page_request import PageRequest

BUILD_UP = "zone.0.build_up"
_BASES = (Kind.CONCRETE, Kind.PLYWOOD, Kind.SCREED, Kind.BACKER_BOARD, Kind.CEMENT_BOARD)
STEPS = ("site", "room", "floor", "layers", "heating", "people")
Typed = Mapping[str, str]


@record(kw_only=True)
class Question(Record):
    """One field: its place, what it is called, an example or the choices, and what was typed."""

    place: str
    label: str
    hint: str = ""
    choices: tuple[tuple[str, str], ...] = ()
    is_needed: bool = False
    typed: str = ""


def questions_of(page: PageRequest, step: str, typed: Typed) -> list[Question]:
    """Return what a step asks.

    Args:
        page: The request, for its language.
        step: Which step.
        typed: What was typed so far, by place.
    """
    asked = {
        "site": _site,
        "room": _room,
        "floor": _floor,
        "layers": _layers,
        "heating": _heating,
        "people": _people,
    }[step]
    return asked(page, typed)


def draft_of(typed: Typed, office: str) -> PlainTable:
    """Return the tables of a job file that was typed so far.

    Args:
        typed: What was typed, by place.
        office: Who of the office makes it: they may log for others then.
    """
    job: PlainTable = {}
    for place, value in typed.items():
        if value and not place.startswith("zone.0."):
            _put(job, place.split("."), value)
    zone: PlainTable = {}
    for place, value in typed.items():
        parts = place.split(".")
        if value and place.startswith("zone.0.") and parts[2] not in {"layer", "build_up"}:
            _put(zone, parts[2:], value)
    zone["layer"] = layers_of(typed)
    job["zone"] = [zone]
    job.setdefault("people", {})["office"] = {"name": office}
    return job


def layers_of(typed: Typed) -> list[PlainTable]:
    """Return the layers of the build-up that was chosen, filled in with what was typed."""
    usual = BUILD_UPS.get(typed.get(BUILD_UP, ""))
    layers = [] if usual is None else usual.copied_layers()
    for number, layer in enumerate(layers):
        for key in ("material", "thickness", "since"):
            if value := typed.get(f"zone.0.layer.{number}.{key}", ""):
                layer[key] = value
        if layer.get("name") == BASE and "material" in layer:
            layer["name"] = layer["material"]
    return layers


def _put(table: PlainTable, parts: list[str], value: str) -> None:
    *tables, key = parts
    for name in tables:
        table = table.setdefault(name, {})
    table[key] = value


def _text(
    page: PageRequest,
    typed: Typed,
    place: str,
    key: str,
    hint: str = "",
    *,
    is_needed: bool = False,
) -> Question:
    return Question(
        place=place,
        label=page.text(f"office.ask.{key}"),
        hint=hint,
        is_needed=is_needed,
        typed=typed.get(place, ""),
    )


def _choice(
    page: PageRequest,
    typed: Typed,
    place: str,
    key: str,
    choices: list[tuple[str, str]],
) -> Question:
    return Question(
        place=place,
        label=page.text(f"office.ask.{key}"),
        choices=tuple(choices),
        is_needed=True,
        typed=typed.get(place, ""),
    )


def _site(page: PageRequest, typed: Typed) -> list[Question]:
    units = [(one.value, page.text(f"office.units.{one.value}")) for one in Units]
    codes = [(one.value, page.text(f"office.code.{one.value}")) for one in Code]
    zone = str(page.words.reader.tz or "Europe/Berlin")
    return [
        _text(page, typed, "job.name", "name", is_needed=True),
        _text(page, typed, "job.address", "address"),
        _text(page, typed, "job.timezone", "timezone", zone, is_needed=True),
        _choice(page, typed, "job.units", "units", units),
        _choice(page, typed, "job.code", "code", codes),
    ]


def _room(page: PageRequest, typed: Typed) -> list[Question]:
    below = [(one.value, page.words.name("below", one.value)) for one in Below]
    heated = [(one.value, page.words.name("heated_by", one.value)) for one in HeatedBy]
    is_imperial = typed.get("job.units") == Units.IMPERIAL.value
    return [
        _text(
            page, typed, "expected.air", "air", "68 °F" if is_imperial else "20 °C", is_needed=True
        ),
        _text(page, typed, "expected.humidity", "humidity", "55 %"),
        _text(page, typed, "expected.coldest", "coldest", "61 °F" if is_imperial else "16 °C"),
        _text(page, typed, "expected.dampest", "dampest", "70 %"),
        _choice(page, typed, "expected.below", "below", below),
        _choice(page, typed, "expected.heated_by", "heated-by", heated),
    ]


def _floor(page: PageRequest, typed: Typed) -> list[Question]:
    rooms = [(one.value, page.words.name("room_kind", one.value)) for one in Room]
    coverings = [(one.value, page.words.name("kind", one.value)) for one in CoveringKind]
    build_ups = [
        (name, page.text(f"office.build-up.{name.replace(' ', '-')}")) for name in BUILD_UPS
    ]
    return [
        _text(page, typed, "zone.0.name", "zone", is_needed=True),
        _choice(page, typed, "zone.0.room", "room", rooms),
        _choice(page, typed, "zone.0.covering.kind", "covering", coverings),
        _text(page, typed, "zone.0.covering.size", "size", "30 x 60 cm"),
        _text(page, typed, "zone.0.floor_area", "area", "5 m²"),
        _choice(page, typed, BUILD_UP, "build-up", build_ups),
    ]


def _layers(page: PageRequest, typed: Typed) -> list[Question]:
    """Return what decides the waits of the layers: what the base is, and how thick pours are."""
    classes = load_rules().classes
    bases = [
        (name, f"{page.words.name('kind', sheet.kind.value)} ({name})")
        for name, sheet in classes.items()
        if sheet.kind in _BASES
    ]
    asked = []
    for number, layer in enumerate(layers_of(typed)):
        place = f"zone.0.layer.{number}"
        if number == 0 and "material" not in _usual(typed, number):
            asked.append(_choice(page, typed, f"{place}.material", "base", bases))
        if layer.get("existing"):
            asked.append(_text(page, typed, f"{place}.since", "since", "2015-06-01"))
        if wants_thickness(layer, _no_kind):
            label = page.text("office.ask.thickness", layer=_name_of(page, layer))
            asked.append(
                Question(
                    place=f"{place}.thickness",
                    label=label,
                    hint="12 mm",
                    is_needed=True,
                    typed=typed.get(f"{place}.thickness", ""),
                )
            )
    return asked


def _usual(typed: Typed, number: int) -> PlainTable:
    usual = BUILD_UPS.get(typed.get(BUILD_UP, ""))
    return {} if usual is None else dict(usual.layers[number])


def _no_kind(_material: object) -> Kind | None:
    """A new job has no material of its own yet."""
    return None


def _name_of(page: PageRequest, layer: PlainTable) -> str:
    sheet = load_rules().classes.get(str(layer.get("material")))
    name = str(layer.get("name") or "")
    return name if sheet is None else f"{page.words.name('kind', sheet.kind.value)} ({name})"


def _heating(page: PageRequest, typed: Typed) -> list[Question]:
    own = "zone.0.heating"
    return [
        _text(page, typed, f"{own}.voltage", "voltage", "230 V"),
        _text(page, typed, f"{own}.power", "power", "640 W"),
        _text(page, typed, f"{own}.resistance", "resistance", "82 Ω"),
        _text(page, typed, f"{own}.insulation", "insulation", "20 MΩ at 500 V"),
        _text(page, typed, f"{own}.breaker", "breaker", "16 A"),
        _text(page, typed, f"{own}.protection", "protection", "RCD 30 mA"),
        _text(page, typed, f"{own}.floor_limit", "floor-limit", "28 °C"),
        _text(page, typed, f"{own}.data_sheet", "heating-sheet"),
    ]


def _people(page: PageRequest, typed: Typed) -> list[Question]:
    asked = []
    for role in ("crew_lead", "electrician", "owner"):
        who = page.words.person(role)
        for key in ("name", "phone", "email", *(["license"] if role == "electrician" else [])):
            place = f"people.{role}.{key}"
            label = page.text(f"office.ask-person.{key}", role=who)
            asked.append(Question(place=place, label=label, typed=typed.get(place, "")))
    return asked
