"""Every address that somebody with a link comes to by following links, as a person would.

A page whose address is in the table and that no other page leads to is found missing.
"""

from __future__ import annotations

import io
from collections import deque
from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import TYPE_CHECKING
from urllib.parse import urldefrag, urljoin, urlsplit

from PIL import Image
from werkzeug.exceptions import HTTPException

from curecal.book.link_purpose import LinkPurpose
from curecal.web.app import OFFICE_COOKIE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from flask import Flask
    from flask.testing import FlaskClient
    from live_site import LiveSite
    from werkzeug.test import TestResponse

_HOST = "http://localhost"
_MOST = 400
OF_ONE_JOB = (LinkPurpose.OWNER, LinkPurpose.CREW, LinkPurpose.ELECTRICIAN)


@dataclass
class Form:
    """A form as a browser sends it: where to, how, and the fields with what stands in them."""

    action: str
    method: str
    enctype: str
    fields: list[tuple[str, str, str]] = field(default_factory=list)
    """Name, type and value of each field."""
    buttons: int = 0


class PageReader(HTMLParser):
    """Links, forms and messages of a page, as a reader without any script has them."""

    def __init__(self, body: str) -> None:
        super().__init__(convert_charrefs=True)
        self.links: list[str] = []
        self.sources: list[str] = []
        self.forms: list[Form] = []
        self.roles: list[str] = []
        self.headings = 0
        self.inline: list[str] = []
        """Whatever the policy forbids: handlers, styles and scripts inside the page."""
        self.feed(body)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note what a tag says."""
        said = {name: value or "" for name, value in attrs}
        self.inline += [name for name in said if name.startswith("on") or name == "style"]
        self._forbidden(tag, said)
        if "role" in said:
            self.roles.append(said["role"])
        if tag == "a" and "href" in said:
            self.links.append(said["href"])
        elif tag in {"script", "img", "source", "iframe", "link"}:
            self.sources.append(said.get("src", said.get("href", "")))
        elif tag == "h1":
            self.headings += 1
        elif tag == "form":
            kind = said.get("enctype", "application/x-www-form-urlencoded")
            method = said.get("method", "get").lower()
            self.forms.append(Form(said.get("action", ""), method, kind))
        elif tag in {"input", "select", "textarea", "button"} and self.forms:
            self._note_field(tag, said)

    def _forbidden(self, tag: str, said: dict[str, str]) -> None:
        is_data = said.get("type") == "application/json"
        if tag == "style" or (tag == "script" and "src" not in said and not is_data):
            self.inline.append(tag)

    def _note_field(self, tag: str, said: dict[str, str]) -> None:
        kind = said.get("type", "submit" if tag == "button" else tag)
        if kind in {"submit", "image"}:
            self.forms[-1].buttons += 1
        if "name" in said:
            self.forms[-1].fields.append((said["name"], kind, said.get("value", "")))


@dataclass(frozen=True)
class Found:
    """An address that was opened: by which row of the table, whose link, and what came."""

    pattern: str
    purpose: LinkPurpose
    job_id: str
    secret: str
    path: str
    status: int
    mimetype: str
    body: bytes

    @property
    def is_page(self) -> bool:
        """Whether a person reads it in a browser."""
        return self.mimetype == "text/html"

    @property
    def read(self) -> PageReader:
        """What the page holds."""
        return PageReader(self.body.decode())


def pattern_of(app: Flask, path: str, method: str = "GET") -> str:
    """Return the pattern of the table that an address belongs to; empty for none."""
    try:
        endpoint, _ = app.url_map.bind("localhost").match(urlsplit(path).path, method=method)
    except HTTPException:
        return ""
    return str(endpoint).partition(" ")[2]


def client_of(site: LiveSite, secret: str = "") -> FlaskClient:
    """Return a browser without a screen; with the office's secret where one is given."""
    client = site.app.test_client()
    if secret:
        client.set_cookie(OFFICE_COOKIE, secret)
    return client


def home_of(purpose: LinkPurpose, secret: str) -> str:
    """Return where the pages of a link begin."""
    return "/office/" if purpose is LinkPurpose.OFFICE else f"/p/{secret}/"


def send_picture(site: LiveSite, secret: str) -> str:
    """Log a picture with a link, and return the address of what became of it."""
    client = client_of(site)
    address = f"/p/{secret}/note/photo"
    form = PageReader(client.get(address).get_data(as_text=True)).forms[0]
    sent: dict[str, object] = {name: value for name, kind, value in form.fields if kind != "file"}
    sent["file"] = (io.BytesIO(picture()), "sticker.png")
    answer = client.post(address, data=sent, headers={"Origin": _HOST})
    assert answer.status_code == 303, answer.get_data(as_text=True)
    return answer.headers["Location"]


def picture(color: tuple[int, int, int] = (90, 30, 30)) -> bytes:
    """Return a small picture in one color."""
    made = io.BytesIO()
    Image.new("RGB", (64, 48), color).save(made, "PNG")
    return made.getvalue()


def walk(
    site: LiveSite, purpose: LinkPurpose, job_id: str, secret: str, *further: str
) -> Iterator[Found]:
    """Yield each address that a link's holder can come to, each pattern with few of its values."""
    client = client_of(site, secret if purpose is LinkPurpose.OFFICE else "")
    waiting, seen = deque([home_of(purpose, secret), *further]), set()
    opened: dict[str, int] = {}
    while waiting and len(seen) < _MOST:
        path = waiting.popleft()
        pattern = pattern_of(site.app, path)
        if path in seen or not pattern or opened.get(pattern, 0) >= _SAME:
            continue
        seen.add(path)
        opened[pattern] = opened.get(pattern, 0) + 1
        answer: TestResponse = client.get(path)
        yield Found(
            pattern, purpose, job_id, secret, path, answer.status_code, answer.mimetype, answer.data
        )
        if 300 <= answer.status_code < 400:
            waiting.append(_here(path, answer.headers["Location"]))
        elif answer.mimetype == "text/html":
            read = PageReader(answer.get_data(as_text=True))
            goals = read.links + [form.action for form in read.forms if form.method == "get"]
            waiting.extend(filter(None, (_here(path, goal) for goal in goals)))


# A list may lead to many alike.
_SAME = 40


def _here(base: str, goal: str) -> str:
    """Return a link's goal as a path of this site; empty for another one."""
    if not goal or goal.startswith(("#", "tel:", "mailto:", "webcal:", "data:")):
        return ""
    whole = urlsplit(urldefrag(urljoin(_HOST + base, goal)).url)
    if f"{whole.scheme}://{whole.netloc}" != _HOST or "language=" in whole.query:
        return ""
    return whole.path + (f"?{whole.query}" if whole.query else "")
