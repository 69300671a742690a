"""How people reach the pages: what stands before every link that is told to somebody."""

from __future__ import annotations

from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from curecal.book.link_purpose import LinkPurpose
from curecal.errors import UsageError

if TYPE_CHECKING:
    from collections.abc import Mapping

DEFAULT_PORT = 8080
LOOPBACK = "127.0.0.1"


def address_of_pages(named: str | None, environment: Mapping[str, str]) -> str:
    """Return the address of the pages: named, of the environment, or this machine's own.

    Args:
        named: What was typed, if anything was.
        environment: The process's.

    Returns:
        Scheme, host and port, without a stroke at the end.

    Raises:
        UsageError: it is no address of a web server (`serve-address`).
    """
    text = named or environment.get("CURECAL_ADDRESS", "")
    return origin_in(text) if text.strip() else f"http://{LOOPBACK}:{DEFAULT_PORT}"


def origin_in(text: str) -> str:
    """Return the origin that a person typed.

    Args:
        text: For example "https://pages.example".

    Raises:
        UsageError: it has no http or https, no host, or a path or a name in it (`serve-address`).
    """
    try:
        parts = urlsplit(text.strip())
        port = parts.port
    except ValueError:
        raise UsageError("serve-address", text=text[:80]) from None
    plain = parts.scheme in {"http", "https"} and parts.hostname and "@" not in parts.netloc
    if not plain or parts.path not in {"", "/"} or parts.query or parts.fragment:
        raise UsageError("serve-address", text=text[:80])
    host = f"[{parts.hostname}]" if ":" in str(parts.hostname) else str(parts.hostname)
    # A browser leaves the usual port out of the origin that it tells.
    usual = {"http": 80, "https": 443}[parts.scheme]
    return f"{parts.scheme}://{host}" + ("" if port in {None, usual} else f":{port}")


def link_address(base: str, purpose: LinkPurpose, secret: str) -> str:
    """Return the address that somebody is given.

    Args:
        base: How people reach the pages.
        purpose: What it opens.
        secret: Its secret.
    """
    if purpose is LinkPurpose.OFFICE:
        return f"{base}/in/{secret}"
    if purpose is LinkPurpose.FEED:
        return f"{base}/f/{secret}/curecal.ics"
    return f"{base}/p/{secret}/"
