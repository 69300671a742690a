"""What is asked of the layers, from the bottom up; what cannot lie so is seen at once."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curecal.cli.new.ask_sheet import ask_sheet, own_materials
from curecal.cli.new.draft_section import show_section
from curecal.cli.new.interview import judge_of
from curecal.cli.shared.common import print_lines, width_of
from curecal.errors import ValueRefused

if TYPE_CHECKING:
    from collections.abc import Mapping

    from curecal.cli.new.interview import Interview
    from curecal.records import PlainTable
    from curecal.trade.data_sheets import DataSheet

_OWN_LIST = "own list"
_LEAVE_OUT = "-"


def ask_build_up(view: Interview, zone: PlainTable) -> None:
    """Ask how the floor is built, and then each of its layers, until there are no more."""
    from curecal.job_files.new_job.build_ups import BUILD_UPS

    settled = "layer" in zone
    listed = list(zone.get("layer", ()))
    if not settled:
        choices = (*BUILD_UPS, _OWN_LIST)
        shown = {
            choice: view.words.text(f"new.build-up-{choice.replace(' ', '-')}")
            for choice in choices
        }
        choice = view.choose("build-up", choices, shown=shown)
        build_up = BUILD_UPS.get(choice)
        listed = [] if build_up is None else build_up.copied_layers()
    zone["layer"] = []
    view.tell("layers-from-bottom")
    for layer in listed:
        _ask_until_right(view, zone, layer, is_settled=settled)
    if zone["layer"]:
        show_section(view, zone)
    while _ask_until_right(view, zone, None, is_settled=False):
        if zone["layer"]:
            show_section(view, zone)


def _ask_until_right(
    view: Interview, zone: PlainTable, usual: PlainTable | None, *, is_settled: bool
) -> bool:
    """Ask for one layer, again while it cannot be so; return whether there is one.

    Args:
        view: The interview.
        zone: The zone; the layer goes on top of those it has.
        usual: What a build-up or another job knows of it; None for a further layer.
        is_settled: Whether what it is made of is known for good.
    """
    while True:
        before = dict(view.draft.get("material", {}))
        layer = _ask_layer(view, zone, usual, is_settled=is_settled)
        if layer is None:
            return False
        zone["layer"].append(layer)
        wrong = _errors(view, zone)
        if not wrong:
            return True
        show_section(view, zone)
        if (
            usual is None
            and "list-upside-down" in wrong
            and view.confirm("start-over", is_yes=True)
        ):
            zone["layer"].clear()
            return True
        if not view.confirm("again", is_yes=True, params={"layer": layer["name"]}):
            return True
        zone["layer"].pop()
        view.draft["material"] = before


def _ask_layer(
    view: Interview, zone: PlainTable, usual: PlainTable | None, *, is_settled: bool
) -> PlainTable | None:
    """Return a layer from questions; None where there is none, or none more."""
    number = len(zone["layer"]) + 1
    layer: PlainTable = dict(usual or {})
    if usual:
        view.tell("layer", {"number": number, "layer": layer.get("name", layer.get("material"))})
    if not is_settled or "material" not in layer:
        question = "material" if usual else "next-layer" if zone["layer"] else "first-layer"
        material = _ask_material(view, question, _usual_material(view, layer), number)
        if material is None:
            return None
        if _kind(view, material) != _kind(view, layer.get("material")):
            # A board in a mortar's place is not called a mortar.
            layer["name"] = material
        layer["material"] = material
    layer["name"] = _fresh_name(str(layer.get("name") or layer["material"]), zone)
    if usual is None:
        _ask_existing(view, zone, layer)
    _ask_when(view, zone, layer)
    _ask_thickness(view, layer)
    sheet = _class_of(view, layer["material"])
    if sheet is not None and not layer.get("existing"):
        _ask_bare_heat(view, layer, sheet)
        ask_sheet(view, layer, sheet)
    return layer


def _kind(view: Interview, material: object) -> str | None:
    from curecal.job_files.new_job.answers import kind_of

    return kind_of({"material": own_materials(view)}, material)


def _usual_material(view: Interview, layer: PlainTable) -> str:
    """Return what Enter stands for: a class, or the product of it that the job has already."""
    usual = str(layer.get("material", ""))
    own = view.words.text("new.own-name", {"material": usual})
    return own if own in own_materials(view) else usual


def _ask_material(view: Interview, question: str, usual: str, number: int) -> str | None:
    """Return the material of a layer; None where there is no such layer."""
    while True:
        params = {"number": number}
        typed = view.ask(question, lambda text: _material(view, text), default=usual, params=params)
        if typed is None and question == "next-layer":
            return None
        if typed == _LEAVE_OUT and question != "first-layer":
            return None
        if typed not in {None, _LEAVE_OUT}:
            return str(typed)
        view.tell("needed", indent=2)


def _material(view: Interview, typed: str) -> str:
    """Return a material as it is called: of the job, the company, or a class.

    Raises:
        ValueRefused: There is none of that name, or it may not lie in a heated floor.
    """
    from difflib import get_close_matches

    from curecal.material_classes.rules import load_rules, usable_classes
    from curecal.toml_files.shown import shorten
    from curecal.trade.job import CoveringKind

    if typed == _LEAVE_OUT:
        return typed
    own, usable = own_materials(view), usable_classes()
    by_fold = {name.casefold(): name for name in (*usable, *own)}
    text = " ".join(typed.casefold().split())
    if text in by_fold:
        return by_fold[text]
    if text in load_rules().classes:
        raise ValueRefused("answer-material-refused", text=shorten(typed))
    if text in {"tile", "tiles", *(kind.value for kind in CoveringKind)}:
        raise ValueRefused("answer-covering", text=shorten(typed))
    near = [by_fold[name] for name in get_close_matches(text, by_fold, n=3, cutoff=0.5)]
    near += [name for fold, name in by_fold.items() if text in fold and name not in near][:3]
    _show_materials(view, own)
    quoted = ", ".join(f'"{name}"' for name in near[:4])
    raise ValueRefused("answer-material", text=shorten(typed), nearest=quoted)


def _show_materials(view: Interview, own: Mapping[str, object]) -> None:
    """List every material by what it is for."""
    from curecal.material_classes.rules import classes_by_use, may_be_heated
    from curecal.words.layout import bullet

    groups = {
        use: [one.names[0] for one in listed if may_be_heated(one.sheet)]
        for use, listed in classes_by_use().items()
    }
    if own:
        groups[view.words.text("new.own-materials")] = list(own)
    for use, names in groups.items():
        print_lines(bullet(f"{use}: {', '.join(names)}", width_of(None), indent=2))


def _class_of(view: Interview, material: str) -> DataSheet | None:
    """Return a class's numbers; None for a product, which has its own."""
    from curecal.material_classes.rules import load_rules

    return None if material in own_materials(view) else load_rules().classes.get(material)


