"""Where a link of a job begins: each purpose has a page of its own."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING

from curecal.book.link_purpose import LinkPurpose
from curecal.web.pages import owner_page
from curecal.web.pages.site import crew_page, electrician_page

if TYPE_CHECKING:
    from flask import Response

    from curecal.web.page_request import PageRequest

_PAGES: Mapping[LinkPurpose, Callable[[PageRequest], Response]] = MappingProxyType(
    {
        LinkPurpose.OWNER: owner_page.show,
        LinkPurpose.CREW: crew_page.show_crew,
        LinkPurpose.ELECTRICIAN: electrician_page.show_electrician,
    }
)


def show(page: PageRequest) -> Response:
    """Answer with the page of the link's purpose."""
    return _PAGES[page.link.purpose](page)
