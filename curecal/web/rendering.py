"""Templates: every value is escaped, and nothing is told that a page did not hand over."""

from __future__ import annotations

import functools
from pathlib import Path
from typing import TYPE_CHECKING

from flask import Response
from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from curecal.words.catalogue import languages

if TYPE_CHECKING:
    from curecal.web.page_request import PageRequest
    from curecal.words.sentences import Words

_TEMPLATES = Path(__file__).with_name("templates")
LANGUAGE_NAMES = {
    "de": "Deutsch",
    "en": "English",
    "es": "Español",
    "fr": "Français",
    "pl": "Polski",
}
"""Each language by its own name, so that whoever reads no other one finds it."""


@functools.cache
def make_templates() -> Environment:
    """Return the templates, read once."""
    return Environment(
        loader=FileSystemLoader(_TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        auto_reload=False,
    )


def render(page: PageRequest, template: str, *, status: int = 200, **values: object) -> Response:
    """Return a page.

    Args:
        page: The request: its words are the page's.
        template: The template's name.
        status: The status of the answer.
        **values: What the template shows.
    """
    body = (
        make_templates()
        .get_template(template)
        .render(
            page=page,
            text=page.text,
            words=page.words,
            languages=[(code, LANGUAGE_NAMES[code]) for code in languages()],
            **values,
        )
    )
    return Response(body, status=status, mimetype="text/html")


def render_plain(words: Words, key: str) -> str:
    """Return a page of one text, for whoever is let into no other.

    Args:
        words: The language.
        key: Which text.
    """
    return make_templates().get_template("plain.html").render(words=words, key=key)


def drawn(svg: str) -> Markup:
    """Return a picture of ours as it goes into a page: its texts were escaped as it was drawn."""
    return Markup(svg)  # noqa: S704 - `pictures` escapes every text
