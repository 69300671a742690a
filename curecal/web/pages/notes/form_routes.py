"""The addresses of the forms, and which links open them; a form narrows that further."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from curecal.book.link_purpose import LinkPurpose
from curecal.web.pages.notes import change_page, form_page, noted_page

if TYPE_CHECKING:
    from flask import Response

    from curecal.web.page_request import PageRequest

_WRITES = frozenset({LinkPurpose.CREW, LinkPurpose.ELECTRICIAN})
_NOTE = "/p/<secret>/note/<form>"

FORM_ROUTES: tuple[
    tuple[str, str, frozenset[LinkPurpose], Callable[[PageRequest], Response]], ...
] = (
    ("GET", _NOTE, _WRITES, form_page.show_form),
    ("POST", _NOTE, _WRITES, form_page.send_form),
    ("POST", f"{_NOTE}/judge", _WRITES, form_page.judge_form),
    ("GET", "/p/<secret>/noted/<entry>", _WRITES, noted_page.show_noted),
    ("GET", "/p/<secret>/change/<entry>", _WRITES, change_page.show_change),
    ("POST", "/p/<secret>/change/<entry>", _WRITES, change_page.send_change),
    ("GET", "/p/<secret>/not-you", _WRITES, noted_page.show_not_you),
    ("GET", "/p/<secret>/picture/<file>", _WRITES, noted_page.show_picture),
)
