"""The XML of WebDAV and CalDAV: a few requests as octets, answers as values.

An answer that declares a document type is refused where the declaration begins: no entity is
ever expanded.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from xml.etree.ElementTree import Element, TreeBuilder
from xml.parsers import expat
from xml.sax.saxutils import escape

_DAV = "{DAV:}"
_CAL = "{urn:ietf:params:xml:ns:caldav}"
_HEAD = '<?xml version="1.0" encoding="utf-8"?>\n'
_SPACES = 'xmlns="DAV:" xmlns:C="urn:ietf:params:xml:ns:caldav"'
# An answer of a calendar server is about eight deep; one made to do harm has no end.
_DEEPEST = 64


class UnreadableError(Exception):
    """An answer that is no XML, or more than that."""


@dataclass(frozen=True, slots=True)
class Found:
    """One resource of an answer; `href` as the server wrote it.

    `is_there` is False where the answer says that there is nothing (404), also inside a 207.
    """

    href: str
    etag: str = ""
    data: str | None = None
    calendar: bool = False
    is_there: bool = True


def propfind() -> bytes:
    """The question what is in a collection, and what the collection is."""
    return _octets(f"<propfind {_SPACES}><prop><resourcetype/><getetag/></prop></propfind>")


def mkcalendar(name: str) -> bytes:
    """The request for a calendar collection of events, under a name that people read.

    Args:
        name: The name, any text without control characters.
    """
    return _octets(
        f"<C:mkcalendar {_SPACES}><set><prop><displayname>{escape(name)}</displayname>"
        '<C:supported-calendar-component-set><C:comp name="VEVENT"/>'
        "</C:supported-calendar-component-set></prop></set></C:mkcalendar>"
    )


def multiget(paths: Iterable[str]) -> bytes:
    """The request for the data of resources.

    Args:
        paths: Their paths, escaped as in an address.
    """
    hrefs = "".join(f"<href>{escape(path)}</href>" for path in paths)
    wanted = "<prop><getetag/><C:calendar-data/></prop>"
    return _octets(f"<C:calendar-multiget {_SPACES}>{wanted}{hrefs}</C:calendar-multiget>")


def query_uid(uid: str) -> bytes:
    """The question which resource holds the event of a UID (RFC 4791, 7.8.6).

    Args:
        uid: The UID.
    """
    match = f'<C:text-match collation="i;octet">{escape(uid)}</C:text-match>'
    return _octets(
        f"<C:calendar-query {_SPACES}><prop><getetag/><C:calendar-data/></prop>"
        '<C:filter><C:comp-filter name="VCALENDAR"><C:comp-filter name="VEVENT">'
        f'<C:prop-filter name="UID">{match}</C:prop-filter>'
        "</C:comp-filter></C:comp-filter></C:filter></C:calendar-query>"
    )


def multistatus(body: bytes) -> tuple[Found, ...]:
    """The resources of an answer.

    Args:
        body: The answer.

    Returns:
        The resources in the answer's order.

    Raises:
        UnreadableError: it is no such answer.
    """
    root = _tree(body)
    if root.tag != f"{_DAV}multistatus":
        raise UnreadableError
    return tuple(
        found
        for response in root.findall(f"{_DAV}response")
        if (found := _found(response)) is not None
    )


def precondition(body: bytes) -> str:
    """The name of the rule that an error's body says was broken; empty where it says none.

    Args:
        body: The body of an answer, of any form.
    """
    try:
        root = _tree(body)
    except UnreadableError:
        return ""
    if root.tag != f"{_DAV}error" or not len(root):
        return ""
    name = str(root[0].tag).rpartition("}")[2]
    return name if name.isascii() and name.replace("-", "").isalnum() else ""


def _found(response: Element) -> Found | None:
    href = response.findtext(f"{_DAV}href")
    if not href:
        return None
    stats = response.findall(f"{_DAV}propstat")
    said = [stat.findtext(f"{_DAV}status", "") for stat in (response, *stats)]
    # Every property asked for is one that whatever is there has.
    if all(" 404" in status for status in said if status) and any(said):
        return Found(href.strip(), is_there=False)
    etag, data, calendar = "", None, False
    for stat in stats:
        if " 2" not in stat.findtext(f"{_DAV}status", ""):
            continue
        etag = stat.findtext(f"{_DAV}prop/{_DAV}getetag") or etag
        data = stat.findtext(f"{_DAV}prop/{_CAL}calendar-data") or data
        kind = stat.find(f"{_DAV}prop/{_DAV}resourcetype/{_CAL}calendar")
        calendar = calendar or kind is not None
    return Found(href.strip(), etag.strip(), data, calendar)


def _tree(body: bytes) -> Element:
    """The elements of a document; a declaration of its type, and too deep a nesting, end it."""
    builder = TreeBuilder()
    depth = 0

    def start(name: str, attributes: object) -> None:
        del attributes
        nonlocal depth
        depth += 1
        if depth > _DEEPEST:
            raise UnreadableError
        builder.start(_tag(name), {})

    def end(name: str) -> None:
        nonlocal depth
        depth -= 1
        builder.end(_tag(name))

    def refuse(*declared: object) -> None:
        del declared
        raise UnreadableError

    parser = expat.ParserCreate("utf-8", " ")
    parser.StartElementHandler = start
    parser.EndElementHandler = end
    parser.CharacterDataHandler = builder.data
    parser.StartDoctypeDeclHandler = refuse
    parser.EntityDeclHandler = refuse
    is_all = True
    try:
        parser.Parse(body, is_all)
        return builder.close()
    except (expat.ExpatError, AssertionError, ValueError):
        raise UnreadableError from None


def _tag(name: str) -> str:
    space, _, local = name.rpartition(" ")
    return f"{{{space}}}{local}" if space else local


def _octets(text: str) -> bytes:
    return f"{_HEAD}{text}".encode()
