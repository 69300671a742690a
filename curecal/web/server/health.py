"""One address for a monitor: whether what keeps people safe is running. It names nobody."""

from __future__ import annotations

import json
from datetime import datetime
from typing import TYPE_CHECKING

from flask import Response, request
from sqlalchemy import func, select

from curecal.book.message_states import UNSENT
from curecal.book.meta import STALE_S, beats, hold_of
from curecal.book.schema.tables import outbox
from curecal.errors import CurecalError
from curecal.records import Record, names_of, record

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from curecal.web.serving import Serving

# A server that is away for some minutes is met by the next tries; for longer, somebody should look.
_LONGEST_UNSENT_S = 900


@record(kw_only=True)
class Health(Record):
    """What a monitor is told. Ages are whole seconds; None where there is nothing that old.

    `reminders` is "running", "stopped", or "never started"; `on_hold` says that of the whole book
    nothing is sent.
    """

    book: str
    reminders: str = "unknown"
    last_sign_s: int | None = None
    on_hold: bool = False
    unsent: int = 0
    oldest_unsent_s: int | None = None

    @property
    def is_well(self) -> bool:
        """Return whether nobody has to look."""
        late = self.oldest_unsent_s is not None and self.oldest_unsent_s > _LONGEST_UNSENT_S
        return self.reminders == "running" and not self.on_hold and not late


def health_answer(serving: Serving) -> Response:
    """Return the answer to a monitor: 200 where all is well, else 503.

    Args:
        serving: The book and the clock.
    """
    try:
        with serving.book.reading() as connection:
            health = health_of(connection, serving.now())
    except CurecalError:
        health = Health(book="not reachable")
    facts = {"status": "ok" if health.is_well else "failing"}
    facts.update({name: getattr(health, name) for name in names_of(Health)})
    offered = ("text/plain", "application/json")
    kind = request.accept_mimetypes.best_match(offered, default=offered[0])
    if kind == offered[1]:
        text = json.dumps(facts) + "\n"
    else:
        text = "".join(f"{name}: {_plain(value)}\n" for name, value in facts.items())
    return Response(text, status=200 if health.is_well else 503, mimetype=kind)


def health_of(connection: Connection, now: datetime) -> Health:
    """Return how sending stands.

    Args:
        connection: The transaction.
        now: The instant.
    """
    last_at = max((sign.at for sign in beats(connection)), default=None)
    age_s = None if last_at is None else int((now - last_at).total_seconds())
    states = sorted(state.value for state in UNSENT)
    waiting = select(func.count(), func.min(outbox.c.created_at)).where(outbox.c.state.in_(states))
    count, oldest_at = connection.execute(waiting).one()
    reminders = "never started"
    if age_s is not None:
        reminders = "running" if age_s <= STALE_S else "stopped"
    return Health(
        book="reachable",
        reminders=reminders,
        last_sign_s=age_s,
        on_hold=hold_of(connection) is not None,
        unsent=int(count),
        oldest_unsent_s=None if oldest_at is None else int((now - oldest_at).total_seconds()),
    )


def _plain(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return "none" if value is None else str(value)
