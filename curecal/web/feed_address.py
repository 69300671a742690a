"""The address of the calendar beside a page, for whoever wants to subscribe to it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curecal.book.links.links import find_link
from curecal.book.links.person_links import feed_secret_of
from curecal.records import Record, record

if TYPE_CHECKING:
    from curecal.web.page_request import PageRequest


@record
class FeedAddress(Record):
    """A feed as a browser fetches it, and as a telephone hands it to its calendar."""

    web: str
    webcal: str


def feed_beside(page: PageRequest) -> FeedAddress | None:
    """Return where the calendar beside a page is; None where its link was taken back, or is none.

    Args:
        page: The request, whose link the feed's secret is made of.
    """
    secret = feed_secret_of(page.secret)
    with page.serving.book.reading() as connection:
        link = find_link(connection, secret)
    if link is None or not link.works_at(page.now):
        return None
    path = f"/f/{secret}/curecal.ics"
    host = page.origin.partition("://")[2]
    return FeedAddress(f"{page.origin}{path}", f"webcal://{host}{path}")
