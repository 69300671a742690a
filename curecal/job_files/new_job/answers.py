"""Answers to what a new job needs, put together: a file of them, on a build-up or another job."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from copy import deepcopy

from curecal.job_files.new_job.build_ups import BASE, BUILD_UPS
from curecal.job_files.new_job.copied_job import tables
from curecal.material_classes.rules import load_rules
from curecal.records import PlainTable, PlainView
from curecal.toml_files.shown import nearest, shorten
from curecal.trade.data_sheets import POURED, Kind, ThicknessWait
from curecal.trade.findings import Finding, Severity
from curecal.trade.names import comparable_name

BUILD_UP = "build_up"
# Beside what no job file can do without: what decides the date or the tests, and has no safe guess.
_OF_THE_JOB = (
    ("job.code", 'code = "NEC"', "the electrical code"),
    ("expected.below", 'below = "heated room"', "what lies under the floor"),
)
_OF_THE_ZONE = (
    ("name", 'name = "hall bath"', "what the thermostat heats"),
    ("room", 'room = "bathroom"', "what the room is used for"),
    ("covering", 'covering = "ceramic tile"', "the finished surface"),
)


def with_build_ups(answers: PlainView) -> tuple[PlainTable, list[Finding]]:
    """Return answers with the layers of the build-ups that their zones name, and what is wrong.

    A layer of the answers fills in the one of the build-up with its name, else its material, else
    its kind.

    Args:
        answers: Tables as a job file has them; a zone may name a `build_up`.

    Returns:
        The same as tables of a job file.
    """
    job, findings = deepcopy(dict(answers)), list[Finding]()
    if job.pop("log", None) is not None:
        # A new job has no past; a fact is signed by who notes it.
        findings.append(Finding(Severity.ERROR, "answer-log", "log", {}))
    for index, zone in enumerate(tables(job.get("zone"))):
        named = zone.pop(BUILD_UP, None)
        if named is None:
            continue
        build_up = BUILD_UPS.get(comparable_name(str(named)))
        if build_up is None:
            params = {
                "text": shorten(named),
                "nearest": nearest(str(named), list(BUILD_UPS)),
                "known": ", ".join(BUILD_UPS),
            }
            place = f"zone.{index}.{BUILD_UP}"
            findings.append(Finding(Severity.ERROR, "answer-build-up", place, params))
            continue
        listed = tables(zone.get("layer"))
        layers = build_up.copied_layers()
        findings += _fill_in(layers, listed, _kinds(job), f"zone.{index}")
        zone["layer"] = layers
    return job, findings


def answered_over(copied: PlainView, answers: PlainView) -> tuple[PlainTable, list[Finding]]:
    """Return a copied job with answers put over it, and what of them found no place.

    A zone of the answers fills in the one with its name; of one zone on each side there is no
    doubt. People, products and sensors are kept beside those that are answered.

    Args:
        copied: What another job gives.
        answers: Tables as a job file has them; the zones' build-ups are in their layers.
    """
    job, findings = deepcopy(dict(copied)), list[Finding]()
    for key, value in answers.items():
        if key == "zone":
            continue
        old = job.get(key)
        job[key] = {**_dict(old), **value} if isinstance(value, dict) else value
    old_zones, new_zones = tables(job.get("zone")), tables(answers.get("zone"))
    if "zone" in answers and not (old_zones and new_zones):
        job["zone"] = answers["zone"]
        return job, findings
    for index, zone in enumerate(new_zones):
        one_each = len(old_zones) == len(new_zones) == 1
        old = old_zones[0] if one_each else _named_alike(old_zones, zone.get("name"))
        if old is None:
            old_zones.append(zone)
            continue
        listed = tables(zone.get("layer"))
        layers = tables(old.get("layer"))
        findings += _fill_in(layers, listed, _kinds(job), f"zone.{index}")
        heating = {**_dict(old.get("heating")), **_dict(zone.get("heating"))}
        old |= {key: value for key, value in zone.items() if key not in {"layer", "heating"}}
        old |= {"layer": layers} | ({"heating": heating} if heating else {})
    if old_zones:
        job["zone"] = old_zones
    return job, findings


def missing_answers(job: PlainView) -> list[Finding]:
    """Return what decides a date or a test and is not answered.

    What no job file can do without, its reader finds. A leveler's depth decides its wait.

    Args:
        job: The job's tables.
    """
    found = []
    for place, example, means in _OF_THE_JOB:
        table, _, key = place.partition(".")
        if key not in _dict(job.get(table)):
            found.append(_missing(place, example, means))
    kinds = _kinds(job)
    for index, zone in enumerate(tables(job.get("zone"))):
        for key, example, means in _OF_THE_ZONE:
            if key not in zone:
                found.append(_missing(f"zone.{index}.{key}", example, means))
        for number, layer in enumerate(tables(zone.get("layer"))):
            place = f"zone.{index}.layer.{number}"
            if "thickness" not in layer and wants_thickness(layer, kinds):
                found.append(
                    _missing(f"{place}.thickness", 'thickness = "10 mm"', "its deepest point")
                )
    return found


def wants_thickness(layer: PlainView, kind_of: Callable[[object], Kind | None]) -> bool:
    """Return whether a layer's depth decides how long it waits.

    Rule: R4.
    """
    if layer.get("existing") is True:
        return False
    sheet = load_rules().classes.get(str(layer.get("material")))
    if sheet is not None:
        return sheet.kind in POURED or any(
            isinstance(wait.amount, ThicknessWait) for wait in sheet.covers.values()
        )
    return kind_of(layer.get("material")) in POURED


def _missing(path: str, example: str, means: str) -> Finding:
    params = {"example": example, "means": means}
    return Finding(Severity.ERROR, "answer-missing", path, params)


def _kinds(job: PlainView) -> Callable[[object], Kind | None]:
    """Return what tells the kind of a material by its name: the job's own, or a class."""
    return lambda material: kind_of(job, material)


