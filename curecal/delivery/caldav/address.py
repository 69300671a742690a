"""Addresses of collections: what may be asked for, and what may be followed."""

from __future__ import annotations

import hashlib
import ipaddress
import re
from dataclasses import dataclass
from urllib.parse import quote, unquote, urljoin, urlsplit

from curecal.errors import UsageError

_PORTS = {"http": 80, "https": 443}
_UNSAFE = re.compile(r"[^a-z0-9_-]+")
_LONGEST_NAME = 60
# Everything but what a path may not hold as it stands; what is escaped already stays so.
_PATH_SAFE = "/%:@!$&'()*+,;=-._~"


@dataclass(frozen=True, slots=True)
class Address:
    """Where a resource is: scheme, host, port and path, nothing else."""

    scheme: str
    host: str
    port: int
    path: str

    @property
    def text(self) -> str:
        """The address as it is asked for and shown."""
        host = f"[{self.host}]" if ":" in self.host else self.host
        port = "" if self.port == _PORTS[self.scheme] else f":{self.port}"
        return f"{self.scheme}://{host}{port}{self.path}"

    @property
    def loopback(self) -> bool:
        """Return whether it is this machine: what is sent there crosses no wire."""
        if self.host == "localhost":
            return True
        try:
            return ipaddress.ip_address(self.host).is_loopback
        except ValueError:
            return False

    @property
    def plain(self) -> str:
        """The path without escapes and last slash: the same for every spelling of it."""
        return unquote(self.path).rstrip("/")

    @property
    def folder(self) -> Address:
        """The same with the slash at its end that a collection's address has."""
        return Address(self.scheme, self.host, self.port, f"{self.path.rstrip('/')}/")

    def beside(self, other: Address) -> bool:
        """Return whether both are of one server, so that one may be told what the other may."""
        mine, theirs = (self.scheme, self.host, self.port), (other.scheme, other.host, other.port)
        return mine == theirs

    def inside(self, name: str) -> Address:
        """A member of this collection, by its name."""
        path = f"{self.path.rstrip('/')}/{quote(name, safe='')}"
        return Address(self.scheme, self.host, self.port, path)

    def joined(self, reference: str) -> Address | None:
        """Return what a reference in an answer leads to; None for what is no web address."""
        try:
            return _split(urljoin(self.text, reference.strip()))
        except ValueError:
            return None


def address_of(typed: str) -> Address:
    """The address of a collection, as a person typed it.

    Args:
        typed: For example "https://dav.example/calendars/crew/".

    Returns:
        The address; its path ends in a slash.

    Raises:
        UsageError: there are a name or a password in it (`address-credentials`), or it is no
            address of a collection (`address-unreadable`). Neither shows what was typed.
    """
    if "@" in re.split(r"[/?#]", typed.partition("//")[2] or typed, maxsplit=1)[0]:
        raise UsageError("address-credentials")
    try:
        found = _split(typed.strip())
    except ValueError:
        found = None
    if found is None or urlsplit(typed).query or urlsplit(typed).fragment:
        raise UsageError("address-unreadable")
    return found.folder


def safe_name(text: str) -> str:
    """An id as a part of a path that every server takes.

    Args:
        text: The id.

    Returns:
        The id itself where it is plain; else what is plain of it, with a digest, so that two
        ids never have one name.
    """
    plain = _UNSAFE.sub("-", text.lower()).strip("-")[:_LONGEST_NAME]
    if plain == text:
        return plain
    digest = hashlib.sha256(text.encode()).hexdigest()[:8]
    return f"{plain}-{digest}".lstrip("-")


def _split(text: str) -> Address | None:
    """The parts of an address; None where one is missing, or does not belong in it."""
    # The splitter drops line ends silently; and a backslash is a slash to some programs.
    if any(sign < " " or "\x7f" <= sign < "\xa0" or sign == "\\" for sign in text):
        return None
    parts = urlsplit(text)
    host, port = parts.hostname, parts.port
    if parts.scheme not in _PORTS or not host or parts.username is not None:
        return None
    named = host.encode("idna").decode()
    path = quote(parts.path or "/", safe=_PATH_SAFE)
    return Address(parts.scheme, named, _PORTS[parts.scheme] if port is None else port, path)
