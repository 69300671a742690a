"""That a link was used, kept apart from all that counts."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from curecal.book.links.links import Link, note_use
from curecal.errors import BookError

if TYPE_CHECKING:
    from curecal.web.serving import Serving

# A link that is open all day writes its last use a few times, not with each look.
_NOTED_AFTER_S = 900.0


def note_link_use(serving: Serving, link: Link, now: datetime) -> None:
    """Keep that a link was opened; a book that cannot be written now is no reason to refuse.

    Args:
        serving: The book.
        link: The link.
        now: The instant.
    """
    last = link.last_used_at
    if last is not None and abs((now - last).total_seconds()) < _NOTED_AFTER_S:
        return
    try:
        with serving.book.writing() as connection:
            note_use(connection, link.id, now=now)
    except BookError:
        pass
