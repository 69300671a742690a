"""How the pages are reached: on this machine alone, behind a proxy, or openly in one network."""

from __future__ import annotations

import ipaddress
import socket
from collections.abc import Mapping
from typing import TypedDict, Unpack

from curecal.cli.shared.page_address import origin_in
from curecal.errors import UsageError
from curecal.records import Record, record

# An address for documentation (RFC 5737): nothing is sent there, only the way to it is asked for.
_ELSEWHERE = ("192.0.2.1", 9)


@record(kw_only=True)
class Reach(Record):
    """Where the server answers, and what stands before every link that people are given.

    `address` is empty where it follows from the port that was taken.
    """

    host: str
    port: int
    address: str = ""
    is_behind_proxy: bool = False
    is_plain: bool = False

    @property
    def is_secure(self) -> bool:
        """Return whether browsers come over https."""
        return self.address.startswith("https://")

    def base(self, port: int) -> str:
        """Return what stands before every link.

        Args:
            port: The port that the server answers on.
        """
        if self.address:
            return self.address
        host = own_address() if is_every(self.host) else self.host
        return f"http://[{host}]:{port}" if ":" in host else f"http://{host}:{port}"


class ReachAsked(TypedDict):
    """How it was asked for: where to answer, the address that people have, and who may come."""

    host: str
    port: int
    address: str | None
    trust_proxy: bool
    plain_http: bool


def reach_of(environment: Mapping[str, str], **asked: Unpack[ReachAsked]) -> Reach:
    """Return how the pages are reached, as it was asked for.

    Args:
        environment: The process's, for an address that was not said.
        **asked: What was said.

    Raises:
        UsageError: other machines could come and nobody said how (`serve-beyond`), both were said
            (`serve-one-way`), or a proxy's address is missing or no https (`serve-proxy-address`).
    """
    if asked["trust_proxy"] and asked["plain_http"]:
        raise UsageError("serve-one-way")
    address = asked["address"] or environment.get("CURECAL_ADDRESS", "")
    origin = origin_in(address) if address.strip() else ""
    if asked["trust_proxy"] and not origin.startswith("https://"):
        raise UsageError("serve-proxy-address")
    host = asked["host"]
    if not (asked["trust_proxy"] or asked["plain_http"] or is_loopback(host)):
        raise UsageError("serve-beyond", host=host[:80])
    return Reach(
        host=host,
        port=asked["port"],
        address=origin,
        is_behind_proxy=asked["trust_proxy"],
        is_plain=asked["plain_http"],
    )


def is_loopback(host: str) -> bool:
    """Return whether only this machine gets to a host.

    Args:
        host: A name or an address.
    """
    found = _ip(host)
    return host.casefold() == "localhost" if found is None else found.is_loopback


def is_every(host: str) -> bool:
    """Return whether a host stands for all addresses of this machine.

    Args:
        host: A name or an address.
    """
    found = _ip(host)
    return not host if found is None else found.is_unspecified


def _ip(host: str) -> ipaddress.IPv4Address | ipaddress.IPv6Address | None:
    try:
        return ipaddress.ip_address(host.strip("[]"))
    except ValueError:
        return None


def own_address() -> str:
    """Return this machine's address in its network; the loopback's where it has none."""
    try:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as found:
            found.connect(_ELSEWHERE)
            return str(found.getsockname()[0])
    except OSError:
        return "127.0.0.1"
