"""`curecal picture`: the timeline and the section of a floor, on the terminal or as SVG."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from curecal.cli.shared.common import (
    PROBLEM,
    job_options,
    planned_or_told,
    print_lines,
    width_of,
)
from curecal.errors import UsageError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from curecal.cli.shared.common import PlannedJob
    from curecal.planning.plan import ZonePlan
    from curecal.words.layout import Line

_NARROWEST_PX, _WIDTH_PX = 320, 720


@click.command("picture")
@job_options
@click.option("--timeline", "only", flag_value="timeline", help="Draw the timeline alone.")
@click.option("--section", "only", flag_value="section", help="Draw the section alone.")
@click.option("--zone", metavar="NAME", help="The zone to draw, where a job has several.")
@click.option(
    "--svg",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Write one picture into this SVG file; the section only with --section.",
)
@click.option(
    "--pixels",
    type=click.IntRange(min=_NARROWEST_PX),
    default=_WIDTH_PX,
    metavar="N",
    help="Width of the SVG, from 320.",
)
def command(
    *,
    job: Path,
    only: str | None,
    zone: str | None,
    svg: Path | None,
    pixels: int,
    width: int | None,
    **asked: Any,
) -> int:
    """Draw the timeline and the floor's section, layer by layer.

    Without --svg they are drawn on the terminal.
    """
    made = planned_or_told(job, as_json=False, width=width, **asked)
    if made is None:
        return PROBLEM
    zones = _zones(made, zone)
    if svg is not None and svg.suffix.casefold() != ".svg":
        # The job file itself is named before, and would be overwritten.
        raise UsageError("picture-not-svg", path=str(svg)[:60])
    if svg is None:
        print_lines(_drawn(made, zones, only, width_of(width)))
    else:
        _write(made, zones, svg, is_section=only == "section", pixels=pixels)
    return 0


def _zones(made: PlannedJob, asked: str | None) -> Sequence[ZonePlan]:
    """Return the zones to draw: all, or the one that was asked for by its name or its id."""
    zones = made.plan.zones
    if asked is None:
        return zones
    wanted = asked.strip().casefold()
    found = [zone for zone in zones if wanted in {zone.zone.id, zone.zone.name.casefold()}]
    if not found:
        names = ", ".join(zone.zone.name for zone in zones)
        raise UsageError("zone-not-in-job", text=asked[:60], zones=names)
    return found


def _drawn(
    made: PlannedJob, zones: Sequence[ZonePlan], only: str | None, columns: int
) -> list[Line]:
    from curecal.pictures.section import make_section
    from curecal.pictures.terminal import section_lines, timeline_lines
    from curecal.pictures.timeline import make_timeline

    lines: list[Line] = []
    for zone in zones:
        if only != "section":
            timeline = make_timeline(made.plan, zone, made.log, made.words)
            lines += [*timeline_lines(timeline, columns), ()]
        if only != "timeline":
            section = make_section(made.plan, zone, made.words)
            lines += [*section_lines(section, columns, is_alone=only == "section"), ()]
    return lines[:-1]


def _write(
    made: PlannedJob, zones: Sequence[ZonePlan], path: Path, *, is_section: bool, pixels: int
) -> None:
    """Write the picture of one zone: an SVG file is one picture."""
    from curecal.errors import SourceError

    if len(zones) > 1:
        names = ", ".join(zone.zone.name for zone in zones)
        raise UsageError("zone-to-draw", zones=names)
    (zone,) = zones
    if is_section:
        from curecal.pictures.section import make_section
        from curecal.pictures.section_svg import section_svg

        drawn = section_svg(make_section(made.plan, zone, made.words), width=pixels)
    else:
        from curecal.pictures.timeline import make_timeline
        from curecal.pictures.timeline_svg import timeline_svg

        timeline = make_timeline(made.plan, zone, made.log, made.words)
        drawn = timeline_svg(timeline, width=pixels)
    try:
        path.write_text(drawn, encoding="utf-8")
    except OSError as error:
        raise SourceError("file-not-written", path=str(path), reason=error.strerror or "") from None
    from curecal.words.layout import TextRun

    print_lines([(TextRun(made.words.text("picture.drawn", {"path": str(path)})),)])
