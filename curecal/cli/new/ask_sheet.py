"""What is asked of a product's own data sheet; without one its class's cautious times count."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curecal.cli.new.interview import judge_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from curecal.cli.new.interview import Interview
    from curecal.records import PlainTable
    from curecal.trade.data_sheets import DataSheet

# Which times are asked for, by the kind of product: what the next layers and the heat wait for.
_WAITS: Mapping[str, tuple[str, ...]] = {
    "thinset": ("grout", "heat"),
    "adhesive": ("grout", "heat"),
    "grout": ("walk", "seal", "wet", "heat"),
    "membrane": ("cover", "wet"),
    "primer": ("cover",),
    "barrier": ("cover",),
    "sealer": ("wet", "heat"),
    "silicone": (),
}
_USUAL_WAITS = ("walk", "cover", "heat")


def own_materials(view: Interview) -> PlainTable:
    """Return the products of the job and of the company, by name."""
    return {**view.shared.get("material", {}), **view.draft.get("material", {})}


def ask_sheet(view: Interview, layer: PlainTable, sheet: DataSheet) -> None:
    """Ask for the data sheet of a layer's product; with one, the product becomes the material.

    Args:
        view: The interview.
        layer: The layer.
        sheet: The class that stands in for what the data sheet leaves out.
    """
    from curecal.trade.data_sheets import Hardening

    milestones = _WAITS.get(sheet.kind.value, _USUAL_WAITS)
    if sheet.hardens_by is Hardening.AT_ONCE or not milestones:
        return
    source = view.ask("sheet", judge_of("material", "data_sheet"))
    if source is None:
        return
    material = _of_class(sheet, source)
    rated = view.ask("rated", judge_of("rated", "temperature"))
    if rated is not None:
        material["rated"] = {"temperature": rated}
    minimum = view.ask("minimum", judge_of("material", "minimum"))
    if minimum is not None:
        material["minimum"] = minimum
    asked = {name: view.ask(f"wait-{name}", judge_of("heating", "wait")) for name in milestones}
    waits = {name: wait for name, wait in asked.items() if wait is not None}
    if waits:
        material["wait"] = waits
    layer["material"] = _keep(view, layer["material"], material)


def _of_class(sheet: DataSheet, source: str) -> PlainTable:
    """Return a product with what its class tells of it."""
    from curecal.trade.data_sheets import Kind

    material: PlainTable = {
        "kind": sheet.kind.value,
        "hardens_by": sheet.hardens_by.value,
        "data_sheet": source,
    }
    if sheet.kind is Kind.THINSET:
        material["modified"] = sheet.modified
    if sheet.rapid:
        material["rapid"] = True
    return material


def _keep(view: Interview, named: str, material: PlainTable) -> str:
    """Put a product into the job; return its name, which no other product has."""
    usual = view.words.text("new.own-name", {"material": named})
    name, number = usual, 1
    while own_materials(view).get(name, material) != material:
        number += 1
        name = f"{usual} {number}"
    view.table("material")[name] = material
    return name
