"""What has to be said of a logger's readings before they go into a job: asked where it can be."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

import click

from curecal.errors import UsageError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from curecal.files.logger.shape import Channel, Export
    from curecal.trade.buildup import Job
    from curecal.words.sentences import Words


def on_terminal() -> bool:
    """Return whether somebody sits there who can answer."""
    return sys.stdin.isatty() and sys.stdout.isatty()


def zone_of(job: Job | None, name: str | None, words: Words, *, may_ask: bool) -> str | None:
    """Return the id of the zone that readings are of; of several it has to be said."""
    from curecal.files.shown import nearest, shorten

    zones = () if job is None else job.zones
    known = [zone.name for zone in zones]
    shown = ", ".join(known)
    if name is None and len(zones) > 1:
        if not (may_ask and on_terminal()):
            raise UsageError("readings-zone-unnamed", zones=shown, example=known[0])
        name = click.prompt(words.text("readings.ask-zone", {"zones": shown}), err=True)
    if name is None:
        return zones[0].id if zones else None
    for zone in zones:
        if name in {zone.id, zone.name}:
            return zone.id
    raise UsageError(
        "zone-not-there", text=shorten(name), nearest=nearest(name, known), known=shown
    )


def chosen(export: Export, names: Sequence[str], words: Words, *, may_ask: bool) -> list[Channel]:
    """Return the devices that count; of several it has to be said which are the room's."""
    from curecal.files.shown import nearest, shorten

    known = [channel.device for channel in export.channels]
    shown = ", ".join(known)
    if not names and len(known) > 1:
        if not (may_ask and on_terminal()):
            raise UsageError("readings-several-devices", path=export.name, devices=shown)
        names = [click.prompt(words.text("readings.ask-device", {"devices": shown}), err=True)]
    for name in names:
        if name not in known:
            raise UsageError(
                "readings-device-unknown",
                path=export.name,
                text=shorten(name),
                nearest=nearest(name, known),
                devices=shown,
            )
    return [channel for channel in export.channels if not names or channel.device in names]
