"""Push and text messages through a gateway, one target a call, each call made once.

What a gateway is, and its secrets, stands in an address that is never printed.
"""

from __future__ import annotations

import logging
from urllib.parse import quote

from curecal.delivery.channels import Answer, Outcome

_CONNECT_S = 10.0


class GatewayWire:
    """Hands messages to a gateway.

    The gateway's library says yes or no, and no may mean a reply that was lost: a no is unsure.
    """

    def __init__(self, address: str | dict[str, str]) -> None:
        self._address = address

    def send(self, address: str, data: bytes, *, deadline_s: float) -> Answer:
        """Send a message.

        Args:
            address: Whose: a number, or a person's own address.
            data: The text; a first line, ended by an empty one, is its title.
            deadline_s: How long it may take at most [s].

        Returns:
            What became of it.
        """
        import apprise  # noqa: PLC0415 - it takes long to load, and few need it

        url = self._url(address)
        if url is None:
            return Answer(Outcome.NEVER, "no gateway address is set for this person")
        # It would write addresses with their secrets into the log.
        logging.getLogger("apprise").setLevel(logging.CRITICAL)
        gateway = apprise.Apprise()
        if not gateway.add(url) or len(gateway) != 1:
            return Answer(Outcome.NEVER, "the gateway address is not understood")
        service = gateway[0]
        service.service_retry = 0
        service.socket_connect_timeout = min(_CONNECT_S, deadline_s)
        service.socket_read_timeout = deadline_s
        title, _, body = data.decode().rpartition("\n\n")
        try:
            taken = gateway.notify(body=body, title=title, body_format=apprise.NotifyFormat.TEXT)
        except Exception as error:  # noqa: BLE001 - whatever a plug-in raises, the message may be out
            return Answer(Outcome.UNSURE, type(error).__name__)
        if taken:
            return Answer(Outcome.TAKEN)
        return Answer(Outcome.UNSURE, "the gateway did not confirm")

    def _url(self, address: str) -> str | None:
        if isinstance(self._address, dict):
            return self._address.get(address)
        return self._address.replace("{phone}", quote(address.lstrip("+"), safe=""))
