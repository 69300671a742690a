"""One CalDAV collection: what is in it, and writing one resource so that no other edit is lost.

Sources: RFC 4791 (calendar collections), RFC 4918 (WebDAV), RFC 9110 (ETag and conditions).
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from http import HTTPStatus

from curecal.delivery.caldav import dav_xml
from curecal.delivery.caldav.address import Address
from curecal.delivery.caldav.http_client import HttpAnswer, UncertainError, Web
from curecal.errors import DeliveryError

_XML = {"Content-Type": "application/xml; charset=utf-8"}
_CALENDAR = {"Content-Type": "text/calendar; charset=utf-8"}
# A strong validator: quoted, and nothing in it that could end a header.
_STRONG = re.compile(r'"[\x20\x21\x23-\x7e]*"')
# Servers limit how long a request may be; our own choice.
_BATCH = 50
_NOT_THERE = frozenset({HTTPStatus.NOT_FOUND, HTTPStatus.GONE})
_CONFLICTS = frozenset({HTTPStatus.CONFLICT, HTTPStatus.FORBIDDEN})
_MOVED = frozenset({HTTPStatus.PRECONDITION_FAILED, *_NOT_THERE})


class MovedError(Exception):
    """Somebody else wrote the resource since it was read; nothing was written."""


class TakenError(Exception):
    """The collection holds the event's UID under another name; nothing was written."""


@dataclass(frozen=True, slots=True)
class Resource:
    """What a collection holds at an address: its ETag, if it is a strong one, and its data."""

    address: Address
    etag: str | None
    data: str


