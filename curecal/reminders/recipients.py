"""The people of a job as recipients: who is named in two roles is one person."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from curecal.reminders.reminder_types import ORDER, Channel, Recipient
from curecal.trade.job import Person, Role
from curecal.trade.names import comparable_email, comparable_name, dialed


def recipients(people: Iterable[Person], at: datetime | None = None) -> tuple[Recipient, ...]:
    """Return who is told, each person once.

    Two entries with one mail address, or without any with one number, are one person.

    Args:
        people: the people of the job.
        at: leaves out whose roles have ended at an instant; None for everybody who was ever one.

    Returns:
        The recipients, in the order of their first entry.
    """
    found: dict[str, list[Person]] = {}
    for person in people:
        if person.every_role.isdisjoint(ORDER):
            # Who only signs is told nothing.
            continue
        if at is not None and not person.is_on_the_job(at):
            continue
        # With a plus or without: it is dialed alike. Their name is that of the first entry.
        found.setdefault(_identity(person).removeprefix("+"), []).append(person)
    return tuple(_recipient(_identity(entries[0]), entries) for entries in found.values())


def is_out_of_reach(person: Recipient) -> bool:
    """Return whether nothing can be sent to a person: somebody must call.

    Args:
        person: the person.

    Returns:
        True for who is reached by telephone only, or has no address that a message can go to.
    """
    return not any(_carries(*way) for way in person.ways)


def _carries(channel: Channel, address: str) -> bool:
    """Return whether a message may go a way: mail goes to addresses in plain letters only."""
    if channel is Channel.EMAIL:
        return address.isascii() and address.isprintable()
    return channel is not Channel.PHONE


def way_of(channel: str, address: str) -> tuple[str, str]:
    """Return a way to a person as two spellings of one compare.

    Args:
        channel: the channel.
        address: the address as it is written.

    Returns:
        The channel and the normalized address.
    """
    return channel, comparable_email(address) if channel == Channel.EMAIL else address


def _identity(person: Person) -> str:
    if person.email:
        return comparable_email(person.email)
    if person.phone:
        return dialed(person.phone)
    return f"{person.role.value}:{comparable_name(person.name)}"


def _recipient(identity: str, entries: list[Person]) -> Recipient:
    named = frozenset[Role]().union(*(person.every_role for person in entries))
    ways: list[tuple[Channel, str]] = []
    for person in entries:
        ways += [way for way in _ways(person) if way not in ways]
    languages = [person.language for person in entries if person.language]
    return Recipient(
        identity,
        entries[0].name,
        tuple(role for role in ORDER if role in named),
        tuple(ways),
        languages[0] if languages else None,
    )


def _ways(person: Person) -> list[tuple[Channel, str]]:
    """Return how a person is reached: as they wish, else by mail, else by text, else by a call.

    Who has no address at all is somebody to call by name: nobody is silently told nothing.
    """
    addresses = {
        Channel.EMAIL: person.email and person.email.strip(),
        Channel.TEXT: person.phone and dialed(person.phone),
        Channel.PHONE: person.phone and dialed(person.phone),
        # The address of a push service is a secret: it stands under the person's own address.
        Channel.PUSH: _identity(person),
    }
    wished = [Channel(way) for way in person.reach_by] or [Channel.EMAIL, Channel.TEXT][
        : 2 if not person.email else 1
    ]
    found = [(way, address) for way in wished if (address := addresses[way])]
    found = (
        found
        or [(way, address) for way in (Channel.EMAIL, Channel.TEXT) if (address := addresses[way])][
            :1
        ]
    )
    return found or [(Channel.PHONE, f"{person.name}, {person.role.value.replace('_', ' ')}")]
