"""What several of the office's pages share: lists cut into pages, refused forms, ways back."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Generic, TypeVar
from urllib.parse import urlencode

from flask import Response

from curecal.instants import local_day
from curecal.records import Record, record

if TYPE_CHECKING:
    from datetime import date

    from curecal.web.page_request import PageRequest

T = TypeVar("T")
# No list of ours has so many pages.
_MOST_DIGITS = 7


@record
class ListPage(Record, Generic[T]):
    """One page of a list: what stands on it, its number, how many pages and things there are."""

    shown: tuple[T, ...]
    number: int
    page_count: int
    count: int


def page_of_list(page: PageRequest, everything: Sequence[T], *, most: int) -> ListPage[T]:
    """Return the page of a list that the address asks for; the nearest one there is.

    Args:
        page: The request, with `page` in its address.
        everything: The whole list.
        most: How many stand on a page.
    """
    page_count = max(1, -(-len(everything) // most))
    asked = page.request.args.get("page", "1")
    is_number = asked.isascii() and asked.isdigit() and len(asked) <= _MOST_DIGITS
    number = min(max(int(asked) if is_number else 1, 1), page_count)
    shown = tuple(everything[(number - 1) * most : number * most])
    return ListPage(shown, number, page_count, len(everything))


def today_of(page: PageRequest) -> date:
    """Return today where most of the jobs are, or where the job of the page is."""
    return page.words.reader.today or local_day(page.now, page.words.reader.site_tz)


def go_to(address: str, **asked: str) -> Response:
    """Return an answer that sends the browser on, so that nothing is sent twice.

    Args:
        address: Where to.
        **asked: What is asked of that page.
    """
    target = f"{address}?{urlencode(asked)}" if asked else address
    return Response(status=303, headers={"Location": target})
