"""Who still goes by what they were told, at an address that no person of the job has any more.

A job's file may lose a person or correct an address; what went there before is not taken back
by itself.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from curecal.planning.plan import ZonePlan
from curecal.reminders.builders.reminder_context import ReminderContext
from curecal.reminders.recipients import way_of
from curecal.reminders.reminder_types import MAY, MAY_NOT, Channel, Heard, MessageKind, Recipient


def still_believing(ctx: ReminderContext, zone: ZonePlan) -> Iterator[tuple[Recipient, Heard]]:
    """Give who heard a "may" at an address of before, with nothing since that took it back.

    Args:
        ctx: the plan, its people, and what was heard.
        zone: the zone.

    Yields:
        The person at that address, and the "may".
    """
    stands: dict[tuple[str, str], Heard] = {}
    for heard in _elsewhere(ctx, zone.zone.id):
        way = way_of(heard.channel, heard.address)
        if heard.kind in MAY:
            stands[way] = heard
        elif heard.kind in MAY_NOT:
            stands.pop(way, None)
    for may in stands.values():
        yield _as_recipient(ctx, may), may


def still_booked(ctx: ReminderContext) -> Iterator[tuple[Recipient, Heard]]:
    """Give who has a visit in their calendar at an address of before.

    Args:
        ctx: the plan, its people, and what was heard.

    Yields:
        The person at that address, and what told them the day.
    """
    stands: dict[tuple[str, ...], Heard] = {}
    for heard in _elsewhere(ctx, None):
        if heard.topic.visit is not None:
            stands[(*way_of(heard.channel, heard.address), heard.zone_id, heard.topic)] = heard
    for told in stands.values():
        if told.kind != MessageKind.VISIT_OFF:
            yield _as_recipient(ctx, told), told


def _elsewhere(ctx: ReminderContext, zone_id: str | None) -> list[Heard]:
    """Return what went to addresses that nobody has now, oldest first."""
    now = {way_of(*way) for person in ctx.people for way in person.ways}
    found = [
        heard
        for name in ctx.told.everyone()
        for heard in ctx.told.of(name, zone_id)
        if heard.address and way_of(heard.channel, heard.address) not in now
    ]
    return sorted(found, key=lambda heard: (heard.told_at, heard.number))


def _as_recipient(ctx: ReminderContext, told: Heard) -> Recipient:
    """Return an address of before as a person of its own, beside the one who has another now."""
    name = told.recipient
    if any(name == person.id for person in ctx.people):
        name = f"{name} {told.address}"
    way = (Channel(told.channel), told.address)
    known = next((person for person in ctx.people if person.id == told.recipient), None)
    if known is not None:
        return replace(known, id=name, ways=(way,), roles=())
    return Recipient(name, told.address, (), (way,), told.language or None)
