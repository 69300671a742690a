"""The reminders' rules: the shipped ones, and a company's changes over them."""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Mapping
from datetime import time
from functools import cache
from typing import Any

import tomli

from curecal import units
from curecal.errors import SourceError, ValueRefused
from curecal.records import PlainTable, PlainView
from curecal.reminders.reminder_types import MAY_NOT, ORDER, KindRule, MessageKind, ReminderRules
from curecal.shipped import shipped_text
from curecal.trade.job import Role

_DAY_S = 86400.0
_DAY_MINUTES = 24 * 60
# Less is no day: a message that must wait for it may come too late.
_LEAST_LOUD_MINUTES = 8 * 60
# Shorter than a gateway's outage: it would be lost before it could be sent.
_LEAST_KEPT_S = 3600.0
_SHOWN = 40
# Who is told two months ahead has forgotten it by the day.
_MOST_DAYS = 60
_WALL = re.compile(r"(\d?\d):(\d\d)", re.ASCII)
_NOT_CHANGED = frozenset({"basis", "source", "why", "urgent", "alone", "to"})


@cache
def shipped_rules() -> ReminderRules:
    """Return the rules that come with the program.

    Returns:
        The rules.

    Raises:
        SourceError: the installation's own data is broken.
    """
    return rules_of(shipped_document())


@cache
def shipped_document() -> PlainView:
    """Return the shipped rules as read: what a company's changes are laid over.

    Returns:
        The document.
    """
    return tomli.loads(shipped_text("reminders.toml"))


def company_rules(changes: PlainView) -> ReminderRules:
    """Return the shipped rules with a company's changes.

    Args:
        changes: the company's table `[reminders]`: the keys of the shipped file, and a table for
            each kind by its name. Whom a kind is for, and what is urgent, is not a company's to
            change; a kind that takes a permission back cannot be put off.

    Returns:
        The rules.

    Raises:
        SourceError: a key there is not, or a value that is not what its place needs.
    """
    shipped = shipped_document()
    kinds = {name: dict(table) for name, table in shipped["kind"].items()}
    head = {name: value for name, value in shipped.items() if name != "kind"}
    for name, value in changes.items():
        if name in kinds and isinstance(value, Mapping):
            _change(kinds[name], name, value)
        elif name in head and name not in _NOT_CHANGED:
            head[name] = value
        else:
            raise _unknown(name, [*kinds, *(key for key in head if key not in _NOT_CHANGED)])
    return rules_of({**head, "kind": kinds})


def _change(kind: PlainTable, name: str, changes: PlainView) -> None:
    known = ["at", "before", "every", "keeps", "off"]
    for key, value in changes.items():
        if key not in known:
            place = f"{name}.{key}"
            raise _unknown(place, [f"{name}.{setting}" for setting in known])
        # What takes a permission back is never made quiet, slow or silent.
        if name in MAY_NOT:
            raise SourceError("reminder-kind-fixed", kind=name)
        if key != "off" and key not in kind:
            raise SourceError("reminder-key-without-use", key=f"{name}.{key}")
        kind[key] = value


def rules_of(document: PlainView) -> ReminderRules:
    """Return the rules that a document states.

    Args:
        document: in the form of the shipped file.

    Returns:
        The rules.

    Raises:
        SourceError: a value is not what its place needs.
    """
    quiet_from, quiet_to = _read(_wall, document, "quiet_from"), _read(_wall, document, "quiet_to")
    if 0 < (_minutes(quiet_from) - _minutes(quiet_to)) % _DAY_MINUTES < _LEAST_LOUD_MINUTES:
        # What is due all at once in a few minutes of a day comes late, or never.
        raise SourceError(
            "reminder-quiet-long",
            quiet_from=quiet_from.isoformat("minutes"),
            quiet_to=quiet_to.isoformat("minutes"),
            count=_LEAST_LOUD_MINUTES // 60,
        )
    return ReminderRules(
        kinds={
            MessageKind(name): _kind(MessageKind(name), table)
            for name, table in document["kind"].items()
        },
        message_at=_read(_times, document, "message_at"),
        quiet_from=quiet_from,
        quiet_to=quiet_to,
        working_days=frozenset(_read(_roles, document, "working_days")),
        settle_s=_read(_wait, document, "settle"),
        patience_s=_read(_wait, document, "patience"),
        sooner_s=_read(_wait, document, "sooner"),
        soon=_read(_wall, document, "soon"),
        late_s=_read(_wait, document, "late"),
        jump_s=_read(_wait, document, "jump"),
        ahead_s=_read(_wait, document, "ahead"),
        logger_s=_read(_wait, document, "logger"),
    )


def _kind(name: MessageKind, table: PlainView) -> KindRule:
    def value(key: str, read: Callable[[object], Any], silent: object) -> Any:
        return _read(read, table, key, f"{name}.") if key in table else silent

    return KindRule(
        kind=name,
        to=frozenset(_read(_roles, table, "to", f"{name}.")),
        keeps_s=value("keeps", _keeps, None),
        at=value("at", _wall, None),
        before=value("before", _days, 0),
        every=value("every", _days, 0),
        urgent=value("urgent", _flag, silent=False),
        alone=value("alone", _flag, silent=False),
        off=value("off", _flag, silent=False),
    )


def _read(read: Callable[[object], Any], table: PlainView, key: str, place: str = "") -> Any:
    try:
        return read(table[key])
    except KeyError:
        raise SourceError("reminder-key-missing", key=f"{place}{key}") from None
    except (ValueError, ValueRefused):
        shown = str(table[key])[:_SHOWN]
        raise SourceError("reminder-value", key=f"{place}{key}", text=shown) from None


def _wall(value: object) -> time:
    if isinstance(value, time):
        return value
    match = _WALL.fullmatch(value) if isinstance(value, str) else None
    if match is None:
        raise ValueError
    return time(int(match[1]), int(match[2]))


def _minutes(wall: time) -> int:
    return 60 * wall.hour + wall.minute


def _wait(value: object) -> float:
    wait_s = units.duration(value)
    if not 0.0 <= wait_s <= 400 * _DAY_S:
        raise ValueError
    return wait_s


def _keeps(value: object) -> float:
    keeps_s = _wait(value)
    if keeps_s < _LEAST_KEPT_S:
        raise ValueError
    return keeps_s


def _days(value: object) -> int:
    count, rest = divmod(_wait(value), _DAY_S)
    if rest or not 1 <= count <= _MOST_DAYS:
        raise ValueError
    return int(count)


def _flag(value: object) -> bool:
    if value is not True and value is not False:
        raise ValueError
    return bool(value)


def _times(value: object) -> dict[Role, time]:
    if not isinstance(value, Mapping) or {Role(name) for name in value} != set(ORDER):
        raise ValueError
    return {Role(name): _wall(wall) for name, wall in value.items()}


def _roles(value: object) -> list[Role]:
    return [Role(role) for role in value] if isinstance(value, list) else [Role("")]


def _unknown(name: str, known: list[str]) -> SourceError:
    near = difflib.get_close_matches(name, known, n=1)
    return SourceError("reminder-key-unknown", key=name, nearest=near[0] if near else "")
