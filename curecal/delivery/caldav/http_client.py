"""Requests to one server, each bounded in time and size, and never to another than was named.

No proxy, no netrc file and no setting of the environment is used that was not asked for.
"""

from __future__ import annotations

import asyncio
import ssl
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import TracebackType
from typing import Self

import httpx

from curecal.delivery.caldav.address import Address
from curecal.delivery.caldav.credentials import Credentials
from curecal.errors import DeliveryError, UsageError
from curecal.words.values import clean

# A name that is found and a server that runs answer in a second or two.
CONNECT_S = 10.0
# Hundreds of times the calendar of one job: a server that sends more is not answering us.
LARGEST_BYTES = 20 << 20
_LARGEST_SHOWN = "20 MiB"
_REDIRECTS = frozenset({301, 302, 307, 308})
# The well-known address leads to the principal in one or two; more go round.
_MOST_REDIRECTS = 5
_FINE = range(200, 300)
# The name or password is wrong or lacking (RFC 9110, 15.5.2): a person has to look.
_UNAUTHORIZED = 401
_SHOWN = 80


class UncertainError(Exception):
    """A request may have reached the server, or not: its answer did not come whole.

    `error` is what to say where it cannot be found out.
    """

    def __init__(self, error: DeliveryError) -> None:
        self.error = error
        super().__init__(error.code)


@dataclass(frozen=True, slots=True)
class HttpAnswer:
    """What a server answered, and where: a collection may have moved on the same server."""

    status: int
    headers: Mapping[str, str]
    body: bytes = field(repr=False)
    address: Address

    @property
    def fine(self) -> bool:
        """Return whether it did what was asked for."""
        return self.status in _FINE


class Web:
    """A connection to the server of an address; a context, which closes it."""

    def __init__(
        self, address: Address, credentials: Credentials | None, *, limit_s: float
    ) -> None:
        """Connect to nothing yet.

        Args:
            address: Any address on the server.
            credentials: Who we are there.
            limit_s: How long one request may take, from connecting to its answer's end [s].

        Raises:
            UsageError: the credentials would cross a network in the clear
                (`address-not-encrypted`).
        """
        if credentials and address.scheme == "http" and not address.loopback:
            raise UsageError("address-not-encrypted", host=address.host)
        self._origin = address
        self._limit_s = limit_s
        self._auth: httpx.Auth | None = None
        self._digest: httpx.Auth | None = None
        if credentials:
            self._auth = httpx.BasicAuth(credentials.user, credentials.password)
            self._digest = httpx.DigestAuth(credentials.user, credentials.password)
        self._runner = asyncio.Runner()
        self._client = httpx.AsyncClient(
            trust_env=False,
            follow_redirects=False,
            verify=_trusted() if address.scheme == "https" else True,
            timeout=httpx.Timeout(limit_s, connect=min(CONNECT_S, limit_s)),
            headers={"Accept-Encoding": "identity", "User-Agent": "curecal"},
        )

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._runner.run(self._client.aclose())
        self._runner.close()

    def ask(
        self,
        method: str,
        address: Address,
        *,
        body: bytes = b"",
        headers: Mapping[str, str] | None = None,
    ) -> HttpAnswer:
        """The answer to a request, whatever its status.

        Args:
            method: For example "PROPFIND".
            address: Whom to ask.
            body: What to send.
            headers: What to say with it.

        Returns:
            The answer, redirects on the same server followed.

        Raises:
            UncertainError: The request was sent and no whole answer came.
            DeliveryError: The server is not there (`web-unreachable`), leads elsewhere
                (`web-elsewhere`) or in a circle (`web-circle`), sends too much (`web-too-large`)
                or in a form not asked for (`web-encoded`), or does not know us
                (`web-unauthorized`).
        """
        sent = dict(headers or {})
        for _ in range(_MOST_REDIRECTS + 1):
            answer = self._once(method, address, body, sent)
            if answer.status not in _REDIRECTS:
                if answer.status == _UNAUTHORIZED:
                    raise DeliveryError("web-unauthorized", host=address.host)
                return answer
            address = self._followed(answer)
        raise DeliveryError("web-circle", host=address.host)

    def _once(
        self, method: str, address: Address, body: bytes, headers: Mapping[str, str]
    ) -> HttpAnswer:
        if not address.beside(self._origin):
            raise DeliveryError("web-elsewhere", host=self._origin.host, other=shown(address.text))
        answer = self._runner.run(self._bounded(method, address, body, headers))
        asked_for = answer.headers.get("www-authenticate", "").lower()
        if answer.status == _UNAUTHORIZED and self._digest and asked_for.startswith("digest"):
            self._auth, self._digest = self._digest, None
            answer = self._runner.run(self._bounded(method, address, body, headers))
        return answer

    async def _bounded(
        self, method: str, address: Address, body: bytes, headers: Mapping[str, str]
    ) -> HttpAnswer:
        """One request; a server that sends a little now and then ends with the time as well."""
        host = address.host
        try:
            async with asyncio.timeout(self._limit_s):
                return await self._answer(method, address, body, headers)
        except TimeoutError:
            error = DeliveryError("web-slow", host=host, limit_count=self._limit_s)
            raise UncertainError(error) from None
        except httpx.ConnectTimeout:
            # Nothing was sent yet.
            raise DeliveryError("web-slow", host=host, limit_count=self._limit_s) from None
        except httpx.ConnectError as failed:
            raise DeliveryError("web-unreachable", host=host, reason=_reason(failed)) from None
        except httpx.TimeoutException:
            error = DeliveryError("web-slow", host=host, limit_count=self._limit_s)
            raise UncertainError(error) from None
        except httpx.HTTPError:
            raise UncertainError(DeliveryError("web-cut", host=host)) from None

    async def _answer(
        self, method: str, address: Address, body: bytes, headers: Mapping[str, str]
    ) -> HttpAnswer:
        host = address.host
        async with self._client.stream(
            method, address.text, content=body, headers=dict(headers), auth=self._auth
        ) as response:
            if response.headers.get("content-encoding", "identity").lower() != "identity":
                raise DeliveryError("web-encoded", host=host)
            read = bytearray()
            async for part in response.aiter_raw():
                read += part
                if len(read) > LARGEST_BYTES:
                    raise DeliveryError("web-too-large", host=host, limit=_LARGEST_SHOWN)
            return HttpAnswer(response.status_code, response.headers, bytes(read), address)

    def _followed(self, answer: HttpAnswer) -> Address:
        """Where a redirect leads, if it stays on the server."""
        said = answer.headers.get("location", "")
        found = answer.address.joined(said)
        if found is None or not found.beside(self._origin):
            raise DeliveryError("web-elsewhere", host=self._origin.host, other=shown(said))
        return found


def shown(text: str, *, longest: int = _SHOWN) -> str:
    """Return what a server sent as a message may show it: short, without control characters."""
    return clean(text[:longest]) + ("…" if len(text) > longest else "")


def _trusted() -> ssl.SSLContext:
    """The certificates trusted: the library's, and those this machine trusts besides."""
    context = httpx.create_ssl_context(trust_env=False)
    context.load_default_certs()
    return context


def _reason(failed: Exception) -> str:
    """Why a server was not reached, in the system's words, but never a line of its answer."""
    cause: BaseException | None = failed
    while cause is not None:
        if isinstance(cause, ssl.SSLCertVerificationError):
            return shown(cause.verify_message)
        if isinstance(cause, OSError) and cause.strerror:
            return shown(cause.strerror)
        cause = cause.__cause__ or cause.__context__
    return shown(str(failed) or type(failed).__name__)
