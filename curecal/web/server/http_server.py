"""The server in this process: bounded bodies, slow callers put off, a stop that lets work end."""

from __future__ import annotations

import importlib
import logging
import socket
import threading
import time
from collections.abc import Callable
from typing import TYPE_CHECKING

from curecal.errors import UsageError
from curecal.web.serving import LARGEST_BODY_BYTES

if TYPE_CHECKING:
    from flask import Flask

# One waits for the book while others are served; a small machine has no use for more.
_THREADS = 8
# What is a little too large is read, and refused in words; what is far too large is not read.
_READ_BYTES = 2 * LARGEST_BODY_BYTES
# A telephone in a cellar may be silent for a while; whoever sends nothing for longer is gone.
_SILENT_S = 60
_LOOKED_FOR_SILENT_S = 10
# Each may have a body on its way that takes room on the disk.
_CONNECTIONS = 100
_END_S = 10.0
_FLUSH_S = 2.0


class PageServer:
    """Answers on a port, in a thread of its own, from `start` to `stop`."""

    def __init__(self, app: Flask, *, host: str, port: int, behind_proxy: bool = False) -> None:
        # Waitress has no types of its own.
        waitress = importlib.import_module("waitress")
        # It logs the addresses that it failed at, and an address is a key.
        logging.getLogger("waitress").setLevel(logging.CRITICAL)
        self._server = waitress.create_server(
            app,
            sockets=[_taken(host, port)],
            threads=_THREADS,
            max_request_body_size=_READ_BYTES,
            channel_timeout=_SILENT_S,
            cleanup_interval=_LOOKED_FOR_SILENT_S,
            connection_limit=_CONNECTIONS,
            asyncore_use_poll=True,
            clear_untrusted_proxy_headers=not behind_proxy,
            ident="",
        )
        self._thread = threading.Thread(target=self._run, name="pages", daemon=True)
        self.ended: Callable[[], None] = lambda: None
        """Called when it has ended, whether it was told to or not."""
        self.has_failed = False
        self._is_stopping = False

    @property
    def port(self) -> int:
        """The port that it answers on."""
        return int(self._server.effective_port)

    def start(self) -> None:
        """Answer from now on."""
        self._thread.start()

    def stop(self) -> None:
        """Take up nothing more, let what is being answered come to its end, and close."""
        self._is_stopping = True
        self._server.accepting = False
        self._server.task_dispatcher.shutdown(cancel_pending=True, timeout=_END_S)
        channels = list(self._server.active_channels.values())
        end_s = time.monotonic() + _FLUSH_S
        while any(one.total_outbufs_len for one in channels) and time.monotonic() < end_s:
            time.sleep(0.01)
        for channel in channels:
            channel.close()
        self._server.close()
        self._thread.join(_FLUSH_S)

    def _run(self) -> None:
        try:
            self._server.run()
        finally:
            self.has_failed = not self._is_stopping
            self.ended()


def _taken(host: str, port: int) -> socket.socket:
    """Return the port, taken.

    Raises:
        UsageError: it cannot be had (`serve-port`).
    """
    try:
        family, *_, address = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0]
        return socket.create_server(address, family=family)
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise UsageError("serve-port", host=host, port=port, reason=reason) from None