class Collection:
    """A calendar collection on a server."""

    def __init__(self, web: Web, address: Address) -> None:
        self._web = web
        self.address = address.folder

    def resources(self) -> tuple[Resource, ...] | None:
        """All that is in the collection.

        Returns:
            The calendar objects, in the server's order; None where there is no collection.

        Raises:
            DeliveryError: the answers cannot be used, or there is something else.
        """
        asked = {**_XML, "Depth": "1"}
        answer = self._read("PROPFIND", self.address, dav_xml.propfind(), asked)
        if answer.status in _NOT_THERE:
            return None
        found = self._multistatus(answer)
        # The server may have led to where the collection is now.
        here = answer.address.folder
        own = [one for one in found if self._at(one.href, here).plain == here.plain]
        if own and not any(one.is_there for one in own):
            # Some servers answer for what is not there with a 207 that says so inside.
            return None
        if [one.calendar for one in own] != [True]:
            raise DeliveryError("dav-not-a-calendar", url=self.address.text)
        self.address = here
        members = [self._at(one.href, here) for one in found if one.is_there and not one.calendar]
        return tuple(
            resource
            for start in range(0, len(members), _BATCH)
            for resource in self._multiget(members[start : start + _BATCH])
        )

    def create(self, name: str) -> None:
        """Make the collection; one that somebody else has just made is as good.

        Args:
            name: The name that people read.

        Raises:
            DeliveryError: the server does not make it (`dav-not-created`).
        """
        answer = self._read("MKCALENDAR", self.address, dav_xml.mkcalendar(name), _XML)
        if answer.fine or answer.status == HTTPStatus.METHOD_NOT_ALLOWED:
            return
        if answer.status in {*_CONFLICTS, *_NOT_THERE}:
            raise DeliveryError("dav-not-created", url=self.address.text, status=answer.status)
        raise self._refused(answer)

    def get(self, address: Address) -> Resource | None:
        """One resource as it is now.

        Args:
            address: Where it is.

        Returns:
            The resource; None where there is none.

        Raises:
            DeliveryError: the answer cannot be used.
        """
        answer = self._read("GET", address)
        if answer.status in _NOT_THERE:
            return None
        if not answer.fine:
            raise self._refused(answer)
        etag = _strong(answer.headers.get("etag", ""))
        return Resource(address, etag, answer.body.decode(errors="replace"))

    def find(self, uid: str) -> tuple[Resource, ...]:
        """The resources that hold the event of a UID, as the server's own search finds them.

        Args:
            uid: The UID.

        Returns:
            The resources; at most one in a collection that keeps the rules.

        Raises:
            DeliveryError: the answer cannot be used.
        """
        asked = {**_XML, "Depth": "1"}
        answer = self._read("REPORT", self.address, dav_xml.query_uid(uid), asked)
        return tuple(self._resources(self._multistatus(answer)))

    def put(self, address: Address, data: bytes, *, etag: str | None) -> bool:
        """Write a resource, new or in the place of exactly what was read.

        Args:
            address: Where.
            data: The calendar object.
            etag: The strong ETag of what was read there; None to make a new resource.

        Returns:
            Whether the server vouches for every octet by a strong ETag; else read it again.

        Raises:
            MovedError: there is something else by now.
            TakenError: the UID is at another address of the collection.
            UncertainError: it may have been written, or not.
            DeliveryError: it was refused.
        """
        condition = {"If-None-Match": "*"} if etag is None else {"If-Match": etag}
        answer = self._web.ask("PUT", address, body=data, headers={**_CALENDAR, **condition})
        if answer.fine:
            return _strong(answer.headers.get("etag", "")) is not None
        if answer.status in _MOVED and not (etag is None and answer.status in _NOT_THERE):
            raise MovedError
        broken = dav_xml.precondition(answer.body)
        if answer.status in _CONFLICTS and (
            broken == "no-uid-conflict" or answer.status == HTTPStatus.CONFLICT
        ):
            raise TakenError
        raise self._refused(answer)

    def _multiget(self, members: Sequence[Address]) -> Iterator[Resource]:
        body = dav_xml.multiget(member.path for member in members)
        answer = self._read("REPORT", self.address, body, {**_XML, "Depth": "1"})
        return self._resources(self._multistatus(answer))

    def _resources(self, found: Iterable[dav_xml.Found]) -> Iterator[Resource]:
        for one in found:
            address = self._at(one.href, self.address)
            if one.data is not None:
                yield Resource(address, _strong(one.etag), one.data)

    def _at(self, href: str, here: Address) -> Address:
        """Where an href of an answer leads: into this collection, or it is not followed."""
        found = here.joined(href)
        if found is None or not found.beside(here):
            raise DeliveryError("dav-href-elsewhere", host=here.host)
        folder, _, name = found.plain.rpartition("/")
        if found.plain != here.plain and (folder != here.plain or name in {"", ".", ".."}):
            raise DeliveryError("dav-href-elsewhere", host=here.host)
        return found

    def _read(
        self,
        method: str,
        address: Address,
        body: bytes = b"",
        headers: dict[str, str] | None = None,
    ) -> HttpAnswer:
        """Ask for what may be asked for twice: an answer that did not come is an error."""
        try:
            return self._web.ask(method, address, body=body, headers=headers)
        except UncertainError as lost:
            raise lost.error from None

    def _multistatus(self, answer: HttpAnswer) -> tuple[dav_xml.Found, ...]:
        if answer.status != HTTPStatus.MULTI_STATUS:
            raise self._refused(answer)
        try:
            return dav_xml.multistatus(answer.body)
        except dav_xml.UnreadableError:
            raise DeliveryError("dav-unreadable", host=answer.address.host) from None

    def _refused(self, answer: HttpAnswer) -> DeliveryError:
        """Return what an answer that was not hoped for means."""
        host, status = answer.address.host, answer.status
        if status == HTTPStatus.FORBIDDEN:
            return DeliveryError("dav-forbidden", host=host)
        if status in _NOT_THERE:
            return DeliveryError("dav-no-collection", url=self.address.text)
        if status == HTTPStatus.INSUFFICIENT_STORAGE:
            return DeliveryError("dav-full", host=host)
        if status >= HTTPStatus.INTERNAL_SERVER_ERROR:
            return DeliveryError("dav-server-failed", host=host, status=status)
        rule = dav_xml.precondition(answer.body)
        return DeliveryError("dav-refused", host=host, status=status, rule=rule)


def _strong(etag: str) -> str | None:
    """An ETag that may stand in a condition of a writing request (RFC 9110, 13.1.1)."""
    return etag if _STRONG.fullmatch(etag) else None
