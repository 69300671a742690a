"""How the pages are reached: on this machine alone, behind a proxy, or openly in one network."""

from __future__ import annotations

import ipaddress
import socket

from curecal.cli.shared.page_address import origin_in
from curecal.errors import UsageError
from curecal.records import Record, record

# An address for documentation (RFC 5737): nothing is sent there, only the way to it is asked for.
_ELSEWHERE = ("192.0.2.1", 9)
_EVERY = frozenset({"0.0.0.0", "::", ""})  # noqa: S104 - compared with, not bound to


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
        host = own_address() if self.host in _EVERY else self.host
        return f"http://[{host}]:{port}" if ":" in host else f"http://{host}:{port}"


def reach_of(
    *, host: str, port: int, address: str | None, trust_proxy: bool, plain_http: bool
) -> Reach:
    """Return how the pages are reached, as it was asked for.

    Args:
        host: Where to answer.
        port: The port.
        address: How people reach the pages, if that was said.
        trust_proxy: Whether a proxy in front does https.
        plain_http: Whether other machines may come without https.

    Raises:
        UsageError: other machines could come and nobody said how (`serve-beyond`), both were said
            (`serve-one-way`), or a proxy's address is missing or no https (`serve-proxy-address`).
    """
    if trust_proxy and plain_http:
        raise UsageError("serve-one-way")
    origin = origin_in(address) if address else ""
    if trust_proxy and not origin.startswith("https://"):
        raise UsageError("serve-proxy-address")
    if not (trust_proxy or plain_http or is_loopback(host)):
        raise UsageError("serve-beyond", host=host[:80])
    return Reach(
        host=host, port=port, address=origin, is_behind_proxy=trust_proxy, is_plain=plain_http
    )


def is_loopback(host: str) -> bool:
    """Return whether only this machine gets to a host.

    Args:
        host: A name or an address.
    """
    if host.casefold() == "localhost":
        return True
    try:
        return ipaddress.ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return False


def own_address() -> str:
    """Return this machine's address in its network; the loopback's where it has none."""
    try:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as found:
            found.connect(_ELSEWHERE)
            return str(found.getsockname()[0])
    except OSError:
        return "127.0.0.1"