def _fresh_name(name: str, zone: PlainTable) -> str:
    taken = {layer["name"] for layer in zone["layer"]}
    made, number = name, 1
    while made in taken:
        number += 1
        made = f"{name} {number}"
    return made


def _ask_existing(view: Interview, zone: PlainTable, layer: PlainTable) -> None:
    """Ask if a layer was there before this job; not of one that lies on a new one."""
    below = zone["layer"]
    if all(_existed(under) for under in below):
        params = {"layer": layer["name"]}
        if view.confirm("existing", is_yes=not below, params=params):
            layer["existing"] = True


def _ask_when(view: Interview, zone: PlainTable, layer: PlainTable) -> None:
    """Ask since when a layer is there, else when it was finished, else when it begins."""
    if layer.get("existing"):
        since = view.ask("since", view.day)
        if since is not None:
            layer["since"] = since
        return
    if all(_existed(under) or "done" in under for under in zone["layer"]):
        _ask_done(view, layer)
    if "done" in layer:
        return
    start = view.ask("planned-start", view.ahead)
    if start is not None:
        layer["planned_start"] = start


def _ask_done(view: Interview, layer: PlainTable) -> None:
    """Ask when a layer was finished; of an odd hour or a day long ago, if it is right.

    A clock that begins a year early is over at once.
    """
    while True:
        done = view.ask("done", view.past)
        if done is None:
            return
        if not view.is_odd(done):
            break
        if view.confirm("sure", is_yes=False):
            layer["sure"] = True
            break
    layer["done"] = done


def _existed(layer: PlainTable) -> bool:
    return bool(layer.get("existing"))


def _ask_bare_heat(view: Interview, layer: PlainTable, sheet: DataSheet) -> None:
    from curecal.trade.data_sheets import Kind

    is_open = sheet.kind is Kind.SCREED and "heat_before_covering" not in layer
    if is_open and view.confirm("bare-heat", is_yes=True):
        layer["heat_before_covering"] = True


def _ask_thickness(view: Interview, layer: PlainTable) -> None:
    from curecal.job_files.new_job.answers import kind_of, wants_thickness

    known = {"material": own_materials(view)}
    if "thickness" not in layer and wants_thickness(layer, lambda name: kind_of(known, name)):
        judge = judge_of("layer", "thickness")
        thickness = view.ask("thickness", judge)
        if thickness is None:
            view.tell("no-thickness", indent=2)
        else:
            layer["thickness"] = thickness


def _errors(view: Interview, zone: PlainTable) -> set[str]:
    """Say what is wrong with the newest layer; return the codes of what cannot be so."""
    from curecal.job_files import read_draft
    from curecal.trade.findings import Severity
    from curecal.words.report.report import finding_lines

    read = read_draft(view.draft, view.folder, company=view.company, clock=view.now)
    index = view.draft["zone"].index(zone)
    newest = zone["layer"][-1]
    mine = (f"zone.{index}.layer.{len(zone['layer']) - 1}", f"material.{newest['material']}")
    found = [
        finding
        for finding in read.findings
        if any(finding.path == place or finding.path.startswith(f"{place}.") for place in mine)
    ]
    if found:
        lines = finding_lines(found, read.raw, view.words, width_of(None), titled=False)
        print_lines(lines)
    return {finding.code for finding in found if finding.severity is Severity.ERROR}