def kind_of(job: PlainView, material: object) -> Kind | None:
    """Return the kind of a material of a job, or of a class; None for one that is neither."""
    own = _dict(_dict(job.get("material")).get(str(material)))
    if own:
        stated = own.get("kind")
        return next((kind for kind in Kind if kind.value == stated), None)
    sheet = load_rules().classes.get(str(material))
    return None if sheet is None else sheet.kind


def _fill_in(
    layers: list[PlainTable],
    listed: Sequence[PlainTable],
    kinds: Callable[[object], Kind | None],
    zone: str,
) -> list[Finding]:
    """Put what is answered of layers into them, in place; return what found no layer."""
    findings = []
    open_layers = list(layers)
    for answer in listed:
        found = _meant(open_layers, answer, kinds)
        if found is None:
            known = ", ".join(str(layer.get("name") or layer.get("material")) for layer in layers)
            params = {
                "layer": shorten(answer.get("name") or answer.get("material") or ""),
                "known": known,
            }
            findings.append(Finding(Severity.ERROR, "answer-layer", zone, params))
            continue
        open_layers = [layer for layer in open_layers if layer is not found]
        found |= answer
        if found.get("name") == BASE and "material" in found:
            found["name"] = found["material"]
    return findings


def _meant(
    layers: Sequence[PlainTable],
    answer: PlainView,
    kinds: Callable[[object], Kind | None],
) -> PlainTable | None:
    """Return the one layer that an answer is about; None where none or several may be."""
    name, material = answer.get("name"), answer.get("material")
    named = [layer for layer in layers if name is not None and _alike(layer.get("name"), name)]
    same = [layer for layer in layers if material is not None and layer.get("material") == material]
    kind = kinds(material)
    of_kind = [
        layer
        for layer in layers
        if kind is not None and not layer.get("existing") and kinds(layer.get("material")) is kind
    ]
    for found in (named, same, of_kind):
        if len(found) == 1:
            return found[0]
    return None


def _named_alike(zones: Sequence[PlainTable], name: object) -> PlainTable | None:
    return next((zone for zone in zones if _alike(zone.get("name"), name)), None)


def _alike(one: object, other: object) -> bool:
    return comparable_name(str(one)) == comparable_name(str(other))


def _dict(value: object) -> PlainTable:
    return value if isinstance(value, dict) else {}
