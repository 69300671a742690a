"""The line between a telephone and the server: there, gone, or cut off before the answer comes."""

from __future__ import annotations

import contextlib
import socket
import threading
from enum import Enum, auto
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

if TYPE_CHECKING:
    from collections.abc import Iterator


class State(Enum):
    """How the line is: `NO_ANSWER` lets a form through, and its answer never back."""

    OPEN = auto()
    GONE = auto()
    NO_ANSWER = auto()


class Line:
    """Carries octets both ways between a port of its own and a server."""

    def __init__(self, address: str) -> None:
        found = urlsplit(address)
        self._goal = (found.hostname, found.port)
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.port = self._listener.getsockname()[1]
        self.address = f"http://127.0.0.1:{self.port}"
        self.state = State.OPEN
        self.forms_cut = 0
        """How many forms went through without an answer."""
        self._open: set[socket.socket] = set()
        threading.Thread(target=self._accept, daemon=True).start()

    def become(self, state: State) -> None:
        """Change the line; connections of before are over."""
        self.state = state
        for wire in tuple(self._open):
            with contextlib.suppress(OSError):
                wire.shutdown(socket.SHUT_RDWR)

    def close(self) -> None:
        """Hang up for good."""
        self.become(State.GONE)
        self._listener.close()

    def _accept(self) -> None:
        with contextlib.suppress(OSError):
            while True:
                near, _ = self._listener.accept()
                # Before the state is looked at: whoever changes it meanwhile hangs up on this one.
                self._open.add(near)
                if self.state is State.GONE:
                    self._hang_up(near)
                    continue
                far = socket.create_connection(self._goal)
                self._open.add(far)
                is_form = threading.Event()
                threading.Thread(target=self._send, args=(near, far, is_form), daemon=True).start()
                threading.Thread(
                    target=self._answer, args=(far, near, is_form), daemon=True
                ).start()

    def _send(self, near: socket.socket, far: socket.socket, is_form: threading.Event) -> None:
        for data in _octets(near):
            if data.startswith(b"POST "):
                is_form.set()
            with contextlib.suppress(OSError):
                far.sendall(data)
        self._hang_up(near, far)

    def _answer(self, far: socket.socket, near: socket.socket, is_form: threading.Event) -> None:
        for data in _octets(far):
            if is_form.is_set() and self.state is State.NO_ANSWER:
                self.forms_cut += 1
                break
            with contextlib.suppress(OSError):
                near.sendall(data)
        self._hang_up(near, far)

    def _hang_up(self, *wires: socket.socket) -> None:
        for wire in wires:
            self._open.discard(wire)
            with contextlib.suppress(OSError):
                wire.shutdown(socket.SHUT_RDWR)
            wire.close()


def _octets(wire: socket.socket) -> Iterator[bytes]:
    with contextlib.suppress(OSError):
        while data := wire.recv(65536):
            yield data


@contextlib.contextmanager
def line_to(address: str) -> Iterator[Line]:
    """Give a line to a server."""
    line = Line(address)
    try:
        yield line
    finally:
        line.close()
