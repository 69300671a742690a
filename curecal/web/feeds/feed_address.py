"""The address of the calendar beside a page, for whoever wants to subscribe to it."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from curecal.book.links.links import find_link
from curecal.book.links.person_links import feed_secret_of
from curecal.records import Record, record

if TYPE_CHECKING:
    from sqlalchemy import Connection


@record
class FeedAddress(Record):
    """A feed as a browser fetches it, and as a telephone hands it to its calendar."""

    web: str
    webcal: str


def feed_beside(
    connection: Connection, page_secret: str, origin: str, now: datetime
) -> FeedAddress | None:
    """Return where the calendar beside a page is; None where its link was taken back, or is none.

    Args:
        connection: The transaction.
        page_secret: The secret of the page's link, of which the feed's is made.
        origin: What stands before every address of ours.
        now: The instant.
    """
    secret = feed_secret_of(page_secret)
    link = find_link(connection, secret)
    if link is None or not link.works_at(now):
        return None
    path = f"/f/{secret}/curecal.ics"
    host = origin.partition("://")[2]
    return FeedAddress(f"{origin}{path}", f"webcal://{host}{path}")
