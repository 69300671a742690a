"""What a zone's record holds beside its dates: circuit, cables, how they lie, final cures."""

from __future__ import annotations

from curecal.planning.hold_points.cable_laying import heated_area
from curecal.planning.plan import LayerPlan, ZonePlan
from curecal.trade.data_sheets import FixedWait
from curecal.trade.job import Cable, Heating
from curecal.words.layout import Line, TextRun, bullet
from curecal.words.sentences import Words, whole
from curecal.words.values import clean


def detail_lines(zone: ZonePlan, words: Words, width: int) -> list[Line]:
    """Return the details of a zone that the job gives; none where it gives none."""
    told = [
        *_heating(zone.zone.heating, words),
        *(text for layer in zone.layers if (text := _of_layer(layer, words))),
    ]
    if not told:
        return []
    lines: list[Line] = [(), (TextRun(f"  {words.text('report.details')}", "head"),)]
    for text in told:
        lines += bullet(text, width)
    return lines


def final_cure_text(layer: LayerPlan, words: Words) -> str:
    """Return a sheet's final cure, which nothing waits for; empty where it states none.

    Rule: R10.
    """
    cure = layer.layer.sheet.final_cure
    if cure is None or not isinstance(cure.amount, FixedWait):
        return ""
    params = {
        "wait_s": cure.amount.wait_s,
        "rated_c": cure.rated_c,
        "source": words.source(cure.source),
    }
    return words.text("report.final-cure", params)


def _of_layer(layer: LayerPlan, words: Words) -> str:
    text = final_cure_text(layer, words)
    return f"{clean(layer.layer.title)}: {text}" if text else ""


def _heating(heating: Heating, words: Words) -> list[str]:
    told = []
    if heating.circuit:
        told.append(words.text("report.circuit", {"circuit": heating.circuit}))
    area_m2 = heated_area(heating)
    if area_m2 is not None and len(heating.cables) > 1:
        told.append(words.text("report.cables-area", {"area_m2": area_m2}))
    return [*told, *(text for cable in heating.cables if (text := _cable(cable, words)))]


def _cable(cable: Cable, words: Words) -> str:
    """Return how one cable lies, in one sentence."""
    laying = cable.laying
    facts: dict[str, object] = {
        "serial": cable.serial,
        "area_m2": laying.heated_area_m2,
        "spacing_m": laying.spacing_m,
        "walls_m": laying.clearance_walls_m,
        "drains_m": laying.clearance_drains_m,
        "strapping_m": laying.strapping_m,
        "sensor_place": laying.sensor_place,
    }
    parts = [
        words.text(f"report.cable-{name.partition('_')[0]}", {name: value})
        for name, value in facts.items()
        if value is not None
    ]
    if not parts:
        return ""
    params = {"cable": cable.name, "facts": ", ".join(parts)}
    return whole(words.text("report.cable", params))
