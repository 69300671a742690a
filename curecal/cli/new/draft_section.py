"""The floor of a job that is being written, cut through: an upside-down list is seen."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from curecal.cli.shared.common import print_lines, width_of

if TYPE_CHECKING:
    from curecal.cli.new.interview import Interview
    from curecal.pictures.section import FloorSection, Slab
    from curecal.records import PlainTable

_WIDEST = 76


def show_section(view: Interview, zone: PlainTable) -> None:
    """Draw the layers that are answered so far, the top one first."""
    from curecal.pictures.terminal import section_lines

    section = draft_section(view, zone)
    width = min(width_of(None), _WIDEST)
    print_lines([(), *section_lines(section, width, is_alone=False), ()])


def draft_section(view: Interview, zone: PlainTable) -> FloorSection:
    """Return the section of a zone whose layers are answered in part."""
    from curecal.pictures.section import FloorSection

    words, embedding = view.words, _embedding(view, zone)
    return FloorSection(
        title="",
        says="",
        counted_text="",
        governing_text="",
        top_text=words.text("report.column-top"),
        bottom_text=words.text("report.table-bottom"),
        cable_text=words.text("picture.cable"),
        slabs=tuple(
            _slab(view, layer, holds_cable=number == embedding)
            for number, layer in reversed([*enumerate(zone["layer"])])
        ),
    )


def _embedding(view: Interview, zone: PlainTable) -> int | None:
    """Return the number of the layer that covers the cable; None where none does yet."""
    from curecal.job_files import read_draft
    from curecal.planning.curing.build_up import BuildUp

    job = read_draft(view.draft, view.folder, company=view.company, clock=view.now).job
    if job is None:
        return None
    found = job.zones[view.draft["zone"].index(zone)]
    layer = BuildUp(found).embedding
    return None if layer is None else found.layers.index(layer)


def _slab(view: Interview, layer: PlainTable, *, holds_cable: bool) -> Slab:
    from curecal.pictures.section import Slab, SlabState
    from curecal.words.values import clean

    is_old = bool(layer.get("existing"))
    return Slab(
        label=clean(layer["name"]),
        thickness_m=None,
        thickness_text=clean(layer.get("thickness", "")),
        state=SlabState.EXISTING if is_old else SlabState.AHEAD,
        cured_fraction=0.0,
        says=_says(view, layer),
        holds_cable=holds_cable,
    )


def _says(view: Interview, layer: PlainTable) -> str:
    for key, text in (("done", "finished"), ("planned_start", "planned")):
        at = layer.get(key)
        if at is not None:
            form = "%a %d %b %Y, %H:%M" if isinstance(at, datetime) else "%a %d %b %Y"
            return view.words.text(f"new.slab-{text}", {"when": at.strftime(form)})
    return view.words.text("new.slab-existing" if layer.get("existing") else "new.slab-to-lay")
