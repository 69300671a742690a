"""The server in this process: bounded bodies, slow callers put off, a stop that lets work end."""

from __future__ import annotations

import importlib
import logging
import threading
import time
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from curecal.errors import UsageError
from curecal.web.app import LARGEST_BODY_BYTES

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
_log = logging.getLogger(__name__)


class PageServer:
    """Answers on a port, in a thread of its own, from `start` to `stop`."""

    def __init__(self, app: Flask, *, host: str, port: int, behind_proxy: bool = False) -> None:
        # Waitress has no types of its own.
        waitress = importlib.import_module("waitress")
        # That a request waits for a thread is no news to anybody.
        logging.getLogger("waitress.queue").setLevel(logging.ERROR)
        try:
            self._server: Any = waitress.create_server(
                app,
                host=host,
                port=port,
                threads=_THREADS,
                max_request_body_size=_READ_BYTES,
                channel_timeout=_SILENT_S,
                cleanup_interval=_LOOKED_FOR_SILENT_S,
                connection_limit=_CONNECTIONS,
                asyncore_use_poll=True,
                clear_untrusted_proxy_headers=not behind_proxy,
                ident="",
            )
        except (OSError, ValueError) as error:
            reason = getattr(error, "strerror", None) or type(error).__name__
            raise UsageError("serve-port", host=host, port=port, reason=reason) from None
        self._thread = threading.Thread(target=self._run, name="pages", daemon=True)
        self.ended: Callable[[], None] = lambda: None
        """Called when it has ended, whether it was told to or not."""
        self.has_failed = False
        self._is_stopping = False

    @property
    def port(self) -> int:
        """The port that it answers on."""
        found = getattr(self._server, "effective_port", None)
        return int(found if found is not None else self._server.effective_listen[0][1])

    def start(self) -> None:
        """Answer from now on."""
        self._thread.start()

    def stop(self) -> None:
        """Take up nothing more, let what is being answered come to its end, and close."""
        self._is_stopping = True
        self._server.accepting = False
        self._server.task_dispatcher.shutdown(cancel_pending=True, timeout=_END_S)
        end_s = time.monotonic() + _FLUSH_S
        while self._is_writing() and time.monotonic() < end_s:
            time.sleep(0.01)
        self._server.close()

    def _is_writing(self) -> bool:
        channels = list(getattr(self._server, "active_channels", {}).values())
        return any(channel.total_outbufs_len for channel in channels)

    def _run(self) -> None:
        try:
            self._server.run()
        except Exception:  # noqa: BLE001 - whatever ends the thread ends the process as well
            # Its sockets are closed under it when it is told to stop.
            if not self._is_stopping:
                _log.exception("the pages' server ended")
        finally:
            self.has_failed = not self._is_stopping
            self.ended()
