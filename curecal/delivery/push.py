"""Push and text messages through a gateway, one target a call, each call made once.

What a gateway is, and its secrets, stands in an address that is never printed.
"""

from __future__ import annotations

import importlib
import logging
import re
import sys
from collections.abc import Mapping
from contextvars import ContextVar
from typing import Any
from urllib.parse import quote

from curecal.delivery.bounded_answers import bound_answers
from curecal.delivery.channels import Answer, Outcome
from curecal.delivery.deadline import Crossing, Crossings
from curecal.errors import SourceError
from curecal.trade.names import comparable_email, comparable_phone

PHONE = "{phone}"
"""Where the number belongs in the address of a gateway for text messages."""

# As for calendars: who runs, answers in a second or two.
_CONNECT_S = 10.0
# A number kept for fiction: it stands in for a real one while the address is looked at.
_TRIED = "15550100199"
# The gateway's library says yes or no; why not, it only says in its log.
_STATUS = re.compile(r"\berror=(\d{3})\b")
_NOT_CONNECTED = re.compile(
    r"Caused by (NewConnectionError|NameResolutionError|ConnectTimeoutError"
    r"|SSLError\(SSLCertVerificationError|ProxyError\('(Unable to|Cannot) connect to proxy)"
)
# RFC 9110, 15: what these say was not done. 408 and 409 may come of a message that was.
_REFUSED = frozenset({*range(300, 500), 501, 503}) - {408, 409}
# Of these it is the way that does not work, not this one message.
_DOWN = frozenset({*range(300, 400), 401, 402, 403, 404, 405, 407, 429, 501, 503})
_heard: ContextVar[list[tuple[int, str]] | None] = ContextVar("_heard", default=None)


class GatewayWire:
    """Hands messages to a gateway.

    A gateway that cannot be reached, or that refuses, has taken nothing. Any other no may mean a
    reply that was lost: it is unsure.
    """

    def __init__(self, address: str | Mapping[str, str]) -> None:
        self._address = (
            address
            if isinstance(address, str)
            else {spelled(who): url for who, url in address.items()}
        )
        self._crossings = Crossings()

    def send(self, address: str, data: bytes, *, deadline_s: float) -> Answer:
        """Send a message.

        Args:
            address: Whose: a number, or a person's own address.
            data: The text; a first line, ended by an empty one, is its title.
            deadline_s: How long it may take at most [s].

        Returns:
            What became of it.
        """
        url = self._url(address)
        if url is None:
            return Answer(Outcome.LATER, "no gateway address is set for this person")
        service = _service(url)
        if service is None:
            return Answer(Outcome.LATER, "the gateway address is not understood", is_down=True)
        gateway, plugin = service
        plugin.service_retry = 0
        # A message that is sent elsewhere and answered there was not taken here.
        plugin.redirects = False
        plugin.socket_connect_timeout = min(_CONNECT_S, deadline_s)
        plugin.socket_read_timeout = deadline_s
        return self._crossings.run(
            lambda crossing: _notified(crossing, gateway, data), deadline_s=deadline_s
        )

    def _url(self, address: str) -> str | None:
        if isinstance(self._address, str):
            return self._address.replace(PHONE, quote(address.lstrip("+"), safe=""))
        return self._address.get(spelled(address))


def spelled(who: str) -> str:
    """Return a person's own address as two spellings of one compare.

    Args:
        who: A mail address, or a number.

    Returns:
        Small letters; of a number its digits.
    """
    is_number = not any(sign.isalpha() for sign in who)
    return comparable_phone(who) if is_number else comparable_email(who)


def check_gateway(key: str, address: str, *, with_phone: bool) -> None:
    """Refuse a gateway's address that no message could be sent by.

    Args:
        key: Whose it is, for people; the address itself is secret.
        address: The address.
        with_phone: Whether the reader's number goes into it.

    Raises:
        SourceError: it has no place for the number, or drops it (`gateway-phone`); or it is none
            that is understood, or none of a service on the web (`gateway-setting`).
    """
    if with_phone and PHONE not in address:
        raise SourceError("gateway-phone", key=key, place=PHONE)
    service = _service(address.replace(PHONE, _TRIED))
    if service is None:
        raise SourceError("gateway-setting", key=key)
    # What the library makes of it is what it sends by.
    if with_phone and _TRIED not in re.sub(r"[\s().-]|%20", "", service[1].url(privacy=False)):
        raise SourceError("gateway-phone", key=key, place=PHONE)


def _service(url: str) -> tuple[Any, Any] | None:
    _listen()
    apprise = importlib.import_module("apprise")  # it takes long to load, and few need it
    bound_answers()
    # On its own few threads, calls that hang would hold up those to every other gateway.
    gateway = apprise.Apprise(asset=apprise.AppriseAsset(async_mode=False, service_timeout=0.0))
    if not gateway.add(url) or len(gateway) != 1 or not _is_of_the_web(gateway[0]):
        return None
    return gateway, gateway[0]


def _is_of_the_web(plugin: object) -> bool:
    """Return whether a service is called over HTTP.

    An answer is bounded there, a redirect not followed, and what became of the call is read. By
    mail a password could go in the open: that has settings and a wire of its own.
    """
    kinds = type(plugin).__mro__
    return any(hasattr(sys.modules[kind.__module__], "requests") for kind in kinds)


def _notified(crossing: Crossing, gateway: Any, data: bytes) -> Answer:
    title, _, body = data.decode().rpartition("\n\n")
    said: list[tuple[int, str]] = []
    token = _heard.set(said)
    try:
        crossing.leave()
        taken = gateway.notify(body=body, title=title, body_format="text")
    finally:
        _heard.reset(token)
    return Answer(Outcome.TAKEN) if taken else _meant(said)


def _meant(said: list[tuple[int, str]]) -> Answer:
    """Return what a no means; nothing of what was said goes any further but a status."""
    warned = "\n".join(text for level, text in said if level >= logging.WARNING)
    statuses = [int(number) for number in _STATUS.findall(warned)]
    if statuses and _REFUSED.issuperset(statuses):
        reason = f"the gateway refused it: status {statuses[0]}"
        return Answer(Outcome.LATER, reason, is_down=_DOWN.issuperset(statuses))
    if statuses:
        return Answer(Outcome.UNSURE, f"the gateway failed: status {statuses[0]}")
    broken = [text for _, text in said if text.startswith("Socket Exception:")]
    if broken and all(_NOT_CONNECTED.search(text) for text in broken):
        return Answer(Outcome.LATER, "the gateway cannot be reached", is_down=True)
    return Answer(Outcome.UNSURE, "the gateway did not confirm")


class _Ear(logging.Handler):
    """Keeps what is said of one call for as long as that takes; it names secrets."""

    def emit(self, record: logging.LogRecord) -> None:
        said = _heard.get()
        if said is not None:
            said.append((record.levelno, record.getMessage()))


def _listen() -> None:
    # What it is built on names addresses as well.
    logging.getLogger("urllib3").setLevel(logging.CRITICAL)
    log = logging.getLogger("apprise")
    if not any(isinstance(handler, _Ear) for handler in log.handlers):
        log.addHandler(_Ear())
    # It would write addresses with their secrets into everybody's log.
    log.propagate = False
    log.setLevel(logging.DEBUG)
